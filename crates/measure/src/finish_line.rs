//! The finish line: the closed outer edge between cut and uncut surface.
//!
//! A threshold on the change between the scans lies inside the true edge by threshold ÷ tan of the angle between
//! cut and uncut surface. So the threshold only starts the search; in a section square on the line the edge is
//! where the floor, extended outward, meets the uncut surface.

use kerfwright_geometry::{Surface, fit};
use nalgebra::{Point2, Point3, Vector2, Vector3};
use rayon::prelude::*;

use crate::MeasureError;
use crate::region::{Change, Region};
use crate::scene::Placed;
use crate::section::{Section, SectionFrame};
use crate::station::meeting;
use crate::stats::smooth_ring;
use crate::trace::trace;
use crate::trend::Trend;

/// Fewest stations (Groten 2000: fewer than 50 do not give a stable mean).
const LEAST_STATIONS: usize = 200;
/// Largest spacing of stations, mm.
const SPACING_MM: f64 = 0.15;
/// Directions of the first search.
const N_RAYS: usize = 240;
/// Smallest share of stations at which the line must be seen without a before scan: an uncut tooth shows some edge too.
const LEAST_FOUND: f64 = 0.8;
/// The same where the change between two scans says that a tooth was cut.
const LEAST_FOUND_BY_CHANGE: f64 = 0.4;
/// Half-width of the smoothing along the line, mm: half a gauge's width, less than any step worth reporting.
const SMOOTHING_MM: f64 = 0.6;

/// A closed ring of finish-line points, evenly spaced seen along `up`.
#[derive(Debug, Clone)]
pub struct Ring {
    /// The points, counter-clockwise seen against `up`.
    pub points: Vec<Point3<f64>>,
    /// Whether each point was seen, not bridged from its neighbours.
    pub seen: Vec<bool>,
    /// Departure of each seen point from the smooth line, horizontal and vertical, mm.
    pub scatter_mm: Vec<Option<[f64; 2]>>,
    /// The direction taken for the path.
    pub up: Vector3<f64>,
}

impl Ring {
    /// Centre: the middle of the enclosed area seen along `up`, at the mean height.
    pub fn centre(&self) -> Point3<f64> {
        let mean: Vector3<f64> =
            self.points.iter().map(|point| point.coords).sum::<Vector3<f64>>() / self.points.len() as f64;
        let (mut area, mut moment) = (0.0, Vector3::zeros());
        for (point, next) in self.pairs() {
            let (a, b) = (point.coords - mean, next.coords - mean);
            let wedge = a.cross(&b).dot(&self.up);
            area += wedge;
            moment += (a + b) * (wedge / 3.0);
        }
        let offset = moment / f64::max(area, 1e-9);
        Point3::from(mean + offset - self.up * offset.dot(&self.up))
    }

    /// Length of the line, mm.
    pub fn length_mm(&self) -> f64 {
        self.pairs().map(|(point, next)| (next - point).norm()).sum()
    }

    fn pairs(&self) -> impl Iterator<Item = (&Point3<f64>, &Point3<f64>)> {
        self.points.iter().zip(self.points.iter().cycle().skip(1))
    }

    /// The section frame at each point, square on the line seen along `up`.
    pub fn section_frames(&self, up: &Vector3<f64>) -> Vec<SectionFrame> {
        let n = self.points.len();
        let flatten = |direction: Vector3<f64>| direction - up * direction.dot(up);
        (0..n)
            .map(|k| {
                // A chord over four neighbours to each side is steadier than over one.
                let tangent = flatten(self.points[(k + 4) % n] - self.points[(k + n - 4) % n]);
                let inward = up.cross(&tangent).normalize();
                SectionFrame { origin: self.points[k], inward, up: *up }
            })
            .collect()
    }
}

