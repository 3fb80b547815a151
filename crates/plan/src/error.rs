//! Why no target can be made.

use kerfwright_measure::MeasureError;

use crate::asked::SIDES;

/// One line each: the fault and the next step.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum PlanError {
    /// The given point is not on a tooth of the scan.
    #[error(
        "--at lies {distance_mm:.1} mm from the scan: pick a point on the occlusal surface of the tooth to be cut"
    )]
    PointOffScan {
        /// Distance from the surface, mm.
        distance_mm: f64,
    },
    /// The gingiva could not be followed round the tooth.
    #[error(
        "the gingiva can be followed only {found_pct:.0} % of the way round the tooth at --at; rescan its margin, or pick a \
         point nearer to the middle of its occlusal surface"
    )]
    NoGingiva {
        /// Share of directions in which it shows.
        found_pct: f64,
    },
    /// Mesial is not known, or another step of measuring failed.
    #[error(transparent)]
    Measure(#[from] MeasureError),
    /// A wall never meets the occlusal cut.
    #[error(
        "on the {} side, {angle_deg:.0} degrees round the tooth, no wall of the target stands: {because}",
        nearest_side(*angle_deg)
    )]
    NoWall {
        /// Where.
        angle_deg: f64,
        /// Why.
        because: String,
    },
    /// The new surface could not be joined with the scan.
    #[error(
        "the target cannot be joined with the scan around the finish line: {because}; repair or rescan that place"
    )]
    NotJoined {
        /// Why.
        because: String,
    },
    /// A target that is not a number, or out of any use.
    #[error("targets: {what} is {value}; give {allowed}")]
    Target {
        /// Which.
        what: String,
        /// What was asked.
        value: f64,
        /// What can be built.
        allowed: &'static str,
    },
    /// The tooth is narrower than what is to be cut into it.
    #[error(
        "{what} {asked_mm:.1} mm wide does not fit: the tooth is {has_mm:.1} mm wide there; ask for less, or for a complete crown"
    )]
    NoRoom {
        /// Which part.
        what: &'static str,
        /// What is asked, mm.
        asked_mm: f64,
        /// What there is, mm.
        has_mm: f64,
    },
    /// The isthmus floor would lie under a box's floor.
    #[error(
        "the tooth is too short: the isthmus floor would lie {:.1} mm under a box's floor; ask for less reduction, a shallower isthmus, or \
         boxes nearer to the gingiva",
        box_floor_mm - floor_mm
    )]
    TooShort {
        /// Height of the isthmus floor, mm.
        floor_mm: f64,
        /// Height of the higher box floor, mm.
        box_floor_mm: f64,
    },
    /// No groove over which a channel could run.
    #[error(
        "no groove was found to lay the channel over; pick a point on the occlusal surface with --at, or scan the uncut tooth again"
    )]
    NoGroove,
    /// An onlay asked of a tooth without two rows of cusps.
    #[error(
        "an onlay's target is laid into premolars and molars, and {fdi} is a front tooth: take another exercise"
    )]
    OnlayOnFront {
        /// The tooth.
        fdi: u8,
    },
    /// An onlay that covers no cusp and has no channel.
    #[error("targets: the onlay covers no cusp and has no channel: nothing is to be cut")]
    NothingToCut,
    /// What a stage of an exercise asks cannot be laid into this tooth.
    #[error(
        "stage `{stage}` ({title}) of `{exercise}`: {fault}. It follows from {criteria}: edit these in a copy (kerf exercise copy \
         {exercise}), or take an exercise that asks for less"
    )]
    OfStage {
        /// The exercise.
        exercise: String,
        /// The stage's id.
        stage: String,
        /// What people call it.
        title: String,
        /// The criteria that decided, each with its stage and number.
        criteria: String,
        /// What is wrong.
        fault: Box<PlanError>,
    },
    /// The exercise asks for something else than a complete crown or an onlay.
    #[error(
        "exercise `{exercise}` has no stage ({stages}) with criteria on the taper and the finish-line width of one wall: a target is \
         laid into a scan for complete crowns and onlays; leave out --before, or give an exercise with criteria on taper.*_deg and \
         finish_line.width.*_mm, or with a part [onlay]"
    )]
    NoCrown {
        /// Its name.
        exercise: String,
        /// The stages it has.
        stages: String,
    },
    /// The targets are no valid TOML.
    #[error("targets: {0}")]
    Toml(String),
}

impl PlanError {
    /// Whether a number of the target, as `width_mm.facial`, has a part in it.
    pub(crate) fn hangs_on(&self, what: &str) -> bool {
        match self {
            Self::NoWall { angle_deg, .. } => {
                let (kind, side) = what.split_once('.').unwrap_or((what, ""));
                match kind {
                    "occlusal" | "front" => true,
                    "above_gingiva_mm" | "width_mm" | "taper_deg" => side == nearest_side(*angle_deg),
                    _ => false,
                }
            }
            Self::NotJoined { .. } => what.starts_with("above_gingiva_mm.") || what == "edges.least_gap_mm",
            Self::Target { what: own, .. } => own == what,
            Self::NoRoom { .. } => what.starts_with("onlay."),
            Self::TooShort { .. } => {
                ["onlay.isthmus_depth_mm", "onlay.box_above_gingiva_mm", "occlusal.groove_mm"].contains(&what)
            }
            _ => false,
        }
    }
}

/// The side of the tooth on which an angle round it lies.
pub(crate) fn nearest_side(angle_deg: f64) -> &'static str {
    SIDES[(angle_deg / 90.0).round() as usize % SIDES.len()]
}
