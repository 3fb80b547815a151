//! A mean with its interval.

use super::distribution::t_quantile;
use super::{deviation, mean};
use crate::error::{at_least, finite};
use crate::{Estimate, Interval, Refusal, Settings};

/// Values from which a mean is given.
const LEAST: u32 = 3;

/// Mean of `values` with the interval from Student's t.
pub(crate) fn mean_of(
    values: &[f64],
    of: &'static str,
    method: &'static str,
    settings: &Settings,
) -> Result<Estimate, Refusal> {
    settings.check()?;
    finite(of, values)?;
    at_least(of, values.len(), LEAST)?;
    let (n, value) = (values.len(), mean(values));
    let spread = deviation(values);
    let interval = if spread == 0.0 {
        Err("all values are the same: their spread cannot be bounded")
    } else {
        let reach = t_quantile(settings.upper(), n as f64 - 1.0) * spread / (n as f64).sqrt();
        Ok(Interval {
            low: value - reach,
            high: value + reach,
            confidence: settings.confidence,
            method: "t distribution",
        })
    };
    Ok(Estimate::maybe(value, interval, n, method))
}
