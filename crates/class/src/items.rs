//! The criteria of an exercise as items of a test: how hard, how telling, and how reliable the grade.

use serde::Serialize;

use crate::error::{at_least, finite};
use crate::stats::distribution::{f_quantile, normal_quantile};
use crate::stats::location::mean_of;
use crate::stats::{correlation, squares, wilson};
use crate::{Answer, Estimate, Interval, Refusal, Settings};

/// Learners below which items and grades are not judged. No source; a choice of engineering.
pub const LEAST_LEARNERS: u32 = 5;

/// One criterion as it is scored.
#[derive(Debug, Clone, PartialEq)]
pub struct Item {
    /// The criterion.
    pub name: String,
    /// Most points that it gives.
    pub most: f64,
}

/// How one criterion works.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS))]
pub struct ItemStatistics {
    /// The criterion.
    pub name: String,
    /// Mean share of its points that was won: near 1 it is easy. `n` counts learners.
    pub difficulty: Answer<Estimate>,
    /// Correlation with the sum of the other criteria: near 0 or below, it does not separate those who can from those who cannot.
    pub discrimination: Answer<Estimate>,
}

/// What a test of these criteria is worth.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS))]
pub struct ItemReport {
    /// Each criterion, in the order given.
    pub items: Vec<ItemStatistics>,
    /// Cronbach's alpha, or KR-20 where every criterion gives all or nothing; the result says which.
    pub reliability: Answer<Estimate>,
    /// Learners whose scores were complete.
    pub n: u32,
    /// Learners left out for a missing score.
    pub n_incomplete: u32,
}

/// Difficulty, discrimination and reliability of `scores`: a row for each learner, a column for each item; none where a score is
/// missing. Rows with a missing score are left out and counted.
///
/// # Errors
/// [`Refusal::Ragged`], [`Refusal::NotFinite`], [`Refusal::OutOfRange`] for points below zero or above the item's most,
/// [`Refusal::TooFew`] below five complete rows.
///
/// # Source
/// `docs/sources.md#cronbach-1951`, interval `docs/sources.md#feldt-1965`; correlations `docs/sources.md#fisher-transformation`.
pub fn items(
    scores: &[Vec<Option<f64>>],
    items: &[Item],
    settings: &Settings,
) -> Result<ItemReport, Refusal> {
    settings.check()?;
    for (index, row) in scores.iter().enumerate() {
        if row.len() != items.len() {
            let (n, expected) = (row.len() as u32, items.len() as u32);
            return Err(Refusal::Ragged { of: "row of scores", index: index as u32, n, expected });
        }
        finite("a row of scores", &row.iter().flatten().copied().collect::<Vec<f64>>())?;
    }
    let rows: Vec<Vec<f64>> = scores.iter().filter_map(|row| row.iter().copied().collect()).collect();
    at_least("learners with complete scores", rows.len(), LEAST_LEARNERS)?;
    for (item, index) in items.iter().zip(0..) {
        check_range(item, &column(&rows, index))?;
    }
    let of = |(index, item): (usize, &Item)| ItemStatistics {
        name: item.name.clone(),
        difficulty: difficulty(&column(&rows, index), item.most, settings).into(),
        discrimination: discrimination(&rows, index, settings).into(),
    };
    Ok(ItemReport {
        items: items.iter().enumerate().map(of).collect(),
        reliability: reliability(&rows, items, settings).into(),
        n: rows.len() as u32,
        n_incomplete: (scores.len() - rows.len()) as u32,
    })
}

fn check_range(item: &Item, points: &[f64]) -> Result<(), Refusal> {
    if item.most <= 0.0 || !item.most.is_finite() {
        return Err(Refusal::OutOfRange { value: item.most, expected: "a most that is above zero" });
    }
    let fits = |points: f64| (0.0..=item.most).contains(&points);
    match points.iter().find(|&&points| !fits(points)) {
        Some(&value) => Err(Refusal::OutOfRange { value, expected: "between zero and the most of its item" }),
        None => Ok(()),
    }
}

