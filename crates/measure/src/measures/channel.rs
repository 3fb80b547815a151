//! `isthmus.*` and `box.*`: the inner form of an onlay.

use super::NO_BEFORE;
use crate::channel::{Across, Channel, End, error_of};
use crate::document::Place;
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
/// Why a box has no width.
const LOW_WALLS: &str = "the facial and lingual wall of this box are too low or too short to be read";
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

fn isthmus<'scan>(preparation: &Preparation<'scan>, channel: &Channel<'_, 'scan>, sheet: &mut Sheet) {
    let sections = channel.isthmus();
    if sections.len() < LEAST_SECTIONS {
        ISTHMUS
            .iter()
            .for_each(|id| sheet.refuse(*id, "the walls of the isthmus are too low or too short to be read"));
        return;
    }
    let [width, _, divergence] = ISTHMUS;
    let writer = &mut Writer { preparation, channel, sheet };
    writer.width(width, &sections);
    writer.divergence(divergence, &sections, None);
    depth(writer);
}

/// Depth of the isthmus floor under the uncut surface over its middle, along the path. The occlusal cut that it was sunk from is gone
/// there.
fn depth(writer: &mut Writer<'_, '_, '_>) {
    let channel = writer.channel;
    let under = |along_mm: f64| {
        let place = [along_mm, 0.0, channel.floor_mm];
        Some((place, channel.uncut_mm(along_mm)? - channel.floor_mm))
    };
    let depths: Vec<([f64; 3], f64)> = channel.places().filter_map(under).collect();
    if depths.len() < LEAST_SECTIONS {
        writer.sheet.refuse(ISTHMUS[1], "the uncut surface over the isthmus was not scanned");
        return;
    }
    writer.length(ISTHMUS[1], &depths, &[BRIDGED_MM, writer.preparation.pose_sigma_mm()]);
}

fn of_box<'scan>(
    preparation: &Preparation<'scan>,
    channel: &Channel<'_, 'scan>,
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
        None if end.sections.is_empty() => sheet.refuse(id("depth_mm"), LOW_WALLS),
        None => sheet
            .refuse(id("depth_mm"), "the finish line was not seen before this box: expose it and scan again"),
    }
    let floors: Vec<f64> = end.sections.iter().map(|section| section.floor_mm).collect();
    let height = number(channel.floor_mm - end.floor_mm, "mm", expanded(&[error_of(&floors), FORM_MM]));
    sheet.write(id("height_mm"), height.at(place));
    if end.sections.len() < LEAST_SECTIONS {
        for what in ["width_mm", "divergence_deg"] {
            sheet.refuse(id(what), LOW_WALLS);
        }
        return;
    }
    let mut writer = Writer { preparation, channel, sheet };
    writer.width(&id("width_mm"), &end.sections);
    writer.divergence(&id("divergence_deg"), &end.sections, Some(end));
}

/// Writes what is read in sections of one channel.
struct Writer<'a, 'c, 'scan> {
    preparation: &'a Preparation<'scan>,
    channel: &'a Channel<'c, 'scan>,
    sheet: &'a mut Sheet,
}

/// A wall: its name, its lean with the standard error, and the middle of its foot.
struct Wall {
    name: &'static str,
    lean_deg: f64,
    sigma_deg: f64,
    foot: [f64; 3],
}

impl Writer<'_, '_, '_> {
    fn place(&self, at: [f64; 3]) -> Option<Place> {
        Some(self.preparation.place_of(&self.channel.point(at)))
    }

    fn width(&mut self, id: &str, sections: &[Across]) {
        let of = |section: &Across| ([section.along_mm, 0.0, section.floor_mm], section.width_mm);
        self.length(id, &sections.iter().map(of).collect::<Vec<_>>(), &[]);
    }

    /// The median of a length over its places, with the least and the greatest and their places.
    fn length(&mut self, id: &str, lengths: &[([f64; 3], f64)], more_sigma_mm: &[f64]) {
        let values: Vec<f64> = lengths.iter().map(|(_, value)| *value).collect();
        let by_value = |a: &&([f64; 3], f64), b: &&([f64; 3], f64)| a.1.total_cmp(&b.1);
        let (Some(middle_mm), Some(least), Some(greatest)) =
            (median(&values), lengths.iter().min_by(by_value), lengths.iter().max_by(by_value))
        else {
            return;
        };
        let u95 = expanded(&[&[error_of(&values), FORM_MM], more_sigma_mm].concat());
        let reading = number(middle_mm, "mm", u95).with("least", least.1).with("greatest", greatest.1);
        self.sheet.write(id, reading.at(self.place(least.0)).greatest_at(self.place(greatest.0)));
    }

    /// The mean lean of the facial and the lingual wall, with each wall beside it, that of a box's axial wall too; the place is the
    /// foot of the wall that leans least.
    fn divergence(&mut self, id: &str, sections: &[Across], end: Option<&End>) {
        let Some(section) = sections.get(sections.len() / 2) else { return };
        let wall = |name: &'static str, which: usize, side: f64| {
            let leans: Vec<f64> = sections.iter().map(|section| section.lean_deg[which]).collect();
            let foot = [section.along_mm, side * 0.5 * section.width_mm, section.floor_mm];
            Some(Wall { name, lean_deg: median(&leans)?, sigma_deg: error_of(&leans), foot })
        };
        let (Some(facial), Some(lingual)) = (wall("facial", 0, 1.0), wall("lingual", 1, -1.0)) else {
            return;
        };
        let error_deg = 0.5 * facial.sigma_deg.hypot(lingual.sigma_deg);
        let u95 = expanded(&[error_deg, FORM_DEG]);
        let mut reading = number(0.5 * (facial.lean_deg + lingual.lean_deg), "deg", u95);
        let axial = end.map(|end| Wall {
            name: "axial",
            lean_deg: end.axial_deg,
            sigma_deg: end.axial_sigma_deg,
            foot: [end.axial_mm * section.along_mm.signum(), 0.0, end.floor_mm],
        });
        let walls: Vec<Wall> = [facial, lingual].into_iter().chain(axial).collect();
        for wall in &walls {
            reading = reading.with(wall.name, wall.lean_deg);
        }
        let by_lean = |a: &&Wall, b: &&Wall| a.lean_deg.total_cmp(&b.lean_deg);
        for (part, wall) in
            [("least", walls.iter().min_by(by_lean)), ("greatest", walls.iter().max_by(by_lean))]
        {
            let Some(wall) = wall else { continue };
            reading = reading
                .with(part, wall.lean_deg)
                .with(&format!("{part}_u95"), expanded(&[wall.sigma_deg, FORM_DEG]));
            if part == "least" {
                reading = reading.at(self.place(wall.foot));
            }
        }
        self.sheet.write(id, reading);
    }
}

fn place_of(preparation: &Preparation<'_>, channel: &Channel<'_, '_>, section: &Across) -> Place {
    preparation.place_of(&channel.point([section.along_mm, 0.0, section.floor_mm]))
}
