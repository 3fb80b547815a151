//! Any number of examiners, categories, every attempt rated by as many: Fleiss' kappa.

use serde::Serialize;

use super::LEAST_ATTEMPTS;
use crate::error::{at_least, finite};
use crate::stats::distinct;
use crate::stats::resample::bootstrap;
use crate::{Estimate, Refusal, Settings};

/// Fleiss' kappa with what it is made of.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FleissKappa {
    /// (observed − expected)/(1 − expected); `n` counts attempts.
    pub kappa: Estimate,
    /// Mean share of pairs of examiners that agree on an attempt.
    pub observed: f64,
    /// Share that agrees by chance.
    pub expected: f64,
    /// Ratings on each attempt.
    pub raters: u32,
}

/// Counts, from the ratings of each attempt, how often each value was given: attempts × categories.
///
/// # Errors
/// [`Refusal::NotFinite`].
pub fn category_counts(rows: &[Vec<f64>]) -> Result<Vec<Vec<u32>>, Refusal> {
    rows.iter().try_for_each(|row| finite("the ratings", row))?;
    let categories = distinct(rows.iter().flatten().copied());
    let count = |row: &Vec<f64>, category: f64| row.iter().filter(|&&value| value == category).count() as u32;
    Ok(rows.iter().map(|row| categories.iter().map(|&category| count(row, category)).collect()).collect())
}

/// Fleiss' kappa of `counts`: a row for each attempt, a column for each category, the number of ratings in it.
///
/// # Errors
/// [`Refusal::TooFew`] below five attempts or two ratings each, [`Refusal::Ragged`] where the rows have different sums,
/// [`Refusal::OneCategory`].
///
/// # Source
/// `docs/sources.md#fleiss-1971`. The interval resamples attempts, since the published error holds only for no agreement at all.
pub fn fleiss_kappa(counts: &[Vec<u32>], settings: &Settings) -> Result<FleissKappa, Refusal> {
    settings.check()?;
    at_least("attempts", counts.len(), LEAST_ATTEMPTS)?;
    let raters: u32 = counts[0].iter().sum();
    at_least("ratings on each attempt", raters as usize, 2)?;
    for (index, row) in counts.iter().enumerate() {
        let n: u32 = row.iter().sum();
        if n != raters || row.len() != counts[0].len() {
            return Err(Refusal::Ragged { of: "attempt", index: index as u32, n, expected: raters });
        }
    }
    let all: Vec<usize> = (0..counts.len()).collect();
    let (observed, expected) = shares(counts, &all, raters);
    if 1.0 - expected < 1e-12 {
        return Err(Refusal::OneCategory);
    }
    let interval = if observed == 1.0 {
        Err("no disagreement seen: resampling would show none")
    } else {
        bootstrap(counts.len(), settings, |drawn| {
            let (observed, expected) = shares(counts, drawn, raters);
            (1.0 - expected > 1e-12).then(|| (observed - expected) / (1.0 - expected))
        })
    };
    let value = (observed - expected) / (1.0 - expected);
    let kappa = Estimate::maybe(value, interval, counts.len(), "Fleiss' kappa");
    Ok(FleissKappa { kappa, observed, expected, raters })
}

/// Agreement seen and expected over the attempts named.
fn shares(counts: &[Vec<u32>], attempts: &[usize], raters: u32) -> (f64, f64) {
    let (n, m) = (attempts.len() as f64, f64::from(raters));
    let mut totals = vec![0.0; counts[0].len()];
    let mut pairs = 0.0;
    for &attempt in attempts {
        for (total, &count) in totals.iter_mut().zip(&counts[attempt]) {
            let count = f64::from(count);
            *total += count;
            pairs += count * (count - 1.0);
        }
    }
    let expected = totals.iter().map(|total| (total / (n * m)).powi(2)).sum();
    (pairs / (n * m * (m - 1.0)), expected)
}
