//! `occlusal.incline.*`: how the cusp inclines of the prepared occlusal surface lie.

use nalgebra::Vector3;

use crate::frame::ToothFrame;
use crate::preparation::Preparation;
use crate::relief::Extreme;
use crate::sheet::{Sheet, expanded, number};
use crate::zones::{OcclusalVertex, Zone};

/// Width of the columns across the tooth in which ridges and valley are sought, mm.
const COLUMN_MM: f64 = 0.3;
/// How far to both sides of a cusp's tip its inclines reach along the tooth, mm.
const BESIDE_TIP_MM: f64 = 1.0;
/// A ridge is sought farther than this from the groove line, mm.
const BESIDE_GROOVE_MM: f64 = 0.8;
/// What lies nearer to a ridge or to the valley is rounded, mm.
const ROUNDED_MM: f64 = 0.3;
/// The same towards the functional ridge from inside, where the bevel cuts it: its triangles reach over the edge, mm.
const CUT_RIDGE_MM: f64 = 0.45;
/// An incline smaller than this is none, mm².
const LEAST_AREA_MM2: f64 = 0.8;
/// What falls outward by less than this beyond the ridge is no incline but the rest of a flat top, degrees.
const OUTWARD_DEG: f64 = 15.0;
/// How well the borders of an incline are known, mm (1 sigma, both together: half an edge of a scan's triangles).
const BORDER_MM: f64 = 0.14;
/// An inclination known worse than this is none, degrees: the inclines of one tooth differ by little more.
const WORST_U95_DEG: f64 = 7.0;

const IDS: [&str; 4] = [
    "occlusal.incline.functional_outer_deg",
    "occlusal.incline.functional_inner_deg",
    "occlusal.incline.nonfunctional_inner_deg",
    "occlusal.incline.parallel_deg",
];

/// Inclinations of the three cusp inclines against the plane square on the path, seen along the arch, and the angle
/// between the functional outer and the non-functional inner one.
///
/// Inclines are read on the cusps: within 1 mm mesially and distally of the tips of the uncut tooth (without a before
/// scan, of the prepared one). Across each 0.3 mm of the length there, the highest place more than 0.8 mm beside the
/// groove line is the cusp's ridge, the lowest between the ridges of both sides the valley; from column to column these
/// places are joined by straight lines. The inner incline lies between valley and ridge, the outer one beyond the functional
/// ridge where it falls outward by more than 15°, up to the scan's last vertices on it, which lie about 0.1 mm before it turns
/// into the wall; 0.3 mm beside ridge and valley
/// are left out as rounded, 0.45 mm inside the functional ridge. All this is looked at along the path, so that the tooth's
/// axis has no part in it. An incline's slope along and across the tooth is the midmean (mean of the middle half, by area) of
/// its vertices' slopes. Positive: the outer one falls outward, the inner ones towards the valley.
pub fn take(preparation: &Preparation<'_>, sheet: &mut Sheet) {
    let Some(sign) = preparation.functional_sign() else {
        IDS.iter().for_each(|&id| sheet.refuse(id, "front teeth have no cusp inclines"));
        return;
    };
    if preparation.occlusal.groove.is_none() {
        IDS.iter().for_each(|&id| sheet.refuse(id, "no fossae between two cusp rows were found"));
        return;
    }
    let parts = split(preparation, sign);
    // Slopes are counted towards the functional side; each incline in its own sense.
    let senses = [-1.0, 1.0, -1.0];
    let inclines: Vec<Result<Incline, String>> =
        parts.iter().zip(REASONS).map(|(part, too_little)| Incline::of(part, too_little)).collect();
    for (k, incline) in inclines.iter().enumerate() {
        match incline {
            Ok(incline) => {
                let value = (senses[k] * incline.slope[1]).atan().to_degrees();
                let reading = number(value, "deg", incline.u95_deg())
                    .with("mesial_deg", incline.slope[0].atan().to_degrees())
                    .with("area_mm2", incline.area_mm2)
                    .at(Some(preparation.place_of_vertex(incline.middle)));
                sheet.write(IDS[k], reading);
            }
            Err(reason) => sheet.refuse(IDS[k], reason.clone()),
        }
    }
    match (&inclines[OUTER], &inclines[OTHER]) {
        (Ok(outer), Ok(other)) => {
            let angle_deg = outer.normal().angle(&other.normal()).to_degrees();
            sheet.write(IDS[3], number(angle_deg, "deg", outer.u95_deg().hypot(other.u95_deg())));
        }
        (Err(reason), _) | (_, Err(reason)) => sheet.refuse(IDS[3], reason.clone()),
    }
}

