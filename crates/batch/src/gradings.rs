//! Blind gradings and calibrations: which attempts are graded, set up, and what came of it.

use std::collections::{BTreeMap, BTreeSet};

use kerfwright_class::blind::{Design, blind};
use kerfwright_class::calibration::propose;
use kerfwright_class::{Measured, Refusal, Settings};
use kerfwright_grade::Grade;
use kerfwright_overview::{Calibration, Known, Mark, calibration};
use kerfwright_store::{Chosen, ClassAttempt, GivenMark, GradingRow, NewGrading, Store, StoreError};
use serde::{Deserialize, Serialize};

use crate::records::{RecordFault, standing};

/// Why a grading cannot be set up or told.
#[derive(Debug, thiserror::Error)]
pub enum GradingFault {
    /// What is kept cannot be read back.
    #[error(transparent)]
    Record(#[from] RecordFault),
    /// It makes no sense.
    #[error("{0}")]
    Refused(#[from] Refusal),
    /// Attempts of which nothing is known that is to be graded.
    #[error(
        "of {0} no reading is known that is to be graded, or it is not measured; leave such attempts out"
    )]
    Unknown(String),
}

impl From<StoreError> for GradingFault {
    fn from(error: StoreError) -> Self {
        Self::Record(error.into())
    }
}

/// A criterion as a grading keeps it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Graded {
    /// Its id.
    pub id: String,
    /// What people call it.
    pub title: String,
}

/// A grading to be set up.
#[derive(Debug, Clone)]
pub struct SetUp {
    /// What people call it.
    pub title: String,
    /// Name of the exercise.
    pub exercise: String,
    /// The stage.
    pub stage: String,
    /// What is graded.
    pub criteria: Vec<Graded>,
    /// Ids of the attempts.
    pub attempts: Vec<String>,
    /// Codes of the examiners.
    pub examiners: Vec<String>,
    /// Repeats, their distance, the seed.
    pub design: Design,
    /// Whether examiners are shown afterwards where they differed from what was measured.
    pub is_calibration: bool,
}

/// Attempts of which it is known what they deserve.
#[derive(Debug, Clone)]
pub struct Pool {
    /// By day and order of coming.
    pub attempts: Vec<ClassAttempt>,
    /// The levels of their criteria.
    pub known: Vec<Measured>,
}

/// The measured ones of attempts; they come by day and order of coming, so that the last one of a learner is the latest.
pub fn gradable(attempts: Vec<ClassAttempt>, latest_only: bool) -> Vec<ClassAttempt> {
    let mut measured: Vec<ClassAttempt> = attempts.into_iter().filter(|row| row.state == "done").collect();
    if latest_only {
        let mut seen = BTreeSet::new();
        measured.reverse();
        measured.retain(|row| row.learner.as_ref().is_none_or(|learner| seen.insert(learner.clone())));
        measured.reverse();
    }
    measured
}

/// The attempts of which at least one of `criteria` is known.
///
/// # Errors
/// [`RecordFault`].
pub async fn pool(
    store: &Store,
    chosen: &Chosen,
    criteria: &[String],
    latest_only: bool,
) -> Result<Pool, RecordFault> {
    let mut attempts = gradable(store.class_attempts(chosen).await?, latest_only);
    let wanted: BTreeSet<&str> = attempts.iter().map(|row| row.id.as_str()).collect();
    let mut known = Known::default();
    for row in store.class_grades(chosen).await? {
        if wanted.contains(row.attempt.as_str()) {
            known.add(&row.attempt, &standing(&row, &[])?);
        }
    }
    known.levels.retain(|one| criteria.contains(&one.criterion));
    let with: BTreeSet<&str> = known.levels.iter().map(|one| one.attempt.as_str()).collect();
    attempts.retain(|row| with.contains(row.id.as_str()));
    Ok(Pool { attempts, known: known.levels })
}

impl Pool {
    /// Ids of `n` of them, spread over all levels of all criteria.
    ///
    /// # Errors
    /// [`Refusal::TooFew`].
    pub fn propose(&self, n: u32, seed: u64) -> Result<Vec<String>, Refusal> {
        propose(&self.known, n, seed)
    }