/// First guess from the change between the scans: the outer border of the region that was cut.
pub fn from_change(after: &Surface, change: &Change, region: &Region) -> Option<Vec<Point3<f64>>> {
    let up = region.facing;
    let centre = middle_of(after, region, &up);
    let level = |vertex: u32| {
        let reduction_mm = change.reduction_mm[vertex as usize];
        let known = if reduction_mm.is_nan() { 0.0 } else { reduction_mm };
        if region.inside[vertex as usize] { known } else { known.min(0.0) }
    };
    let values = |points: &[Point3<f64>], triangles: &[u32]| -> Vec<f64> {
        let value = |(k, point): (usize, &Point3<f64>)| {
            interpolate(after, triangles[k.min(triangles.len() - 1)], point, &level)
        };
        points.iter().enumerate().map(value).collect()
    };
    let crossing = |points: &[Point3<f64>], values: &[f64], last: usize| {
        let share = (values[last] - change.threshold_mm) / (values[last] - values[last + 1]);
        points[last] + (points[last + 1] - points[last]) * share.clamp(0.0, 1.0)
    };
    let outermost = rays(after, &centre, &up, |points, triangles| {
        // The outermost place where the region's change passes the threshold.
        let values = values(points, triangles);
        let last = values.iter().rposition(|&value| value > change.threshold_mm)?;
        (last + 1 < points.len()).then(|| crossing(points, &values, last))
    })?;
    let below_wall = rays(after, &centre, &up, |points, triangles| {
        let values = values(points, triangles);
        let last = end_below_wall(points, &values, change.threshold_mm, &up)?;
        Some(crossing(points, &values, last))
    })?;
    let outline = without_moved_gingiva(&outermost, &below_wall, &centre, &up);
    bridge(&outline, &centre, &up, 5)
}

/// Where, on a walk outward, the change that began on the first steep wall ends for the length of some triangles: the last
/// point over the threshold. What changed beyond may be gingiva that moved.
fn end_below_wall(
    points: &[Point3<f64>],
    values: &[f64],
    threshold_mm: f64,
    up: &Vector3<f64>,
) -> Option<usize> {
    const STEEP: f64 = 0.8; // 53° from the horizontal.
    const WALL_MM: f64 = 0.8;
    const UNCHANGED_MM: f64 = 0.2;
    let (mut wall_mm, mut unchanged_mm) = (0.0, 0.0);
    let mut last = None;
    for (k, pair) in points.windows(2).enumerate() {
        let along = pair[1] - pair[0];
        let length_mm = along.norm();
        if values[k] <= threshold_mm {
            unchanged_mm += length_mm;
            if wall_mm >= WALL_MM && unchanged_mm > UNCHANGED_MM {
                return last;
            }
            continue;
        }
        (unchanged_mm, last) = (0.0, Some(k));
        if wall_mm < WALL_MM {
            // Triangles on a noisy wall are not all steep.
            let is_steep = -along.dot(up) > STEEP * length_mm;
            wall_mm = if is_steep { wall_mm + length_mm } else { f64::max(wall_mm - length_mm, 0.0) };
        }
    }
    None
}

/// Chooses between two guesses in each direction. Where they agree there is no doubt; where they do not, the change either
/// goes on over gingiva that moved, or an uncut spot interrupts the wall: the one nearer to its neighbours is right. Where
/// they hardly ever agree, gingiva moved all round.
fn without_moved_gingiva(
    outermost: &[Option<Point3<f64>>],
    below_wall: &[Option<Point3<f64>>],
    centre: &Point3<f64>,
    up: &Vector3<f64>,
) -> Vec<Option<Point3<f64>>> {
    const SAME_MM: f64 = 0.3;
    const LEAST_SURE: usize = 4;
    let pairs: Vec<_> = outermost.iter().copied().zip(below_wall.iter().copied()).collect();
    let differ = |pair: &(Option<Point3<f64>>, Option<Point3<f64>>)| match pair {
        (Some(outer), Some(inner)) => (outer - inner).norm() > SAME_MM,
        _ => false,
    };
    let sure: Vec<Option<Point3<f64>>> =
        pairs.iter().map(|pair| pair.0.filter(|_| pair.1.is_some() && !differ(pair))).collect();
    let (u, v) = axes(up);
    let polar = |point: &Point3<f64>| {
        let at = point - centre;
        Point2::new(at.dot(&u).hypot(at.dot(&v)), at.dot(up))
    };
    let column = |pick: fn(&Point2<f64>) -> f64| {
        fill(&sure.iter().map(|point| point.as_ref().map(|point| pick(&polar(point)))).collect::<Vec<_>>())
    };
    let expected = column(|at| at.x).zip(column(|at| at.y));
    let is_sure = sure.iter().flatten().count() * LEAST_SURE >= sure.len();
    let choose = |(k, pair): (usize, &(Option<Point3<f64>>, Option<Point3<f64>>))| {
        let (Some(outer), Some(inner)) = pair else { return pair.0 };
        if !differ(pair) {
            return Some(*outer);
        }
        let Some((radii, heights)) = expected.as_ref().filter(|_| is_sure) else { return Some(*inner) };
        let off = |point: &Point3<f64>| (polar(point) - Point2::new(radii[k], heights[k])).norm();
        Some(if off(inner) < off(outer) { *inner } else { *outer })
    };
    pairs.iter().enumerate().map(choose).collect()
}