/// Places of the three inclines in what follows.
const OUTER: usize = 0;
const INNER: usize = 1;
const OTHER: usize = 2;

const REASONS: [&str; 3] = [
    "nothing wide enough beyond the functional cusps' ridge falls outward by 15 degrees: no functional cusp bevel",
    "too little is left of the functional cusps' inner incline between its rounded borders",
    "too little is left of the non-functional cusps' inner incline between its rounded borders",
];

/// A vertex in the tooth's frame tipped to the path, with its facial axis turned to the functional side.
#[derive(Debug, Clone, Copy)]
struct Sloped {
    vertex: OcclusalVertex,
    /// Mesially, towards the functional side, along the path, mm.
    place: Vector3<f64>,
    /// Distance to the functional side of the groove line.
    beside_groove_mm: f64,
    /// Rise a mm mesially and towards the functional side.
    slope: [f64; 2],
}

/// The functional outer, functional inner and non-functional inner incline.
fn split(preparation: &Preparation<'_>, sign: f64) -> [Vec<Sloped>; 3] {
    let frame = preparation.frame.tipped(&preparation.path);
    let vertices = preparation.occlusal.zone(Zone::All, sign);
    let all: Vec<Sloped> =
        vertices.into_iter().filter_map(|vertex| sloped(preparation, &frame, vertex, sign)).collect();
    let landmarks = &preparation.occlusal.landmarks;
    let along = |tips: &[Extreme]| -> Vec<f64> {
        let place = |tip: &Extreme| frame.coordinates(&preparation.frame.point(&tip.place)).x;
        tips.iter().map(place).collect()
    };
    let (facial, lingual) = (along(&landmarks.facial), along(&landmarks.lingual));
    let (functional, other) = if sign > 0.0 { (&facial, &lingual) } else { (&lingual, &facial) };
    let lines = Lines::of(&all);
    let mut parts = [const { Vec::new() }; 3];
    for sloped in &all {
        let Some(part) = lines.part(sloped) else { continue };
        let tips = if part == OTHER { other } else { functional };
        if tips.iter().any(|tip| (tip - sloped.place.x).abs() < BESIDE_TIP_MM) {
            parts[part].push(*sloped);
        }
    }
    parts
}

fn sloped(
    preparation: &Preparation<'_>,
    frame: &ToothFrame,
    vertex: OcclusalVertex,
    sign: f64,
) -> Option<Sloped> {
    let groove = preparation.occlusal.groove?;
    let after = preparation.scene.after;
    let turned = |to: Vector3<f64>| Vector3::new(to.x, sign * to.y, to.z);
    // Not pooled with the neighbours': beside the bevel that would flatten an inner incline by 3 degrees.
    let normal = turned(frame.components(&after.vertex_normals[vertex.vertex as usize]));
    Some(Sloped {
        vertex,
        place: turned(frame.coordinates(&after.mesh.vertices[vertex.vertex as usize])),
        beside_groove_mm: sign * groove.facially_mm(&vertex.place),
        slope: [-normal.x / normal.z, -normal.y / normal.z],
    })
}

impl Sloped {
    fn column(&self) -> i32 {
        (self.place.x / COLUMN_MM).floor() as i32
    }
}

