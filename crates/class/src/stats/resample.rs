//! Percentile intervals by resampling whole units.

use super::random::Random;
use super::{quantile, sorted};
use crate::{Interval, Settings};

/// Fewest units that are resampled: below, the same few values come up again and again and the interval is too short.
pub(crate) const LEAST_UNITS: usize = 5;

/// Share of the draws for which the statistic has to exist.
const LEAST_SHARE: f64 = 0.9;

/// The percentile bootstrap (`docs/sources.md#efron-and-tibshirani-1993`): units are drawn with replacement, `statistic` gets
/// their indices and says nothing where it is not defined.
pub(crate) fn bootstrap(
    n: usize,
    settings: &Settings,
    mut statistic: impl FnMut(&[usize]) -> Option<f64>,
) -> Result<Interval, &'static str> {
    if n < LEAST_UNITS {
        return Err("fewer than five units to resample");
    }
    if settings.draws < 100 {
        return Err("fewer than a hundred draws asked for");
    }
    let mut random = Random::new(settings.seed);
    let mut drawn = vec![0; n];
    let mut values = Vec::with_capacity(settings.draws as usize);
    for _ in 0..settings.draws {
        drawn.fill_with(|| random.below(n));
        values.extend(statistic(&drawn));
    }
    if (values.len() as f64) < LEAST_SHARE * f64::from(settings.draws) {
        return Err("too many of the resamples have no spread");
    }
    let ascending = sorted(&values);
    Ok(Interval {
        low: quantile(&ascending, 1.0 - settings.upper()),
        high: quantile(&ascending, settings.upper()),
        confidence: settings.confidence,
        method: "percentile bootstrap over units",
    })
}
