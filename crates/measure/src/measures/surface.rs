//! `surface.roughness_um` and `surface.steps`: how smooth the axial walls are.

use nalgebra::{Point3, SMatrix, SVector, Vector3, Vector6};
use rayon::prelude::*;

use super::by_station::ByStation;
use super::smoothness::{Smoothness, beyond_noise};
use crate::document::Value;
use crate::preparation::Preparation;
use crate::region::{pooled_normal, regions};
use crate::sheet::{Sheet, number};
use crate::station::Station;
use crate::stats::{add_square, quadratic_surface, surface_terms, weighted_quantile};

const ROUGHNESS: &str = "surface.roughness_um";
const STEPS: &str = "surface.steps";
/// Radius of the patch to which the smooth form is fitted, mm.
const FORM_MM: f64 = 1.0;
/// How far to both sides, and along, a ledge is sought, mm.
const LEDGE_ACROSS_MM: f64 = 0.8;
const LEDGE_ALONG_MM: f64 = 0.75;
/// A ledge's own slope lies within this of it, mm.
const LEDGE_SLOPE_MM: f64 = 0.12;
/// The fillet's end and the rounding of the line angle stay out, mm.
const CLEAR_LOW_MM: f64 = 0.1;
const CLEAR_TOP_MM: f64 = 0.5;
/// A step counts from so many of its standard errors on.
const BEYOND_SIGMAS: f64 = 5.0;
/// How much of a wave the smooth form takes or gives, by its length (k = 2).
const FORM_SHARE: f64 = 0.2;
/// How well the square of the scan's noise is known (1 sigma).
const NOISE_SHARE: f64 = 0.2;

/// Departure of the walls from their smooth form, and ledges.
pub fn take(preparation: &Preparation<'_>, sheet: &mut Sheet) {
    let table = match Smoothness::read() {
        Ok(table) => table.wall,
        Err(reason) => {
            [ROUGHNESS, STEPS].iter().for_each(|&id| sheet.refuse(id, reason.clone()));
            return;
        }
    };
    let walls = Walls::of(preparation);
    let read: Vec<(u32, Patch)> = walls
        .vertices
        .par_iter()
        .filter_map(|&(vertex, station)| Some((vertex, walls.patch(preparation, vertex, station)?)))
        .collect();
    if read.len() < 200 {
        [ROUGHNESS, STEPS].iter().for_each(|&id| {
            sheet.refuse(id, "too little axial wall shows between fillet and occlusal line angle")
        });
        return;
    }
    roughness(preparation, sheet, &read);
    steps(preparation, sheet, &read, table.ledge_from_um / 1000.0, table.ledge_length_from_mm);
}

/// The vertices of the axial walls.
struct Walls {
    vertices: Vec<(u32, usize)>,
    /// Where they lie, station by station.
    points: Vec<Vec<Point3<f64>>>,
    spacing_mm: f64,
}

/// What the surroundings of a vertex say, mm.
#[derive(Debug, Clone, Copy)]
struct Patch {
    /// The station that it lies at.
    station: usize,
    departure_mm: f64,
    /// Heights of a step that runs around the tooth and of one that runs up the wall, with their standard errors.
    steps_mm: [Option<(f64, f64)>; 2],
}

impl Walls {
    fn of(preparation: &Preparation<'_>) -> Self {
        let by_station = ByStation::new(preparation);
        let after = preparation.scene.after;
        let mut vertices = Vec::new();
        let mut points = vec![Vec::new(); preparation.stations.len()];
        for (place, station) in preparation.stations.iter().enumerate() {
            let Some([low_mm, high_mm]) = band(station) else { continue };
            for near in by_station.pooled(place, 0) {
                let steep = after.vertex_normals[near.vertex as usize].dot(&preparation.path) < 0.6;
                if steep && (low_mm..=high_mm).contains(&near.flat.y) {
                    vertices.push((near.vertex, place));
                    points[place].push(after.mesh.vertices[near.vertex as usize]);
                }
            }
        }
        let spacing_mm = preparation.ring.length_mm() / preparation.stations.len().max(1) as f64;
        Self { vertices, points, spacing_mm }
    }

    /// Fits the surroundings of a wall vertex.
    fn patch(&self, preparation: &Preparation<'_>, vertex: u32, station: usize) -> Option<Patch> {
        let after = preparation.scene.after;
        let centre = after.mesh.vertices[vertex as usize];
        let normal = pooled_normal(after, vertex).try_normalize(1e-9)?;
        let around = preparation.path.cross(&normal).try_normalize(1e-6)?;
        let up = normal.cross(&around);
        let reach = (1.2 * FORM_MM / self.spacing_mm).ceil() as usize;
        let near: Vec<Vector3<f64>> = self
            .pooled(station, reach)
            .filter(|point| (*point - centre).norm_squared() < FORM_MM * FORM_MM + 0.25)
            .map(|point| local(point, &centre, [&around, &up, &normal]))
            .filter(|at| at.x.hypot(at.y) < FORM_MM && at.z.abs() < 0.5)
            .collect();
        Some(Patch {
            station,
            departure_mm: departure(&near, preparation.noise_mm)?,
            steps_mm: [step(&near, 1, preparation.noise_mm), step(&near, 0, preparation.noise_mm)],
        })
    }