/// The middle of a region's outline seen along `up`.
fn middle_of(after: &Surface, region: &Region, up: &Vector3<f64>) -> Point3<f64> {
    let (u, v) = axes(up);
    let mut low = [f64::INFINITY; 2];
    let mut high = [f64::NEG_INFINITY; 2];
    for (vertex, point) in after.mesh.vertices.iter().enumerate() {
        if region.inside[vertex] {
            let at = point - region.centre;
            for (k, value) in [at.dot(&u), at.dot(&v)].into_iter().enumerate() {
                low[k] = low[k].min(value);
                high[k] = high[k].max(value);
            }
        }
    }
    region.centre + u * (0.5 * (low[0] + high[0])) + v * (0.5 * (low[1] + high[1]))
}

/// Two unit vectors that make a right-handed frame with `up`.
pub fn axes(up: &Vector3<f64>) -> (Vector3<f64>, Vector3<f64>) {
    let helper = if up.x.abs() < 0.8 { Vector3::x() } else { Vector3::y() };
    let u = (helper - up * helper.dot(up)).normalize();
    (u, up.cross(&u))
}

/// Walks from the top of the tooth outward in evenly spread directions and picks a point on each walk.
///
/// `pick` gets the points of the walk and the triangle of each segment.
pub fn rays(
    after: &Surface,
    centre: &Point3<f64>,
    up: &Vector3<f64>,
    pick: impl Fn(&[Point3<f64>], &[u32]) -> Option<Point3<f64>> + Sync,
) -> Option<Vec<Option<Point3<f64>>>> {
    const WALK_MM: f64 = 16.0;
    let top = after.tree.ray(&(centre + up * 15.0), &-up, 30.0)?;
    let (u, v) = axes(up);
    let picked = (0..N_RAYS).into_par_iter().map(|k| {
        let angle_rad = std::f64::consts::TAU * k as f64 / N_RAYS as f64;
        let outward = u * angle_rad.cos() + v * angle_rad.sin();
        let plane = kerfwright_geometry::Plane { point: top.point, normal: outward.cross(up) };
        let start = if crate::trace::crossings(after, &plane, top.triangle).is_some() {
            top.triangle
        } else {
            crate::trace::crossing_near(after, &plane, &top.point, 0.5)?
        };
        let walk = trace(after, &plane, start, &outward, WALK_MM);
        let n_points = outward_part(&walk.points, &top.point, &outward, up);
        if n_points < 3 { None } else { pick(&walk.points[..n_points], &walk.triangles[..n_points - 1]) }
    });
    Some(picked.collect())
}

/// How many points of a walk lead outward, before it turns back under the tooth (a die without gingiva is closed).
fn outward_part(
    points: &[Point3<f64>],
    top: &Point3<f64>,
    outward: &Vector3<f64>,
    up: &Vector3<f64>,
) -> usize {
    const BACK_MM: f64 = 1.5;
    const BELOW_MM: f64 = 1.0;
    let mut farthest_mm = f64::NEG_INFINITY;
    let turned = points.iter().position(|point| {
        let (out_mm, down_mm) = ((point - top).dot(outward), -(point - top).dot(up));
        farthest_mm = farthest_mm.max(out_mm);
        out_mm < farthest_mm - BACK_MM && down_mm > BELOW_MM
    });
    turned.unwrap_or(points.len())
}

/// Value of a vertex field at a point of a triangle.
fn interpolate(after: &Surface, triangle: u32, point: &Point3<f64>, value: &impl Fn(u32) -> f64) -> f64 {
    let [a, b, c] = after.mesh.corners(triangle);
    let corners = after.mesh.triangles[triangle as usize];
    let normal = (b - a).cross(&(c - a));
    let whole = normal.norm_squared().max(1e-30);
    let share_b = (c - a).cross(&(a - point)).dot(&-normal) / whole;
    let share_c = (a - b).cross(&(a - point)).dot(&-normal) / whole;
    let (share_b, share_c) = (share_b.clamp(0.0, 1.0), share_c.clamp(0.0, 1.0));
    value(corners[0]) * (1.0 - share_b - share_c) + value(corners[1]) * share_b + value(corners[2]) * share_c
}

