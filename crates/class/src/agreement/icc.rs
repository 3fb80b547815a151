//! Examiners who give numbers: the intraclass correlation, with its model named.

use serde::Serialize;

use crate::error::{at_least, finite};
use crate::stats::distribution::f_quantile;
use crate::{Estimate, Interval, Refusal, Settings};

/// Who rated whom, and what the examiners stand for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Model {
    /// Each attempt by other examiners: their severity cannot be told from noise. ICC(1).
    OneWay,
    /// All attempts by the same examiners, who stand for all that could have been asked; severity counts as disagreement. ICC(2).
    TwoWayRandom,
    /// All attempts by the same examiners, who are the only ones of interest; severity does not count. ICC(3).
    TwoWayMixed,
}

/// Whose reliability is meant.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Unit {
    /// One examiner's rating.
    Single,
    /// The mean of all of them.
    Average,
}

/// Mean squares of the analysis of variance of attempts × examiners.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct MeanSquares {
    /// Attempts.
    pub n: u32,
    /// Examiners.
    pub k: u32,
    /// Between attempts.
    pub between: f64,
    /// Within attempts.
    pub within: f64,
    /// Between examiners.
    pub judges: f64,
    /// What is left.
    pub error: f64,
}

impl MeanSquares {
    /// Of `rows`: a row for each attempt, a column for each examiner, all filled.
    ///
    /// # Errors
    /// [`Refusal::TooFew`] below three attempts or two examiners, [`Refusal::Ragged`], [`Refusal::NotFinite`],
    /// [`Refusal::NoSpread`] where all attempts have the same mean and no rating departs from it.
    pub fn of(rows: &[Vec<f64>]) -> Result<Self, Refusal> {
        at_least("attempts that all examiners rated", rows.len(), 3)?;
        let k = rows[0].len();
        at_least("examiners", k, 2)?;
        for (index, row) in rows.iter().enumerate() {
            if row.len() != k {
                let (index, n, expected) = (index as u32, row.len() as u32, k as u32);
                return Err(Refusal::Ragged { of: "attempt", index, n, expected });
            }
            finite("the ratings of an attempt", row)?;
        }
        let n = rows.len();
        let column = |judge: usize| rows.iter().map(|row| row[judge]).sum::<f64>() / n as f64;
        let of_judge: Vec<f64> = (0..k).map(column).collect();
        let of_attempt: Vec<f64> = rows.iter().map(|row| crate::stats::mean(row)).collect();
        let grand = crate::stats::mean(&of_attempt);
        let between = k as f64 * crate::stats::squares(&of_attempt);
        let judges = n as f64 * crate::stats::squares(&of_judge);
        let mut left = 0.0;
        for (row, attempt) in rows.iter().zip(&of_attempt) {
            left += row
                .iter()
                .zip(&of_judge)
                .map(|(x, judge)| (x - attempt - judge + grand).powi(2))
                .sum::<f64>();
        }
        if between + judges + left <= 1e-24 * grand.abs().max(1.0).powi(2) {
            return Err(Refusal::NoSpread { of: "the ratings" });
        }
        let (free, free_judges) = ((n - 1) as f64, (k - 1) as f64);
        Ok(Self {
            n: n as u32,
            k: k as u32,
            between: between / free,
            within: (judges + left) / (n as f64 * free_judges),
            judges: judges / free_judges,
            error: left / (free * free_judges),
        })
    }
}

/// The intraclass correlation of `rows` (attempts × examiners), with the interval from the F distribution; `n` counts attempts.
///
/// # Errors
/// As [`MeanSquares::of`], and [`Refusal::NoSpread`] where the ratio has nothing to divide by.
///
/// # Source
/// `docs/sources.md#shrout-and-fleiss-1979`.
pub fn icc(rows: &[Vec<f64>], model: Model, unit: Unit, settings: &Settings) -> Result<Estimate, Refusal> {
    settings.check()?;
    let squares = MeanSquares::of(rows)?;
    let value = squares.icc(model, unit).ok_or(Refusal::NoSpread { of: "the attempts beside the noise" })?;
    let noise = if model == Model::OneWay { squares.within } else { squares.error };
    let ends = if noise <= 1e-15 * squares.between {
        Err("no disagreement seen: the ratio of variances has no upper end")
    } else {
        squares
            .bounds(model, unit, settings.upper())
            .ok_or("the lower end lies beyond what a correlation can be")
    };
    let interval = ends.map(|(low, high)| Interval {
        low,
        high,
        confidence: settings.confidence,
        method: "F distribution",
    });
    Ok(Estimate::maybe(value, interval, rows.len(), method(model, unit)))
}