/// Both ridges and the valley: where each crosses the columns, mesially and towards the functional side, in order.
#[derive(Debug, Default)]
struct Lines {
    functional: Vec<[f64; 2]>,
    valley: Vec<[f64; 2]>,
    other: Vec<[f64; 2]>,
}

impl Lines {
    fn of(all: &[Sloped]) -> Self {
        let mut columns = std::collections::BTreeMap::<i32, Vec<&Sloped>>::new();
        for sloped in all {
            columns.entry(sloped.column()).or_default().push(sloped);
        }
        let mut lines = Self::default();
        for column in columns.values() {
            if let Some([functional, valley, other]) = crossings(column) {
                lines.functional.push(functional);
                lines.valley.push(valley);
                lines.other.push(other);
            }
        }
        lines
    }

    /// Which incline a vertex lies on.
    fn part(&self, sloped: &Sloped) -> Option<usize> {
        let [x, y] = [sloped.place.x, sloped.place.y];
        let [functional_mm, valley_mm, other_mm] =
            [between(&self.functional, x)?, between(&self.valley, x)?, between(&self.other, x)?];
        let outward = OUTWARD_DEG.to_radians().tan();
        if y > functional_mm + ROUNDED_MM && -sloped.slope[1] > outward {
            Some(OUTER)
        } else if y > valley_mm + ROUNDED_MM && y < functional_mm - CUT_RIDGE_MM {
            Some(INNER)
        } else if y < valley_mm - ROUNDED_MM && y > other_mm + ROUNDED_MM {
            Some(OTHER)
        } else {
            None
        }
    }
}

/// Where one column meets the functional ridge, the valley and the other ridge.
fn crossings(column: &[&Sloped]) -> Option<[[f64; 2]; 3]> {
    let highest = |side: f64| {
        let beside = column.iter().filter(|sloped| side * sloped.beside_groove_mm > BESIDE_GROOVE_MM);
        beside.max_by(|a, b| a.place.z.total_cmp(&b.place.z))
    };
    let (functional, other) = (highest(1.0)?, highest(-1.0)?);
    let span = other.place.y..=functional.place.y;
    let between = column.iter().filter(|sloped| span.contains(&sloped.place.y));
    let valley = between.min_by(|a, b| a.place.z.total_cmp(&b.place.z))?;
    Some([functional, valley, other].map(|sloped| [sloped.place.x, sloped.place.y]))
}

/// The line through points in order of `x`, level beyond the first and the last; `None` without points.
fn between(points: &[[f64; 2]], x: f64) -> Option<f64> {
    let last = points.len().checked_sub(1)?;
    let after = points.partition_point(|point| point[0] < x);
    let (a, b) = (points[after.saturating_sub(1)], points[after.min(last)]);
    let share = if b[0] > a[0] { ((x - a[0]) / (b[0] - a[0])).clamp(0.0, 1.0) } else { 0.0 };
    Some(a[1] + share * (b[1] - a[1]))
}

/// The plane of an incline.
#[derive(Debug, Clone, Copy)]
struct Incline {
    /// Mesially, towards the functional side.
    slope: [f64; 2],
    /// Scatter of the angle across from vertex to vertex, robust, degrees (1 sigma).
    scatter_deg: f64,
    n: usize,
    area_mm2: f64,
    /// Mean width across the tooth.
    width_mm: f64,
    /// The vertex nearest to the middle.
    middle: u32,
}

impl Incline {
    /// The incline of a part; or that there is too little of it, or that it is too round to have one inclination.
    fn of(part: &[Sloped], too_little: &str) -> Result<Self, String> {
        let incline = Self::fitted(part).ok_or(too_little)?;
        if incline.u95_deg() > WORST_U95_DEG { Err(incline.too_round()) } else { Ok(incline) }
    }

