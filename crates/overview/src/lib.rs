//! The grades of a class as one report, for command line and app alike.
//!
//! Grades go in, each with its attempt, learner, session; one report comes out for each exercise and stage. All statistics are those
//! of `kerfwright-class`: this crate says what is counted, one value a learner wherever learners are counted.

mod agreement;
mod calibration;
mod compared;
mod criterion;
mod entry;
mod known;
mod learner;
mod name;
mod places;
pub mod plot;
mod report;
pub mod sheet;

pub use agreement::{AGREEMENT_CAUTION, AGREEMENT_SCHEMA, Agreement, Figure, FigureOf};
pub use calibration::{
    CALIBRATION_CAUTION, Calibration, CodeCalibration, CriterionCalibration, KnownReading, Leaning, Mark,
    Repeat, Way, calibration,
};
pub use compared::{Compared, Comparison};
pub use criterion::{CriterionReport, Dot};
pub use entry::{Entry, Key};
pub use known::{Known, LEVELS, known_level};
pub use learner::{LearnerReport, Named};
pub use places::PlacesReport;
pub use report::{Report, SCHEMA, Wish, report};
