//! What is to be measured.

use std::path::PathBuf;

use serde::Serialize;

/// One attempt to be measured.
#[derive(Debug, Clone, PartialEq)]
pub struct Job {
    /// The scan after cutting.
    pub after: PathBuf,
    /// All else.
    pub about: About,
}

/// What is known of an attempt beside its scan.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct About {
    /// Code of the learner.
    pub learner: Option<String>,
    /// Number of the tooth, as given.
    pub tooth: Option<String>,
    /// Scan of the same arch before cutting.
    pub before: Option<PathBuf>,
    /// Scan of the opposing arch.
    pub opposing: Option<PathBuf>,
    /// A point on the mesial side.
    pub mesial_point: Option<[f64; 3]>,
    /// The exercise, by name or file.
    pub exercise: Option<String>,
    /// The stage.
    pub stage: Option<String>,
    /// Code of the session.
    pub session: Option<String>,
    /// The day of cutting, ISO 8601.
    pub date: Option<String>,
}

impl About {
    /// What is not known here is taken from `usual`.
    pub fn or(self, usual: &Self) -> Self {
        let usual = usual.clone();
        Self {
            learner: self.learner.or(usual.learner),
            tooth: self.tooth.or(usual.tooth),
            before: self.before.or(usual.before),
            opposing: self.opposing.or(usual.opposing),
            mesial_point: self.mesial_point.or(usual.mesial_point),
            exercise: self.exercise.or(usual.exercise),
            stage: self.stage.or(usual.stage),
            session: self.session.or(usual.session),
            date: self.date.or(usual.date),
        }
    }
}

/// What was asked of an attempt, as it is kept: the same fields as the app's own requests, so that the app opens it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Asked {
    /// Id of the scan after cutting.
    pub after: String,
    /// Id of the scan before cutting.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub before: Option<String>,
    /// Id of the opposing scan.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub opposing: Option<String>,
    /// FDI number.
    pub tooth: String,
    /// A point on the mesial side.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub mesial_point: Option<[f64; 3]>,
    /// The exercise.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub exercise: Option<String>,
    /// The stage.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub stage: Option<String>,
    /// Code of the learner.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub learner: Option<String>,
}

impl Asked {
    /// As JSON.
    pub fn to_json(&self) -> String {
        // Names and numbers can always be written.
        serde_json::to_string(self).unwrap_or_default()
    }
}
