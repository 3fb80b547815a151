//! Blind gradings: set up by the one, graded by the others.

use std::collections::BTreeMap;

use kerfwright_overview::Calibration;
use serde::{Deserialize, Serialize};
use ts_rs::TS;
use utoipa::ToSchema;

/// A grading to be set up.
#[derive(Debug, Clone, Deserialize, TS, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct GradingRequest {
    /// What people call it; 1 to 80 characters.
    pub title: String,
    /// Name of the exercise.
    pub exercise: String,
    /// Its stage.
    pub stage: String,
    /// Only attempts of learners of this cohort.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[ts(optional)]
    pub cohort: Option<String>,
    /// Only attempts of this session.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[ts(optional)]
    pub session: Option<String>,
    /// Of each learner only the latest attempt.
    pub latest_only: bool,
    /// Ids of these attempts instead, whose readings are known: a calibration. Each examiner is shown afterwards where he differed from them.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[ts(optional)]
    pub attempts: Option<Vec<String>>,
    /// Ids of the criteria that are graded.
    pub criteria: Vec<String>,
    /// Codes of the examiners; where there are accounts, of accounts of instructors or directors.
    pub examiners: Vec<String>,
    /// Attempts that each examiner sees twice.
    pub n_repeats: u32,
    /// Least number of places between the two sights of an attempt.
    pub least_gap: u32,
}

/// Which attempts to calibrate with.
#[derive(Debug, Clone, Deserialize, TS, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ProposalRequest {
    /// Name of the exercise.
    pub exercise: String,
    /// Its stage.
    pub stage: String,
    /// Only attempts of learners of this cohort.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[ts(optional)]
    pub cohort: Option<String>,
    /// Only attempts of this session.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[ts(optional)]
    pub session: Option<String>,
    /// Of each learner only the latest attempt.
    pub latest_only: bool,
    /// Ids of the criteria that are graded.
    pub criteria: Vec<String>,
    /// How many to propose; all where fewer are known.
    pub n: u32,
}

/// Attempts whose readings are known.
#[derive(Debug, Clone, Serialize, TS, ToSchema)]
pub struct ProposalAnswer {
    /// By day and order of coming.
    pub attempts: Vec<ProposedAttempt>,
    /// What is graded.
    pub criteria: Vec<GradedCriterion>,
    /// What may be given.
    pub levels: Vec<GradeLevel>,
}

/// An attempt whose readings are known.
#[derive(Debug, Clone, Serialize, TS, ToSchema)]
pub struct ProposedAttempt {
    /// Its id.
    pub id: String,
    /// Order of coming.
    pub number: i64,
    /// Code of the learner.
    #[schema(required = true)]
    pub learner: Option<String>,
    /// The day.
    pub taken: String,
    /// The levels that its readings lead to, by criterion, as far as they are known. Between two levels where an exercise takes the mean of places.
    pub levels: BTreeMap<String, f64>,
    /// Whether it is proposed.
    pub is_proposed: bool,
}

/// How an examiner did in a calibration.
#[derive(Debug, Serialize, TS)]
pub struct CalibrationAnswer {
    /// As `kerf class calibrate results --json` has it.
    #[serde(flatten)]
    pub calibration: Calibration,
    /// What may be given.
    pub levels: Vec<GradeLevel>,
    /// Order of coming of the attempts behind the codes, by their id, once nobody grades any more.
    pub numbers: BTreeMap<String, i64>,
}

/// A grading, as far as the one who asks may see it.
#[derive(Debug, Clone, Serialize, TS, ToSchema)]
pub struct GradingAnswer {
    /// Its id.
    pub id: String,
    /// What people call it.
    pub title: String,
    /// What people call the exercise.
    pub exercise: String,
    /// Id of the stage.
    pub stage: String,
    /// Whether each examiner is shown afterwards where he differed from what was measured.
    pub is_calibration: bool,
    /// What is graded.
    pub criteria: Vec<GradedCriterion>,
    /// What may be given.
    pub levels: Vec<GradeLevel>,
    /// When it was set up, UTC.
    pub created: String,
    /// How far the examiners have come; an examiner is told the own sheet alone.
    pub sheets: Vec<SheetSummary>,
}

/// A criterion that is graded.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, TS, ToSchema)]
pub struct GradedCriterion {
    /// Its id.
    pub id: String,
    /// What people call it.
    pub title: String,
}

/// A value that may be given.
#[derive(Debug, Clone, Serialize, TS, ToSchema)]
pub struct GradeLevel {
    /// The value.
    pub value: f64,
    /// What it says.
    pub word: String,
}

/// How far an examiner has come.
#[derive(Debug, Clone, Serialize, TS, ToSchema)]
pub struct SheetSummary {
    /// Code of the examiner.
    pub examiner: String,
    /// Codes to grade.
    pub n: u32,
    /// Codes that are graded.
    pub n_given: u32,
}

/// What an examiner grades: codes in the own order. Neither the attempt nor whether it comes again can be read from it.
#[derive(Debug, Clone, Serialize, TS, ToSchema)]
pub struct SheetAnswer {
    /// The grading.
    pub grading: GradingAnswer,
    /// Code of the examiner.
    pub examiner: String,
    /// The codes.
    pub codes: Vec<SheetCode>,
}

/// One code.
#[derive(Debug, Clone, Serialize, TS, ToSchema)]
pub struct SheetCode {
    /// The code.
    pub code: String,
    /// Whether it is graded. What was given is shown to nobody while the sheet is open.
    pub is_given: bool,
}

/// What an examiner gives.
#[derive(Debug, Clone, Deserialize, TS, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct MarksRequest {
    /// One for each criterion.
    pub marks: Vec<Mark>,
}

/// What an examiner gives for one criterion.
#[derive(Debug, Clone, Deserialize, TS, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct Mark {
    /// Id of the criterion.
    pub criterion: String,
    /// One of the levels.
    pub value: f64,
}
