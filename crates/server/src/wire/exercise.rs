//! Exercises in a list.

use serde::{Deserialize, Serialize};
use ts_rs::TS;
use utoipa::ToSchema;

/// An exercise in a list.
#[derive(Debug, Clone, Serialize, Deserialize, TS, ToSchema)]
pub struct ExerciseSummary {
    /// By which it is called.
    pub name: String,
    /// What people call it.
    pub title: String,
    /// A sentence or two for the learner.
    pub summary: Option<String>,
    /// The teeth it is for, in words.
    pub teeth: String,
    /// The same by number.
    pub fdi: Vec<u8>,
    /// In order.
    pub stages: Vec<StageSummary>,
    /// Whether it was put beside the shipped ones here.
    pub is_own: bool,
}

/// A stage in a list.
#[derive(Debug, Clone, Serialize, Deserialize, TS, ToSchema)]
pub struct StageSummary {
    /// Within the exercise.
    pub id: String,
    /// What people call it.
    pub title: String,
}
