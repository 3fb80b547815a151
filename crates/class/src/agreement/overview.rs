//! All that can be said of the agreement on one criterion, or of all criteria in turn.

use std::collections::BTreeMap;

use serde::Serialize;

use super::{
    CrossTable, FleissKappa, Kappa, Model, Repeatability, Scale, Unit, Weights, alpha, category_counts,
    fleiss_kappa, icc, kappa, percent_of_all, percent_of_two, repeatability,
};
use crate::{Answer, Estimate, Grid, Rating, Refusal, Settings};

/// Agreement on one criterion.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Overview {
    /// The criterion.
    pub criterion: String,
    /// Codes of the examiners.
    pub examiners: Vec<String>,
    /// Attempts that anybody rated.
    pub n_attempts: u32,
    /// Attempts that all examiners rated.
    pub n_complete: u32,
    /// Mean share of agreeing pairs.
    pub percent: Answer<Estimate>,
    /// On the attempts that all rated.
    pub fleiss_kappa: Answer<FleissKappa>,
    /// Alpha on each scale; nominal, ordinal, interval, ratio.
    pub alphas: [Answer<Estimate>; 4],
    /// ICC(1,1), (2,1), (3,1), (1,k), (2,k), (3,k), on the attempts that all rated.
    pub iccs: [Answer<Estimate>; 6],
    /// Each two examiners.
    pub pairs: Vec<Pair>,
    /// Each examiner against own earlier grades.
    pub repeats: Vec<Repeats>,
}

/// Two examiners.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Pair {
    /// Their codes.
    pub examiners: [String; 2],
    /// Share of equal ratings.
    pub percent: Answer<Estimate>,
    /// Kappa without weights, with linear and with quadratic ones.
    pub kappas: [Answer<Kappa>; 3],
}

/// One examiner, graded again.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Repeats {
    /// Code of the examiner.
    pub examiner: String,
    /// Spread of repeats.
    pub spread: Answer<Repeatability>,
    /// Share of equal ratings, the first two times.
    pub percent: Answer<Estimate>,
    /// Kappa with quadratic weights, the first two times.
    pub kappa: Answer<Kappa>,
}

/// What can be said of the agreement on `criterion`; what has no sense is refused in its place alone.
///
/// # Errors
/// [`Refusal::NotFinite`], [`Refusal::Twice`], [`Refusal::OutOfRange`] for a confidence that is none.
pub fn overview(ratings: &[Rating], criterion: &str, settings: &Settings) -> Result<Overview, Refusal> {
    settings.check()?;
    let grid = Grid::new(ratings, criterion)?;
    let complete = grid.complete();
    let scales = [Scale::Nominal, Scale::Ordinal, Scale::Interval, Scale::Ratio];
    let models = [Model::OneWay, Model::TwoWayRandom, Model::TwoWayMixed];
    let of_unit = |unit| models.map(|model| Answer::from(icc(&complete, model, unit, settings)));
    let ([a, b, c], [d, e, f]) = (of_unit(Unit::Single), of_unit(Unit::Average));
    Ok(Overview {
        criterion: criterion.into(),
        n_attempts: grid.attempts.len() as u32,
        n_complete: complete.len() as u32,
        percent: percent_of_all(&grid.rows, 0.0, settings).into(),
        fleiss_kappa: category_counts(&complete).and_then(|counts| fleiss_kappa(&counts, settings)).into(),
        alphas: scales.map(|scale| alpha(&grid.rows, scale, settings).into()),
        iccs: [a, b, c, d, e, f],
        pairs: pairs(&grid, settings),
        repeats: repeats(ratings, criterion, settings),
        examiners: grid.examiners,
    })
}

