//! A measurement held against an exercise.
//!
//! [`grade`] takes a document of readings and an exercise and says, for the stage after which the scan was taken: which
//! limits are met, which are not, and which are too close to call ([`Decision`], by ISO 14253-1); what is too little and can still
//! be cut, what is too much and beyond recall ([`Finding`]); and how each point was won or lost ([`Item`]). A reading that
//! was refused is "not measured", with the reason, and never a silent failure. The same document and exercise give the same
//! grade. An instructor may overrule it with [`Grade::overridden`]; both results are kept.

mod credit;
mod decision;
mod finding;
mod grade;
mod judge;
mod overrule;
mod stage;
mod tally;

pub use decision::{Decision, decide, guard};
pub use finding::{Finding, FindingKind, Mend, amount};
pub use grade::{
    CriterionGrade, DocumentEntry, ExerciseEntry, Grade, Item, Level, Lost, Outcome, SCHEMA, StageEntry,
    Tally,
};
pub use overrule::{Change, Override, OverrideError};
pub use stage::{GradeError, grade, needs_no_finish_line};
