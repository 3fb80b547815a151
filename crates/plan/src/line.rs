//! The finish line of the target: on the uncut surface, at the asked height over the gingiva.

use kerfwright_geometry::Surface;
use kerfwright_measure::stats::smooth_ring;
use nalgebra::{Point3, Vector3};
use rayon::prelude::*;

use crate::profile::Profile;
use crate::site::{N_STATIONS, Site, ring_at};
use crate::{Targets, targets::Finish};

/// Half-width of the smoothing of the section planes' directions, in stations: about 1 mm.
const TURN_SMOOTHING: usize = 10;
/// Half-width of the smoothing of the line's height, in stations.
const HEIGHT_SMOOTHING: usize = 10;

/// The finish line with what is asked in each section.
#[derive(Debug, Clone)]
pub struct TargetLine {
    /// On the uncut surface, counter-clockwise seen against the axis.
    pub points: Vec<Point3<f64>>,
    /// Unit, level, square on the line: into the tooth.
    pub inward: Vec<Vector3<f64>>,
    /// Angle round the tooth of each point, degrees.
    pub angle_deg: Vec<f64>,
    /// Height over the gingiva, mm.
    pub above_gingiva_mm: Vec<f64>,
    /// Level distance to the adjacent tooth where one stands within 2 mm.
    pub gap_mm: Vec<Option<f64>>,
    pub(crate) profiles: Vec<Profile>,
}

impl TargetLine {
    pub(crate) fn new(before: &Surface, site: &Site, targets: &Targets) -> Self {
        let polar = &site.polar;
        let angle_deg: Vec<f64> = (0..N_STATIONS).map(|k| site.angle_deg(k)).collect();
        let gingiva_mm: Vec<f64> = site.gingiva.iter().map(|point| polar.place(point).1).collect();
        let asked: Vec<f64> = (0..N_STATIONS)
            .into_par_iter()
            .map(|k| {
                let asked_mm = targets.above_gingiva_mm.at(angle_deg[k]);
                kept_off(before, site, k, gingiva_mm[k], asked_mm, targets.edges.least_gap_mm)
            })
            .collect();
        let above = smoothed(&asked, HEIGHT_SMOOTHING);
        let heights: Vec<f64> = (0..N_STATIONS).map(|k| gingiva_mm[k] + above[k]).collect();
        let ring = ring_at(before, polar, &heights);
        let inward = directions(&ring.section_frames(&polar.up).iter().map(|f| f.inward).collect::<Vec<_>>());
        let gap_mm = (0..N_STATIONS).map(|k| gap_mm(before, site, k, heights[k])).collect();
        let lean_deg = leans_deg(before, site, &heights);
        let profiles = (0..N_STATIONS).map(|k| profile(targets, angle_deg[k], lean_deg[k])).collect();
        Self { points: ring.points, inward, angle_deg, above_gingiva_mm: above, gap_mm, profiles }
    }
}

/// How much the uncut surface leans outwards at each station, degrees, over the stretch under the line that stays.
fn leans_deg(before: &Surface, site: &Site, heights_mm: &[f64]) -> Vec<f64> {
    const STRETCH_MM: f64 = 0.3;
    let radius_mm = |k: usize, height_mm: f64| {
        site.polar.side(before, k, height_mm).map(|side| site.polar.place(&side).0)
    };
    let lean = |k: usize| {
        let (over, under) = (radius_mm(k, heights_mm[k])?, radius_mm(k, heights_mm[k] - STRETCH_MM)?);
        Some(((over - under) / STRETCH_MM).atan().to_degrees())
    };
    let ring: Vec<Option<f64>> = (0..N_STATIONS).into_par_iter().map(lean).collect();
    smooth_ring(&ring, HEIGHT_SMOOTHING).into_iter().map(|lean| lean.unwrap_or(0.0)).collect()
}

/// What is asked of the section at an angle, where the uncut surface leans outwards by `lean_deg`.
fn profile(targets: &Targets, angle_deg: f64, lean_deg: f64) -> Profile {
    let is_facial = crate::ByAspect { facial: 1.0, ..crate::ByAspect::all(0.0) }.at(angle_deg);
    // An arc all the way: its radius is what the floor has room for.
    let radius = |finish| match finish {
        Finish::Chamfer => 3.0,
        Finish::Shoulder | Finish::SlopedShoulder => targets.edges.internal_radius_mm,
    };
    let is_shoulder =
        targets.finish.map(|finish| f64::from(u8::from(finish == Finish::Shoulder))).at(angle_deg);
    let lack_deg = targets.least_cavosurface_deg.map_or(0.0, |least| (least - 90.0 + lean_deg).max(0.0));
    Profile {
        width_mm: targets.width_mm.at(angle_deg),
        taper_deg: targets.taper_deg.at(angle_deg),
        fall_deg: targets.fall_deg().at(angle_deg) + is_shoulder * lack_deg,
        radius_mm: targets.finish.map(radius).at(angle_deg),
        second_deg: targets.second_plane.map_or(0.0, |plane| plane.angle_deg * is_facial),
        break_mm: targets.second_plane.map_or(99.0, |plane| plane.break_mm),
    }
}

/// The asked height, or as much less as keeps the line off the adjacent tooth.
fn kept_off(
    before: &Surface,
    site: &Site,
    station: usize,
    gingiva_mm: f64,
    asked_mm: f64,
    least_gap_mm: f64,
) -> f64 {
    const STEP_MM: f64 = 0.05;
    const LEAST_MM: f64 = 0.1;
    let mut above_mm = asked_mm;
    while above_mm - STEP_MM >= LEAST_MM
        && gap_mm(before, site, station, gingiva_mm + above_mm).is_some_and(|gap| gap < least_gap_mm)
    {
        above_mm -= STEP_MM;
    }
    above_mm
}

/// Level distance from the side of the tooth outward to an adjacent tooth; the gingiva, which faces up, does not count.
fn gap_mm(before: &Surface, site: &Site, station: usize, height_mm: f64) -> Option<f64> {
    const REACH_MM: f64 = 2.0;
    const SKIP_MM: f64 = 0.03;
    const FACES_UP: f64 = 0.5;
    let polar = &site.polar;
    let outward = polar.outward(station);
    let from = polar.side(before, station, height_mm)? + outward * SKIP_MM;
    let hit = before.tree.ray(&from, &outward, REACH_MM)?;
    let normal = before.triangle_normals[hit.triangle as usize];
    let is_adjacent = normal.dot(&polar.up) < FACES_UP && normal.dot(&outward) < 0.0;
    is_adjacent.then_some(hit.distance_mm + SKIP_MM)
}

fn smoothed(values: &[f64], half_window: usize) -> Vec<f64> {
    let ring: Vec<Option<f64>> = values.iter().map(|&value| Some(value)).collect();
    let smooth = smooth_ring(&ring, half_window);
    smooth.iter().zip(values).map(|(smooth, value)| smooth.unwrap_or(*value)).collect()
}

fn directions(raw: &[Vector3<f64>]) -> Vec<Vector3<f64>> {
    let n = raw.len();
    let mean = |k: usize| -> Vector3<f64> {
        (0..=2 * TURN_SMOOTHING).map(|step| raw[(k + n + step - TURN_SMOOTHING) % n]).sum()
    };
    (0..n).map(|k| mean(k).normalize()).collect()
}
