//! What is kept: scans by their content, attempts with their documents and grades, learners as codes, cohorts, exercises, remarks,
//! accounts.
//!
//! One folder, `kerfwright.sqlite` and `scans/`, or PostgreSQL and an S3-compatible bucket ([`Place`]). What a call has acknowledged
//! survives a crash at any moment: SQLite runs with a write-ahead log and full synchronisation, and a scan's bytes are on the disk, or in
//! the bucket, before its row is. What is deleted in a folder is overwritten.

mod accounts;
mod attempts;
mod backup;
mod belongings;
mod bundles;
mod class;
mod copy;
mod error;
mod exercises;
mod grades;
mod gradings;
mod hash;
mod own_exercises;
mod people;
mod place;
mod remarks;
mod retention;
mod scan_files;
mod scans;
mod sql;
mod store;

pub use accounts::AccountRow;
pub use attempts::{AttemptRow, NewAttempt, State};
pub use backup::{Checked, check_backup};
pub use belongings::AuditRow;
pub use class::{Chosen, ClassAttempt, Measured, NewMeasured, ReadingRow, Settled};
pub use copy::{COPIED, LEFT};
pub use error::StoreError;
pub use exercises::ExerciseRow;
pub use grades::{GradeRow, NewGrade, OverrideRow, RatingRow};
pub use gradings::{GivenMark, GradingRow, NewGrading, SheetPlace, SheetRow};
pub use own_exercises::OwnExerciseRow;
pub use people::{CohortRow, LearnerRow, RosterCount, RosterOptions, SessionRow};
pub use place::{Place, has_password};
pub use remarks::{NewRemark, RemarkRow};
pub use retention::Removed;
pub use scans::ScanRow;
pub use store::Store;