/// Fills the missing directions from their neighbours, smoothing over `half_window` directions to each side; `None` if
/// too many are missing.
pub fn bridge(
    outline: &[Option<Point3<f64>>],
    centre: &Point3<f64>,
    up: &Vector3<f64>,
    half_window: usize,
) -> Option<Vec<Point3<f64>>> {
    let n_seen = outline.iter().filter(|point| point.is_some()).count();
    if (n_seen as f64) < 0.6 * outline.len() as f64 {
        return None;
    }
    let (u, v) = axes(up);
    let radius: Vec<Option<f64>> = outline
        .iter()
        .map(|point| {
            let at = (*point)? - centre;
            Some((at - up * at.dot(up)).norm())
        })
        .collect();
    let height: Vec<Option<f64>> = outline.iter().map(|point| Some(((*point)? - centre).dot(up))).collect();
    let radius = fill(&smooth_ring(&radius, half_window))?;
    let height = fill(&smooth_ring(&height, half_window))?;
    let points = (0..outline.len()).map(|k| {
        let angle_rad = std::f64::consts::TAU * k as f64 / outline.len() as f64;
        centre + (u * angle_rad.cos() + v * angle_rad.sin()) * radius[k] + up * height[k]
    });
    Some(points.collect())
}

/// Linear interpolation over the missing places of a ring.
pub fn fill(ring: &[Option<f64>]) -> Option<Vec<f64>> {
    let n = ring.len();
    let known: Vec<usize> = (0..n).filter(|&k| ring[k].is_some()).collect();
    if known.is_empty() {
        return None;
    }
    let mut filled = vec![0.0; n];
    for (place, &from) in known.iter().enumerate() {
        let to = known[(place + 1) % known.len()];
        let gap = if to > from { to - from } else { to + n - from };
        for step in 0..gap {
            let share = step as f64 / gap as f64;
            filled[(from + step) % n] = ring[from]? * (1.0 - share) + ring[to]? * share;
        }
    }
    Some(filled)
}

/// How the uncut surface is known in a section.
#[derive(Debug, Clone, Copy)]
pub enum Uncut<'scan> {
    /// From the before scan.
    Before(Placed<'scan>),
    /// From the after scan itself, below the finish line.
    Below,
}

/// Moves a first guess onto the true edge, in sections, until it stays.
///
/// `noise_mm` is the scan's noise (1 sigma).
///
/// # Errors
/// [`MeasureError::OpenFinishLine`] if less than 80 % of the line is seen, with a before scan less than 40 %.
pub fn refine(
    after: &Surface,
    uncut: Uncut<'_>,
    guess: &[Point3<f64>],
    up: &Vector3<f64>,
    noise_mm: f64,
) -> Result<Ring, MeasureError> {
    let mut ring = evenly_spaced(guess, up);
    for pass in 0..3 {
        // First coarsely, so that a few stray sections do not lead their neighbours away.
        let (pooled, smoothing_mm) = if pass == 0 { (0, 2.5 * SMOOTHING_MM) } else { (1, SMOOTHING_MM) };
        ring = refine_once(after, uncut, &ring, up, noise_mm, pooled, smoothing_mm)?;
    }
    Ok(ring)
}

/// Moves a ring that already lies on the edge once more, square on another direction.
///
/// # Errors
/// As for [`refine`].
pub fn adjust(
    after: &Surface,
    uncut: Uncut<'_>,
    ring: &Ring,
    up: &Vector3<f64>,
    noise_mm: f64,
) -> Result<Ring, MeasureError> {
    refine_once(after, uncut, &evenly_spaced(&ring.points, up), up, noise_mm, 1, SMOOTHING_MM)
}

