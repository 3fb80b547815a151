//! `isthmus.*` and `box.*`: the inner form of an onlay.

use super::NO_BEFORE;
use crate::channel::{Across, Channel, End, error_of};
use crate::document::{Place, Reading};
use crate::preparation::Preparation;
use crate::sheet::{Sheet, expanded, number};
use crate::stats::median;

/// What facets and rounded edges leave open of a length and of a lean, 1 sigma: from targets scanned at 0.15 mm.
const FORM_MM: f64 = 0.012;
const FORM_DEG: f64 = 0.4;
/// How far a scan's triangles may bridge the uncut groove, mm (1 sigma, from phantom scans).
const BRIDGED_MM: f64 = 0.04;
/// Fewest sections of which a reading is taken.
const LEAST_SECTIONS: usize = 4;

const ISTHMUS: [&str; 3] = ["isthmus.width_mm", "isthmus.depth_mm", "isthmus.divergence_deg"];
const OF_BOX: [&str; 4] = ["width_mm", "depth_mm", "height_mm", "divergence_deg"];
const SIDES: [(&str, f64); 2] = [("mesial", 1.0), ("distal", -1.0)];

/// Widths at the floor, depths, heights and the lean of the walls of isthmus and boxes; refused on teeth that are not covered in
/// part, or on which there is no channel.
pub fn take(preparation: &Preparation<'_>, sheet: &mut Sheet) {
    let channel = match why_not(preparation) {
        Some(reason) => Err(reason),
        None => Channel::find(preparation),
    };
    let channel = match channel {
        Ok(channel) => channel,
        Err(reason) => {
            ISTHMUS.iter().for_each(|id| sheet.refuse(*id, reason));
            SIDES.iter().for_each(|(side, _)| refuse_box(sheet, side, reason));
            return;
        }
    };
    isthmus(preparation, &channel, sheet);
    for (side, sense) in SIDES {
        match channel.end(sense) {
            Ok(end) => of_box(preparation, &channel, &end, side, sheet),
            Err(reason) => refuse_box(sheet, side, reason),
        }
    }
}

