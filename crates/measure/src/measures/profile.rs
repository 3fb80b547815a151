//! The wall's profile in a section: what whole-wall readings are fitted to.

use nalgebra::Point2;

use crate::station::Station;

/// How far from the line angle the profile ends, mm: a rounded edge of 0.25 mm is not wall.
pub const EDGE_MM: f64 = 0.25;

/// Points of the axial wall from above the fillet (the lower end of the wall line) up to `keep_off_mm` below the occlusal
/// line angle; `None` where there is no wall or no line angle.
pub fn wall_profile(station: &Station, keep_off_mm: f64) -> Option<Vec<Point2<f64>>> {
    let wall = station.wall.as_ref()?;
    let (low_mm, top) = (wall.fitted_mm[0], wall.top?);
    let section = &station.section;
    let above = section.points.iter().zip(&section.arc_mm).filter(|(_, arc_mm)| **arc_mm > low_mm);
    let (_, top_mm) =
        above.min_by(|(a, _), (b, _)| (*a - top).norm_squared().total_cmp(&(*b - top).norm_squared()))?;
    let mut points = section.between(low_mm, *top_mm);
    points.retain(|point| (point - top).norm() > keep_off_mm);
    Some(points)
}

/// Angle of the line over the whole wall to the path, degrees.
pub fn whole_wall_deg(station: &Station) -> Option<f64> {
    let line = kerfwright_geometry::fit::line2(&wall_profile(station, EDGE_MM)?)?;
    let up = if line.direction.y < 0.0 { -line.direction } else { line.direction };
    Some(up.x.atan2(up.y).to_degrees())
}
