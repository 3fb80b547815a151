//! Many attempts, one after the other on every core, kept as they come.
//!
//! - [`Pattern`], [`read_manifest`]: from files to what is to be measured
//! - [`Inbox`]: files that arrive in a folder, once they are whole
//! - [`Settler`]: measures, grades and keeps one attempt
//! - [`run`]: does that with many; one bad file never stops the rest, and what is kept already is not measured again
//! - [`set_up`], [`pool`], [`calibrated`]: blind gradings, attempts that examiners are calibrated with, and how they did
//! - [`records`], [`grades_table`], [`readings_table`]: what is kept, read back for reports and as tables

mod baselines;
mod gradings;
mod inbox;
mod job;
mod manifest;
mod measure;
mod pattern;
mod records;
mod run;
mod settle;
mod tables;
mod turns;

pub use baselines::{Baseline, Baselines, file_name, read_scan, scan_row};
pub use gradings::{Graded, GradingFault, Pool, SetUp, calibrated, gradable, graded, pool, set_up};
pub use inbox::{Inbox, SCAN_ENDINGS, is_scan_name};
pub use job::{About, Asked, Job};
pub use kerfwright_measure::attempt::sha256;
pub use manifest::{ManifestFault, read_manifest};
pub use pattern::{Pattern, PatternFault};
pub use records::{
    RecordFault, Records, cohorts_of, decisions, kept_exercises, kept_known, kept_ratings, records, standing,
};
pub use run::{Ended, Failure, Watcher, one_thread, run};
pub use settle::{Exercises, Fault, Kept, Material, Settings, Settler, Versioned};
pub use tables::{grades_table, readings_table};