    /// The points of a station and of `reach` stations to each side.
    fn pooled(&self, station: usize, reach: usize) -> impl Iterator<Item = &Point3<f64>> {
        let n = self.points.len();
        let reach = reach.min(n.saturating_sub(1) / 2);
        (0..=2 * reach).flat_map(move |step| &self.points[(station + n + step - reach) % n])
    }
}

fn local(point: &Point3<f64>, centre: &Point3<f64>, axes: [&Vector3<f64>; 3]) -> Vector3<f64> {
    let at = point - centre;
    Vector3::new(at.dot(axes[0]), at.dot(axes[1]), at.dot(axes[2]))
}

/// Heights between which a station's wall is wall alone.
fn band(station: &Station) -> Option<[f64; 2]> {
    let wall = station.wall.as_ref()?;
    let low_mm = station.section.at_arc(wall.fitted_mm[0])?.y + CLEAR_LOW_MM;
    let high_mm = match wall.top {
        Some(top) => top.y - CLEAR_TOP_MM,
        None => station.section.at_arc(wall.end_mm)?.y - CLEAR_LOW_MM,
    };
    (high_mm > low_mm).then_some([low_mm, high_mm])
}

/// How far the vertex at the origin lies outside the quadratic surface through its surroundings.
fn departure(near: &[Vector3<f64>], noise_mm: f64) -> Option<f64> {
    const LEAST: usize = 40;
    const N_ROUNDS: usize = 3;
    if near.len() < LEAST || !surrounded(near) {
        return None;
    }
    let mut fit = Vector6::zeros();
    for round in 0..N_ROUNDS {
        fit = quadratic_surface(near, |at| {
            let off = (at.z - surface_terms(at).dot(&fit)) / (5.0 * noise_mm.max(0.004));
            match round {
                0 => 1.0,
                _ if off.abs() < 1.0 => (1.0 - 0.9 * off * off).max(0.1),
                _ => 0.1,
            }
        })?;
    }
    Some(-fit[0])
}

/// Whether the surroundings reach to all sides: at the rim of a wall a quadratic swings.
fn surrounded(near: &[Vector3<f64>]) -> bool {
    const LEAST_MM: f64 = 0.25;
    let reach = |of: &dyn Fn(&Vector3<f64>) -> f64| near.iter().map(of).fold(0.0, f64::max);
    reach(&|at| at.x) > LEAST_MM
        && reach(&|at| -at.x) > LEAST_MM
        && reach(&|at| at.y) > LEAST_MM
        && reach(&|at| -at.y) > LEAST_MM
}

/// Height and standard error of a step at the origin where `across` (0 or 1) changes its sign: a quadratic surface and
/// a step are fitted at once.
fn step(near: &[Vector3<f64>], across: usize, noise_mm: f64) -> Option<(f64, f64)> {
    const EACH_SIDE: usize = 10;
    let chosen: Vec<&Vector3<f64>> = near
        .iter()
        .filter(|at| {
            let (off, along) = (at[across].abs(), at[1 - across].abs());
            (LEDGE_SLOPE_MM..LEDGE_ACROSS_MM).contains(&off) && along < LEDGE_ALONG_MM
        })
        .collect();
    let side = |sign: f64| {
        let own: Vec<f64> = chosen.iter().map(|at| at[across] * sign).filter(|&off| off > 0.0).collect();
        own.len() >= EACH_SIDE && own.iter().copied().fold(0.0, f64::max) > 0.45
    };
    if !side(1.0) || !side(-1.0) {
        return None;
    }
    let plain = |at: &Vector3<f64>| {
        let (x, y) = (at[across], at[1 - across]);
        [1.0, x, y, x * x, x * y, y * y]
    };
    let with = |at: &Vector3<f64>, last: f64| {
        let [a, b, c, d, e, f] = plain(at);
        SVector::from([a, b, c, d, e, f, last])
    };
    let (fit, covariance, squares) = least_squares(&chosen, |at| with(at, 0.5 * at[across].signum()))?;
    let variance = (squares / (chosen.len() as f64 - 7.0).max(1.0)).max(noise_mm * noise_mm);
    let (step_mm, sigma_mm) = (fit[6], (variance * covariance[(6, 6)]).sqrt());
    // A rounded corner between two planes is no ledge, nor is the crease between them: a step must explain the
    // wall better than either.
    const BETTER: f64 = 0.87;
    if step_mm.abs() > 4.0 * sigma_mm {
        let curved = least_squares(&chosen, |at| {
            let (x, [a, b, c, d, e, f]) = (at[across], plain(at));
            SVector::from([a, b, c, d, e, f, x * x * x, x * x * x * x])
        });
        let mut creases = (-4..=4).map(|place| {
            let at_mm = 0.125 * f64::from(place);
            least_squares(&chosen, |at| with(at, (at[across] - at_mm).max(0.0))).map(|fit| fit.2)
        });
        // One that explains the wall as well is enough.
        let as_good = |other: Option<f64>| other.is_some_and(|other| squares > BETTER * other);
        if as_good(curved.map(|fit| fit.2)) || creases.any(as_good) {
            return Some((0.0, sigma_mm));
        }
    }
    Some((step_mm, sigma_mm))
}

