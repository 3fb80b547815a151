//! `abutments.*`: several prepared teeth that shall carry one prosthesis.

use nalgebra::Vector3;

use super::{Middle, undercut};
use crate::document::Value;
use crate::frame::Aspect;
use crate::joint::Abutments;
use crate::path::{self, PathChoice};
use crate::preparation::Preparation;
use crate::sheet::{Sheet, expanded, number};
use crate::station::Station;

/// What a path is uncertain by beyond the scatter of its walls, degrees (1 sigma, as for the tapers).
const FLOOR_DEG: f64 = 0.15;
/// Farthest that the common path is sought from the mean of the best paths, degrees.
const FARTHEST_DEG: f64 = 25.0;

/// The angle between the best paths of placement, the largest of all pairs; the undercut that the best common path leaves.
///
/// The common path leaves the least undercut and then has the largest smallest draft, over the wall lines of all teeth.
/// The undercut along it is measured anew on each tooth, as `undercut.area_mm2` is, and summed.
pub fn take(preparations: &[Preparation<'_>]) -> Abutments {
    let mut sheet = Sheet::default();
    parallel(preparations, &mut sheet);
    let common = common_path(preparations);
    match &common {
        Some(path) => undercut_along(preparations, path, &mut sheet),
        None => sheet.refuse(UNDERCUT, "too few axial walls were found to seek a common path"),
    }
    let rounded = |value: f64| (value * 1e6).round() / 1e6;
    Abutments {
        common_path: common.map(|path| [rounded(path.x), rounded(path.y), rounded(path.z)]),
        readings: sheet.readings,
        refused: sheet.refused,
    }
}

const UNDERCUT: &str = "abutments.common_path_undercut_mm2";

fn best(preparation: &Preparation<'_>) -> Vector3<f64> {
    match preparation.path_choice {
        PathChoice::Best => preparation.path,
        _ => path::best(&preparation.stations, &preparation.frame),
    }
}

fn parallel(preparations: &[Preparation<'_>], sheet: &mut Sheet) {
    let mut widest: Option<(f64, usize, usize)> = None;
    for (k, one) in preparations.iter().enumerate() {
        for (other, preparation) in preparations.iter().enumerate().skip(k + 1) {
            let angle_deg = best(one).angle(&best(preparation)).to_degrees();
            if widest.is_none_or(|(most_deg, ..)| angle_deg > most_deg) {
                widest = Some((angle_deg, k, other));
            }
        }
    }
    let id = "abutments.parallel_deg";
    let Some((angle_deg, one, other)) = widest else {
        sheet.refuse(id, "needs at least two prepared teeth: name them with --tooth");
        return;
    };
    let sigmas = [one, other].map(|k| path_sigma_deg(&preparations[k]));
    let names = [one, other].map(|k| preparations[k].tooth.fdi());
    let reading = number(angle_deg, "deg", expanded(&[sigmas[0], sigmas[1]]))
        .noted(format!("between the best paths of placement of {} and {}", names[0], names[1]));
    sheet.write(id, reading);
}

/// Standard uncertainty of the best path's direction: half the difference of opposing tapers, in two planes.
fn path_sigma_deg(preparation: &Preparation<'_>) -> f64 {
    let error = |aspect: Aspect| {
        Middle::of(preparation, aspect, |station: &Station| Some(station.sound_wall()?.taper_deg))
            .standard_error()
    };
    let plane = |one, other| 0.5 * error(one).hypot(error(other));
    let scatter = plane(Aspect::Mesial, Aspect::Distal).hypot(plane(Aspect::Facial, Aspect::Lingual));
    scatter.hypot(FLOOR_DEG)
}

/// A wall line's normal and the area that it stands for.
struct Wall {
    normal: Vector3<f64>,
    area_mm2: f64,
}

fn walls(preparation: &Preparation<'_>) -> Vec<Wall> {
    let spacing_mm = preparation.ring.length_mm() / preparation.ring.points.len().max(1) as f64;
    let walls = preparation.stations.iter().filter_map(|station| station.sound_wall());
    walls
        .map(|wall| Wall {
            normal: wall.normal,
            area_mm2: spacing_mm * wall.top.map_or(1.0, |top| top.y.clamp(0.0, 10.0)),
        })
        .collect()
}

/// What is the matter with a path: undercut first, then lack of draft.
fn cost(walls: &[Vec<Wall>], path: &Vector3<f64>) -> (f64, f64) {
    let drafts = walls.iter().map(|walls| {
        let drafts: Vec<(f64, f64)> =
            walls.iter().map(|wall| (wall.normal.dot(path).clamp(-1.0, 1.0).asin(), wall.area_mm2)).collect();
        crate::stats::weighted_quantile(&drafts, 0.05).unwrap_or(0.0)
    });
    let overhang = walls.iter().flatten().map(|wall| (-wall.normal.dot(path)).max(0.0) * wall.area_mm2);
    // A few stray wall lines lean by some tenths of a degree.
    let undercut = overhang.sum::<f64>();
    (if undercut < 0.02 { 0.0 } else { undercut }, -drafts.fold(f64::INFINITY, f64::min))
}

/// Pattern search from the mean of the best paths.
fn common_path(preparations: &[Preparation<'_>]) -> Option<Vector3<f64>> {
    let walls: Vec<Vec<Wall>> = preparations.iter().map(walls).collect();
    if walls.len() < 2 || walls.iter().any(|walls| walls.len() < 20) {
        return None;
    }
    let start = preparations.iter().map(best).sum::<Vector3<f64>>().try_normalize(0.1)?;
    let (u, v) = crate::finish_line::axes(&start);
    let (mut path, mut least) = (start, cost(&walls, &start));
    let mut step_rad = 4f64.to_radians();
    while step_rad > 0.05f64.to_radians() {
        let ways = [u, -u, v, -v, u + v, u - v, v - u, -u - v];
        let tries = ways.map(|toward| {
            let path = (path + toward * step_rad.tan()).normalize();
            (cost(&walls, &path), path)
        });
        let better = tries
            .into_iter()
            .filter(|(cost, path)| *cost < least && path.angle(&start).to_degrees() < FARTHEST_DEG)
            .min_by(|a, b| a.0.0.total_cmp(&b.0.0).then(a.0.1.total_cmp(&b.0.1)));
        match better {
            Some((cost, other)) => (least, path) = (cost, other),
            None => step_rad *= 0.5,
        }
    }
    Some(path)
}

fn undercut_along(preparations: &[Preparation<'_>], path: &Vector3<f64>, sheet: &mut Sheet) {
    let (mut area_mm2, mut halves, mut parts) = (0.0, Vec::new(), Vec::new());
    for preparation in preparations {
        let tooth = preparation.tooth.fdi();
        let Ok(along) = preparation.along(PathChoice::Fixed(*path)) else {
            sheet.refuse(UNDERCUT, format!("the sections of {tooth} cannot be cut along the common path"));
            return;
        };
        let mut own = Sheet::default();
        undercut::take(&along, &mut own);
        let Some(Value::Number(value)) =
            own.readings.get("undercut.area_mm2").map(|reading| reading.value.clone())
        else {
            let reason = own.refused.get("undercut.area_mm2").cloned().unwrap_or_default();
            sheet.refuse(UNDERCUT, format!("{tooth}: {reason}"));
            return;
        };
        area_mm2 += value;
        halves.push(0.5 * own.readings["undercut.area_mm2"].u95.unwrap_or(0.0));
        parts.push((format!("of_{tooth}"), value));
    }
    let mut reading = number(area_mm2, "mm2", expanded(&halves)).noted(
        "along the common path that leaves the least undercut and then has the largest smallest draft",
    );
    for (name, value) in parts {
        reading = reading.with(&name, value);
    }
    sheet.write(UNDERCUT, reading);
}
