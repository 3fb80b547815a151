//! What is kept: scans by their content, attempts with their documents, remarks, exercises of one's own.
//!
//! One folder: `kerfwright.sqlite` and `scans/`. What a call has acknowledged survives a crash at any moment: the database
//! runs with a write-ahead log and full synchronisation, and a scan's bytes are on the disk before its row is.

mod attempts;
mod error;
mod exercises;
mod remarks;
mod scans;
mod store;

pub use attempts::{AttemptRow, NewAttempt, State};
pub use error::StoreError;
pub use exercises::ExerciseRow;
pub use remarks::{NewRemark, RemarkRow};
pub use scans::ScanRow;
pub use store::Store;