    /// What is known of an attempt, by criterion.
    pub fn levels(&self, attempt: &str) -> BTreeMap<String, f64> {
        let own = self.known.iter().filter(|one| one.attempt == attempt);
        own.map(|one| (one.criterion.clone(), one.value)).collect()
    }

    /// How many of `attempts` are known on each level of a criterion; between two levels counts as the nearer.
    pub fn spread(&self, attempts: &[String], criterion: &str) -> [u32; 3] {
        let mut n = [0; 3];
        for one in &self.known {
            if one.criterion == criterion && attempts.contains(&one.attempt) {
                n[(one.value.round() as usize).min(2)] += 1;
            }
        }
        n
    }
}

/// Draws order and codes of each examiner and keeps them; gives the grading's id. What stands behind the codes is told to nobody.
///
/// # Errors
/// [`GradingFault`].
pub async fn set_up(store: &Store, wanted: SetUp) -> Result<String, GradingFault> {
    if wanted.is_calibration {
        let criteria: Vec<String> = wanted.criteria.iter().map(|one| one.id.clone()).collect();
        let chosen = Chosen {
            exercise: Some(wanted.exercise.clone()),
            stage: Some(wanted.stage.clone()),
            ..Chosen::default()
        };
        let pool = pool(store, &chosen, &criteria, false).await?;
        let is_known = |id: &&String| pool.attempts.iter().any(|row| row.id == **id);
        let unknown: Vec<&str> =
            wanted.attempts.iter().filter(|id| !is_known(id)).map(String::as_str).collect();
        if !unknown.is_empty() {
            return Err(GradingFault::Unknown(unknown.join(", ")));
        }
    }
    let sheets = blind(&wanted.attempts, &wanted.examiners, &wanted.design)?;
    let pairs = |attempts: Vec<(String, String, u32)>| {
        attempts.into_iter().map(|(code, attempt, _)| (code, attempt)).collect()
    };
    let new = NewGrading {
        title: wanted.title,
        exercise: wanted.exercise,
        stage: wanted.stage,
        // Names can always be written.
        criteria: serde_json::to_string(&wanted.criteria).unwrap_or_default(),
        is_calibration: wanted.is_calibration,
        sheets: sheets.into_iter().map(|(_, key)| (key.examiner, pairs(key.attempts))).collect(),
    };
    Ok(store.add_grading(&new).await?)
}

/// The criteria of a kept grading.
///
/// # Errors
/// [`StoreError::Damaged`].
pub fn graded(row: &GradingRow) -> Result<Vec<Graded>, StoreError> {
    serde_json::from_str(&row.criteria).map_err(StoreError::Damaged)
}

/// How one examiner did in a calibration; `None` before all of the sheet is graded, for what would be told before would not leave the rest
/// alone. The attempts behind the codes are told once nobody grades there any more.
///
/// # Errors
/// [`GradingFault`].
pub async fn calibrated(
    store: &Store,
    grading: &GradingRow,
    examiner: &str,
    settings: &Settings,
) -> Result<Option<Calibration>, GradingFault> {
    let sheets = store.sheets().await?;
    let own = |open: bool| {
        sheets.iter().filter(move |sheet| sheet.grading == grading.id && (sheet.n_given < sheet.n) == open)
    };
    let Some(sheet) = own(false).find(|sheet| sheet.examiner.eq_ignore_ascii_case(examiner)) else {
        return Ok(None);
    };
    let mark = |mark: GivenMark| Mark {
        code: mark.code,
        attempt: mark.attempt,
        criterion: mark.criterion,
        given: mark.value,
    };
    let marks: Vec<Mark> = store.marks(&grading.id, examiner).await?.into_iter().map(mark).collect();
    let attempts: BTreeSet<&str> = marks.iter().map(|mark| mark.attempt.as_str()).collect();
    let mut grades: BTreeMap<String, Grade> = BTreeMap::new();
    for row in store.class_grades(&Chosen::default()).await? {
        if attempts.contains(row.attempt.as_str()) {
            grades.insert(row.attempt.clone(), standing(&row, &[])?);
        }
    }
    let criteria: Vec<(String, String)> =
        graded(grading)?.into_iter().map(|one| (one.id, one.title)).collect();
    let found = calibration(&sheet.examiner, &criteria, &marks, &grades, settings)?;
    Ok(Some(if own(true).next().is_some() { found.without_attempts() } else { found }))
}
