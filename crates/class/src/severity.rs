//! Who gives less than the others, and where examiners disagree.

use std::collections::{BTreeMap, BTreeSet};

use serde::Serialize;

use crate::rating::check;
use crate::stats::location::mean_of;
use crate::stats::{mean, squares};
use crate::{Answer, Estimate, Measured, Rating, Refusal, Settings};

/// One examiner against the others and against what was measured.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Severity {
    /// Code of the examiner.
    pub examiner: String,
    /// Mean difference to the mean of the others on the same criteria of the same attempts; positive: gives more. `n` counts
    /// attempts.
    pub to_others: Answer<Estimate>,
    /// Mean difference to what was measured, likewise.
    pub to_measured: Answer<Estimate>,
}

/// Where examiners disagree, worst first.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Disagreements {
    /// By criterion.
    pub criteria: Vec<Spread>,
    /// By attempt.
    pub attempts: Vec<Spread>,
    /// Each criterion of each attempt on which two examiners differ.
    pub places: Vec<Place>,
}

/// How far examiners lie apart on one criterion or one attempt.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Spread {
    /// The criterion, or the attempt's code.
    pub name: String,
    /// Mean of the absolute differences between two examiners.
    pub mean_difference: f64,
    /// Standard deviation between examiners on the same thing.
    pub deviation: f64,
    /// Criteria of attempts with two ratings or more.
    pub n: u32,
}

/// One criterion of one attempt.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS), ts(rename = "FarApart"))]
pub struct Place {
    /// Code of the attempt.
    pub attempt: String,
    /// The criterion.
    pub criterion: String,
    /// Who gave least, and how much.
    pub least: (String, f64),
    /// Who gave most, and how much.
    pub most: (String, f64),
}

/// Ratings of one criterion of one attempt on the first occasion, by examiner.
type Cells<'a> = BTreeMap<(&'a str, &'a str), Vec<(&'a str, f64)>>;

/// The severity of each examiner, in the order of their codes. The ratings have to be on one scale; what one examiner alone rated
/// counts only against `measured`.
///
/// Differences are averaged within an attempt first, since the criteria of one attempt hang together; the interval is that of a mean
/// over attempts. Positive is lenient where more is better.
///
/// # Errors
/// [`Refusal::NotFinite`], [`Refusal::Twice`]. An examiner with fewer than three attempts is refused alone.
pub fn severity(
    ratings: &[Rating],
    measured: &[Measured],
    settings: &Settings,
) -> Result<Vec<Severity>, Refusal> {
    settings.check()?;
    let cells = cells(ratings)?;
    let truth: BTreeMap<(&str, &str), f64> =
        measured.iter().map(|m| ((m.attempt.as_str(), m.criterion.as_str()), m.value)).collect();
    if let Some(index) = measured.iter().position(|measured| !measured.value.is_finite()) {
        return Err(Refusal::NotFinite { of: "the measured values", index: index as u32 });
    }
    let examiners: BTreeSet<&str> = ratings.iter().map(|rating| rating.examiner.as_str()).collect();
    let of = |examiner: &str| {
        let others = by_attempt(&cells, examiner, |_, given| {
            let others: Vec<f64> =
                given.iter().filter(|(name, _)| *name != examiner).map(|&(_, v)| v).collect();
            (!others.is_empty()).then(|| mean(&others))
        });
        let measured = by_attempt(&cells, examiner, |cell, _| truth.get(&cell).copied());
        Severity {
            examiner: examiner.into(),
            to_others: mean_of(
                &others,
                "attempts shared with another examiner",
                "mean difference to the others",
                settings,
            )
            .into(),
            to_measured: mean_of(
                &measured,
                "attempts with a measured value",
                "mean difference to the measured value",
                settings,
            )
            .into(),
        }
    };
    Ok(examiners.into_iter().map(of).collect())
}

/// Where examiners disagree, worst first; equal ones in the order of their names.
///
/// # Errors
/// [`Refusal::NotFinite`], [`Refusal::Twice`], [`Refusal::TooFew`] where nothing was rated by two.
pub fn disagreements(ratings: &[Rating]) -> Result<Disagreements, Refusal> {
    let mut cells = cells(ratings)?;
    cells.retain(|_, given| given.len() > 1);
    crate::error::at_least("criteria that two examiners rated", cells.len(), 1)?;
    let mut places: Vec<Place> = cells.iter().filter_map(|(cell, given)| place(*cell, given)).collect();
    places.sort_by(|a, b| {
        let range = |place: &Place| place.most.1 - place.least.1;
        range(b)
            .total_cmp(&range(a))
            .then_with(|| (&a.attempt, &a.criterion).cmp(&(&b.attempt, &b.criterion)))
    });
    Ok(Disagreements {
        criteria: spreads(&cells, |(_, criterion)| criterion),
        attempts: spreads(&cells, |(attempt, _)| attempt),
        places,
    })
}

fn cells(ratings: &[Rating]) -> Result<Cells<'_>, Refusal> {
    check(ratings)?;
    let mut cells = Cells::new();
    for rating in ratings.iter().filter(|rating| rating.occasion == 0) {
        let cell = (rating.attempt.as_str(), rating.criterion.as_str());
        cells.entry(cell).or_default().push((&rating.examiner, rating.value));
    }
    // Sums must not depend on the order in which the ratings came.
    cells.values_mut().for_each(|given| given.sort_by_key(|&(examiner, _)| examiner));
    Ok(cells)
}

