//! Scans: what they are, and how they came.

use kerfwright_view::Role;
use serde::{Deserialize, Serialize};
use ts_rs::TS;
use utoipa::ToSchema;

use super::ErrorBody;

/// A scan that was taken in.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, TS, ToSchema)]
pub struct ScanAnswer {
    /// SHA-256 of its bytes, hexadecimal.
    pub id: String,
    /// Name of the file, without a folder.
    pub name: String,
    /// Length of the file.
    pub bytes: u64,
    /// Format, in words.
    pub format: String,
    /// After repair.
    pub triangles: u64,
    /// Sides of the box around it, mm.
    pub size_mm: [f64; 3],
    /// What was found and repaired.
    pub warnings: Vec<String>,
}

/// Which scans are to be told apart.
#[derive(Debug, Clone, Serialize, Deserialize, TS, ToSchema)]
pub struct RolesRequest {
    /// One to three.
    pub scans: Vec<String>,
}

/// What a scan seems to be.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, TS, ToSchema)]
pub struct RoleAnswer {
    /// The scan.
    pub scan: String,
    /// What it is taken for; absent where nothing tells.
    pub role: Option<Role>,
    /// Whether the shapes prove it; else ask the user.
    pub certain: bool,
    /// Why.
    pub because: String,
}

/// The demo's scans, taken in.
#[derive(Debug, Clone, Serialize, Deserialize, TS, ToSchema)]
pub struct DemoAnswer {
    /// With their roles.
    pub scans: Vec<DemoScan>,
    /// The tooth, ISO 3950.
    pub tooth: String,
    /// What it may be held against.
    pub exercise: String,
    /// The stage.
    pub stage: String,
    /// Code of the made-up learner.
    pub learner: String,
}

/// One scan of the demo.
#[derive(Debug, Clone, Serialize, Deserialize, TS, ToSchema)]
pub struct DemoScan {
    /// Its id.
    pub id: String,
    /// Name of the file.
    pub name: String,
    /// What it is.
    pub role: Role,
}

/// A file that came into the watched folder.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, TS, ToSchema)]
pub struct WatchedAnswer {
    /// Order of coming since the start, from 1.
    pub number: usize,
    /// Name of the file.
    pub name: String,
    /// The scan, if it is one.
    pub scan: Option<ScanAnswer>,
    /// Why it is none.
    pub error: Option<ErrorBody>,
}
