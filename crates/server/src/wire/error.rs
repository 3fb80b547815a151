//! What went wrong.

use serde::{Deserialize, Serialize};
use ts_rs::TS;
use utoipa::ToSchema;

/// What stands in an answer with a status of 400 or more.
#[derive(Debug, Clone, Serialize, Deserialize, TS, ToSchema)]
pub struct ErrorAnswer {
    /// What went wrong.
    pub error: ErrorBody,
}

/// A fault.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, TS, ToSchema)]
pub struct ErrorBody {
    /// For programs.
    pub code: String,
    /// For people: the fault and the next step.
    pub message: String,
}
