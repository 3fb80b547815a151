//! What goes in: grades with their attempts.

use std::collections::BTreeMap;

use kerfwright_class::cohort::{Band, Reading};
use kerfwright_exercise::{Range, Wanted};
use kerfwright_grade::{Grade, Item, guard};
use kerfwright_measure::document::Value;
use serde::Serialize;

/// One graded attempt.
#[derive(Debug, Clone, PartialEq)]
pub struct Entry {
    /// Order of coming.
    pub number: i64,
    /// Code of the learner.
    pub learner: Option<String>,
    /// Code of the session.
    pub session: Option<String>,
    /// Code of the session's instructor.
    pub instructor: Option<String>,
    /// Codes of the learner's cohorts.
    pub cohorts: Vec<String>,
    /// The day, ISO 8601.
    pub date: String,
    /// Version of the exercise that it was held against.
    pub exercise_version: String,
    /// The grade, with what instructors decided.
    pub grade: Grade,
}

/// One reading of one criterion.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS))]
pub struct Key {
    /// Id of the criterion.
    pub criterion: String,
    /// Id of the reading.
    pub reading: String,
    /// The further number of it that is asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub part: Option<String>,
}

impl Key {
    /// What an item of a grade is about.
    pub fn of(criterion: &str, item: &Item) -> Self {
        Self { criterion: criterion.into(), reading: item.reading.clone(), part: item.part.clone() }
    }

    /// The reading with its part.
    pub fn name(&self) -> String {
        match &self.part {
            Some(part) => format!("{}, {part}", self.reading),
            None => self.reading.clone(),
        }
    }
}

/// A number that was read, with its guard band; none for words and refusals.
pub fn reading(item: &Item) -> Option<Reading> {
    match item.value {
        Some(Value::Number(value)) => Some(Reading { value, guard: guard(item.u95.unwrap_or(0.0)) }),
        _ => None,
    }
}

/// The bands of a number: ideal and acceptable; none for words.
pub fn bands(wanted: &Wanted) -> Option<(Band, Band)> {
    let band = |range: &Range| Band { from: range.from, to: range.to };
    match wanted {
        Wanted::Number { ideal, acceptable } => Some((band(ideal), band(acceptable))),
        Wanted::Words { .. } => None,
    }
}

/// The latest attempt of each learner, by code. Attempts without a learner count each for itself.
pub fn latest<'a>(entries: &[&'a Entry]) -> Vec<&'a Entry> {
    let mut of_learner: BTreeMap<(Option<&str>, i64), &Entry> = BTreeMap::new();
    for &entry in entries {
        let learner = entry.learner.as_deref();
        let own = if learner.is_some() { 0 } else { entry.number };
        let known = of_learner.entry((learner, own)).or_insert(entry);
        if (&known.date, known.number) < (&entry.date, entry.number) {
            *known = entry;
        }
    }
    of_learner.into_values().collect()
}
