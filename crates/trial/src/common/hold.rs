//! What holds a crown, from the phantom's exact surfaces: axial area, resisting shares, facial planes.
//!
//! The walls are sampled on a grid: in every section of the finish line (planes that hold the path), at even heights, the
//! wall's place by bisection of the exact body; areas and normals from the grid itself. No code is shared with the
//! measuring, which works on triangles.

use kerfwright_measure::document::Value;
use kerfwright_measure::frame::Aspect;
use kerfwright_phantom::{Finish, Phantom, Spec};
use nalgebra::{Point3, Vector3};
use rayon::prelude::*;

use super::truth::{Expected, angle_deg, centre_of, line, median};

/// Spacing of the heights, mm.
const STEP_MM: f64 = 0.05;
/// A front tooth's prepared crown is up to 9 mm high.
const N_LEVELS: u32 = 220;
/// How far inwards the wall is sought, mm: a front tooth's lingual wall leads to its incisal edge; on others what lies
/// farther in faces another wall over the occlusal surface.
const FRONT_REACH_MM: f64 = 6.0;
const REACH_MM: f64 = 3.0;
/// Every so many of the phantom's 720 stations.
const EVERY: usize = 2;
/// How many of the phantom's stations to each side give the finish line's direction.
const CHORD: usize = 8;

/// A station of the finish line.
struct Station {
    edge: Point3<f64>,
    inward: Vector3<f64>,
    angle_deg: f64,
    /// The wall at even heights, as far as it goes.
    wall: Vec<Option<Point3<f64>>>,
}

/// A cell of the grid that is axial wall.
struct Cell {
    centre: Point3<f64>,
    normal: Vector3<f64>,
    area_mm2: f64,
    /// Height over the finish line of its own station, mm.
    height_mm: f64,
    /// Wall of a groove or a wing: it stands across its own finish line by more than 45°, and other wall of its height
    /// lies more than 0.2 mm farther out along its normal.
    recess: bool,
}

/// Adds axial area, resisting shares and facial planes.
pub fn expected(phantom: &Phantom, all: &mut Expected) {
    let up = Vector3::from(phantom.truth().path);
    let stations = stations(&sharp(phantom), &line(phantom), &up);
    let cells = cells(&stations, &up);
    let mut put = |id: String, value: f64| all.insert(id, Value::Number(value));
    put("retention.axial_area_mm2".into(), cells.iter().map(|cell| cell.area_mm2).sum());
    let turns: Vec<Turn> =
        stations.par_iter().map(|station| Turn::about(station, &stations, &cells, &up)).collect();
    for aspect in Aspect::ALL {
        let opposite = Aspect::at(aspect.centre_deg() + 180.0);
        // Where the value changes along the aspect it follows the tooth frame, which no scan shows better than to 3°.
        let middle = |shift_deg: f64, value: fn(&Turn) -> f64| {
            let axes = stations.iter().zip(&turns);
            let near = axes
                .filter(|(axis, _)| opposite.holds_in_middle((axis.angle_deg + shift_deg).rem_euclid(360.0)));
            median(near.map(|(_, turn)| value(turn)).collect())
        };
        let mut put_steady = |id: String, value: fn(&Turn) -> f64, limit: f64| {
            let own = middle(0.0, value);
            if [-3.0, 3.0].iter().all(|&shift_deg| (middle(shift_deg, value) - own).abs() < limit) {
                put(id, own);
            }
        };
        let id = format!("resistance.resisting_pct.{}", aspect.id());
        put_steady(format!("{id}#limiting_taper_deg"), |turn| turn.limiting_taper_deg, 0.25);
        put_steady(id, |turn| turn.resisting_pct, 1.0);
    }
    let least = turns.iter().map(|turn| turn.limiting_taper_deg).fold(f64::MAX, f64::min);
    put("resistance.limiting_taper_deg".into(), least);
    let second_deg = phantom.spec().second_plane.map_or(0.0, |plane| plane.angle_deg);
    put("facial.second_plane_deg".into(), second_deg);
    put("facial.planes".into(), if second_deg > 4.0 { 2.0 } else { 1.0 });
}

