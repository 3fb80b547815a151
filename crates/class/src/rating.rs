//! What examiners gave.

use std::collections::{BTreeMap, BTreeSet};

use serde::{Deserialize, Serialize};

use crate::Refusal;

/// One value that one examiner gave to one criterion of one attempt. Everybody and everything is a code.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Rating {
    /// Code of the examiner.
    pub examiner: String,
    /// Code of the attempt.
    pub attempt: String,
    /// The criterion.
    pub criterion: String,
    /// 0 for the first time that this examiner graded this attempt, 1 for the second.
    pub occasion: u32,
    /// The value given: points, a level, or millimetres.
    pub value: f64,
}

/// What was measured where examiners rated.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Measured {
    /// Code of the attempt.
    pub attempt: String,
    /// The criterion.
    pub criterion: String,
    /// The value measured, on the scale of the ratings.
    pub value: f64,
}

/// Ratings of one criterion as a table: a row for each attempt, a column for each examiner, both in the order of their codes.
#[derive(Debug, Clone, PartialEq)]
pub struct Grid {
    /// Codes of the examiners.
    pub examiners: Vec<String>,
    /// Codes of the attempts.
    pub attempts: Vec<String>,
    /// `attempts` × `examiners`; none where nothing was given.
    pub rows: Vec<Vec<Option<f64>>>,
}

impl Grid {
    /// The table of `criterion` on the first occasion.
    ///
    /// # Errors
    /// [`Refusal::NotFinite`], [`Refusal::Twice`].
    pub fn new(ratings: &[Rating], criterion: &str) -> Result<Self, Refusal> {
        check(ratings)?;
        let chosen = || ratings.iter().filter(|rating| rating.criterion == criterion && rating.occasion == 0);
        let examiners: BTreeSet<&str> = chosen().map(|rating| rating.examiner.as_str()).collect();
        let attempts: BTreeSet<&str> = chosen().map(|rating| rating.attempt.as_str()).collect();
        let values: BTreeMap<_, f64> = chosen()
            .map(|rating| ((rating.attempt.as_str(), rating.examiner.as_str()), rating.value))
            .collect();
        let row = |attempt: &&str| {
            examiners.iter().map(|examiner| values.get(&(*attempt, *examiner)).copied()).collect()
        };
        Ok(Self {
            rows: attempts.iter().map(row).collect(),
            examiners: examiners.into_iter().map(String::from).collect(),
            attempts: attempts.into_iter().map(String::from).collect(),
        })
    }

    /// The values that two examiners, by their columns, gave to the same attempts.
    pub fn pair(&self, first: usize, second: usize) -> (Vec<f64>, Vec<f64>) {
        self.rows.iter().filter_map(|row| Some((row[first]?, row[second]?))).unzip()
    }

    /// The rows that every examiner filled.
    pub fn complete(&self) -> Vec<Vec<f64>> {
        self.rows.iter().filter_map(|row| row.iter().copied().collect()).collect()
    }
}

/// The criteria that were rated, in the order of their names.
pub fn criteria(ratings: &[Rating]) -> Vec<String> {
    let names: BTreeSet<&str> = ratings.iter().map(|rating| rating.criterion.as_str()).collect();
    names.into_iter().map(String::from).collect()
}

/// Refuses ratings that are no numbers or stand twice.
pub(crate) fn check(ratings: &[Rating]) -> Result<(), Refusal> {
    let mut seen = BTreeSet::new();
    for (index, rating) in ratings.iter().enumerate() {
        if !rating.value.is_finite() {
            return Err(Refusal::NotFinite { of: "the ratings", index: index as u32 });
        }
        if !seen.insert((&rating.examiner, &rating.attempt, &rating.criterion, rating.occasion)) {
            return Err(Refusal::Twice {
                examiner: rating.examiner.clone(),
                attempt: rating.attempt.clone(),
                criterion: rating.criterion.clone(),
            });
        }
    }
    Ok(())
}
