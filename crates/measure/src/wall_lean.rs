//! How much the axial walls lean, from the lines and arcs of the sections.
//!
//! Smooth normals ([`crate::axial_walls`]) forget the noise over some 0.3 mm, and so does the end of a round floor bleed into
//! the wall above it: by up to five degrees, where a wall of eight degrees begins to resist 0.14 mm higher for each
//! degree. The sections know both forms apart: the straight wall, and the arc below it. Wall that lies on one of them takes
//! its lean from there and keeps the smooth normal's direction around the tooth; what lies on neither (a second plane,
//! a rounded edge, a groove) keeps its smooth normal.

use nalgebra::{Point2, Vector3};
use rayon::prelude::*;

use crate::axial_walls::WallPatch;
use crate::station::Station;
use crate::stats::median;

/// Stations to each side whose lines are taken together, some 0.4 mm: a line alone is known to a third of a degree.
const POOL: usize = 3;
/// How far from its line or arc a patch may lie, in the scan's noise and at least, mm.
const OFF_IN_NOISE: f64 = 2.5;
const LEAST_OFF_MM: f64 = 0.015;
/// Wall that stands across the section by more than 45° is no part of the form that the section shows.
const ALONG_COS: f64 = std::f64::consts::FRAC_1_SQRT_2;

/// The patches with the lean that the sections give them.
pub fn leaning(
    patches: &[WallPatch],
    stations: &[Station],
    path: &Vector3<f64>,
    noise_mm: f64,
) -> Vec<WallPatch> {
    let off_mm = (OFF_IN_NOISE * noise_mm).max(LEAST_OFF_MM);
    let tans = line_tans(stations);
    let of = |patch: &WallPatch| {
        let lean = |place: usize| {
            let station = &stations[place];
            let outward = (patch.normal - path * patch.normal.dot(path)).try_normalize(1e-9)?;
            let along = -outward.dot(&station.section.frame.inward);
            let tan = section_tan(station, tans[place], &station.section.frame.flat(&patch.centre), off_mm)?;
            (along > ALONG_COS).then(|| (outward + path * (tan * along)).normalize())
        };
        let normal = nearest(patch, stations, path).and_then(lean).unwrap_or(patch.normal);
        WallPatch { normal, ..*patch }
    };
    patches.par_iter().map(of).collect()
}

/// The station that a patch stands over.
fn nearest(patch: &WallPatch, stations: &[Station], path: &Vector3<f64>) -> Option<usize> {
    let off_mm2 = |place: usize| {
        let from = patch.centre - stations[place].edge();
        from.norm_squared() - from.dot(path).powi(2)
    };
    (0..stations.len()).min_by(|&a, &b| off_mm2(a).total_cmp(&off_mm2(b)))
}

/// Tangent of the wall line's lean at each station, the middle one of it and its neighbours'.
fn line_tans(stations: &[Station]) -> Vec<Option<f64>> {
    let n = stations.len();
    let own = |station: &Station| {
        let wall = station.sound_wall()?;
        Some(wall.line.direction.x / wall.line.direction.y)
    };
    let middle = |place: usize| {
        own(&stations[place])?;
        let near: Vec<f64> =
            (0..=2 * POOL).filter_map(|step| own(&stations[(place + n + step - POOL) % n])).collect();
        median(&near)
    };
    (0..n).map(middle).collect()
}

/// Tangent of the lean of the form on which a place of a section lies; `None` if it lies on none.
fn section_tan(station: &Station, line_tan: Option<f64>, at: &Point2<f64>, off_mm: f64) -> Option<f64> {
    let wall = station.sound_wall()?;
    if let Some(arc) = station.floor_arc.filter(|arc| at.y < arc.foot.y) {
        let toward = arc.centre - at;
        return ((toward.norm() - arc.radius_mm).abs() < off_mm && toward.x < 0.0)
            .then(|| toward.y / -toward.x);
    }
    let top_mm = station.section.at_arc(wall.end_mm)?.y;
    (at.y < top_mm && wall.line.signed_distance(at).abs() < off_mm).then_some(line_tan?)
}
