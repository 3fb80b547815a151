//! A share of a count, with its interval.

use super::distribution::normal_quantile;
use crate::{Estimate, Interval, Refusal, Settings};

/// The share `hits` of `n` with Wilson's score interval, which stays inside 0 … 1 and holds for small numbers and for none
/// or all.
///
/// # Errors
/// [`Refusal::TooFew`] of nothing, [`Refusal::OutOfRange`] for more hits than there are.
///
/// # Source
/// `docs/sources.md#newcombe-1998`.
pub fn wilson(hits: u32, n: u32, settings: &Settings) -> Result<Estimate, Refusal> {
    settings.check()?;
    crate::error::at_least("attempts", n as usize, 1)?;
    if hits > n {
        return Err(Refusal::OutOfRange { value: f64::from(hits), expected: "at most the whole count" });
    }
    let (n_f, share) = (f64::from(n), f64::from(hits) / f64::from(n));
    let z = normal_quantile(settings.upper());
    let scale = 1.0 / (1.0 + z * z / n_f);
    let centre = scale * (share + z * z / (2.0 * n_f));
    let half = scale * z * (share * (1.0 - share) / n_f + z * z / (4.0 * n_f * n_f)).sqrt();
    let interval = Interval {
        // At the ends the formula gives 0 and 1 but for rounding.
        low: if hits == 0 { 0.0 } else { centre - half },
        high: if hits == n { 1.0 } else { centre + half },
        confidence: settings.confidence,
        method: "Wilson score",
    };
    Ok(Estimate::with(share, interval, n as usize, "share of the count"))
}
