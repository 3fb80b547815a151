//! How close each reading must come to the truth: the project's contract for a scan at 0.15 mm edges with 8 µm noise
//! in any pose. The only place in the tests where these numbers stand.

/// How far a reading may lie from the truth.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Tolerance {
    /// In the reading's unit.
    Within(f64),
    /// In percent of the truth.
    Percent(f64),
    /// The same word.
    Same,
}

use Tolerance::{Percent, Same, Within};

/// Patterns of ids (one `*` stands for any part) with their tolerances. The first that fits counts.
pub const TABLE: &[(&str, Tolerance)] = &[
    // Not readings but `frame.before_from_after` at the prepared tooth: 10 µm and 0.05°.
    ("pose.shift_um", Within(10.0)),
    ("pose.turn_deg", Within(0.05)),
    ("scan.noise_um", Percent(30.0)),
    ("reduction.occlusal.*#p05", Within(0.05)),
    ("reduction.occlusal.*_mm", Within(0.03)),
    ("reduction.points.*_mm", Within(0.05)),
    ("reduction.axial.*_mm", Within(0.05)),
    ("reduction.volume_mm3", Percent(1.5)),
    // “±1.5 %” of the percentage itself.
    ("reduction.crown_pct", Percent(1.5)),
    ("clearance.mip_mm", Within(0.04)),
    ("taper.*_deg", Within(0.6)),
    ("toc.*_deg", Within(0.8)),
    ("path.tilt_deg", Within(0.7)),
    ("path.tilt_toward", Same),
    ("path.blocked_by", Same),
    // “Area ±10 %”; what is below 0.1 mm² in truth may be anything below 0.1 mm² (see `Tolerance::of`).
    ("undercut.area_mm2", Percent(10.0)),
    ("undercut.depth_mm", Within(0.03)),
    ("undercut.where", Same),
    ("finish_line.width.*_mm", Within(0.05)),
    ("finish_line.kind.*", Same),
    ("finish_line.declination.*_deg", Within(6.0)),
    ("finish_line.cavosurface.*_deg", Within(8.0)),
    ("finish_line.above_gingiva.mesial_mm", Within(0.25)),
    ("finish_line.above_gingiva.distal_mm", Within(0.25)),
    ("finish_line.above_gingiva.facial_mm", Within(0.12)),
    ("finish_line.above_gingiva.lingual_mm", Within(0.12)),
    ("finish_line.neighbour.*_mm", Within(0.05)),
    ("wall.height.*_mm", Within(0.15)),
    ("ratio.oc_fl", Percent(4.0)),
    ("neighbour.*.depth_mm", Within(0.04)),
];

impl Tolerance {
    /// The tolerance of an id, if the contract gives one.
    pub fn find(id: &str) -> Option<Self> {
        TABLE.iter().find(|(pattern, _)| fits(pattern, id)).map(|row| row.1)
    }

    /// The same in the reading's unit; `None` for words.
    pub fn of(self, id: &str, truth: f64) -> Option<f64> {
        match self {
            Within(limit) => Some(limit),
            Percent(_) if id == "undercut.area_mm2" && truth < 0.1 => Some(0.1),
            Percent(percent) => Some(0.01 * percent * truth.abs()),
            Same => None,
        }
    }
}

/// Whether an id fits a pattern with at most one `*`. An extra (`#`) never hides behind a star.
fn fits(pattern: &str, id: &str) -> bool {
    match pattern.split_once('*') {
        Some((start, end)) => {
            id.len() >= start.len() + end.len()
                && id.starts_with(start)
                && id.ends_with(end)
                && !id[start.len()..id.len() - end.len()].contains('#')
        }
        None => pattern == id,
    }
}
