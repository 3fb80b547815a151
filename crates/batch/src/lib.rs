//! Many attempts, one after the other on every core, kept as they come.
//!
//! - [`Pattern`], [`read_manifest`]: from files to what is to be measured
//! - [`Inbox`]: files that arrive in a folder, once they are whole
//! - [`run`]: measures, grades and keeps; one bad file never stops the rest, and what is kept already is not measured again
//! - [`records`], [`grades_table`], [`readings_table`]: what is kept, read back for reports and as tables

mod baselines;
mod inbox;
mod job;
mod manifest;
mod measure;
mod pattern;
mod records;
mod run;
mod tables;

pub use baselines::{Baselines, scan_row};
pub use inbox::{Inbox, SCAN_ENDINGS, is_scan_name};
pub use job::{About, Asked, Job};
pub use manifest::{ManifestFault, read_manifest};
pub use pattern::{Pattern, PatternFault};
pub use records::{
    RecordFault, Records, cohorts_of, decisions, kept_exercises, kept_ratings, records, standing,
};
pub use run::{Ended, Exercises, Failure, Kept, Settings, Watcher, run};
pub use tables::{grades_table, readings_table};
