//! What is kept of a class, read back for reports: grades with what instructors decided, each with its attempt.

use std::collections::{BTreeMap, BTreeSet};

use kerfwright_class::{Measured, Rating, criteria};
use kerfwright_exercise::{Exercise, Shelf, read};
use kerfwright_grade::{Change, Grade, Override};
use kerfwright_overview::{Entry, Known};
use kerfwright_store::{Chosen, ClassAttempt, GradeRow, OverrideRow, RatingRow, Store, StoreError};

/// Why what is kept cannot be read back.
#[derive(Debug, thiserror::Error)]
pub enum RecordFault {
    /// The store fails.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// A kept grade, or a decision on it, is no longer what it was.
    #[error("a kept grade of attempt {attempt} cannot be read; run the class again")]
    Damaged {
        /// Id of the attempt.
        attempt: String,
    },
}

/// The graded attempts of a class.
#[derive(Debug)]
pub struct Records {
    /// Each with its grade.
    pub entries: Vec<Entry>,
    /// Attempts that fit and have no grade: refused, or held against no exercise.
    pub n_ungraded: usize,
}

/// The graded attempts that fit.
///
/// # Errors
/// [`RecordFault`].
pub async fn records(store: &Store, chosen: &Chosen) -> Result<Records, RecordFault> {
    let attempts = store.class_attempts(chosen).await?;
    let by_id: BTreeMap<&str, &ClassAttempt> =
        attempts.iter().map(|attempt| (attempt.id.as_str(), attempt)).collect();
    let (cohorts, decided) = (cohorts_of(store).await?, decisions(store).await?);
    let mut entries = Vec::new();
    for row in &store.class_grades(chosen).await? {
        let Some(attempt) = by_id.get(row.attempt.as_str()) else { continue };
        entries.push(Entry {
            number: attempt.number,
            learner: attempt.learner.clone(),
            session: attempt.session.clone(),
            instructor: attempt.instructor.clone(),
            cohorts: attempt.learner.as_ref().and_then(|code| cohorts.get(code).cloned()).unwrap_or_default(),
            date: attempt.taken.clone(),
            exercise_version: row.exercise_version.clone(),
            grade: standing(row, decided.get(&row.id).map_or(&[], Vec::as_slice))?,
        });
    }
    let n_ungraded = attempts.len() - entries.len();
    Ok(Records { entries, n_ungraded })
}

/// The cohorts of each learner who is in any.
///
/// # Errors
/// The database fails.
pub async fn cohorts_of(store: &Store) -> Result<BTreeMap<String, Vec<String>>, StoreError> {
    let mut cohorts: BTreeMap<String, Vec<String>> = BTreeMap::new();
    for cohort in store.cohorts().await? {
        for learner in store.members(&cohort.code).await? {
            cohorts.entry(learner).or_default().push(cohort.code.clone());
        }
    }
    Ok(cohorts)
}

/// What instructors decided, by the id of the grade.
///
/// # Errors
/// The database fails.
pub async fn decisions(store: &Store) -> Result<BTreeMap<String, Vec<OverrideRow>>, StoreError> {
    let mut decided: BTreeMap<String, Vec<OverrideRow>> = BTreeMap::new();
    for row in store.all_overrides().await? {
        decided.entry(row.grade.clone()).or_default().push(row);
    }
    Ok(decided)
}

/// The latest version of each kept exercise, and its id by name.
///
/// # Errors
/// The database fails.
pub async fn kept_exercises(store: &Store) -> Result<(Vec<Exercise>, BTreeMap<String, String>), StoreError> {
    let mut latest = BTreeMap::new();
    for row in store.exercises().await? {
        latest.insert(row.name.clone(), row);
    }
    let exercises =
        latest.values().filter_map(|row| read(&row.name, &row.toml, &Shelf::library()).ok()).collect();
    Ok((exercises, latest.into_iter().map(|(name, row)| (name, row.id)).collect()))
}

/// All that examiners gave.
///
/// # Errors
/// The database fails.
pub async fn kept_ratings(store: &Store) -> Result<Vec<Rating>, StoreError> {
    let rating = |row: RatingRow| Rating {
        examiner: row.examiner,
        attempt: row.attempt,
        criterion: row.criterion,
        // Kept from 1, counted from 0.
        occasion: row.occasion.max(1) as u32 - 1,
        value: row.value,
    };
    Ok(store.ratings().await?.into_iter().map(rating).collect())
}

/// What was measured of the attempts that were rated: levels of criteria from their latest grades, and readings by their names.
///
/// # Errors
/// [`RecordFault`].
pub async fn kept_known(store: &Store, ratings: &[Rating]) -> Result<Known, RecordFault> {
    let rated: BTreeSet<&str> = ratings.iter().map(|rating| rating.attempt.as_str()).collect();
    let mut known = Known::default();
    for row in store.class_grades(&Chosen::default()).await? {
        if rated.contains(row.attempt.as_str()) {
            known.add(&row.attempt, &standing(&row, &[])?);
        }
    }
    for name in criteria(ratings) {
        for row in store.class_readings(&Chosen::default(), Some((&name, ""))).await? {
            let measured = |value| Measured { attempt: row.attempt, criterion: row.reading, value };
            known.values.extend(row.value.map(measured));
        }
    }
    Ok(known)
}

/// A kept grade with the decisions that stand beside it.
///
/// # Errors
/// [`RecordFault::Damaged`].
pub fn standing(row: &GradeRow, decided: &[OverrideRow]) -> Result<Grade, RecordFault> {
    let damaged = || RecordFault::Damaged { attempt: row.attempt.clone() };
    let grade: Grade = serde_json::from_str(&row.grade).map_err(|_| damaged())?;
    decided.iter().try_fold(grade, |grade, decision| {
        let change: Change = serde_json::from_str(&decision.change).map_err(|_| damaged())?;
        let entry = Override {
            by: decision.by.clone(),
            reason: decision.reason.clone(),
            when: Some(decision.created.clone()),
            change,
        };
        grade.overridden(entry).map_err(|_| damaged())
    })
}
