//! What an instructor decides otherwise. The computed result stays beside it.

use serde::{Deserialize, Serialize};

use crate::grade::{Grade, Outcome};
use crate::tally::{Counted, tally};

/// One decision of an instructor.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS), ts(optional_fields))]
pub struct Override {
    /// Who, as a code: grades carry no names.
    pub by: String,
    /// Why.
    pub reason: String,
    /// When, as the caller writes it; grading has no clock.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub when: Option<String>,
    /// What changes.
    pub change: Change,
}

/// What an override changes.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum Change {
    /// Other points for one criterion.
    Points {
        /// Its id.
        criterion: String,
        /// From 0 to the criterion's weight.
        points: f64,
    },
    /// A critical error that does not count.
    Waive {
        /// Its criterion's id.
        criterion: String,
    },
    /// Another outcome of the whole, whatever the points.
    Outcome(Outcome),
}

/// Why an override was refused.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum OverrideError {
    /// Nobody will know why.
    #[error("an override needs who and why: give the instructor's code and a reason")]
    Unexplained,
    /// No such criterion.
    #[error("the grade has no criterion `{given}`; it has {known}")]
    UnknownCriterion {
        /// As given.
        given: String,
        /// What there is.
        known: String,
    },
    /// More than the criterion is worth, or less than nothing.
    #[error(
        "criterion `{criterion}` is worth {weight} points: {points} cannot be given; choose from 0 to {weight}"
    )]
    PointsOutside {
        /// Its id.
        criterion: String,
        /// As given.
        points: f64,
        /// What it is worth.
        weight: f64,
    },
    /// There is nothing to waive.
    #[error("criterion `{0}` has no critical error to waive")]
    NoCriticalError(String),
}

impl Grade {
    /// The same grade with one more override; the computed result and all earlier overrides stay.
    ///
    /// # Errors
    /// An override without who and why, for a criterion that does not exist, or with points that it cannot have.
    pub fn overridden(mut self, entry: Override) -> Result<Self, OverrideError> {
        if entry.by.trim().is_empty() || entry.reason.trim().is_empty() {
            return Err(OverrideError::Unexplained);
        }
        self.allows(&entry.change)?;
        self.overrides.push(entry);
        self.standing = self.stands();
        Ok(self)
    }

    fn allows(&self, change: &Change) -> Result<(), OverrideError> {
        let (Change::Points { criterion: id, .. } | Change::Waive { criterion: id }) = change else {
            return Ok(());
        };
        let Some(criterion) = self.criteria.iter().find(|criterion| criterion.id == *id) else {
            let known: Vec<&str> = self.criteria.iter().map(|criterion| criterion.id.as_str()).collect();
            return Err(OverrideError::UnknownCriterion { given: id.clone(), known: known.join(", ") });
        };
        match *change {
            Change::Points { points, .. } if !(0.0..=criterion.weight).contains(&points) => {
                let criterion = criterion.clone();
                Err(OverrideError::PointsOutside {
                    criterion: criterion.id,
                    points,
                    weight: criterion.weight,
                })
            }
            Change::Waive { .. } if !criterion.critical_error => {
                Err(OverrideError::NoCriticalError(id.clone()))
            }
            _ => Ok(()),
        }
    }

    /// The result with all overrides, in order; the last one on a matter counts.
    fn stands(&self) -> crate::grade::Tally {
        let mut counted: Vec<Counted> = self.criteria.iter().map(Counted::of).collect();
        let mut outcome = None;
        for entry in &self.overrides {
            match &entry.change {
                Change::Points { criterion, points } => {
                    for one in counted.iter_mut().filter(|one| one.id == *criterion) {
                        one.points = *points;
                        one.possible = one.weight;
                        one.measured = one.weight;
                        one.blocks = false;
                    }
                }
                Change::Waive { criterion } => {
                    for one in counted.iter_mut().filter(|one| one.id == *criterion) {
                        one.critical_error = false;
                    }
                }
                Change::Outcome(given) => outcome = Some((given, entry)),
            }
        }
        let mut tally = tally(&counted, &self.exercise.scoring);
        for entry in &self.overrides {
            tally.because.push(told(entry));
        }
        if let Some((outcome, _)) = outcome {
            tally.outcome = *outcome;
        }
        tally
    }
}

fn told(entry: &Override) -> String {
    let what = match &entry.change {
        Change::Points { criterion, points } => format!("{points} points for `{criterion}`"),
        Change::Waive { criterion } => format!("critical error of `{criterion}` waived"),
        Change::Outcome(outcome) => format!("outcome set to {}", outcome.word()),
    };
    format!("{what} by {}: {}", entry.by, entry.reason)
}
