//! Each examiner against what was measured.

use std::collections::{BTreeMap, BTreeSet};

use serde::Serialize;

use super::{BlandAltman, Width, bland_altman};
use crate::rating::check;
use crate::{Answer, Measured, Rating, Refusal, Settings};

/// One examiner against what was measured, on one criterion.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct AgainstMeasured {
    /// Code of the examiner.
    pub examiner: String,
    /// What the examiner gave less what was measured: bias and limits of agreement.
    pub result: Answer<BlandAltman>,
}

/// Bias and limits of agreement of each examiner on `criterion`, in the order of their codes. Of what an examiner graded twice the first grade
/// counts, so that pairs are independent of each other; attempts without a measured value are left out.
///
/// # Errors
/// [`Refusal::NotFinite`], [`Refusal::Twice`]. An examiner with fewer than three such attempts is refused alone.
///
/// # Source
/// `docs/sources.md#bland-and-altman-1986`.
pub fn against_measured(
    ratings: &[Rating],
    measured: &[Measured],
    criterion: &str,
    settings: &Settings,
) -> Result<Vec<AgainstMeasured>, Refusal> {
    check(ratings)?;
    let known: BTreeMap<&str, f64> = measured
        .iter()
        .filter(|measured| measured.criterion == criterion)
        .map(|measured| (measured.attempt.as_str(), measured.value))
        .collect();
    let own: Vec<&Rating> =
        ratings.iter().filter(|rating| rating.criterion == criterion && rating.occasion == 0).collect();
    let examiners: BTreeSet<&str> = own.iter().map(|rating| rating.examiner.as_str()).collect();
    let of = |examiner: &str| {
        // By attempt, so that the order of the ratings says nothing.
        let pairs: BTreeMap<&str, (f64, f64)> = own
            .iter()
            .filter(|rating| rating.examiner == examiner)
            .filter_map(|rating| {
                Some((rating.attempt.as_str(), (rating.value, *known.get(rating.attempt.as_str())?)))
            })
            .collect();
        let (given, known): (Vec<f64>, Vec<f64>) = pairs.into_values().unzip();
        AgainstMeasured {
            examiner: examiner.into(),
            result: bland_altman(&given, &known, Width::Normal, settings).into(),
        }
    };
    Ok(examiners.into_iter().map(of).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Readings of a probe and what was measured, made up. Differences 0.1, 0.2, 0.3 and 0.2 mm: mean 0.2, deviation √(0.02 / 3).
    fn probed() -> (Vec<Rating>, Vec<Measured>) {
        let measured = [1.0, 1.2, 1.4, 1.6];
        let given = [1.1, 1.4, 1.7, 1.8];
        let attempt = |index: usize| format!("Q{index}");
        let rating = |(index, value): (usize, f64), occasion| Rating {
            examiner: "E1".into(),
            attempt: attempt(index),
            criterion: "depth_mm".into(),
            occasion,
            value,
        };
        let mut ratings: Vec<Rating> = given.into_iter().enumerate().map(|one| rating(one, 0)).collect();
        ratings.push(rating((0, 9.0), 1));
        ratings.push(rating((7, 9.0), 0));
        let known =
            |(index, value)| Measured { attempt: attempt(index), criterion: "depth_mm".into(), value };
        (ratings, measured.into_iter().enumerate().map(known).collect())
    }

    #[test]
    fn bias_and_limits_are_those_of_the_first_grades_with_a_measured_value() {
        let (ratings, measured) = probed();
        let found = against_measured(&ratings, &measured, "depth_mm", &Settings::default()).unwrap();
        assert_eq!((found.len(), found[0].examiner.as_str()), (1, "E1"));
        let result = found[0].result.given().unwrap();
        let deviation = (0.02_f64 / 3.0).sqrt();
        assert_eq!(result.bias.n, 4);
        assert!((result.bias.value - 0.2).abs() < 1e-12);
        assert!((result.upper_limit.value - (0.2 + 1.96 * deviation)).abs() < 1e-12);
        // Student's t at 97.5 % with three degrees of freedom is 3.18245.
        let low = result.bias.interval.unwrap().low;
        assert!((low - (0.2 - 3.18245 * deviation / 2.0)).abs() < 0.5e-5, "{low}");
    }

    #[test]
    fn two_pairs_say_nothing_and_equal_differences_bound_nothing() {
        let (ratings, mut measured) = probed();
        let of = |measured: &[Measured]| {
            against_measured(&ratings, measured, "depth_mm", &Settings::default()).unwrap().remove(0).result
        };
        assert_eq!(of(&measured[..2]), Answer::Refused(Refusal::TooFew { of: "pairs", n: 2, least: 3 }));
        for (measured, given) in measured.iter_mut().zip(&ratings) {
            measured.value = given.value - 0.5;
        }
        let result = of(&measured).given().unwrap().clone();
        assert_eq!((result.bias.value, result.bias.interval), (0.5, None), "{result:?}");
        assert_eq!((result.upper_limit.value, result.upper_limit.interval), (0.5, None));
        assert_eq!(result.proportional, None, "a line through equal differences has no error");
    }
}
