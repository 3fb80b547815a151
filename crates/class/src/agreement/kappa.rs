//! Two examiners, categories: Cohen's kappa, plain and weighted.

use serde::Serialize;

use super::LEAST_ATTEMPTS;
use crate::error::{at_least, finite};
use crate::stats::distinct;
use crate::stats::distribution::normal_quantile;
use crate::{Estimate, Interval, Refusal, Settings};

/// Attempts from which the large-sample error is given. No source has one limit; a choice of engineering.
const LEAST_FOR_ERROR: usize = 20;

/// How often two examiners gave which two values: `counts` has a row for each category of the first and a column for each
/// category of the second.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct CrossTable {
    /// The values that are categories, ascending.
    pub categories: Vec<f64>,
    /// `categories` × `categories`.
    pub counts: Vec<Vec<u32>>,
}

/// What a disagreement weighs.
#[derive(Debug, Clone, PartialEq)]
pub enum Weights {
    /// All alike: plain kappa.
    Nominal,
    /// By the distance of the two values.
    Linear,
    /// By its square.
    Quadratic,
    /// 1 for full agreement down to 0, `categories` × `categories`.
    Similarity(Vec<Vec<f64>>),
    /// 0 for full agreement, more for worse, `categories` × `categories`.
    Disagreement(Vec<Vec<f64>>),
}

/// Kappa with what it is made of.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Kappa {
    /// (observed − expected)/(1 − expected); `n` counts attempts.
    pub kappa: Estimate,
    /// Weighted share of agreement seen.
    pub observed: f64,
    /// Weighted share that two examiners with these habits reach by chance.
    pub expected: f64,
    /// Large-sample standard error; none below 20 attempts or without any disagreement.
    pub standard_error: Option<f64>,
}

impl CrossTable {
    /// Counts the pairs of two lists of the same attempts.
    ///
    /// # Errors
    /// [`Refusal::Ragged`] for lists of unequal length, [`Refusal::NotFinite`].
    pub fn of(first: &[f64], second: &[f64]) -> Result<Self, Refusal> {
        super::same_length(first, second)?;
        finite("the first examiner's ratings", first)?;
        finite("the second examiner's ratings", second)?;
        let categories = distinct(first.iter().chain(second).copied());
        let place = |value: &f64| categories.partition_point(|category| category < value);
        let mut counts = vec![vec![0; categories.len()]; categories.len()];
        for (a, b) in first.iter().zip(second) {
            counts[place(a)][place(b)] += 1;
        }
        Ok(Self { categories, counts })
    }

    /// A table that was counted elsewhere; its categories are 0, 1, 2 and so on.
    ///
    /// # Errors
    /// [`Refusal::Ragged`] if it is not square.
    pub fn from_counts(counts: Vec<Vec<u32>>) -> Result<Self, Refusal> {
        square("row of the table", counts.len(), counts.iter().map(Vec::len))?;
        Ok(Self { categories: (0..counts.len()).map(|index| index as f64).collect(), counts })
    }

    /// Pairs counted.
    pub fn n(&self) -> u32 {
        self.counts.iter().flatten().sum()
    }
}

impl Weights {
    /// Similarities of `categories`, 1 on the diagonal of those made by distance.
    fn similarity(&self, categories: &[f64]) -> Result<Vec<Vec<f64>>, Refusal> {
        let n = categories.len();
        let table = |weight: &dyn Fn(f64, f64) -> f64| -> Vec<Vec<f64>> {
            categories.iter().map(|&a| categories.iter().map(|&b| weight(a, b)).collect()).collect()
        };
        let given = |weights: &[Vec<f64>]| {
            square("row of the weights", n, weights.iter().map(Vec::len))?;
            finite("the weights", &weights.concat())
        };
        Ok(match self {
            Self::Nominal => table(&|a, b| f64::from(a == b)),
            Self::Linear => from_disagreement(&table(&|a, b| (a - b).abs())),
            Self::Quadratic => from_disagreement(&table(&|a, b| (a - b).powi(2))),
            Self::Similarity(weights) => {
                given(weights)?;
                weights.clone()
            }
            Self::Disagreement(weights) => {
                given(weights)?;
                from_disagreement(weights)
            }
        })
    }

    fn method(&self) -> &'static str {
        match self {
            Self::Nominal => "Cohen's kappa",
            Self::Linear => "Cohen's kappa, linear weights",
            Self::Quadratic => "Cohen's kappa, quadratic weights",
            Self::Similarity(_) | Self::Disagreement(_) => "Cohen's kappa, given weights",
        }
    }
}