    fn fitted(part: &[Sloped]) -> Option<Self> {
        let area_mm2: f64 = part.iter().map(|sloped| sloped.vertex.area_mm2).sum();
        if part.len() < 20 || area_mm2 < LEAST_AREA_MM2 {
            return None;
        }
        let pairs = |axis: usize| -> Vec<(f64, f64)> {
            part.iter().map(|sloped| (sloped.slope[axis], sloped.vertex.area_mm2)).collect()
        };
        let sum: Vector3<f64> = part.iter().map(|sloped| sloped.place * sloped.vertex.area_mm2).sum();
        let off = |sloped: &Sloped| (sloped.place - sum / area_mm2).norm_squared();
        let middle = part.iter().min_by(|a, b| off(a).total_cmp(&off(b)))?;
        let across: Vec<f64> = part.iter().map(|sloped| sloped.slope[1].atan().to_degrees()).collect();
        let columns: std::collections::BTreeSet<i32> = part.iter().map(Sloped::column).collect();
        Some(Self {
            slope: [midmean(pairs(0)), midmean(pairs(1))],
            scatter_deg: crate::stats::robust_sigma(&across)?,
            n: part.len(),
            area_mm2,
            width_mm: area_mm2 / (columns.len() as f64 * COLUMN_MM),
            middle: middle.vertex.vertex,
        })
    }

    /// Unit normal in (mesial, functional, path).
    fn normal(&self) -> Vector3<f64> {
        Vector3::new(-self.slope[0], -self.slope[1], 1.0).normalize()
    }

    /// From vertex to vertex, where neighbours share triangles and about every third is independent; and from the
    /// borders: on a round incline a border that lies further out moves the mean, the more the narrower the incline.
    fn u95_deg(&self) -> f64 {
        const VERTICES_A_SAMPLE: f64 = 3.0;
        // The quartiles of a normal scatter lie so far apart: about as far as a border's slope lies from the mean.
        const QUARTILES: f64 = 1.35;
        let n = (self.n as f64 / VERTICES_A_SAMPLE).max(1.0);
        expanded(&[self.scatter_deg / n.sqrt(), QUARTILES * self.scatter_deg * BORDER_MM / self.width_mm])
    }

    fn too_round(&self) -> String {
        format!(
            "the incline is too narrow and too round to have one inclination: {:.1} mm wide, known to ±{:.0}° only",
            self.width_mm,
            self.u95_deg()
        )
    }
}

/// Weighted mean of the values between the first and the third quartile of the weight.
fn midmean(mut pairs: Vec<(f64, f64)>) -> f64 {
    pairs.sort_by(|a, b| a.0.total_cmp(&b.0));
    let total: f64 = pairs.iter().map(|pair| pair.1).sum();
    let (mut passed, mut sum, mut counted) = (0.0, 0.0, 0.0);
    for (value, weight) in pairs {
        // The part of this weight that lies within the middle half.
        let part = (passed + weight).min(0.75 * total) - f64::max(passed, 0.25 * total);
        if part > 0.0 {
            sum += part * value;
            counted += part;
        }
        passed += weight;
    }
    sum / counted
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_runs_straight_between_its_points_and_level_beyond_them() {
        let points = [[0.0, 1.0], [2.0, 3.0], [3.0, 0.0]];
        assert_eq!(
            [-1.0, 0.0, 0.5, 2.0, 2.5, 9.0].map(|x| between(&points, x)),
            [1.0, 1.0, 1.5, 3.0, 1.5, 0.0].map(Some)
        );
        assert_eq!(between(&points[..1], 5.0), Some(1.0));
        assert_eq!(between(&[], 0.0), None);
    }

    #[test]
    fn the_midmean_takes_the_middle_half_and_parts_of_the_weights_at_its_ends() {
        assert_eq!(midmean(vec![(4.0, 1.0), (1.0, 1.0), (2.0, 1.0), (900.0, 1.0)]), 3.0);
        // One heavy value holds the whole middle half; halves of two others do here.
        assert_eq!(midmean(vec![(1.0, 1.0), (5.0, 6.0), (9.0, 1.0)]), 5.0);
        assert_eq!(midmean(vec![(1.0, 2.0), (3.0, 2.0)]), 2.0);
    }
}
