//! The grade as written out.

use kerfwright_exercise::{Critical, NotMeasured, PlacesScore, Scoring, Source, Wanted};
use kerfwright_measure::document::{Place, Value};
use serde::{Deserialize, Serialize};

use crate::decision::Decision;
use crate::finding::Finding;
use crate::overrule::Override;

/// Names the layout of [`Grade`]; the number rises when a field changes its meaning.
pub const SCHEMA: &str = "kerfwright-grade-1";

/// A measurement held against one stage of an exercise.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS))]
pub struct Grade {
    /// [`SCHEMA`].
    pub schema: String,
    /// Version of the program that graded.
    pub version: String,
    /// What was asked.
    pub exercise: ExerciseEntry,
    /// The stage after which the scan was taken.
    pub stage: StageEntry,
    /// What was graded.
    pub document: DocumentEntry,
    /// What the readings earn.
    pub computed: Tally,
    /// What counts: the computed result, or what instructors made of it.
    pub standing: Tally,
    /// What instructors decided otherwise, in order.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub overrides: Vec<Override>,
    /// Criterion by criterion, in the order of the exercise.
    pub criteria: Vec<CriterionGrade>,
    /// Limits of the last stage that can no longer be met, whatever is cut; empty at the last stage itself.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub lost_ahead: Vec<Lost>,
    /// What a grade is not.
    pub cautions: Vec<String>,
}

/// What was asked.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS))]
pub struct ExerciseEntry {
    /// Its name.
    pub name: String,
    /// What people call it.
    pub title: String,
    /// How it gives points.
    pub scoring: Scoring,
}

/// The stage held against.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS))]
pub struct StageEntry {
    /// Its id.
    pub id: String,
    /// What people call it.
    pub title: String,
    /// Its place among the stages, from 1.
    pub number: usize,
    /// How many there are.
    pub of: usize,
}

/// What was graded.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS))]
pub struct DocumentEntry {
    /// FDI number.
    pub fdi: u8,
    /// Of the scan after cutting; empty if the document does not say.
    pub after_sha256: String,
}

/// Points and what they mean.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS), ts(optional_fields))]
pub struct Tally {
    /// Earned.
    pub points: f64,
    /// What could be earned from what was measured.
    pub possible: f64,
    /// Of the weight, how much was measured, percent.
    pub measured_pct: f64,
    /// Points of possible, percent; absent if nothing was possible.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pct: Option<f64>,
    /// Passed or not.
    pub outcome: Outcome,
    /// Ids of criteria with a critical error.
    pub critical_errors: Vec<String>,
    /// Ids of critical criteria of which it cannot be said whether there is a critical error: too close, or not measured.
    pub critical_open: Vec<String>,
    /// How the outcome came about, sentence by sentence.
    pub because: Vec<String>,
}

/// What a stage comes to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum Outcome {
    /// The pass mark is reached and nothing critical is wrong.
    Passed,
    /// It is not.
    NotPassed,
    /// Too little was measured to say.
    NotGraded,
}

impl Outcome {
    /// In words.
    pub fn word(self) -> &'static str {
        match self {
            Self::Passed => "passed",
            Self::NotPassed => "not passed",
            Self::NotGraded => "not graded",
        }
    }
}

/// One criterion.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS), ts(optional_fields))]
pub struct CriterionGrade {
    /// Id in the stage.
    pub id: String,
    /// What people call it.
    pub title: String,
    /// Its weight in the exercise.
    pub weight: f64,
    /// Earned.
    pub points: f64,
    /// What could be earned from what was measured.
    pub possible: f64,
    /// On which side a failure is critical.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub critical: Option<Critical>,
    /// Whether there is a critical error.
    pub critical_error: bool,
    /// Whether it cannot be said if there is one: too close, or not measured.
    pub critical_open: bool,
    /// What happens to readings that were not taken.
    pub not_measured: NotMeasured,
    /// How several places became one score.
    pub places_score: PlacesScore,
    /// The reading that does best, where there are several and they differ.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub best: Option<String>,
    /// The reading that does worst, where there are several and they differ.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub worst: Option<String>,
    /// Where the limits come from.
    pub source: Vec<Source>,
    /// Reading by reading.
    pub items: Vec<Item>,
}

/// One reading against its limits.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS), ts(optional_fields))]
pub struct Item {
    /// Id of the reading.
    pub reading: String,
    /// What the criterion's `*` stands for here.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub at: Option<String>,
    /// The further number of the reading that was asked for.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub part: Option<String>,
    /// Where the reading has its place.
    #[serde(default, rename = "where", skip_serializing_if = "Option::is_none")]
    pub place: Option<Place>,
    /// What was read; absent if it was not.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub value: Option<Value>,
    /// Unit of value and limits.
    pub unit: String,
    /// Expanded uncertainty, k = 2.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub u95: Option<f64>,
    /// The limits.
    pub wanted: Wanted,
    /// Against ideal.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ideal: Option<Decision>,
    /// Against acceptable.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub acceptable: Option<Decision>,
    /// The two decisions in one word.
    pub level: Level,
    /// Why it was not measured.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub not_measured: Option<String>,
    /// What is off.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub finding: Option<Finding>,
    /// Share of the points, percent; absent where the weight does not count.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub credit_pct: Option<f64>,
    /// Earned.
    pub points: f64,
    /// What could be earned.
    pub possible: f64,
    /// Whether this is a critical error.
    pub critical_error: bool,
    /// How the points came about.
    pub because: String,
}

/// A reading's standing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum Level {
    /// Proven ideal.
    Ideal,
    /// Proven acceptable, not proven ideal.
    Acceptable,
    /// Proven outside acceptable.
    NotAcceptable,
    /// A limit of acceptable lies inside the uncertainty.
    TooClose,
    /// Not measured.
    NotMeasured,
}

impl Level {
    /// In words.
    pub fn word(self) -> &'static str {
        match self {
            Self::Ideal => "ideal",
            Self::Acceptable => "acceptable",
            Self::NotAcceptable => "not acceptable",
            Self::TooClose => "too close to call",
            Self::NotMeasured => "not measured",
        }
    }
}

/// A limit of the last stage that can no longer be met.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS), ts(optional_fields))]
pub struct Lost {
    /// Id of the last stage's criterion.
    pub criterion: String,
    /// What people call it.
    pub title: String,
    /// The reading.
    pub reading: String,
    /// What was read.
    pub value: Value,
    /// Unit of value and limits.
    pub unit: String,
    /// Expanded uncertainty, k = 2.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub u95: Option<f64>,
    /// The last stage's limits.
    pub wanted: Wanted,
    /// Whether it will be a critical error then.
    pub critical: bool,
    /// What is off.
    pub finding: Finding,
}

impl Grade {
    /// Every reading with its criterion, in order.
    pub fn items(&self) -> impl Iterator<Item = (&CriterionGrade, &Item)> {
        self.criteria.iter().flat_map(|criterion| criterion.items.iter().map(move |item| (criterion, item)))
    }

    /// Whether some reading is proven outside acceptable.
    pub fn misses_something(&self) -> bool {
        self.items().any(|(_, item)| item.level == Level::NotAcceptable)
    }
}