/// Kappa of two examiners.
///
/// # Errors
/// [`Refusal::TooFew`] below five attempts, [`Refusal::OneCategory`] where chance alone agrees fully, [`Refusal::Ragged`] for
/// weights that do not fit.
///
/// # Source
/// `docs/sources.md#cohen-1968`; the standard error `docs/sources.md#fleiss-cohen-and-everitt-1969`.
pub fn kappa(table: &CrossTable, weights: &Weights, settings: &Settings) -> Result<Kappa, Refusal> {
    settings.check()?;
    let n = table.n() as usize;
    at_least("attempts that both rated", n, LEAST_ATTEMPTS)?;
    let similarity = weights.similarity(&table.categories)?;
    let parts = Parts::new(table, &similarity);
    if 1.0 - parts.expected < 1e-12 {
        return Err(Refusal::OneCategory);
    }
    let value = (parts.observed - parts.expected) / (1.0 - parts.expected);
    let error = if n < LEAST_FOR_ERROR {
        Err("fewer than 20 attempts: the large-sample error does not hold")
    } else if 1.0 - parts.observed < 1e-12 {
        Err("no disagreement seen: the large-sample error would be zero")
    } else {
        Ok(parts.standard_error(&similarity))
    };
    let z = normal_quantile(settings.upper());
    let interval = error.map(|error| Interval {
        low: (value - z * error).max(-1.0),
        high: (value + z * error).min(1.0),
        confidence: settings.confidence,
        method: "large-sample standard error",
    });
    Ok(Kappa {
        kappa: Estimate::maybe(value, interval, n, weights.method()),
        observed: parts.observed,
        expected: parts.expected,
        standard_error: error.ok(),
    })
}

/// Shares of the table, and agreement seen and expected.
struct Parts {
    n: f64,
    shares: Vec<Vec<f64>>,
    rows: Vec<f64>,
    columns: Vec<f64>,
    observed: f64,
    expected: f64,
}

impl Parts {
    fn new(table: &CrossTable, similarity: &[Vec<f64>]) -> Self {
        let n = f64::from(table.n());
        let shares: Vec<Vec<f64>> =
            table.counts.iter().map(|row| row.iter().map(|&count| f64::from(count) / n).collect()).collect();
        let rows: Vec<f64> = shares.iter().map(|row| row.iter().sum()).collect();
        let columns: Vec<f64> =
            (0..rows.len()).map(|column| shares.iter().map(|row| row[column]).sum()).collect();
        let over = |share: &dyn Fn(usize, usize) -> f64| -> f64 {
            let cells = (0..rows.len()).flat_map(|i| (0..rows.len()).map(move |j| (i, j)));
            cells.map(|(i, j)| similarity[i][j] * share(i, j)).sum()
        };
        let observed = over(&|i, j| shares[i][j]);
        let expected = over(&|i, j| rows[i] * columns[j]);
        Self { n, shares, rows, columns, observed, expected }
    }

    fn standard_error(&self, similarity: &[Vec<f64>]) -> f64 {
        let size = self.rows.len();
        let of_row: Vec<f64> =
            (0..size).map(|i| (0..size).map(|j| similarity[i][j] * self.columns[j]).sum()).collect();
        let of_column: Vec<f64> =
            (0..size).map(|j| (0..size).map(|i| similarity[i][j] * self.rows[i]).sum()).collect();
        let (seen, chance) = (1.0 - self.observed, 1.0 - self.expected);
        let mut sum = 0.0;
        for i in 0..size {
            for j in 0..size {
                let term = similarity[i][j] * chance - (of_row[i] + of_column[j]) * seen;
                sum += self.shares[i][j] * term * term;
            }
        }
        let centre = self.observed * self.expected - 2.0 * self.expected + self.observed;
        ((sum - centre * centre).max(0.0) / self.n).sqrt() / (chance * chance)
    }
}

fn from_disagreement(weights: &[Vec<f64>]) -> Vec<Vec<f64>> {
    let worst = weights.iter().flatten().fold(0.0_f64, |worst, &weight| worst.max(weight));
    let similar = |weight: &f64| if worst > 0.0 { 1.0 - weight / worst } else { 1.0 };
    weights.iter().map(|row| row.iter().map(similar).collect()).collect()
}

fn square(of: &'static str, size: usize, rows: impl ExactSizeIterator<Item = usize>) -> Result<(), Refusal> {
    let ragged = |index: usize, n: usize| Refusal::Ragged {
        of,
        index: index as u32,
        n: n as u32,
        expected: size as u32,
    };
    if rows.len() != size {
        return Err(ragged(rows.len(), 0));
    }
    rows.enumerate().find(|&(_, n)| n != size).map_or(Ok(()), |(index, n)| Err(ragged(index, n)))
}
