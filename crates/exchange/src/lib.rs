//! What goes in and out as files, as bytes and values: no file is touched here.
//!
//! - [`mod@roster`]: learners and cohorts from OneRoster CSV or from a plain table
//! - [`mod@table`]: tables with a description of every column, as CSV, Parquet and data dictionary
//! - [`mod@code`]: what is a code of a person, and what is a name
//! - [`mod@bundle`]: one attempt with its scans as a ZIP file, every part under its hash

pub mod bundle;
pub mod code;
mod parquet;
pub mod roster;
pub mod table;
mod zipped;

pub use code::{NoCode, person_code};
pub use roster::{Roster, RosterCohort, RosterFault, RosterFaults, RosterLearner};
pub use table::{Cell, Column, Table};
pub use zipped::{ZipFault, unzip};
