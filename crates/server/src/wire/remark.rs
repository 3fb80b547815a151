//! Remarks pinned to a spot.

use serde::{Deserialize, Serialize};
use ts_rs::TS;
use utoipa::ToSchema;

/// A remark to be pinned.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, TS, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct RemarkRequest {
    /// Screen frame, mm.
    pub at: [f64; 3],
    /// What is said; 1 to 2000 characters.
    pub text: String,
    /// Code of who says it; 1 to 40 characters.
    pub by: String,
}

/// What changes on a remark.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, TS, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct RemarkChange {
    /// Other words; 1 to 2000 characters.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[ts(optional)]
    pub text: Option<String>,
    /// Settled, or open again.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[ts(optional)]
    pub resolved: Option<bool>,
    /// Removed, or brought back.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[ts(optional)]
    pub removed: Option<bool>,
}

/// A pinned remark.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, TS, ToSchema)]
pub struct RemarkAnswer {
    /// Its id.
    pub id: String,
    /// Screen frame, mm.
    pub at: [f64; 3],
    /// What is said.
    pub text: String,
    /// Code of who says it.
    pub by: String,
    /// When it came, UTC.
    pub created: String,
    /// Whether it is settled.
    pub resolved: bool,
    /// Whether it is removed.
    pub removed: bool,
}
