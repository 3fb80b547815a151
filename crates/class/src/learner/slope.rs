//! A trend that a single odd value does not bend: the slope of Theil and Sen.

use crate::error::{at_least, finite};
use crate::stats::{median, sorted};
use crate::{Estimate, Interval, Refusal, Settings};

/// Points from which a slope is given.
const LEAST: u32 = 3;

/// Points up to which Kendall's distribution is counted; more attempts of one exercise nobody makes.
const MOST: usize = 200;

/// Median of the slopes between all pairs of points, with the interval from the exact distribution of Kendall's S (ties make it
/// longer than it need be). `n` counts points.
///
/// # Errors
/// [`Refusal::TooFew`] below three points, [`Refusal::Ragged`], [`Refusal::NotFinite`], [`Refusal::NoSpread`] where all `x` are
/// the same.
///
/// # Source
/// `docs/sources.md#sen-1968`.
pub fn theil_sen(x: &[f64], y: &[f64], settings: &Settings) -> Result<Estimate, Refusal> {
    settings.check()?;
    if x.len() != y.len() {
        let (n, expected) = (y.len() as u32, x.len() as u32);
        return Err(Refusal::Ragged { of: "list", index: 1, n, expected });
    }
    finite("the places in time", x)?;
    finite("the values", y)?;
    at_least("points", x.len(), LEAST)?;
    let mut slopes = Vec::new();
    for first in 0..x.len() {
        for second in first + 1..x.len() {
            if x[first] != x[second] {
                slopes.push((y[second] - y[first]) / (x[second] - x[first]));
            }
        }
    }
    if slopes.is_empty() {
        return Err(Refusal::NoSpread { of: "the places in time" });
    }
    let slopes = sorted(&slopes);
    Ok(Estimate::maybe(median(&slopes), interval(&slopes, x.len(), settings), x.len(), "Theil-Sen slope"))
}

/// The order statistics between which the slope lies.
fn interval(slopes: &[f64], n: usize, settings: &Settings) -> Result<Interval, &'static str> {
    if slopes.len() != n * (n - 1) / 2 {
        return Err("two points at the same time: the exact distribution does not hold");
    }
    if n > MOST {
        return Err("more than 200 points");
    }
    let cut = cut(n, 1.0 - settings.upper()).ok_or("too few points for an interval of this confidence")?;
    Ok(Interval {
        low: slopes[cut],
        high: slopes[slopes.len() - 1 - cut],
        confidence: settings.confidence,
        method: "exact distribution of Kendall's S, at least this confidence",
    })
}

/// How many slopes may be left out at either end: the greatest `c` such that at most `c` inversions are rarer than `tail`.
fn cut(n: usize, tail: f64) -> Option<usize> {
    let shares = inversions(n);
    let mut below = 0.0;
    let mut cut = None;
    for (count, share) in shares.iter().enumerate() {
        below += share;
        if below > tail + 1e-12 {
            break;
        }
        cut = Some(count);
    }
    cut
}

/// Share of the orders of `n` things that have 0, 1, 2 … inversions.
fn inversions(n: usize) -> Vec<f64> {
    let mut shares = vec![1.0];
    for size in 2..=n {
        let mut next = vec![0.0; shares.len() + size - 1];
        for (count, share) in shares.iter().enumerate() {
            next[count..count + size].iter_mut().for_each(|sum| *sum += share / size as f64);
        }
        shares = next;
    }
    shares
}

#[cfg(test)]
mod tests {
    use super::*;

    /// `docs/sources.md#sen-1968`: slope 4, limits 3.71 and 4.38.
    #[test]
    fn the_example_of_sen_1968() {
        let (x, y) = ([1.0, 2.0, 3.0, 4.0, 10.0, 12.0, 18.0], [9.0, 15.0, 19.0, 20.0, 45.0, 55.0, 78.0]);
        let estimate = theil_sen(&x, &y, &Settings::default()).unwrap();
        let interval = estimate.interval.unwrap();
        assert_eq!((estimate.value, estimate.n), (4.0, 7));
        assert!(
            (interval.low - 3.71).abs() <= 0.005 && (interval.high - 4.38).abs() <= 0.0051,
            "{interval:?}"
        );
        assert_eq!((interval.low, interval.high), (26.0 / 7.0, 35.0 / 8.0));
    }

    /// Orders of 4 by inversions: 1, 3, 5, 6, 5, 3, 1 of 24.
    #[test]
    fn inversions_are_counted() {
        let expected = [1.0, 3.0, 5.0, 6.0, 5.0, 3.0, 1.0].map(|count: f64| count / 24.0);
        assert!(inversions(4).iter().zip(expected).all(|(a, b)| (a - b).abs() < 1e-15));
    }

    /// Four points have 24 orders; the rarest two-sided result has 2/24.
    #[test]
    fn four_points_have_a_slope_and_no_interval() {
        let estimate = theil_sen(&[1.0, 2.0, 3.0, 4.0], &[4.0, 3.0, 2.0, 1.0], &Settings::default()).unwrap();
        assert_eq!((estimate.value, estimate.interval), (-1.0, None));
        let five: Vec<f64> = (1..6).map(f64::from).collect();
        assert!(theil_sen(&five, &five, &Settings::default()).unwrap().interval.is_some());
    }
}
