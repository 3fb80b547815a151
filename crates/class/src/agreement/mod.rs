//! How far examiners agree with each other, with themselves, and with what was measured.

mod alpha;
mod bland_altman;
mod fleiss;
mod icc;
mod kappa;
mod measured;
mod overview;
mod percent;
mod repeatability;

pub use alpha::{Scale, alpha};
pub use bland_altman::{BlandAltman, Width, bland_altman};
pub use fleiss::{FleissKappa, category_counts, fleiss_kappa};
pub use icc::{MeanSquares, Model, Unit, icc};
pub use kappa::{CrossTable, Kappa, Weights, kappa};
pub use measured::{AgainstMeasured, against_measured};
pub use overview::{Overview, Pair, Repeats, overview};
pub use percent::{percent_of_all, percent_of_two};
pub use repeatability::{Repeatability, repeatability};

use crate::Refusal;

/// Attempts below which no coefficient of agreement is given: one rating more or less would turn it over. No source; a choice of
/// engineering.
pub const LEAST_ATTEMPTS: u32 = 5;

fn same_length(first: &[f64], second: &[f64]) -> Result<(), Refusal> {
    if first.len() == second.len() {
        return Ok(());
    }
    let (n, expected) = (second.len() as u32, first.len() as u32);
    Err(Refusal::Ragged { of: "list", index: 1, n, expected })
}
