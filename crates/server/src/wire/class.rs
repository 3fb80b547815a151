//! The class: who and what there is, reports with their plots, agreement of examiners.

use std::collections::BTreeMap;

use kerfwright_class::severity::Place;
use kerfwright_grade::{Change, Outcome};
use kerfwright_overview::{Figure, LearnerReport, Report};
use serde::{Deserialize, Serialize};
use ts_rs::TS;
use utoipa::ToSchema;

use super::{AttemptState, StageSummary};

/// Who and what there is.
#[derive(Debug, Serialize, TS, ToSchema)]
pub struct ClassAnswer {
    /// Learners, by code.
    pub learners: Vec<LearnerAnswer>,
    /// Cohorts, by code.
    pub cohorts: Vec<CohortAnswer>,
    /// Sessions, by day.
    pub sessions: Vec<SessionSummary>,
    /// Exercises that are kept with attempts, by name.
    pub exercises: Vec<ClassExercise>,
}

/// A learner.
#[derive(Debug, Serialize, TS, ToSchema)]
pub struct LearnerAnswer {
    /// The code.
    pub code: String,
    /// The name, if it is kept and was asked for.
    #[schema(required = true)]
    pub name: Option<String>,
    /// Codes of the cohorts.
    pub cohorts: Vec<String>,
    /// Attempts that are kept.
    pub n_attempts: u32,
    /// Day of the latest attempt.
    #[schema(required = true)]
    pub latest: Option<String>,
}

/// A cohort.
#[derive(Debug, Serialize, TS, ToSchema)]
pub struct CohortAnswer {
    /// The code.
    pub code: String,
    /// What people call it.
    pub title: String,
    /// Its learners.
    pub n_learners: u32,
}

/// A meeting of a cohort at the benches.
#[derive(Debug, Serialize, TS, ToSchema)]
pub struct SessionSummary {
    /// The code.
    pub code: String,
    /// What people call it.
    pub title: String,
    /// Code of the cohort.
    #[schema(required = true)]
    pub cohort: Option<String>,
    /// Code of the instructor.
    #[schema(required = true)]
    pub instructor: Option<String>,
    /// The day, ISO 8601.
    #[schema(required = true)]
    pub held: Option<String>,
}

/// An exercise against which attempts were held.
#[derive(Debug, Serialize, TS, ToSchema)]
pub struct ClassExercise {
    /// Its name.
    pub name: String,
    /// What people call it.
    pub title: String,
    /// Its stages that have attempts, in order.
    pub stages: Vec<StageSummary>,
}

/// An attempt in the list of a class.
#[derive(Debug, Serialize, TS, ToSchema)]
pub struct ClassAttemptAnswer {
    /// Its id.
    pub id: String,
    /// Order of coming.
    pub number: i64,
    /// Code of the learner.
    #[schema(required = true)]
    pub learner: Option<String>,
    /// Code of the session.
    #[schema(required = true)]
    pub session: Option<String>,
    /// Name of the exercise.
    #[schema(required = true)]
    pub exercise: Option<String>,
    /// Id of the stage.
    #[schema(required = true)]
    pub stage: Option<String>,
    /// The tooth, ISO 3950.
    pub fdi: u8,
    /// The day of cutting where it is known, else of the session, else of coming; ISO 8601.
    pub taken: String,
    /// How far it has come.
    pub state: AttemptState,
    /// Why it was refused.
    #[schema(required = true)]
    pub error: Option<String>,
    /// What it earned, if it was held against an exercise.
    #[schema(required = true)]
    pub grade: Option<GradeSummary>,
}

/// A grade in a list.
#[derive(Debug, Serialize, TS, ToSchema)]
pub struct GradeSummary {
    /// What counts: points of possible points, percent.
    #[schema(required = true)]
    pub pct: Option<f64>,
    /// What counts.
    #[schema(value_type = String)]
    pub outcome: Outcome,
    /// Whether an instructor decided otherwise than was computed.
    pub is_decided: bool,
}

