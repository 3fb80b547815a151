//! One examiner, or one instrument, against itself: the spread of repeats.

use serde::Serialize;

use crate::error::{at_least, finite};
use crate::stats::distribution::chi_squared_quantile;
use crate::stats::squares;
use crate::{Estimate, Interval, Refusal, Settings};

/// How far repeats of the same thing lie apart.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Repeatability {
    /// Standard deviation within a thing that was judged again; `n` counts the things with two values or more.
    pub within: Estimate,
    /// Two repeats differ by less 95 times in 100: 1.96 √2 times `within`.
    pub repeatability: f64,
    /// The coefficient of 1986: twice the root mean square of the differences of repeats, 2 √2 times `within`.
    pub repeatability_1986: f64,
    /// Degrees of freedom: values beyond the first of each thing.
    pub freedom: u32,
}

/// The spread within `repeats`: for each thing the values that were given to it, at least two of which say something.
///
/// # Errors
/// [`Refusal::TooFew`] below three things with repeats, [`Refusal::NotFinite`].
///
/// # Source
/// `docs/sources.md#bland-and-altman-1986`; the interval is that of a variance, from chi-squared.
pub fn repeatability(repeats: &[Vec<f64>], settings: &Settings) -> Result<Repeatability, Refusal> {
    settings.check()?;
    repeats.iter().try_for_each(|values| finite("the repeats of an attempt", values))?;
    let used: Vec<&Vec<f64>> = repeats.iter().filter(|values| values.len() > 1).collect();
    at_least("attempts judged more than once", used.len(), 3)?;
    let freedom: usize = used.iter().map(|values| values.len() - 1).sum();
    let sum: f64 = used.iter().map(|values| squares(values)).sum();
    let within = (sum / freedom as f64).sqrt();
    let interval = if sum == 0.0 {
        Err("repeats are all the same: their spread cannot be bounded")
    } else {
        let end = |p| (sum / chi_squared_quantile(p, freedom as f64)).sqrt();
        Ok(Interval {
            low: end(settings.upper()),
            high: end(1.0 - settings.upper()),
            confidence: settings.confidence,
            method: "chi-squared",
        })
    };
    Ok(Repeatability {
        within: Estimate::maybe(within, interval, used.len(), "within-subject standard deviation"),
        repeatability: 1.96 * 2.0_f64.sqrt() * within,
        repeatability_1986: 2.0 * 2.0_f64.sqrt() * within,
        freedom: freedom as u32,
    })
}
