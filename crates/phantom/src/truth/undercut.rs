//! Undercuts in the sections of the finish line.

use nalgebra::Vector3;
use rayon::prelude::*;

use crate::phantom::Phantom;
use crate::truth::Undercut;
use crate::truth::walls::{cut_point, line_angle};

const N_STATIONS: usize = 180;
const N_HEIGHTS: usize = 40;
/// Recesses below this are rounding of numbers.
const LEAST_MM: f64 = 1e-6;

/// What a crown that leaves along `direction` would meet.
///
/// Each station's own section is seen along the direction; sections lean against it by the path's tilt at most,
/// which changes depths only to the second order.
pub fn along(phantom: &Phantom, direction: &Vector3<f64>) -> Undercut {
    let stations: Vec<usize> = (0..N_STATIONS).collect();
    let parts: Vec<Undercut> = stations.par_iter().map(|&i| at_station(phantom, direction, i)).collect();
    parts.iter().fold(Undercut::default(), |sum, part| Undercut {
        area_mm2: sum.area_mm2 + part.area_mm2,
        shadow_mm2: sum.shadow_mm2 + part.shadow_mm2,
        depth_mm: sum.depth_mm.max(part.depth_mm),
    })
}

fn at_station(phantom: &Phantom, direction: &Vector3<f64>, station: usize) -> Undercut {
    let line = &phantom.preparation.line;
    let turn = std::f64::consts::TAU / N_STATIONS as f64;
    let azimuth = turn * station as f64;
    let edge = line.edge(azimuth);
    let inward = line.inward(azimuth);
    let inward = (inward - direction * inward.dot(direction)).normalize();
    let top = (line_angle(phantom, azimuth) - edge).dot(&line.axis());
    let share = |i: usize| 0.02 + 0.98 * i as f64 / (N_HEIGHTS - 1) as f64;
    let profile: Vec<_> =
        (0..N_HEIGHTS).filter_map(|i| cut_point(phantom, azimuth, top * share(i))).collect();
    let width = |i: usize| {
        // The strip's width where it lies: between the same heights of the stations half a step to both sides.
        let beside = |a: f64| cut_point(phantom, a, top * share(i));
        match (beside(azimuth + 0.5 * turn), beside(azimuth - 0.5 * turn)) {
            (Some(a), Some(b)) => (a - b).norm(),
            _ => 0.0,
        }
    };
    let mut found = Undercut::default();
    // From the top down: the outermost edge so far throws the shadow.
    let mut outermost = f64::MAX;
    for i in (0..profile.len()).rev() {
        let depth = (profile[i] - edge).dot(&inward);
        outermost = outermost.min(depth);
        let recess = depth - outermost;
        // Strips are measured only where there is a shadow: most preparations have none.
        if recess > LEAST_MM && i > 0 {
            let strip = (profile[i] - profile[i - 1]).norm() * width(i);
            let facing_away = (profile[i] - edge).dot(&inward) < (profile[i - 1] - edge).dot(&inward);
            found.shadow_mm2 += strip;
            found.area_mm2 += if facing_away { strip } else { 0.0 };
            found.depth_mm = found.depth_mm.max(recess);
        }
    }
    found
}