/// For each attempt the mean difference of an examiner to a reference, where there is one.
fn by_attempt(
    cells: &Cells<'_>,
    examiner: &str,
    reference: impl Fn((&str, &str), &[(&str, f64)]) -> Option<f64>,
) -> Vec<f64> {
    let mut attempts: BTreeMap<&str, Vec<f64>> = BTreeMap::new();
    for (&cell, given) in cells {
        let own = given.iter().find(|(name, _)| *name == examiner);
        if let (Some((_, own)), Some(reference)) = (own, reference(cell, given)) {
            attempts.entry(cell.0).or_default().push(own - reference);
        }
    }
    attempts.values().map(|differences| mean(differences)).collect()
}

fn place(cell: (&str, &str), given: &[(&str, f64)]) -> Option<Place> {
    let least = given.iter().min_by(|a, b| a.1.total_cmp(&b.1))?;
    let most = given.iter().max_by(|a, b| a.1.total_cmp(&b.1))?;
    (most.1 > least.1).then(|| Place {
        attempt: cell.0.into(),
        criterion: cell.1.into(),
        least: (least.0.into(), least.1),
        most: (most.0.into(), most.1),
    })
}

fn spreads<'a>(cells: &Cells<'a>, key: impl Fn((&'a str, &'a str)) -> &'a str) -> Vec<Spread> {
    let mut groups: BTreeMap<&str, Vec<Vec<f64>>> = BTreeMap::new();
    for (&cell, given) in cells {
        groups.entry(key(cell)).or_default().push(given.iter().map(|&(_, value)| value).collect());
    }
    let mut spreads: Vec<Spread> = groups.iter().map(|(name, cells)| spread(name, cells)).collect();
    spreads.sort_by(|a, b| b.mean_difference.total_cmp(&a.mean_difference).then_with(|| a.name.cmp(&b.name)));
    spreads
}

fn spread(name: &str, cells: &[Vec<f64>]) -> Spread {
    let freedom: usize = cells.iter().map(|values| values.len() - 1).sum();
    let sum: f64 = cells.iter().map(|values| squares(values)).sum();
    let differences: Vec<f64> = cells.iter().map(|values| mean_difference(values)).collect();
    Spread {
        name: name.into(),
        mean_difference: mean(&differences),
        deviation: (sum / freedom as f64).sqrt(),
        n: cells.len() as u32,
    }
}

fn mean_difference(values: &[f64]) -> f64 {
    let pairs = values
        .iter()
        .enumerate()
        .flat_map(|(index, a)| values[index + 1..].iter().map(move |b| (a - b).abs()));
    mean(&pairs.collect::<Vec<f64>>())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ratings() -> Vec<Rating> {
        let mut ratings = Vec::new();
        for attempt in 0..8 {
            for (criterion, base) in [("depth", 2.0), ("finish", 3.0)] {
                // E3 gives one less than the others, two on the finish line of attempt 5.
                let more = f64::from(attempt % 3) + base;
                let severe = if attempt == 5 && criterion == "finish" { 2.0 } else { 1.0 };
                for (examiner, value) in [("E1", more), ("E2", more), ("E3", more - severe)] {
                    ratings.push(Rating {
                        examiner: examiner.into(),
                        attempt: format!("A{attempt}"),
                        criterion: criterion.into(),
                        occasion: 0,
                        value,
                    });
                }
            }
        }
        ratings
    }

    #[test]
    fn the_severe_examiner_is_found_by_how_much() {
        let measured: Vec<Measured> = ratings()
            .iter()
            .filter(|rating| rating.examiner == "E1")
            .map(|r| Measured { attempt: r.attempt.clone(), criterion: r.criterion.clone(), value: r.value })
            .collect();
        let result = severity(&ratings(), &measured, &Settings::default()).unwrap();
        let names: Vec<&str> = result.iter().map(|severity| severity.examiner.as_str()).collect();
        assert_eq!(names, ["E1", "E2", "E3"]);
        // Seven attempts at −1, one at (−1 − 2)/2.
        let severe = result[2].to_others.given().unwrap();
        assert!((severe.value + (7.0 + 1.5) / 8.0).abs() < 1e-12);
        assert!(severe.interval.unwrap().high < 0.0);
        assert_eq!(severe.n, 8);
        assert_eq!(result[2].to_measured.given().unwrap().value, severe.value);
        let even = result[0].to_measured.given().unwrap();
        assert_eq!((even.value, even.interval), (0.0, None));
    }

    #[test]
    fn the_worst_criterion_and_attempt_stand_first() {
        let result = disagreements(&ratings()).unwrap();
        assert_eq!(result.criteria[0].name, "finish");
        assert_eq!(result.attempts[0].name, "A5");
        assert_eq!(
            (result.places[0].attempt.as_str(), result.places[0].criterion.as_str()),
            ("A5", "finish")
        );
        assert_eq!(result.places[0].least.0, "E3");
        assert_eq!(result.criteria[0].n, 8);
    }

    #[test]
    fn the_order_of_the_ratings_says_nothing() {
        let mut reversed = ratings();
        reversed.reverse();
        assert_eq!(disagreements(&reversed), disagreements(&ratings()));
        let of = |ratings: &[Rating]| severity(ratings, &[], &Settings::default()).unwrap();
        assert_eq!(of(&reversed), of(&ratings()));
    }

    #[test]
    fn without_a_second_examiner_there_is_no_severity() {
        let alone: Vec<Rating> = ratings().into_iter().filter(|rating| rating.examiner == "E1").collect();
        let result = severity(&alone, &[], &Settings::default()).unwrap();
        assert!(matches!(result[0].to_others, Answer::Refused(Refusal::TooFew { n: 0, least: 3, .. })));
        assert!(matches!(disagreements(&alone), Err(Refusal::TooFew { n: 0, .. })));
    }
}