fn method(model: Model, unit: Unit) -> &'static str {
    match (model, unit) {
        (Model::OneWay, Unit::Single) => "ICC(1,1), one-way random, single rating",
        (Model::OneWay, Unit::Average) => "ICC(1,k), one-way random, mean of k ratings",
        (Model::TwoWayRandom, Unit::Single) => "ICC(2,1), two-way random, absolute agreement, single rating",
        (Model::TwoWayRandom, Unit::Average) => {
            "ICC(2,k), two-way random, absolute agreement, mean of k ratings"
        }
        (Model::TwoWayMixed, Unit::Single) => "ICC(3,1), two-way mixed, consistency, single rating",
        (Model::TwoWayMixed, Unit::Average) => "ICC(3,k), two-way mixed, consistency, mean of k ratings",
    }
}

impl MeanSquares {
    /// None where the variances of examiners and attempts, estimated from few, come out so far below zero that nothing is left to
    /// divide by.
    fn icc(&self, model: Model, unit: Unit) -> Option<f64> {
        let (n, k) = (f64::from(self.n), f64::from(self.k));
        let severity = if model == Model::TwoWayRandom { (self.judges - self.error) / n } else { 0.0 };
        let noise = if model == Model::OneWay { self.within } else { self.error };
        let whole = match unit {
            Unit::Single => self.between + (k - 1.0) * noise + k * severity,
            Unit::Average => self.between + severity,
        };
        (whole > 1e-12 * (self.between + noise)).then(|| (self.between - noise) / whole)
    }

    /// Ends of the interval, `upper` being the probability below the upper one; none where the lower end of a mean's correlation
    /// would lie below minus infinity.
    fn bounds(&self, model: Model, unit: Unit, upper: f64) -> Option<(f64, f64)> {
        let (n, k) = (f64::from(self.n), f64::from(self.k));
        let (ratio, free) = match model {
            Model::OneWay => (self.between / self.within, n * (k - 1.0)),
            Model::TwoWayMixed => (self.between / self.error, (n - 1.0) * (k - 1.0)),
            Model::TwoWayRandom => {
                let (low, high) = self.bounds_random(upper)?;
                let lift = |single: f64| {
                    let whole = 1.0 + single * (k - 1.0);
                    (whole > 0.0).then(|| single * k / whole)
                };
                return if unit == Unit::Single {
                    Some((low, high))
                } else {
                    Some((lift(low)?, lift(high)?))
                };
            }
        };
        let low = ratio / f_quantile(upper, n - 1.0, free);
        let high = ratio * f_quantile(upper, free, n - 1.0);
        let of = |f: f64| if unit == Unit::Single { (f - 1.0) / (f + k - 1.0) } else { 1.0 - 1.0 / f };
        Some((of(low), of(high)))
    }

    /// Of ICC(2,1), by the approximate degrees of freedom of the source.
    fn bounds_random(&self, upper: f64) -> Option<(f64, f64)> {
        let (n, k) = (f64::from(self.n), f64::from(self.k));
        let icc = self.icc(Model::TwoWayRandom, Unit::Single)?;
        let judges = self.judges / self.error;
        let rest = n * (1.0 + (k - 1.0) * icc) - k * icc;
        let free = (k - 1.0) * (n - 1.0) * (k * icc * judges + rest).powi(2)
            / ((n - 1.0) * (k * icc * judges).powi(2) + rest * rest);
        let (f_low, f_high) = (f_quantile(upper, n - 1.0, free), f_quantile(upper, free, n - 1.0));
        let noise = k * self.judges + (k * n - k - n) * self.error;
        Some((
            n * (self.between - f_low * self.error) / (f_low * noise + n * self.between),
            n * (f_high * self.between - self.error) / (noise + n * f_high * self.between),
        ))
    }
}