fn refine_once(
    after: &Surface,
    uncut: Uncut<'_>,
    ring: &Ring,
    up: &Vector3<f64>,
    noise_mm: f64,
    pooled: usize,
    smoothing_mm: f64,
) -> Result<Ring, MeasureError> {
    let frames = ring.section_frames(up);
    let sections: Vec<Option<Section>> =
        frames.par_iter().map(|frame| Section::cut_within(after, *frame, 1.5, 1.5)).collect();
    let samples = edge_samples(&sections, uncut);
    let n = frames.len();
    let edges: Vec<Option<Point2<f64>>> = (0..n)
        .into_par_iter()
        .map(|k| {
            let near = (0..=2 * pooled).map(|offset| &samples[(k + n + offset - pooled) % n]);
            let mut pool = EdgeSamples { corner: samples[k].corner, ..EdgeSamples::default() };
            near.for_each(|other| pool.add(other));
            let edge = match uncut {
                Uncut::Before(_) => pool.edge_by_change(noise_mm),
                Uncut::Below => pool.edge_by_corner(noise_mm),
            }?;
            // Farther than this it is another edge; off the surface it is an extrapolation from a crevice.
            (edge.coords.norm() < 0.6 && samples[k].distance_mm(&edge) < OFF_SURFACE_MM).then_some(edge)
        })
        .collect();
    let least_found = match uncut {
        Uncut::Before(_) => LEAST_FOUND_BY_CHANGE,
        Uncut::Below => LEAST_FOUND,
    };
    smoothed(ring, &frames, &edges, up, smoothing_mm, least_found)
}

/// What the search for the edge needs of one section: `(h, z)` and the change there.
#[derive(Debug, Clone, Default)]
struct EdgeSamples {
    /// The sharpest corner, sought only without a before scan.
    corner: Option<Point2<f64>>,
    inside: Vec<(Point2<f64>, f64, f64)>,
    outside: Vec<(Point2<f64>, f64)>,
}

fn edge_samples(sections: &[Option<Section>], uncut: Uncut<'_>) -> Vec<EdgeSamples> {
    let mut samples: Vec<EdgeSamples> = vec![EdgeSamples::default(); sections.len()];
    for (samples, section) in samples.iter_mut().zip(sections) {
        let Some(section) = section else { continue };
        let corner_mm = match uncut {
            Uncut::Before(_) => 0.0,
            Uncut::Below => match sharpest_corner(section) {
                Some(corner_mm) => corner_mm,
                None => continue,
            },
        };
        samples.corner = section.at_arc(corner_mm);
        for (point, &arc_mm) in section.points.iter().zip(&section.arc_mm) {
            let arc_mm = arc_mm - corner_mm;
            if arc_mm > 0.0 {
                samples.inside.push((*point, arc_mm, f64::NAN));
            } else {
                samples.outside.push((*point, -arc_mm));
            }
        }
    }
    if let Uncut::Before(before) = uncut {
        let frames = sections.iter().map(|section| section.as_ref().map(|section| section.frame));
        let points: Vec<Point3<f64>> = samples
            .iter()
            .zip(frames)
            .flat_map(|(samples, frame)| {
                samples.inside.iter().filter_map(move |sample| Some(frame?.solid(&sample.0)))
            })
            .collect();
        let near = before.nearest(&points, 3.0);
        for (sample, near) in samples.iter_mut().flat_map(|samples| &mut samples.inside).zip(near) {
            sample.2 = match near {
                Some(near) if !near.on_border => -near.signed_mm,
                _ => f64::NAN,
            };
        }
    }
    samples
}

/// An edge farther from the section's own points than a triangle's edge is no edge, mm.
const OFF_SURFACE_MM: f64 = 0.18;
/// Cosine of 140°: an uncut surface makes a smaller angle with the floor, through the tooth.
const LEVEL_COS: f64 = -0.77;
/// Next to the edge the mesh cuts the corner: this far from it, mm, nothing is fitted.
const CHOPPED_MM: f64 = 0.09;

impl EdgeSamples {
    fn add(&mut self, other: &Self) {
        self.inside.extend_from_slice(&other.inside);
        self.outside.extend_from_slice(&other.outside);
    }

    /// Distance from a point to the nearest of the section's points, mm.
    fn distance_mm(&self, point: &Point2<f64>) -> f64 {
        let inside = self.inside.iter().map(|sample| &sample.0);
        let all = inside.chain(self.outside.iter().map(|sample| &sample.0));
        all.map(|other| (other - point).norm()).fold(f64::INFINITY, f64::min)
    }

    /// The floor next to the edge: the longest stretch that is straight within the noise.
    fn floor(&self, noise_mm: f64) -> Option<(fit::LineFit, f64)> {
        straight(
            &self.inside.iter().map(|sample| (sample.0, sample.1)).collect::<Vec<_>>(),
            &FLOOR_REACHES_MM,
            noise_mm,
        )
    }

