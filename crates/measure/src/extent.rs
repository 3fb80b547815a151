//! What a scan of a single die cannot show.

use crate::sheet::Sheet;

/// Shown with every measurement of a single die.
pub const DIE_WARNING: &str = "measured on a single die: neighbours, gingiva and arch are not there, and what lies below the \
                               finish line may have been trimmed";

/// Beginnings of the ids that need what a die does not show, with the reason.
const NEED_MORE: [(&str, &str); 5] = [
    ("finish_line.neighbour.", "a single die has no adjacent teeth: scan the arch"),
    ("neighbour.", "a single die has no adjacent teeth: scan the arch"),
    ("path.blocked_by", "a single die has no adjacent teeth: scan the arch"),
    ("occlusal.cusp_line_mm", "a single die has no adjacent teeth: scan the arch"),
    ("finish_line.above_gingiva.", "a single die has no gingiva: scan the arch"),
];

/// Turns readings that a die cannot give into refusals by name.
///
/// Without a before scan the surface under the finish line may be the trimmer's, so the angle to it says nothing of the
/// tooth.
pub fn refuse_beyond_die(sheet: &mut Sheet, has_before: bool) {
    let trimmed = (
        "finish_line.cavosurface.",
        "the surface below the finish line of a die may be trimmed: needs --before",
    );
    let reason = |id: &str| {
        let needs = NEED_MORE.into_iter().chain((!has_before).then_some(trimmed));
        needs.into_iter().find(|(start, _)| id.starts_with(start)).map(|(_, reason)| reason)
    };
    let ids: Vec<String> = sheet.readings.keys().chain(sheet.refused.keys()).cloned().collect();
    for id in ids {
        if let Some(reason) = reason(&id) {
            sheet.readings.remove(&id);
            sheet.refuse(id, reason);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sheet::{number, text};

    #[test]
    fn what_a_die_has_stays_and_the_rest_is_refused_by_name() {
        let mut sheet = Sheet::default();
        sheet.write("path.blocked_by", text("none"));
        sheet.write("finish_line.above_gingiva.facial_mm", number(0.4, "mm", 0.1));
        sheet.write("finish_line.cavosurface.facial_deg", number(120.0, "deg", 4.0));
        sheet.write("finish_line.width.facial_mm", number(0.9, "mm", 0.05));
        sheet.refuse("neighbour.mesial.depth_mm", "needs the scan before cutting");
        refuse_beyond_die(&mut sheet, true);
        let left: Vec<&str> = sheet.readings.keys().map(String::as_str).collect();
        assert_eq!(left, ["finish_line.cavosurface.facial_deg", "finish_line.width.facial_mm"]);
        assert!(sheet.refused["neighbour.mesial.depth_mm"].contains("single die"));
        refuse_beyond_die(&mut sheet, false);
        assert!(sheet.refused["finish_line.cavosurface.facial_deg"].contains("trimmed"));
    }
}
