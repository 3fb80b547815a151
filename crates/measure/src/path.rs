//! The path of placement: the direction along which a crown seats.

use nalgebra::{SMatrix, SVector, Vector3};

use crate::frame::{Aspect, ToothFrame};
use crate::station::Station;
use crate::stats::median;

/// Which path the readings refer to.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub enum PathChoice {
    /// The direction that leaves the least undercut and shares the draft evenly.
    #[default]
    Best,
    /// The tooth's axis.
    Axis,
    /// A direction in the after scan's frame.
    Fixed(Vector3<f64>),
}

/// With fewer walls in the middle of an aspect, the aspect has none to read.
const LEAST_WALLS: usize = 4;

/// Whether the mesiodistal and the faciolingual plane lack a wall on one side, so that the draft could not be shared there.
pub fn without_walls(stations: &[Station]) -> [bool; 2] {
    let has_walls = |aspect: Aspect| {
        let here = stations.iter().filter(|station| aspect.holds_in_middle(station.angle_deg));
        here.filter(|station| station.sound_wall().is_some()).count() >= LEAST_WALLS
    };
    [[Aspect::Mesial, Aspect::Distal], [Aspect::Facial, Aspect::Lingual]]
        .map(|pair| !pair.into_iter().all(has_walls))
}

/// A wall normal at a station with its share of the circumference.
#[derive(Debug, Clone, Copy)]
struct WallSample {
    normal: Vector3<f64>,
    angle_deg: f64,
}

/// The best path: draft shared evenly between opposing walls, unless another direction leaves clearly less undercut.
///
/// Equal drafts on opposing walls make the smaller of the two as large as it can be, and are unique; so this
/// direction also has the largest smallest draft, unless a line angle is undercut where the walls beside it are not.
pub fn best(stations: &[Station], frame: &ToothFrame) -> Vector3<f64> {
    let walls: Vec<WallSample> = stations
        .iter()
        .filter_map(|station| {
            let wall = station.sound_wall()?;
            Some(WallSample { normal: wall.normal, angle_deg: station.angle_deg })
        })
        .collect();
    let even = even_draft(&walls, frame);
    let least = least_undercut(&walls, &even, frame);
    // A direction must win by a clear margin, or a few stray walls would decide.
    if undercut(&walls, &least) < 0.5 * undercut(&walls, &even) - 0.004 { least } else { even }
}

/// The direction along which opposing walls have equal drafts (medians over the middle of each aspect).
fn even_draft(walls: &[WallSample], frame: &ToothFrame) -> Vector3<f64> {
    let mut path = frame.occlusal;
    for _ in 0..8 {
        let draft = |aspect: Aspect| {
            let drafts: Vec<f64> = walls
                .iter()
                .filter(|wall| aspect.holds_in_middle(wall.angle_deg))
                .map(|wall| wall.normal.dot(&path).clamp(-1.0, 1.0).asin())
                .collect();
            (drafts.len() >= LEAST_WALLS).then(|| median(&drafts)).flatten()
        };
        let rest = uneven_draft(walls, &path);
        let tilt = |one: Aspect, other: Aspect| match (draft(one), draft(other)) {
            (Some(one), Some(other)) => 0.5 * (other - one),
            // A wall too low to be read: what the others say of its plane.
            _ => rest.map_or(0.0, |rest| {
                let toward_rad = one.centre_deg().to_radians();
                -(rest[0] * toward_rad.cos() + rest[1] * toward_rad.sin())
            }),
        };
        let mesial = (frame.mesial - path * frame.mesial.dot(&path)).normalize();
        let facial = (frame.facial - path * frame.facial.dot(&path)).normalize();
        let step = mesial * tilt(Aspect::Mesial, Aspect::Distal).tan()
            + facial * tilt(Aspect::Facial, Aspect::Lingual).tan();
        path = (path + step).normalize();
        if step.norm() < 1e-7 {
            break;
        }
    }
    path
}

/// How much more draft the walls have mesially than distally and facially than lingually (halves of the differences, rad),
/// from a smooth course of the draft around the tooth that needs no wall in any one place.
fn uneven_draft(walls: &[WallSample], path: &Vector3<f64>) -> Option<[f64; 2]> {
    let (mut normal, mut right) = (SMatrix::<f64, 5, 5>::zeros(), SVector::<f64, 5>::zeros());
    for wall in walls {
        let (sine, cosine) = wall.angle_deg.to_radians().sin_cos();
        let row = SVector::from([1.0, cosine, sine, cosine * cosine - sine * sine, 2.0 * sine * cosine]);
        normal += row * row.transpose();
        right += row * wall.normal.dot(path).clamp(-1.0, 1.0).asin();
    }
    let course = normal.cholesky()?.solve(&right);
    Some([course[1], course[2]])
}

/// Mean undercut of the walls along a direction: the sine by which they overhang, walls in draft counting nothing.
fn undercut(walls: &[WallSample], path: &Vector3<f64>) -> f64 {
    let overhang = walls.iter().map(|wall| (-wall.normal.dot(path)).max(0.0));
    overhang.sum::<f64>() / walls.len().max(1) as f64
}

/// Pattern search for the direction of least undercut, from `start`, within 25°.
fn least_undercut(walls: &[WallSample], start: &Vector3<f64>, frame: &ToothFrame) -> Vector3<f64> {
    let (mut best, mut least) = (*start, undercut(walls, start));
    let mut step_rad = 4f64.to_radians();
    while step_rad > 0.1f64.to_radians() && least > 0.0 {
        let tries = [frame.mesial, -frame.mesial, frame.facial, -frame.facial].map(|toward| {
            let path = (best + toward * step_rad.tan()).normalize();
            (undercut(walls, &path), path)
        });
        let better = tries
            .into_iter()
            .filter(|(value, path)| *value < least - 1e-9 && path.angle(start).to_degrees() < 25.0)
            .min_by(|a, b| a.0.total_cmp(&b.0));
        match better {
            Some((value, path)) => (least, best) = (value, path),
            None => step_rad *= 0.5,
        }
    }
    best
}
