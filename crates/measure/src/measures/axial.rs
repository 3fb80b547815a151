//! `reduction.axial.*`: how much the walls were cut, by aspect and third.

use nalgebra::Point3;

use super::NO_BEFORE;
use crate::frame::Aspect;
use crate::preparation::Preparation;
use crate::scene::Near;
use crate::sheet::{Sheet, expanded, number};
use crate::station::Station;
use crate::stats::{median, robust_sigma};

const THIRDS: [&str; 3] = ["gingival", "middle", "occlusal"];

/// Median closest distance from the wall to the uncut surface in each third of the wall's height.
pub fn take(preparation: &Preparation<'_>, sheet: &mut Sheet) {
    for aspect in Aspect::SURFACES {
        let id = |third: usize| format!("reduction.axial.{}.{}_mm", aspect.id(), THIRDS[third]);
        let Some(before) = &preparation.scene.before else {
            (0..3).for_each(|third| sheet.refuse(id(third), NO_BEFORE));
            continue;
        };
        let stations =
            preparation.stations.iter().filter(|station| aspect.holds_in_middle(station.angle_deg));
        let mut points = [const { Vec::new() }; 3];
        stations.for_each(|station| wall_points(station, &mut points));
        for (third, points) in points.iter().enumerate() {
            let near = before.nearest(points, 5.0);
            let pairs = points.iter().zip(&near);
            let distances: Vec<f64> =
                pairs.filter_map(|(point, near)| distance_mm(point, near.as_ref()?)).collect();
            if distances.len() < 12 {
                sheet.refuse(id(third), "the wall or the uncut surface beside it was not scanned here");
                continue;
            }
            let spread =
                robust_sigma(&distances).unwrap_or(0.0) / (distances.len() as f64 / 15.0).max(1.0).sqrt();
            let u95 = expanded(&[preparation.pose_sigma_mm(), 1.2533 * spread, 0.004]);
            let value = median(&distances).unwrap_or(f64::NAN);
            let least = distances.iter().copied().fold(f64::INFINITY, f64::min);
            sheet.write(id(third), number(value, "mm", u95).with("least", least));
        }
    }
}

/// Distance of a point of the wall to the uncut surface.
///
/// No scanner sees into a contact. Where the nearest surface ends at such a gap it is carried on as a plane for a little
/// way: to leave these points out would keep those nearest to what was seen, and read 0.05 to 0.08 mm too little.
fn distance_mm(point: &Point3<f64>, near: &Near) -> Option<f64> {
    const CARRIED_ON_MM: f64 = 1.0;
    if !near.on_border {
        return Some(near.signed_mm.abs());
    }
    let offset = point - near.point;
    let height_mm = offset.dot(&near.normal);
    let beside_mm = (offset - near.normal * height_mm).norm();
    (beside_mm < CARRIED_ON_MM).then_some(height_mm.abs())
}

/// Points of the cut surface at even heights, sorted into thirds of the wall's height: from the finish line to the
/// occlusal line angle, so that the gingival third holds the floor's rise and the fillet.
fn wall_points(station: &Station, thirds: &mut [Vec<Point3<f64>>; 3]) {
    const HEIGHTS_A_THIRD: usize = 5;
    let Some(top) = station.wall.as_ref().and_then(|wall| wall.top) else { return };
    for (third, points) in thirds.iter_mut().enumerate() {
        for step in 0..HEIGHTS_A_THIRD {
            let share = (third as f64 + (step as f64 + 0.5) / HEIGHTS_A_THIRD as f64) / 3.0;
            if let Some(point) = station.section.at_height(share * top.y) {
                points.push(station.section.frame.solid(&point));
            }
        }
    }
}
