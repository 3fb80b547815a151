//! The statistics of a class: many learners, many attempts, several examiners.
//!
//! Plain values in, plain values out. Every [`Estimate`] says its definition, how many it rests on, and its interval or why it
//! has none; what would have no sense is a [`Refusal`] with its reason. Resampling starts from a seed that the caller gives, so
//! that equal input gives equal output.
//!
//! - [`agreement`]: examiners with each other, with themselves, with what was measured
//! - [`severity`]: who gives less than the others, and where they disagree
//! - [`items`]: how hard and how telling each criterion is, how reliable the grade
//! - [`cohort`]: a reading of the class against its band; groups against each other
//! - [`mod@place`]: faults by place round the tooth
//! - [`learner`]: one learner over time, and what to practise next
//! - [`table`]: ratings from a spreadsheet's text, and tables as text
//! - [`calibration`]: attempts that examiners can be calibrated with
//! - [`mod@blind`]: sheets for blind grading, with repeats far apart

pub mod agreement;
pub mod blind;
pub mod calibration;
pub mod cohort;
pub mod items;
pub mod learner;
pub mod place;
pub mod severity;
pub mod table;

mod error;
mod estimate;
mod rating;
mod stats;

pub use error::{Answer, Refusal, Told};
pub use estimate::{Estimate, Interval, Settings};
pub use rating::{Grid, Measured, Rating, criteria};
pub use stats::wilson;
