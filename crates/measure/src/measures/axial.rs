//! `reduction.axial.*`: how much the walls were cut, by aspect and third.

use super::NO_BEFORE;
use crate::frame::Aspect;
use crate::preparation::Preparation;
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
            let distances: Vec<f64> = near
                .iter()
                .flatten()
                .filter(|near| !near.on_border)
                .map(|near| near.signed_mm.abs())
                .collect();
            if distances.len() < 12 {
                sheet.refuse(id(third), "the wall or the uncut surface beside it was not scanned here");
                continue;
            }
            let spread = robust_sigma(&distances).unwrap_or(0.0) / (distances.len() as f64 / 6.0).sqrt();
            let u95 = expanded(&[preparation.pose_sigma_mm(), 1.2533 * spread, 0.004]);
            let value = median(&distances).unwrap_or(f64::NAN);
            let least = distances.iter().copied().fold(f64::INFINITY, f64::min);
            sheet.write(id(third), number(value, "mm", u95).with("least", least));
        }
    }
}

/// Sorts a station's wall points into thirds of the height from the wall's foot to the occlusal line angle.
fn wall_points(station: &Station, thirds: &mut [Vec<nalgebra::Point3<f64>>; 3]) {
    let Some((wall, top)) = station.wall.as_ref().and_then(|wall| Some((wall, wall.top?))) else { return };
    let Some(foot) = station.section.at_arc(wall.fitted_mm[0]) else { return };
    let height_mm = top.y - foot.y;
    for (point, &arc_mm) in station.section.points.iter().zip(&station.section.arc_mm) {
        let share = (point.y - foot.y) / height_mm;
        let on_wall = arc_mm >= wall.fitted_mm[0] && (0.0..1.0).contains(&share) && point.x <= top.x + 0.05;
        if on_wall {
            thirds[((3.0 * share) as usize).min(2)].push(station.section.frame.solid(point));
        }
    }
}
