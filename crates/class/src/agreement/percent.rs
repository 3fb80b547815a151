//! How often examiners give the same.

use super::LEAST_ATTEMPTS;
use crate::error::{at_least, finite};
use crate::stats::mean;
use crate::stats::proportion::wilson;
use crate::stats::resample::bootstrap;
use crate::{Estimate, Refusal, Settings};

/// What arithmetic on decimal fractions leaves.
const ROUNDING: f64 = 1e-9;

/// Share of the attempts to which two examiners gave values no more than `apart` from each other (0: the same). Says nothing of
/// chance: beside it stands kappa.
///
/// # Errors
/// [`Refusal::TooFew`] of nothing, [`Refusal::Ragged`], [`Refusal::NotFinite`].
pub fn percent_of_two(
    first: &[f64],
    second: &[f64],
    apart: f64,
    settings: &Settings,
) -> Result<Estimate, Refusal> {
    super::same_length(first, second)?;
    finite("the first examiner's ratings", first)?;
    finite("the second examiner's ratings", second)?;
    at_least("attempts that both rated", first.len(), 1)?;
    let same = first.iter().zip(second).filter(|(a, b)| (*a - *b).abs() <= apart + ROUNDING).count();
    let share = wilson(same as u32, first.len() as u32, settings)?;
    Ok(Estimate { method: "share of attempts with agreement", ..share })
}

/// Mean share of pairs of examiners that agree on an attempt, over attempts with two ratings or more; `n` counts those.
///
/// # Errors
/// [`Refusal::TooFew`] below five attempts, [`Refusal::NotFinite`].
pub fn percent_of_all(
    rows: &[Vec<Option<f64>>],
    apart: f64,
    settings: &Settings,
) -> Result<Estimate, Refusal> {
    settings.check()?;
    let given: Vec<Vec<f64>> = rows.iter().map(|row| row.iter().flatten().copied().collect()).collect();
    given.iter().try_for_each(|row| finite("the ratings of an attempt", row))?;
    let shares: Vec<f64> = given.iter().filter(|row| row.len() > 1).map(|row| of_pairs(row, apart)).collect();
    at_least("attempts with two ratings or more", shares.len(), LEAST_ATTEMPTS)?;
    let interval = if shares.iter().all(|&share| share == shares[0]) {
        Err("every attempt has the same share: resampling would show no spread")
    } else {
        bootstrap(shares.len(), settings, |drawn| {
            Some(mean(&drawn.iter().map(|&index| shares[index]).collect::<Vec<f64>>()))
        })
    };
    Ok(Estimate::maybe(mean(&shares), interval, shares.len(), "mean share of agreeing pairs of examiners"))
}

fn of_pairs(row: &[f64], apart: f64) -> f64 {
    let mut same = 0_u32;
    for (index, a) in row.iter().enumerate() {
        same += row[index + 1..].iter().filter(|b| (a - **b).abs() <= apart + ROUNDING).count() as u32;
    }
    f64::from(same) / (row.len() * (row.len() - 1) / 2) as f64
}