fn pairs(grid: &Grid, settings: &Settings) -> Vec<Pair> {
    let n = grid.examiners.len();
    let of = |(first, second): (usize, usize)| {
        let (a, b) = grid.pair(first, second);
        Pair {
            examiners: [first, second].map(|index| grid.examiners[index].clone()),
            percent: percent_of_two(&a, &b, 0.0, settings).into(),
            kappas: [Weights::Nominal, Weights::Linear, Weights::Quadratic]
                .map(|weights| kappa_of(&a, &b, &weights, settings)),
        }
    };
    (0..n).flat_map(|first| (first + 1..n).map(move |second| (first, second))).map(of).collect()
}

fn kappa_of(first: &[f64], second: &[f64], weights: &Weights, settings: &Settings) -> Answer<Kappa> {
    CrossTable::of(first, second).and_then(|table| kappa(&table, weights, settings)).into()
}

/// Each examiner who graded anything twice.
fn repeats(ratings: &[Rating], criterion: &str, settings: &Settings) -> Vec<Repeats> {
    let mut examiners: BTreeMap<&str, BTreeMap<&str, BTreeMap<u32, f64>>> = BTreeMap::new();
    for rating in ratings.iter().filter(|rating| rating.criterion == criterion) {
        let attempts = examiners.entry(&rating.examiner).or_default();
        attempts.entry(&rating.attempt).or_default().insert(rating.occasion, rating.value);
    }
    let of = |(examiner, attempts): (&str, BTreeMap<&str, BTreeMap<u32, f64>>)| {
        let values: Vec<Vec<f64>> =
            attempts.values().map(|times| times.values().copied().collect()).collect();
        let twice = || values.iter().filter(|times| times.len() > 1);
        twice().next()?;
        let (first, second): (Vec<f64>, Vec<f64>) = twice().map(|times| (times[0], times[1])).unzip();
        Some(Repeats {
            examiner: examiner.into(),
            spread: repeatability(&values, settings).into(),
            percent: percent_of_two(&first, &second, 0.0, settings).into(),
            kappa: kappa_of(&first, &second, &Weights::Quadratic, settings),
        })
    };
    examiners.into_iter().filter_map(of).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ratings() -> Vec<Rating> {
        let mut ratings = Vec::new();
        for attempt in 0..12_u32 {
            for (examiner, shift) in [("E1", 0), ("E2", attempt % 4 / 3), ("E3", attempt % 3 / 2)] {
                // E3 does not rate the last attempt; E1 grades the first six again.
                if examiner == "E3" && attempt == 11 {
                    continue;
                }
                for occasion in 0..=u32::from(examiner == "E1" && attempt < 6) {
                    ratings.push(Rating {
                        examiner: examiner.into(),
                        attempt: format!("Q{attempt:02}"),
                        criterion: "depth".into(),
                        occasion,
                        value: f64::from(attempt % 5 + shift + occasion * (attempt % 2)),
                    });
                }
            }
        }
        ratings
    }

    #[test]
    fn everything_rests_on_what_it_says() {
        let result = overview(&ratings(), "depth", &Settings::default()).unwrap();
        assert_eq!((result.n_attempts, result.n_complete, result.pairs.len()), (12, 11, 3));
        assert_eq!(result.fleiss_kappa.given().unwrap().kappa.n, 11);
        assert_eq!(result.alphas[1].given().unwrap().n, 12);
        assert_eq!(result.pairs[0].examiners, ["E1", "E2"]);
        assert_eq!(result.pairs[0].percent.given().unwrap().value, 9.0 / 12.0);
        assert_eq!(result.repeats.len(), 1);
        let repeats = &result.repeats[0];
        assert_eq!((repeats.examiner.as_str(), repeats.spread.given().unwrap().freedom), ("E1", 6));
        assert_eq!(repeats.percent.given().unwrap().value, 0.5);
    }

    #[test]
    fn equal_input_gives_equal_bytes_and_its_order_does_not_count() {
        let of = |ratings: &[Rating]| {
            serde_json::to_string(&overview(ratings, "depth", &Settings::default()).unwrap()).unwrap()
        };
        let mut reversed = ratings();
        reversed.reverse();
        assert_eq!(of(&ratings()), of(&reversed));
    }
}
