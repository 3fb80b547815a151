//! Any number of examiners, any scale, values missing here and there: Krippendorff's alpha.

use serde::Serialize;

use super::LEAST_ATTEMPTS;
use crate::error::at_least;
use crate::stats::distinct;
use crate::stats::resample::bootstrap;
use crate::{Estimate, Refusal, Settings};

/// What kind of scale the values are on, which says how far two of them are apart.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Scale {
    /// Names: apart or not.
    Nominal,
    /// Ranks: by the number of ratings between.
    Ordinal,
    /// Differences have a meaning: by the difference.
    Interval,
    /// Ratios have a meaning, nothing lies below zero: by the difference relative to the sum.
    Ratio,
}

impl Scale {
    fn method(self) -> &'static str {
        match self {
            Self::Nominal => "Krippendorff's alpha, nominal",
            Self::Ordinal => "Krippendorff's alpha, ordinal",
            Self::Interval => "Krippendorff's alpha, interval",
            Self::Ratio => "Krippendorff's alpha, ratio",
        }
    }
}

/// Krippendorff's alpha: 1 − disagreement seen/disagreement expected. `rows` has a row for each attempt; none stands for a
/// rating that is missing. Attempts with one rating or none say nothing and are left out; `n` counts the others.
///
/// # Errors
/// [`Refusal::TooFew`] below five attempts with two ratings, [`Refusal::OneCategory`], [`Refusal::NotFinite`],
/// [`Refusal::OutOfRange`] for a value below zero on a ratio scale.
///
/// # Source
/// `docs/sources.md#krippendorff-2011`. The interval resamples attempts.
pub fn alpha(rows: &[Vec<Option<f64>>], scale: Scale, settings: &Settings) -> Result<Estimate, Refusal> {
    settings.check()?;
    let units: Vec<Vec<f64>> = rows
        .iter()
        .map(|row| row.iter().flatten().copied().collect())
        .filter(|u: &Vec<f64>| u.len() > 1)
        .collect();
    units.iter().try_for_each(|unit| crate::error::finite("the ratings of an attempt", unit))?;
    at_least("attempts with two ratings or more", units.len(), LEAST_ATTEMPTS)?;
    if let (Scale::Ratio, Some(&value)) = (scale, units.iter().flatten().find(|&&value| value < 0.0)) {
        return Err(Refusal::OutOfRange { value, expected: "zero or more, as a ratio scale needs" });
    }
    let coded = Coded::new(&units, scale);
    let all: Vec<usize> = (0..units.len()).collect();
    let (seen, chance) = coded.disagreements(&all).ok_or(Refusal::OneCategory)?;
    let interval = if seen == 0.0 {
        Err("no disagreement seen: resampling would show none")
    } else {
        bootstrap(units.len(), settings, |drawn| {
            coded.disagreements(drawn).map(|(seen, chance)| 1.0 - seen / chance)
        })
    };
    Ok(Estimate::maybe(1.0 - seen / chance, interval, units.len(), scale.method()))
}

/// Attempts as counts of categories.
struct Coded {
    scale: Scale,
    values: Vec<f64>,
    /// For each attempt the categories given and how often.
    units: Vec<Vec<(usize, f64)>>,
}

impl Coded {
    fn new(units: &[Vec<f64>], scale: Scale) -> Self {
        let values = distinct(units.iter().flatten().copied());
        let place = |value: f64| values.partition_point(|category| *category < value);
        let code = |unit: &Vec<f64>| {
            let mut counts = std::collections::BTreeMap::new();
            for &value in unit {
                *counts.entry(place(value)).or_insert(0.0) += 1.0;
            }
            counts.into_iter().collect()
        };
        Self { scale, units: units.iter().map(code).collect(), values }
    }

    /// Mean squared distance of two ratings of one attempt, and of any two ratings; none where all ratings are the same.
    fn disagreements(&self, attempts: &[usize]) -> Option<(f64, f64)> {
        let mut totals = vec![0.0; self.values.len()];
        for &attempt in attempts {
            self.units[attempt].iter().for_each(|&(category, count)| totals[category] += count);
        }
        let n: f64 = totals.iter().sum();
        let places = self.places(&totals);
        let apart = |a: usize, b: usize| self.apart(places[a], places[b]);
        let mut seen = 0.0;
        for &attempt in attempts {
            let unit = &self.units[attempt];
            let ratings: f64 = unit.iter().map(|(_, count)| count).sum();
            let pairs: f64 = pairs(unit, apart);
            seen += pairs / (ratings - 1.0);
        }
        let used: Vec<(usize, f64)> =
            totals.into_iter().enumerate().filter(|(_, count)| *count > 0.0).collect();
        // One category alone is told by its number: sums over it may leave a trace of rounding.
        let chance = if used.len() > 1 { self.chance(&used, &places, n) } else { 0.0 };
        (chance > 0.0).then(|| (seen / n, chance / (n * (n - 1.0))))
    }

    /// Where each category lies on the scale: its middle rank on an ordinal one.
    fn places(&self, totals: &[f64]) -> Vec<f64> {
        if self.scale != Scale::Ordinal {
            return self.values.clone();
        }
        let mut below = 0.0;
        let middle = |&count: &f64| {
            below += count;
            below - count / 2.0
        };
        totals.iter().map(middle).collect()
    }

    fn apart(&self, a: f64, b: f64) -> f64 {
        match self.scale {
            Scale::Nominal => f64::from(a != b),
            Scale::Ordinal | Scale::Interval => (a - b).powi(2),
            Scale::Ratio if a + b > 0.0 => ((a - b) / (a + b)).powi(2),
            Scale::Ratio => 0.0,
        }
    }

    /// Sum over all ordered pairs of ratings.
    fn chance(&self, used: &[(usize, f64)], places: &[f64], n: f64) -> f64 {
        match self.scale {
            Scale::Nominal => n * n - used.iter().map(|(_, count)| count * count).sum::<f64>(),
            // 2 n Σ (x − mean)² is the sum over all pairs, without going through them.
            Scale::Ordinal | Scale::Interval => {
                let mean = used.iter().map(|&(category, count)| count * places[category]).sum::<f64>() / n;
                2.0 * n
                    * used
                        .iter()
                        .map(|&(category, count)| count * (places[category] - mean).powi(2))
                        .sum::<f64>()
            }
            Scale::Ratio => pairs(used, |a, b| self.apart(places[a], places[b])),
        }
    }
}

/// Sum of `apart` over all ordered pairs of ratings.
fn pairs(counts: &[(usize, f64)], apart: impl Fn(usize, usize) -> f64) -> f64 {
    let mut sum = 0.0;
    for (index, &(a, count_a)) in counts.iter().enumerate() {
        for &(b, count_b) in &counts[index + 1..] {
            sum += 2.0 * count_a * count_b * apart(a, b);
        }
    }
    sum
}
