//! `retention.axial_area_mm2`: how much wall holds the crown.

use super::scan::void_area_mm2;
use crate::preparation::Preparation;
use crate::sheet::{Sheet, expanded, number};

/// How far the ends of the walls, gingival and occlusal together, may be misjudged all round, mm (1 sigma, from
/// phantom scans).
const ENDS_MM: f64 = 0.02;
/// Cosine of 63°: wall that leans more may be none by the next scan, and as much beyond the limit of 60° may be wall.
const DOUBTFUL_COS: f64 = 0.454;

/// What may be lost on a front tooth, as a share of the area (1 sigma, from phantom scans): the smooth normals of its second
/// facial plane and of its fossa bleed into the rounding of the edge.
const FRONT_SHARE: f64 = 0.008;

/// Area of the axial walls: prepared surface inside the finish line that stands more than 60° off the path, as
/// [`crate::axial_walls`] defines it, grooves and boxes included.
pub fn take(preparation: &Preparation<'_>, sheet: &mut Sheet) {
    let id = "retention.axial_area_mm2";
    let walls = &preparation.axial_walls;
    let area_mm2: f64 = walls.iter().map(|wall| wall.area_mm2).sum();
    let scanned_mm2: f64 = walls.iter().map(|wall| wall.scanned_mm2).sum();
    if walls.is_empty() {
        sheet.refuse(id, "no axial wall was found inside the finish line");
        return;
    }
    let void_mm2 = void_area_mm2(preparation);
    let doubtful = walls.iter().filter(|wall| wall.normal.dot(&preparation.path).abs() > DOUBTFUL_COS);
    let doubtful_mm2: f64 = doubtful.map(|wall| wall.area_mm2.max(0.0)).sum();
    let ends_mm2 = ENDS_MM * preparation.ring.length_mm();
    let share = if preparation.tooth.is_front() { FRONT_SHARE } else { 0.003 };
    let u95 = expanded(&[ends_mm2, share * area_mm2, 0.5 * void_mm2, 0.5 * doubtful_mm2]);
    let reading = number(area_mm2, "mm2", u95).with("as_scanned", scanned_mm2);
    let reading = if void_mm2 > 0.01 * area_mm2 {
        reading.noted(format!(
            "{void_mm2:.1} mm2 of the prepared tooth were not scanned; what of it is wall is missing here"
        ))
    } else {
        reading.noted(
            "steeper than 60 deg to the plane square on the path; without the noise's share of the area",
        )
    };
    sheet.write(id, reading);
}