/// The same preparation with sharp corners: roundings of 0.25 mm count as the corner that they round.
fn sharp(phantom: &Phantom) -> Phantom {
    let finish = phantom.spec().finish.map(|finish| match finish {
        Finish::Shoulder { .. } => Finish::Shoulder { internal_radius_mm: 0.0 },
        Finish::SlopedShoulder { declination_deg, .. } => {
            Finish::SlopedShoulder { declination_deg, internal_radius_mm: 0.0 }
        }
        other => other,
    });
    Phantom::new(&Spec { finish, line_angle_radius_mm: 0.0, ..phantom.spec().clone() })
}

fn stations(phantom: &Phantom, points: &[Point3<f64>], up: &Vector3<f64>) -> Vec<Station> {
    let centre = centre_of(points);
    let n = points.len();
    let at = |k: usize| {
        // Over half a millimetre: at a jump of the line the planes of nearest points would cross, and wall count twice.
        let across = up.cross(&(points[(k + CHORD) % n] - points[(k + n - CHORD) % n])).normalize();
        let inward = if across.dot(&(centre - points[k])) < 0.0 { -across } else { across };
        let wall = (0..N_LEVELS).map(|level| {
            let height_mm = STEP_MM * (f64::from(level) + 0.5);
            let from = points[k] + up * height_mm;
            Some(from + inward * from_outside(phantom, &from, &inward)?)
        });
        Station { edge: points[k], inward, angle_deg: angle_deg(&points[k], &centre), wall: wall.collect() }
    };
    (0..n).into_par_iter().step_by(EVERY).map(at).collect()
}

/// How far inwards the wall lies: from the finish line inwards through air until the body begins, then halved down. Along a
/// path that leans, the place over the finish line may lie in the adjacent tooth: air begins behind that.
fn from_outside(phantom: &Phantom, from: &Point3<f64>, inward: &Vector3<f64>) -> Option<f64> {
    const STRIDE_MM: f64 = 0.04;
    let reach_mm = if phantom.fdi().position() <= 3 { FRONT_REACH_MM } else { REACH_MM };
    let n_strides = (reach_mm / STRIDE_MM) as u32;
    let inside = |place_mm: f64| phantom.is_inside_after(&(from + inward * place_mm));
    let air = (0..15).find(|&stride| !inside(STRIDE_MM * f64::from(stride)))?;
    let first = (air..n_strides).find(|&stride| inside(STRIDE_MM * f64::from(stride)))?;
    let (mut outer, mut inner) = (STRIDE_MM * f64::from(first - 1), STRIDE_MM * f64::from(first));
    for _ in 0..25 {
        let between = 0.5 * (outer + inner);
        if inside(between) { inner = between } else { outer = between }
    }
    Some(0.5 * (outer + inner))
}

