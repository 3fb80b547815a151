//! The wall's profile in a section: what whole-wall readings are fitted to.

use nalgebra::Point2;

use crate::station::Station;

/// How far from the line angle the profile ends, mm: a rounded edge of 0.25 mm is not wall.
pub const EDGE_MM: f64 = 0.25;

/// Spacing of the resampled profile, mm.
const STEP_MM: f64 = 0.05;
/// Length over which the slope is taken, in steps.
const WINDOW: usize = 6;
/// What is less steep, degrees from the horizontal, is bevel or occlusal surface: a second plane may lean by 38°.
const WALL_LEAST_DEG: f64 = 52.0;

/// Points of the axial wall from above the fillet (the lower end of the wall line) up to `keep_off_mm` below the occlusal
/// line angle; `None` where there is no wall.
///
/// The line angle is where the slope falls below 52°: a second plane that leans by nearly 30° still counts as wall here,
/// which [`crate::station::Wall::top`] may take for the beginning of the occlusal surface.
pub fn wall_profile(station: &Station, keep_off_mm: f64) -> Option<Vec<Point2<f64>>> {
    let low_mm = station.sound_wall()?.fitted_mm[0];
    let profile = station.section.resampled(low_mm, low_mm + 10.0, STEP_MM);
    let is_flat = |k: usize| {
        profile.get(k..=k + WINDOW).is_some_and(|piece| {
            let along = piece[WINDOW] - piece[0];
            along.y.atan2(along.x).to_degrees() < WALL_LEAST_DEG
        })
    };
    let turn = (0..profile.len()).find(|&k| is_flat(k) && is_flat(k + WINDOW / 2))?;
    let top_mm = low_mm + STEP_MM * (turn + WINDOW / 2) as f64;
    Some(station.section.between(low_mm, top_mm - keep_off_mm))
}

/// Angle of the line over the whole wall to the path, degrees.
pub fn whole_wall_deg(station: &Station) -> Option<f64> {
    let line = kerfwright_geometry::fit::line2(&wall_profile(station, EDGE_MM)?)?;
    let up = if line.direction.y < 0.0 { -line.direction } else { line.direction };
    Some(up.x.atan2(up.y).to_degrees())
}
