//! The program and the teeth.

use serde::{Deserialize, Serialize};
use ts_rs::TS;
use utoipa::ToSchema;

/// The program.
#[derive(Debug, Clone, Serialize, Deserialize, TS, ToSchema)]
pub struct About {
    /// `kerf`.
    pub name: String,
    /// Its version.
    pub version: String,
    /// To be shown with every result.
    pub cautions: Vec<String>,
    /// Largest file that is taken.
    pub upload_bytes: u64,
    /// Whether scans come by themselves from a folder.
    pub watches: bool,
}

/// One of the teeth.
#[derive(Debug, Clone, Serialize, Deserialize, TS, ToSchema)]
pub struct ToothAnswer {
    /// ISO 3950 number.
    pub fdi: u8,
    /// Number 1 to 32.
    pub universal: u8,
    /// Quadrant and position, as UL6.
    pub palmer: String,
    /// In words.
    pub name: String,
    /// `incisor`, `canine`, `premolar`, `molar`.
    pub kind: String,
    /// `upper` or `lower`.
    pub arch: String,
    /// The person's `left` or `right`.
    pub side: String,
}