fn column(rows: &[Vec<f64>], index: usize) -> Vec<f64> {
    rows.iter().map(|row| row[index]).collect()
}

fn all_or_nothing(points: &[f64], most: f64) -> bool {
    points.iter().all(|&points| points == 0.0 || points == most)
}

fn difficulty(points: &[f64], most: f64, settings: &Settings) -> Result<Estimate, Refusal> {
    if all_or_nothing(points, most) {
        let won = points.iter().filter(|&&points| points == most).count();
        return Ok(Estimate {
            method: "share of learners who won it",
            ..wilson(won as u32, points.len() as u32, settings)?
        });
    }
    let shares: Vec<f64> = points.iter().map(|points| points / most).collect();
    let mut estimate = mean_of(&shares, "learners", "mean share of points won", settings)?;
    if let Some(interval) = &mut estimate.interval {
        interval.low = interval.low.max(0.0);
        interval.high = interval.high.min(1.0);
    }
    Ok(estimate)
}

/// Correlation of one item with the sum of the others.
fn discrimination(rows: &[Vec<f64>], index: usize, settings: &Settings) -> Result<Estimate, Refusal> {
    at_least("items", rows[0].len(), 2)?;
    let own = column(rows, index);
    let rest: Vec<f64> = rows.iter().map(|row| row.iter().sum::<f64>() - row[index]).collect();
    if own.iter().all(|&points| points == own[0]) {
        return Err(Refusal::NoSpread { of: "this item's points" });
    }
    let value = correlation(&own, &rest).ok_or(Refusal::NoSpread { of: "the other items' points" })?;
    let interval = if 1.0 - value.abs() < 1e-12 {
        Err("a perfect correlation has no interval")
    } else {
        let reach = normal_quantile(settings.upper()) / (rows.len() as f64 - 3.0).sqrt();
        Ok(Interval {
            low: (value.atanh() - reach).tanh(),
            high: (value.atanh() + reach).tanh(),
            confidence: settings.confidence,
            method: "Fisher transformation",
        })
    };
    Ok(Estimate::maybe(value, interval, rows.len(), "corrected item-total correlation"))
}

/// k/(k − 1) · (1 − sum of the items' variances/variance of the sum).
fn reliability(rows: &[Vec<f64>], items: &[Item], settings: &Settings) -> Result<Estimate, Refusal> {
    let (n, k) = (rows.len(), items.len());
    at_least("items", k, 2)?;
    let totals: Vec<f64> = rows.iter().map(|row| row.iter().sum()).collect();
    let whole = squares(&totals);
    let parts: f64 = (0..k).map(|index| squares(&column(rows, index))).sum();
    // Sums that should be equal differ by rounding.
    if whole <= 1e-18 * parts {
        return Err(Refusal::NoSpread { of: "the learners' sums" });
    }
    let alpha = k as f64 / (k as f64 - 1.0) * (1.0 - parts / whole);
    let binary =
        items.iter().enumerate().all(|(index, item)| all_or_nothing(&column(rows, index), item.most));
    // KR-20 is alpha where items give one point or none; other weights make it alpha again.
    let method = if binary && items.iter().all(|item| item.most == items[0].most) {
        "KR-20"
    } else {
        "Cronbach's alpha"
    };
    let interval = if 1.0 - alpha < 1e-12 {
        Err("all items say the same: the interval would be a point")
    } else {
        let (free, rest) = (n as f64 - 1.0, (n as f64 - 1.0) * (k as f64 - 1.0));
        Ok(Interval {
            low: 1.0 - (1.0 - alpha) * f_quantile(settings.upper(), free, rest),
            high: 1.0 - (1.0 - alpha) * f_quantile(1.0 - settings.upper(), free, rest),
            confidence: settings.confidence,
            method: "F distribution",
        })
    };
    Ok(Estimate::maybe(alpha, interval, n, method))
}
