//! Why no target can be made.

use kerfwright_measure::MeasureError;

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
    #[error("at {angle_deg:.0} degrees round the tooth no wall of the target stands: {because}")]
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
    /// The exercise asks for something else than a complete crown.
    #[error(
        "exercise `{exercise}` asks for no walls with a finish line all round: a target is laid into a scan for complete crowns \
         only; leave out --before"
    )]
    NoCrown {
        /// Its name.
        exercise: String,
    },
    /// The targets are no valid TOML.
    #[error("targets: {0}")]
    Toml(String),
}
