//! What is known, by measuring, of what examiners grade by eye.

use kerfwright_class::{Measured, Rating, Refusal};
use kerfwright_exercise::PlacesScore;
use kerfwright_grade::{CriterionGrade, Grade, Level};

/// What examiners give in a blind grading: the levels to which the limits of an exercise lead too.
pub const LEVELS: [(f64, &str); 3] = [(0.0, "not acceptable"), (1.0, "acceptable"), (2.0, "ideal")];

/// What is known of rated attempts. A criterion of an exercise is known as a level; what is named like a reading is known as that reading.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Known {
    /// Levels of criteria, see [`known_level`].
    pub levels: Vec<Measured>,
    /// Values on the very scale of the ratings.
    pub values: Vec<Measured>,
}

impl Known {
    /// Takes in the levels that the readings of an attempt lead to, as computed: what instructors decided otherwise is no measuring.
    pub fn add(&mut self, attempt: &str, grade: &Grade) {
        let known = |criterion: &CriterionGrade| {
            Some(Measured {
                attempt: attempt.into(),
                criterion: criterion.id.clone(),
                value: known_level(criterion)?,
            })
        };
        self.levels.extend(grade.criteria.iter().filter_map(known));
    }

    /// What `own`, the ratings of one criterion, are to be held against.
    ///
    /// # Errors
    /// [`Refusal::OutOfRange`] if levels are known and something else was given: points cannot be held against levels.
    pub fn measured(&self, own: &[Rating], criterion: &str) -> Result<Vec<Measured>, Refusal> {
        let of = |known: &[Measured]| -> Vec<Measured> {
            known.iter().filter(|known| known.criterion == criterion).cloned().collect()
        };
        let levels = of(&self.levels);
        let stray = own.iter().find(|rating| LEVELS.iter().all(|level| level.0 != rating.value));
        match stray {
            Some(stray) if !levels.is_empty() => Err(Refusal::OutOfRange {
                value: stray.value,
                expected: "one of the levels 0, 1 and 2, as which criteria are known",
            }),
            _ if levels.is_empty() => Ok(of(&self.values)),
            _ => Ok(levels),
        }
    }
}

/// The level of a criterion by its readings: 0 not acceptable, 1 acceptable, 2 ideal. Several readings come together as the exercise brings their
/// points together: by their mean, the worst or the best. `None` where the readings leave it open: one that was not taken, or is too close to call,
/// may be any level.
pub fn known_level(criterion: &CriterionGrade) -> Option<f64> {
    let ends: Vec<(f64, f64)> = criterion.items.iter().map(|item| ends(item.level)).collect();
    let one = |values: Vec<f64>| match criterion.places_score {
        PlacesScore::Mean => values.iter().sum::<f64>() / values.len() as f64,
        PlacesScore::Worst => values.into_iter().fold(f64::INFINITY, f64::min),
        PlacesScore::Best => values.into_iter().fold(f64::NEG_INFINITY, f64::max),
    };
    let (low, high): (Vec<f64>, Vec<f64>) = ends.into_iter().unzip();
    let (low, high) = (one(low), one(high));
    // Without readings neither is a number.
    (low == high && low.is_finite()).then_some(low)
}

/// The level of one reading; `None` where it is open.
pub fn level(level: Level) -> Option<f64> {
    match level {
        Level::NotAcceptable => Some(0.0),
        Level::Acceptable => Some(1.0),
        Level::Ideal => Some(2.0),
        Level::TooClose | Level::NotMeasured => None,
    }
}

/// The least and the greatest level that a reading may stand for.
fn ends(of: Level) -> (f64, f64) {
    level(of).map_or((LEVELS[0].0, LEVELS[2].0), |level| (level, level))
}
