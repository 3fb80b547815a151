//! A statistic with what it rests on.

use serde::Serialize;

/// Both ends of an interval that holds the true value with a stated confidence.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS))]
pub struct Interval {
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
    /// Share of such intervals that hold the true value, 0.95 as a rule.
    pub confidence: f64,
    /// How it was made.
    pub method: &'static str,
}

/// A statistic, its interval, how many it rests on, and the definition used.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS))]
pub struct Estimate {
    /// The statistic.
    pub value: f64,
    /// Its interval; none where `without_interval` says why.
    pub interval: Option<Interval>,
    /// Why there is no interval.
    pub without_interval: Option<&'static str>,
    /// Independent units it rests on: attempts, learners or pairs, as the function says.
    pub n: u32,
    /// The definition, in words.
    pub method: &'static str,
}

impl Estimate {
    pub(crate) fn with(value: f64, interval: Interval, n: usize, method: &'static str) -> Self {
        Self { value, interval: Some(interval), without_interval: None, n: n as u32, method }
    }

    pub(crate) fn bare(value: f64, why: &'static str, n: usize, method: &'static str) -> Self {
        Self { value, interval: None, without_interval: Some(why), n: n as u32, method }
    }

    pub(crate) fn maybe(
        value: f64,
        interval: Result<Interval, &'static str>,
        n: usize,
        method: &'static str,
    ) -> Self {
        match interval {
            Ok(interval) => Self::with(value, interval, n, method),
            Err(why) => Self::bare(value, why, n, method),
        }
    }
}

/// How intervals are made: their confidence, and the draws and the seed of those that resample.
///
/// The same seed gives the same interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Settings {
    /// Between 0 and 1.
    pub confidence: f64,
    /// Resamples of a bootstrap or of a random permutation.
    pub draws: u32,
    /// Where the random numbers begin.
    pub seed: u64,
}

impl Default for Settings {
    fn default() -> Self {
        Self { confidence: 0.95, draws: 2000, seed: 1 }
    }
}

impl Settings {
    /// Refuses a confidence that is none.
    pub(crate) fn check(&self) -> Result<(), crate::Refusal> {
        if self.confidence > 0.0 && self.confidence < 1.0 {
            return Ok(());
        }
        Err(crate::Refusal::OutOfRange {
            value: self.confidence,
            expected: "a confidence between 0 and 1, as 0.95",
        })
    }

    /// Probability below the upper end of a two-sided interval.
    pub(crate) fn upper(&self) -> f64 {
        0.5 + self.confidence / 2.0
    }
}
