//! What a worker gets to know of an attempt.

use kerfwright_batch::{About, Job};
use serde::{Deserialize, Serialize};

/// An attempt that waits. Its scans are kept already and are named by their ids; its exercise is the version that was meant when it was
/// handed in.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Waiting {
    /// The scan after cutting.
    pub after: KeptScan,
    /// The scan before cutting.
    pub before: Option<KeptScan>,
    /// The opposing scan.
    pub opposing: Option<KeptScan>,
    /// Code of the learner.
    pub learner: Option<String>,
    /// Number of the tooth, as given.
    pub tooth: Option<String>,
    /// A point on the mesial side.
    pub mesial_point: Option<[f64; 3]>,
    /// Version of the exercise.
    pub exercise: Option<String>,
    /// The stage.
    pub stage: Option<String>,
    /// Code of the session.
    pub session: Option<String>,
    /// The day of cutting, ISO 8601.
    pub date: Option<String>,
}

/// A scan that is kept.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct KeptScan {
    /// Its id.
    pub id: String,
    /// What its file was called when it was handed in: documents say it.
    pub file: String,
}

/// Stands between the parts of a key. No code and no file's name has it.
pub(crate) const BETWEEN: char = '\t';

impl Waiting {
    /// An attempt with these scans (after, before, opposing), for this version of its exercise.
    pub(crate) fn new(
        job: &Job,
        (after, before, opposing): (KeptScan, Option<KeptScan>, Option<KeptScan>),
        exercise: Option<String>,
    ) -> Self {
        let about = job.about.clone();
        Self {
            after,
            before,
            opposing,
            learner: about.learner,
            tooth: about.tooth,
            mesial_point: about.mesial_point,
            exercise,
            stage: about.stage,
            session: about.session,
            date: about.date,
        }
    }

    /// The same attempt waits once: learner, file, and what tells it from others.
    pub(crate) fn key(&self) -> String {
        // Texts and numbers can always be written.
        let all = serde_json::to_vec(self).unwrap_or_default();
        let own = kerfwright_batch::sha256(&all);
        let learner = self.learner.as_deref().unwrap_or_default();
        let plain = |text: &str| text.replace(BETWEEN, " ");
        format!("{}{BETWEEN}{}{BETWEEN}{}", plain(learner), plain(&self.after.file), &own[..16])
    }

    /// As it is measured; files are the store's.
    pub(crate) fn about(&self) -> About {
        About {
            learner: self.learner.clone(),
            tooth: self.tooth.clone(),
            before: None,
            opposing: None,
            mesial_point: self.mesial_point,
            exercise: self.exercise.clone(),
            stage: self.stage.clone(),
            session: self.session.clone(),
            date: self.date.clone(),
        }
    }
}