    /// The place on the floor, extended outward, where the change reaches zero.
    fn edge_by_change(&self, noise_mm: f64) -> Option<Point2<f64>> {
        let (floor, reach_mm) = self.floor(noise_mm)?;
        let direction = oriented(floor.direction, &floor.point.coords);
        let across = Vector2::new(-direction.y, direction.x);
        let near = self.inside.iter().filter(|sample| (CHOPPED_MM..=reach_mm).contains(&sample.1));
        let samples: Vec<(f64, f64, f64)> = near
            .filter(|sample| sample.2.is_finite())
            .map(|sample| {
                let from = sample.0 - floor.point;
                (from.dot(&direction), from.dot(&across), sample.2)
            })
            .collect();
        let change = Trend::through(&samples.iter().map(|&(x, _, change)| (x, change)).collect::<Vec<_>>())?;
        let shape = Trend::through(&samples.iter().map(|&(x, y, _)| (x, y)).collect::<Vec<_>>())?;
        let place = change.root()?;
        Some(floor.point + direction * place + across * shape.at(place))
    }

    /// Where the floor, extended outward, meets the uncut surface, extended upward. Where too little uncut surface shows
    /// between edge and gingiva: the corner as the mesh has it.
    fn edge_by_corner(&self, noise_mm: f64) -> Option<Point2<f64>> {
        let corner = self.corner?;
        let Some((floor, _)) = self.floor(noise_mm) else { return Some(corner) };
        let Some((below, _)) = straight(&self.outside, &BELOW_REACHES_MM, noise_mm) else {
            return Some(corner);
        };
        // Uncut surface falls away; what runs on nearly level is gingiva close below the edge.
        let inward = oriented(floor.direction, &(floor.point - corner));
        let away = oriented(below.direction, &(below.point - corner));
        let falls_away = inward.dot(&away) > LEVEL_COS;
        if below.rms_mm > (3.0 * noise_mm).max(0.02) || !falls_away {
            return Some(corner);
        }
        let meeting = meeting(&floor, &below, 0.2);
        Some(meeting.filter(|meeting| (meeting - corner).norm() < 2.0 * CHOPPED_MM).unwrap_or(corner))
    }
}

/// The place near the origin where a section turns down most sharply on its way outward: its arc length, if it turns
/// by more than 20° between the 0.2 mm on either side.
fn sharpest_corner(section: &Section) -> Option<f64> {
    const STEP_MM: f64 = 0.025;
    const SIDE: usize = 8;
    const SEARCH_MM: f64 = 0.5;
    const LEAST_TURN_DEG: f64 = 20.0;
    let from_mm = -SEARCH_MM - SIDE as f64 * STEP_MM;
    let first_mm = from_mm.max(section.arc_mm[0]);
    let profile = section.resampled(first_mm, -from_mm, STEP_MM);
    let turn_deg = |k: usize| {
        let (before, after) = (profile[k] - profile[k - SIDE], profile[k + SIDE] - profile[k]);
        -before.perp(&after).atan2(before.dot(&after)).to_degrees()
    };
    let sharpest = (SIDE..profile.len().saturating_sub(SIDE))
        .map(|k| {
            // The nearer the better: a crevice or the gingiva may turn as sharply farther away.
            let off_mm = (first_mm + k as f64 * STEP_MM).abs();
            (turn_deg(k) * (1.0 - off_mm / (1.5 * SEARCH_MM)), k)
        })
        .max_by(|a, b| a.0.total_cmp(&b.0).then(b.1.cmp(&a.1)))?;
    (turn_deg(sharpest.1) > LEAST_TURN_DEG).then_some(first_mm + sharpest.1 as f64 * STEP_MM)
}

/// Lengths over which a floor is tried for straightness, mm.
const FLOOR_REACHES_MM: [f64; 4] = [0.3, 0.4, 0.5, 0.65];
/// The same for the uncut surface below, of which less may show over the gingiva.
const BELOW_REACHES_MM: [f64; 5] = [0.2, 0.3, 0.4, 0.5, 0.65];

/// The longest of a few stretches next to the edge that a line explains, and how far it reaches.
fn straight(
    samples: &[(Point2<f64>, f64)],
    reaches_mm: &[f64],
    noise_mm: f64,
) -> Option<(fit::LineFit, f64)> {
    let allowed_mm = (1.5 * noise_mm).max(0.006);
    let mut best: Option<(fit::LineFit, f64)> = None;
    for &reach_mm in reaches_mm {
        let points: Vec<Point2<f64>> = samples
            .iter()
            .filter(|sample| (CHOPPED_MM..=reach_mm).contains(&sample.1))
            .map(|sample| sample.0)
            .collect();
        if points.len() < 4 {
            continue;
        }
        let Some(line) = fit::line2(&points) else { continue };
        // Pooled sections may stand a little apart in height: what a short stretch scatters a long one may too.
        if best.is_some_and(|(shorter, _)| line.rms_mm > allowed_mm.max(1.15 * shorter.rms_mm)) {
            break;
        }
        best = Some((line, reach_mm));
    }
    best
}

