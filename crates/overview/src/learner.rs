//! One learner over time.

use std::collections::BTreeMap;

use kerfwright_class::learner::{Course, CriterionCourse, Practice, Training, courses, practice};
use kerfwright_class::{Answer, Settings};
use kerfwright_exercise::Exercise;
use serde::Serialize;

use crate::entry::{Entry, Key, bands, reading};
use crate::name::name;

/// A learner's attempts at one stage of one exercise.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS))]
pub struct LearnerReport {
    /// The code.
    pub learner: String,
    /// Number and day of each attempt, and the points that count, percent.
    pub attempts: Vec<(i64, String, Option<f64>)>,
    /// What the readings are called, by the id that stands in `courses` and `practice`.
    pub readings: BTreeMap<String, Named>,
    /// Each criterion's readings over the attempts; attempts are counted from 1.
    pub courses: Answer<Vec<CriterionCourse>>,
    /// What to practise next, most urgent first.
    pub practice: Vec<Practice>,
}

/// What a reading is called.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS))]
pub struct Named {
    /// By people.
    pub name: String,
    /// Unit of its values.
    pub unit: String,
}

/// A learner over time. `exercises` are where training is looked for.
pub fn learner(code: &str, entries: &[&Entry], exercises: &[Exercise], settings: &Settings) -> LearnerReport {
    let mut own: Vec<&Entry> =
        entries.iter().copied().filter(|entry| entry.learner.as_deref() == Some(code)).collect();
    own.sort_by(|a, b| (&a.date, a.number).cmp(&(&b.date, b.number)));
    let mut courses_of: Vec<Course> = Vec::new();
    let mut keys: BTreeMap<Key, usize> = BTreeMap::new();
    let mut readings = BTreeMap::new();
    for (number, entry) in (1..).zip(&own) {
        for (criterion, item) in entry.grade.items() {
            let (Some((_, band)), Some(reading)) = (bands(&item.wanted), reading(item)) else { continue };
            let key = Key::of(&criterion.id, item);
            let named = || Named { name: name(&key.reading, key.part.as_deref()), unit: item.unit.clone() };
            readings.entry(key.name()).or_insert_with(named);
            let place = *keys.entry(key.clone()).or_insert_with(|| {
                courses_of.push(Course { criterion: key.name(), band, attempts: Vec::new() });
                courses_of.len() - 1
            });
            courses_of[place].attempts.push((number, reading));
        }
    }
    let trainings: Vec<Training> = keys.keys().flat_map(|key| trainings(key, exercises)).collect();
    let courses = courses(&courses_of, settings);
    LearnerReport {
        learner: code.into(),
        attempts: own.iter().map(|e| (e.number, e.date.clone(), e.grade.standing.pct)).collect(),
        practice: courses.as_ref().map(|courses| practice(courses, &trainings)).unwrap_or_default(),
        courses: courses.into(),
        readings,
    }
}

/// The first stage of each exercise that has limits on this reading.
fn trainings(key: &Key, exercises: &[Exercise]) -> Vec<Training> {
    let asks = |criterion: &kerfwright_exercise::Criterion| {
        criterion.reading == key.reading
            || criterion.places.iter().any(|place| criterion.reading.replacen('*', place, 1) == key.reading)
    };
    let training = |exercise: &Exercise| {
        let stage = exercise.stages.iter().find(|stage| stage.criteria.iter().any(asks))?;
        Some(Training { criterion: key.name(), exercise: exercise.name.clone(), stage: stage.id.clone() })
    };
    exercises.iter().filter_map(training).collect()
}
