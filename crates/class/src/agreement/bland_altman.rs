//! Two ways of measuring the same in the same unit: bias and limits of agreement.

use serde::Serialize;

use crate::error::{at_least, finite};
use crate::stats::distribution::t_quantile;
use crate::stats::{correlation, deviation, mean, squares};
use crate::{Estimate, Interval, Refusal, Settings};

/// How many standard deviations the limits lie from the bias: the two conventions differ by 2 %, so each result names its own.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Width {
    /// Two, as the paper of 1986 has it.
    Two,
    /// 1.96, as later papers have it.
    Normal,
}

impl Width {
    /// The factor.
    pub fn factor(self) -> f64 {
        match self {
            Self::Two => 2.0,
            Self::Normal => 1.96,
        }
    }
}

/// Agreement of two ways of measuring.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct BlandAltman {
    /// Mean of first − second; `n` counts pairs.
    pub bias: Estimate,
    /// Standard deviation of the differences.
    pub deviation: f64,
    /// Standard error of the bias.
    pub bias_error: f64,
    /// Limits between which about 95 % of the differences lie.
    pub lower_limit: Estimate,
    /// The upper one.
    pub upper_limit: Estimate,
    /// Standard error of either limit, √3 times that of the bias.
    pub limit_error: f64,
    /// Standard deviations from the bias to a limit.
    pub width: Width,
    /// Correlation of the two, which says nothing of agreement; none without spread.
    pub correlation: Option<f64>,
    /// Slope of the difference over the mean of the two: how the bias grows with what is measured. None without spread of either.
    pub proportional: Option<Estimate>,
}

/// Compares `first` with `second`, pair by pair.
///
/// # Errors
/// [`Refusal::TooFew`] below three pairs, [`Refusal::Ragged`], [`Refusal::NotFinite`].
///
/// # Source
/// `docs/sources.md#bland-and-altman-1986`.
pub fn bland_altman(
    first: &[f64],
    second: &[f64],
    width: Width,
    settings: &Settings,
) -> Result<BlandAltman, Refusal> {
    settings.check()?;
    super::same_length(first, second)?;
    finite("the first values", first)?;
    finite("the second values", second)?;
    at_least("pairs", first.len(), 3)?;
    let n = first.len();
    let differences: Vec<f64> = first.iter().zip(second).map(|(a, b)| a - b).collect();
    let (bias, deviation) = (mean(&differences), deviation(&differences));
    let bias_error = deviation / (n as f64).sqrt();
    let limit_error = 3.0_f64.sqrt() * bias_error;
    let reach = t_quantile(settings.upper(), n as f64 - 1.0);
    let with = |value: f64, error: f64, method| {
        // Rounding alone does not make a spread.
        let interval = if is_spread(&differences) {
            Ok(around(value, reach * error, settings))
        } else {
            Err("all differences are the same: their spread cannot be bounded")
        };
        Estimate::maybe(value, interval, n, method)
    };
    let limit = width.factor() * deviation;
    let (lower, upper) = match width {
        Width::Two => ("bias − 2 standard deviations", "bias + 2 standard deviations"),
        Width::Normal => ("bias − 1.96 standard deviations", "bias + 1.96 standard deviations"),
    };
    Ok(BlandAltman {
        bias: with(bias, bias_error, "mean of first − second"),
        lower_limit: with(bias - limit, limit_error, lower),
        upper_limit: with(bias + limit, limit_error, upper),
        proportional: proportional(first, second, &differences, settings),
        correlation: correlation(first, second),
        deviation,
        bias_error,
        limit_error,
        width,
    })
}

/// Whether values differ by more than their rounding.
fn is_spread(values: &[f64]) -> bool {
    squares(values) > 1e-20 * mean(values).powi(2).max(1.0)
}

fn around(value: f64, reach: f64, settings: &Settings) -> Interval {
    Interval {
        low: value - reach,
        high: value + reach,
        confidence: settings.confidence,
        method: "t distribution",
    }
}

/// Least squares of the difference over the mean.
fn proportional(first: &[f64], second: &[f64], differences: &[f64], settings: &Settings) -> Option<Estimate> {
    let means: Vec<f64> = first.iter().zip(second).map(|(a, b)| (a + b) / 2.0).collect();
    let (n, spread) = (means.len(), squares(&means));
    let centre = mean(&means);
    if !is_spread(&means) || !is_spread(differences) {
        return None;
    }
    let slope = means.iter().zip(differences).map(|(x, y)| (x - centre) * y).sum::<f64>() / spread;
    let bias = mean(differences);
    let left =
        means.iter().zip(differences).map(|(x, y)| (y - bias - slope * (x - centre)).powi(2)).sum::<f64>();
    let freedom = n as f64 - 2.0;
    let error = (left / freedom / spread).sqrt();
    let interval = around(slope, t_quantile(settings.upper(), freedom) * error, settings);
    Some(Estimate::with(slope, interval, n, "slope of the difference over the mean, least squares"))
}