fn why_not(preparation: &Preparation<'_>) -> Option<&'static str> {
    if preparation.tooth.is_front() {
        Some("front teeth have no isthmus between two cusp rows")
    } else if preparation.change.is_none() {
        Some(NO_BEFORE)
    } else if preparation.uncovered.is_empty() {
        Some(
            "a complete crown has no isthmus and no boxes; they are read on teeth covered in part, as by an onlay",
        )
    } else {
        None
    }
}

fn refuse_box(sheet: &mut Sheet, side: &str, reason: &str) {
    OF_BOX.iter().for_each(|what| sheet.refuse(format!("box.{side}.{what}"), reason));
}

fn isthmus(preparation: &Preparation<'_>, channel: &Channel<'_, '_>, sheet: &mut Sheet) {
    let sections = channel.isthmus();
    let place = sections.get(sections.len() / 2).map(|section| place_of(preparation, channel, section));
    if sections.len() < LEAST_SECTIONS {
        ISTHMUS
            .iter()
            .for_each(|id| sheet.refuse(*id, "the walls of the isthmus are too low or too short to be read"));
        return;
    }
    let [width, _, divergence] = ISTHMUS;
    write_width(sheet, width, &sections, place.clone());
    write_divergence(sheet, divergence, &sections, place.clone(), |reading| reading);
    depth(preparation, channel, place, sheet);
}

/// Depth of the isthmus floor under the uncut surface over its middle, along the path. The occlusal cut that it was sunk from is gone
/// there.
fn depth(preparation: &Preparation<'_>, channel: &Channel<'_, '_>, place: Option<Place>, sheet: &mut Sheet) {
    let under = |along_mm: f64| Some(channel.uncut_mm(along_mm)? - channel.floor_mm);
    let depths: Vec<f64> = channel.places().filter_map(under).collect();
    if depths.len() < LEAST_SECTIONS {
        sheet.refuse(ISTHMUS[1], "the uncut surface over the isthmus was not scanned");
        return;
    }
    let u95 = expanded(&[error_of(&depths), FORM_MM, BRIDGED_MM, preparation.pose_sigma_mm()]);
    write_length(sheet, ISTHMUS[1], &depths, u95, place);
}

fn of_box(
    preparation: &Preparation<'_>,
    channel: &Channel<'_, '_>,
    end: &End,
    side: &str,
    sheet: &mut Sheet,
) {
    let id = |what: &str| format!("box.{side}.{what}");
    let place =
        end.sections.get(end.sections.len() / 2).map(|section| place_of(preparation, channel, section));
    match end.depth_mm {
        Some(depth_mm) => {
            let u95 = expanded(&[end.depth_sigma_mm, FORM_MM, 0.5 * preparation.noise_mm]);
            sheet.write(id("depth_mm"), number(depth_mm, "mm", u95).at(place.clone()));
        }
        None => sheet
            .refuse(id("depth_mm"), "the finish line was not seen before this box: expose it and scan again"),
    }
    let floors: Vec<f64> = end.sections.iter().map(|section| section.floor_mm).collect();
    let height = number(channel.floor_mm - end.floor_mm, "mm", expanded(&[error_of(&floors), FORM_MM]));
    sheet.write(id("height_mm"), height.at(place.clone()));
    if end.sections.len() < LEAST_SECTIONS {
        for what in ["width_mm", "divergence_deg"] {
            sheet.refuse(
                id(what),
                "the facial and lingual wall of this box are too low or too short to be read",
            );
        }
        return;
    }
    write_width(sheet, &id("width_mm"), &end.sections, place.clone());
    write_divergence(sheet, &id("divergence_deg"), &end.sections, place, |reading| {
        reading.with("axial", end.axial_deg)
    });
}

fn write_width(sheet: &mut Sheet, id: &str, sections: &[Across], place: Option<Place>) {
    let widths: Vec<f64> = sections.iter().map(|section| section.width_mm).collect();
    write_length(sheet, id, &widths, expanded(&[error_of(&widths), FORM_MM]), place);
}

/// The median of a length over the sections, with the least and the greatest.
fn write_length(sheet: &mut Sheet, id: &str, lengths: &[f64], u95: f64, place: Option<Place>) {
    let Some(middle_mm) = median(lengths) else { return };
    let extreme = |pick: fn(f64, f64) -> f64, from: f64| lengths.iter().copied().fold(from, pick);
    let reading = number(middle_mm, "mm", u95)
        .with("least", extreme(f64::min, f64::INFINITY))
        .with("greatest", extreme(f64::max, f64::NEG_INFINITY));
    sheet.write(id, reading.at(place));
}

/// The mean lean of the two walls, with each of them beside it.
fn write_divergence(
    sheet: &mut Sheet,
    id: &str,
    sections: &[Across],
    place: Option<Place>,
    beside: impl Fn(Reading) -> Reading,
) {
    let of = |wall: usize| -> Vec<f64> { sections.iter().map(|section| section.lean_deg[wall]).collect() };
    let (facial, lingual) = (of(0), of(1));
    let (Some(facial_deg), Some(lingual_deg)) = (median(&facial), median(&lingual)) else { return };
    let error_deg = 0.5 * error_of(&facial).hypot(error_of(&lingual));
    let reading = number(0.5 * (facial_deg + lingual_deg), "deg", expanded(&[error_deg, FORM_DEG]))
        .with("facial", facial_deg)
        .with("lingual", lingual_deg)
        .with("least", facial_deg.min(lingual_deg));
    sheet.write(id, beside(reading).at(place));
}

fn place_of(preparation: &Preparation<'_>, channel: &Channel<'_, '_>, section: &Across) -> Place {
    preparation.place_of(&channel.point([section.along_mm, 0.0, section.floor_mm]))
}