/// A line's direction, turned so that it leads away from the origin.
fn oriented(direction: Vector2<f64>, away: &Vector2<f64>) -> Vector2<f64> {
    if direction.dot(away) < 0.0 { -direction } else { direction }
}

/// Applies the edges found in the sections, smooths along the line and spaces the stations evenly again.
fn smoothed(
    ring: &Ring,
    frames: &[SectionFrame],
    edges: &[Option<Point2<f64>>],
    up: &Vector3<f64>,
    smoothing_mm: f64,
    least_found: f64,
) -> Result<Ring, MeasureError> {
    let n = edges.len();
    let n_seen = edges.iter().filter(|edge| edge.is_some()).count();
    let found = n_seen as f64 / n as f64;
    if found < least_found {
        let missing: Vec<_> = (0..n).filter(|&k| edges[k].is_none()).map(|k| ring.points[k].coords).collect();
        let place = missing.iter().sum::<Vector3<f64>>() / missing.len() as f64;
        return Err(MeasureError::OpenFinishLine {
            found_pct: 100.0 * found,
            where_to: format!("near {:.1}, {:.1}, {:.1} of the after scan", place.x, place.y, place.z),
        });
    }
    let spacing_mm = ring.length_mm() / n as f64;
    let half_window = ((smoothing_mm / spacing_mm).round() as usize).max(2);
    let across: Vec<Option<f64>> = edges.iter().map(|edge| edge.map(|edge| edge.x)).collect();
    let along: Vec<Option<f64>> = edges.iter().map(|edge| edge.map(|edge| edge.y)).collect();
    let (smooth_across, smooth_along) = (smooth_ring(&across, half_window), smooth_ring(&along, half_window));
    let scatter: Vec<Option<[f64; 2]>> =
        (0..n).map(|k| Some([across[k]? - smooth_across[k]?, along[k]? - smooth_along[k]?])).collect();
    let (Some(filled_across), Some(filled_along)) = (fill(&smooth_across), fill(&smooth_along)) else {
        return Err(MeasureError::OpenFinishLine { found_pct: 0.0, where_to: "everywhere".into() });
    };
    let points: Vec<Point3<f64>> =
        (0..n).map(|k| frames[k].solid(&Point2::new(filled_across[k], filled_along[k]))).collect();
    let mut next = evenly_spaced(&points, up);
    // Spacing hardly changes, so flags and scatter stay with their places.
    let place = |k: usize| k * n / next.points.len();
    next.seen = (0..next.points.len()).map(|k| edges[place(k)].is_some()).collect();
    next.scatter_mm = (0..next.points.len()).map(|k| scatter[place(k)]).collect();
    Ok(next)
}

/// A closed line with stations evenly spaced as seen along `up`.
fn evenly_spaced(points: &[Point3<f64>], up: &Vector3<f64>) -> Ring {
    let n = points.len();
    let flat = |direction: Vector3<f64>| (direction - up * direction.dot(up)).norm();
    let mut arcs = vec![0.0];
    let mut length_mm = 0.0;
    for k in 0..n {
        let step = points[(k + 1) % n] - points[k];
        length_mm += step.norm();
        arcs.push(arcs[k] + flat(step));
    }
    let n_stations = LEAST_STATIONS.max((length_mm / SPACING_MM).ceil() as usize);
    let mut stations = Vec::with_capacity(n_stations);
    let mut k = 0;
    for station in 0..n_stations {
        let wanted = arcs[n] * station as f64 / n_stations as f64;
        while k + 1 < n && arcs[k + 1] <= wanted {
            k += 1;
        }
        let share = (wanted - arcs[k]) / (arcs[k + 1] - arcs[k]).max(1e-12);
        stations.push(points[k] + (points[(k + 1) % n] - points[k]) * share);
    }
    Ring { seen: vec![true; n_stations], scatter_mm: vec![None; n_stations], points: stations, up: *up }
}