/// A report with the drawings that stand beside its numbers.
#[derive(Debug, Serialize, TS)]
pub struct ReportAnswer {
    /// As `kerf class report --json` writes it.
    #[serde(flatten)]
    pub report: Report,
    /// Each reading against its band, as SVG, in the order of `criteria`.
    pub drawn: Vec<String>,
    /// Faults by place, as SVG: too little, too much; none where nothing is known.
    pub drawn_places: Option<[String; 2]>,
}

/// A learner over time.
#[derive(Debug, Serialize, TS)]
pub struct LearnerPage {
    /// The code.
    pub code: String,
    /// The cohorts.
    pub cohorts: Vec<String>,
    /// For each exercise and stage.
    pub reports: Vec<LearnerStage>,
    /// The attempts, the latest first.
    pub attempts: Vec<ClassAttemptAnswer>,
    /// What a report is not.
    pub cautions: Vec<String>,
}

/// A learner at one stage of one exercise.
#[derive(Debug, Serialize, TS)]
pub struct LearnerStage {
    /// Name of the exercise.
    pub exercise: String,
    /// What people call it.
    pub title: String,
    /// Id of the stage.
    pub stage: String,
    /// Confidence of the intervals.
    pub confidence: f64,
    /// Attempts that were held against an older version of the exercise, and are left out.
    pub n_older_version: u32,
    /// As `kerf class report --learner --json` has it under `learner`.
    pub report: LearnerReport,
    /// Ids of the attempts, by their number in the order of coming.
    pub ids: BTreeMap<i64, String>,
    /// Each reading over the attempts, as SVG, in the order of `courses`.
    pub drawn: Vec<String>,
}

/// Agreement of examiners.
#[derive(Debug, Serialize, TS)]
pub struct AgreementAnswer {
    /// The criteria that were rated.
    pub criteria: Vec<String>,
    /// Confidence of the intervals.
    pub confidence: f64,
    /// The one that was asked for, or the first; none without ratings.
    pub agreement: Option<CriterionAgreement>,
    /// What agreement is not.
    pub caution: String,
}

/// Agreement on one criterion.
#[derive(Debug, Serialize, TS)]
pub struct CriterionAgreement {
    /// The criterion.
    pub criterion: String,
    /// Codes of the examiners.
    pub examiners: Vec<String>,
    /// Attempts that anybody rated.
    pub n_attempts: u32,
    /// Attempts that all rated.
    pub n_complete: u32,
    /// Every statistic, as `kerf class agree` prints it.
    pub figures: Vec<Figure>,
    /// Each with its interval, as SVG, in the same order; none where it was refused.
    pub drawn: Vec<Option<String>>,
    /// Where the examiners lie farthest apart, worst first.
    pub far_apart: Vec<Place>,
    /// Order of coming of the attempts that are named there, by their id.
    pub numbers: BTreeMap<String, i64>,
}

/// A decision of an instructor, to be kept beside the computed grade.
#[derive(Debug, Clone, Deserialize, TS, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct DecisionRequest {
    /// What changes.
    #[schema(value_type = Object)]
    pub change: Change,
    /// Why; 1 to 2000 characters.
    pub reason: String,
    /// Code of who decides, where there are no accounts.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[ts(optional)]
    pub by: Option<String>,
}

/// What a roster brings.
#[derive(Debug, Serialize, TS, ToSchema)]
pub struct RosterAnswer {
    /// As `kerf class import` says it.
    pub sentence: String,
    /// Learners of the roster that have a name there.
    pub n_named: u32,
    /// Codes of learners that were not known.
    pub new_learners: Vec<String>,
    /// Who is taken out of a cohort.
    pub leaving: Vec<Leaving>,
}

/// A learner who is taken out of a cohort.
#[derive(Debug, Serialize, TS, ToSchema)]
pub struct Leaving {
    /// Code of the cohort.
    pub cohort: String,
    /// Code of the learner.
    pub learner: String,
}

/// What a deletion took away.
#[derive(Debug, Serialize, TS, ToSchema)]
pub struct RemovedAnswer {
    /// Learners.
    pub learners: u32,
    /// Attempts with all that hangs on them.
    pub attempts: u32,
    /// Scans with their files.
    pub scans: u32,
}