/// The quads between neighbouring stations and heights whose normal stands more than 60° off the path.
fn cells(stations: &[Station], up: &Vector3<f64>) -> Vec<Cell> {
    let n = stations.len();
    let mut cells = Vec::new();
    for k in 0..n {
        let (one, other) = (&stations[k], &stations[(k + 1) % n]);
        for level in 0..one.wall.len() - 1 {
            let (Some(a), Some(b), Some(c), Some(d)) =
                (one.wall[level], other.wall[level], other.wall[level + 1], one.wall[level + 1])
            else {
                continue;
            };
            let across = (c - a).cross(&(d - b));
            let outward = if across.dot(&one.inward) > 0.0 { -across } else { across };
            let normal = outward.normalize();
            // A jump from the wall to the far side of a fossa is no quad of the wall.
            if normal.dot(up).abs() < 0.5 && (d - a).norm() < 3.0 * STEP_MM {
                let centre = Point3::from((a.coords + b.coords + c.coords + d.coords) / 4.0);
                let foot = 0.5 * (one.edge.coords + other.edge.coords).dot(up);
                cells.push(Cell {
                    centre,
                    normal,
                    area_mm2: 0.5 * across.norm(),
                    height_mm: centre.coords.dot(up) - foot,
                    // Not known before all cells are.
                    recess: level_of(&normal, up).dot(&-one.inward) < 45f64.to_radians().cos(),
                });
            }
        }
    }
    let recessed = |cell: &Cell| {
        let outward = level_of(&cell.normal, up);
        let beyond = |other: &Cell| {
            let to = other.centre - cell.centre;
            to.dot(up).abs() < 0.25 && to.dot(&outward) > 0.2
        };
        cell.recess && cells.iter().any(beyond)
    };
    let recesses: Vec<bool> = cells.par_iter().map(recessed).collect();
    cells.iter_mut().zip(recesses).for_each(|(cell, recess)| cell.recess = recess);
    cells
}

/// The part of a direction that is square on the path, unit.
fn level_of(direction: &Vector3<f64>, up: &Vector3<f64>) -> Vector3<f64> {
    (direction - up * direction.dot(up)).normalize()
}

/// What a turn about the finish line's tangent at a station meets in a strip a fifth as wide as
/// the finish line reaches across, and in recesses wherever they lie.
struct Turn {
    resisting_pct: f64,
    limiting_taper_deg: f64,
}

impl Turn {
    fn about(axis: &Station, stations: &[Station], cells: &[Cell], up: &Vector3<f64>) -> Self {
        let reach =
            stations.iter().map(|other| (other.edge - axis.edge).dot(&axis.inward)).fold(0.0, f64::max);
        // Unit axis about which a turn by the right-hand rule lifts the far side.
        let turn = axis.inward.cross(up);
        let (mut resisting, mut all, mut limits) = (0.0, 0.0, Vec::new());
        for cell in cells {
            let from = cell.centre - axis.edge;
            let facing = level_of(&cell.normal, up).dot(&axis.inward);
            let in_strip = from.dot(&turn).abs() <= 0.1 * reach && facing >= 0.5;
            let in_recess = cell.recess && facing > 45f64.to_radians().cos();
            if !(in_strip || in_recess) {
                continue;
            }
            all += cell.area_mm2;
            if turn.cross(&from).dot(&cell.normal) < 0.0 {
                resisting += cell.area_mm2;
            }
            limits.push((Self::limit_deg(axis, cell, up), cell.area_mm2));
        }
        limits.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut below = 0.0;
        let middle = limits.iter().find(|limit| {
            below += limit.1;
            below >= 0.5 * all
        });
        Self {
            resisting_pct: 100.0 * resisting / all,
            limiting_taper_deg: middle.map_or(f64::NAN, |limit| limit.0),
        }
    }

    /// The taper at which the cell, leaned about its wall's foot, would be neutral: by halving, not by the formula.
    fn limit_deg(axis: &Station, cell: &Cell, up: &Vector3<f64>) -> f64 {
        let from = cell.centre - axis.edge;
        let lean = cell.normal.dot(up) / cell.normal.dot(&axis.inward);
        let base = from.dot(&axis.inward) + cell.height_mm * lean;
        let raised = cell.height_mm - from.dot(up);
        // At a taper the point stands over its foot by its own height, leaning in, and its normal leans as much.
        let resists = |taper_deg: f64| {
            let (sine, cosine) = taper_deg.to_radians().sin_cos();
            let (x, z) = (base - cell.height_mm * sine / cosine, cell.height_mm - raised);
            x * sine - z * cosine < 0.0
        };
        let (mut low, mut high) = (-45.0, 45.0);
        for _ in 0..40 {
            let between = 0.5 * (low + high);
            if resists(between) { low = between } else { high = between }
        }
        0.5 * (low + high)
    }
}
