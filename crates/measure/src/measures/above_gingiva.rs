//! `finish_line.above_gingiva`: how high the finish line lies over the gingiva.

use super::Middle;
use super::finish_line::other_declination_deg;
use crate::frame::Aspect;
use crate::preparation::Preparation;
use crate::sheet::{Sheet, expanded, number};

/// From where the gingiva meets the tooth, at the station, up to the edge along the tooth's axis.
pub fn take(preparation: &Preparation<'_>, sheet: &mut Sheet) {
    for aspect in Aspect::ALL {
        let id = format!("finish_line.above_gingiva.{}_mm", aspect.id());
        let middle = Middle::of_seen(preparation, aspect, |station| {
            station.above_gingiva_mm(&preparation.frame.occlusal)
        });
        let seen = middle.values.len();
        let stations =
            preparation.stations.iter().filter(|station| aspect.holds_in_middle(station.angle_deg)).count();
        match middle.median().filter(|_| 2 * seen >= stations) {
            Some(value) => {
                let crease_mm = crease_mm(preparation, aspect);
                let u95 = expanded(&[middle.standard_error(), crease_mm, rim_mm(preparation, aspect)]);
                let reading = number(value, "mm", u95)
                    .with("least", middle.least())
                    .with("greatest", middle.greatest())
                    .at(middle.middle_place().map(|place| preparation.place_of_station(place)));
                sheet.write(id, reading);
            }
            None => {
                sheet.refuse(id, "no line where gingiva meets the tooth was seen below the finish line here")
            }
        }
    }
}

/// How much lower the edge of a rim may be found than it stands, mm (1 sigma, from phantom scans of rims of 0.12 mm): its top
/// is narrower than a triangle.
fn rim_mm(preparation: &Preparation<'_>, aspect: Aspect) -> f64 {
    const LOST_MM: f64 = 0.05;
    // A flat floor reads a few degrees to either side of level.
    const RISES_DEG: f64 = -5.0;
    let slope = Middle::of_seen(preparation, aspect, |station| station.declination_deg).median();
    let rises = slope.is_some_and(|slope_deg| slope_deg < RISES_DEG);
    if rises || other_declination_deg(preparation, aspect).is_some() { LOST_MM } else { 0.0 }
}

/// What a scan's triangles fill of the crease between gingiva and tooth, mm (1 sigma, from phantom scans at 0.15 mm):
/// more between the teeth, where the crease is narrow, and most where no uncut tooth shows how it ran.
fn crease_mm(preparation: &Preparation<'_>, aspect: Aspect) -> f64 {
    match aspect {
        Aspect::Mesial | Aspect::Distal if preparation.scene.before.is_none() => 0.115,
        Aspect::Mesial | Aspect::Distal => 0.09,
        _ => 0.04,
    }
}