/// Coefficients, unscaled covariance and sum of squares of a linear fit of the heights.
fn least_squares<const N: usize>(
    near: &[&Vector3<f64>],
    row: impl Fn(&Vector3<f64>) -> SVector<f64, N>,
) -> Option<(SVector<f64, N>, SMatrix<f64, N, N>, f64)> {
    let (mut normal, mut right) = (SMatrix::<f64, N, N>::zeros(), SVector::<f64, N>::zeros());
    for at in near {
        let row = row(at);
        add_square(&mut normal, &row, 1.0);
        right += row * at.z;
    }
    normal.fill_upper_triangle_with_lower_triangle();
    let inverse = normal.try_inverse()?;
    let fit = inverse * right;
    let squares = near.iter().map(|at| (at.z - row(at).dot(&fit)).powi(2)).sum();
    Some((fit, inverse, squares))
}

fn roughness(preparation: &Preparation<'_>, sheet: &mut Sheet, read: &[(u32, Patch)]) {
    // What the fit takes of a vertex's own noise.
    const KEPT: f64 = 0.94;
    let n = read.len() as f64;
    let square = read.iter().map(|(_, patch)| (1000.0 * patch.departure_mm).powi(2)).sum::<f64>() / n;
    let noise_um = 1000.0 * preparation.noise_mm;
    // Roughness that matters runs over a few vertices.
    let (value, u95) = beyond_noise(square, KEPT * noise_um * noise_um, NOISE_SHARE, n / 4.0);
    let worst = read.iter().max_by(|a, b| a.1.departure_mm.abs().total_cmp(&b.1.departure_mm.abs()));
    let reading = number(value, "um", u95.hypot(FORM_SHARE * value))
        .with("noise_um", noise_um)
        .with("greatest_um", worst.map_or(f64::NAN, |(_, patch)| 1000.0 * patch.departure_mm.abs()))
        .noted(
            "root mean square departure from a curved surface over 1 mm to all sides, less the scan's noise",
        )
        .at(worst.map(|(vertex, _)| preparation.place_of_vertex(*vertex)));
    sheet.write(ROUGHNESS, reading);
}

/// A ledge: its middle vertex, its height, its length, and whether it runs around the tooth.
struct Ledge {
    vertex: u32,
    height_mm: f64,
    length_mm: f64,
    around: bool,
}

fn steps(
    preparation: &Preparation<'_>,
    sheet: &mut Sheet,
    read: &[(u32, Patch)],
    from_mm: f64,
    long_mm: f64,
) {
    let mut ledges = ledges(preparation, read, 0, from_mm, long_mm);
    ledges.extend(self::ledges(preparation, read, 1, from_mm, long_mm));
    ledges.sort_by(|a, b| b.height_mm.total_cmp(&a.height_mm).then(a.vertex.cmp(&b.vertex)));
    let worst = ledges.first().map(|ledge| preparation.place_of_vertex(ledge.vertex));
    let mut reading = number(ledges.len() as f64, "", f64::NAN).at(worst);
    for (k, ledge) in ledges.iter().enumerate() {
        let place = preparation.place_of_vertex(ledge.vertex);
        let text = format!(
            "{:.0} um over {:.1} mm, running {}, at {:.0} deg, {}",
            1000.0 * ledge.height_mm,
            ledge.length_mm,
            if ledge.around { "around the tooth" } else { "up the wall" },
            place.angle_deg,
            place.aspect
        );
        reading.extras.insert(format!("step_{}", k + 1), Value::Text(text));
    }
    reading = reading.with("least_seen_um", 1000.0 * from_mm.max(BEYOND_SIGMAS * step_sigma_mm(read))).noted(
        "ledges from least_seen_um on show surely away from the wall's ends; within 0.5 mm of the occlusal edge and 0.3 mm of \
         the floor's fillet none is looked for",
    );
    if let Some(ledge) = ledges.first() {
        reading = reading.with("greatest_um", 1000.0 * ledge.height_mm);
    }
    sheet.write(STEPS, reading);
}

