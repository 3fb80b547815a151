//! What the readings of an attempt are called, in the order of the report.

use serde::{Deserialize, Serialize};
use ts_rs::TS;
use utoipa::ToSchema;

/// Readings that belong together.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, TS, ToSchema)]
pub struct ReadingGroup {
    /// First part of their ids.
    pub id: String,
    /// Heading.
    pub heading: String,
    /// What they are, in a sentence; may be empty.
    pub about: String,
    /// Those that were taken and those that were refused.
    pub readings: Vec<ReadingTitle>,
}

/// What one reading is called.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, TS, ToSchema)]
pub struct ReadingTitle {
    /// Its id in the document.
    pub id: String,
    /// Its name inside its group.
    pub title: String,
}