/// The standard error that all but a tenth of the places keep to, mm.
fn step_sigma_mm(read: &[(u32, Patch)]) -> f64 {
    const SHARE: f64 = 0.9;
    let sigmas = read.iter().flat_map(|(_, patch)| patch.steps_mm).flatten().map(|step| (step.1, 1.0));
    weighted_quantile(&sigmas.collect::<Vec<_>>(), SHARE).unwrap_or(f64::NAN)
}

/// Connected places at which a step shows beyond doubt.
fn ledges(
    preparation: &Preparation<'_>,
    read: &[(u32, Patch)],
    which: usize,
    from_mm: f64,
    long_mm: f64,
) -> Vec<Ledge> {
    const LEAST_VERTICES: usize = 5;
    let after = preparation.scene.after;
    let mut heights = vec![0.0; after.mesh.vertices.len()];
    for (vertex, patch) in read {
        if let Some((mm, sigma_mm)) = patch.steps_mm[which]
            && mm.abs() > from_mm.max(BEYOND_SIGMAS * sigma_mm)
        {
            heights[*vertex as usize] = mm;
        }
    }
    let spacing_mm = preparation.ring.length_mm() / preparation.stations.len() as f64;
    let mut found = Vec::new();
    // Up and down apart: beside a groove they alternate.
    for sign in [1.0, -1.0] {
        let shows = |vertex: usize| heights[vertex] * sign > 0.0;
        // A ledge shows in a single row of vertices, which are not all neighbours.
        let mut beside = vec![false; heights.len()];
        for vertex in (0..heights.len()).filter(|&vertex| shows(vertex)) {
            beside[vertex] = true;
            for &near in after.topology.vertex_neighbours(vertex as u32) {
                beside[near as usize] = true;
                let next = after.topology.vertex_neighbours(near);
                next.iter().for_each(|&other| beside[other as usize] = true);
            }
        }
        for mut region in regions(after, |vertex| beside[vertex]) {
            region.inside.iter_mut().enumerate().for_each(|(vertex, inside)| *inside &= shows(vertex));
            let vertices: Vec<u32> =
                (0..heights.len() as u32).filter(|&vertex| region.inside[vertex as usize]).collect();
            if vertices.len() < LEAST_VERTICES {
                continue;
            }
            let length_mm = match which {
                0 => spacing_mm * n_stations(read, &region.inside) as f64,
                _ => spread(vertices.iter().map(|&vertex| {
                    (after.mesh.vertices[vertex as usize] - preparation.frame.origin).dot(&preparation.path)
                })),
            };
            let top = vertices
                .iter()
                .max_by(|&&a, &&b| heights[a as usize].abs().total_cmp(&heights[b as usize].abs()));
            if let Some(&vertex) = top
                && length_mm >= long_mm
            {
                let height_mm = heights[vertex as usize].abs();
                found.push(Ledge { vertex, height_mm, length_mm, around: which == 0 });
            }
        }
    }
    found
}

/// At how many stations a region lies.
fn n_stations(read: &[(u32, Patch)], inside: &[bool]) -> usize {
    let own = read.iter().filter(|(vertex, _)| inside[*vertex as usize]);
    own.map(|(_, patch)| patch.station).collect::<std::collections::BTreeSet<_>>().len()
}

fn spread(values: impl Iterator<Item = f64>) -> f64 {
    let (low, high) = values
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| (low.min(value), high.max(value)));
    high - low
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A sheet of vertices 0.15 mm apart whose heights `of` gives.
    fn sheet(of: impl Fn(f64, f64) -> f64) -> Vec<Vector3<f64>> {
        let at = |k: i32| 0.15 * f64::from(k) + 0.02;
        (-6..=6)
            .flat_map(|i| (-6..=6).map(move |j| (at(i), at(j))))
            .map(|(x, y)| Vector3::new(x, y, of(x, y)))
            .collect()
    }

    #[test]
    fn a_curved_wall_has_no_step_and_departs_nowhere() {
        let near = sheet(|x, y| 0.1 * x * x - 0.05 * x * y + 0.2 * y);
        assert!(departure(&near, 0.008).unwrap().abs() < 1e-9);
        assert!(step(&near, 0, 0.008).unwrap().0.abs() < 1e-9);
    }

    #[test]
    fn a_ledge_is_read_across_it_alone() {
        let near = sheet(|x, y| 0.1 * x * x + if y > 0.0 { 0.06 } else { 0.0 });
        assert!((step(&near, 1, 0.008).unwrap().0 - 0.06).abs() < 1e-9);
        assert!(step(&near, 0, 0.008).unwrap().0.abs() < 1e-9);
    }
}
