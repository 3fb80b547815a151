//! Median and its kin.

/// Factor from the median absolute deviation to the standard deviation of a normal distribution, 1 / Φ⁻¹(3/4).
pub const MAD_TO_SIGMA: f64 = 1.482_602_218_505_602;

/// The middle value, or the mean of the two middle ones; `None` for no values.
pub fn median(values: &[f64]) -> Option<f64> {
    percentile(values, 50.0)
}

/// Median of the absolute deviations from the median; `None` for no values.
///
/// Multiply by [`MAD_TO_SIGMA`] for a robust standard deviation.
pub fn mad(values: &[f64]) -> Option<f64> {
    let centre = median(values)?;
    let deviations: Vec<f64> = values.iter().map(|value| (value - centre).abs()).collect();
    median(&deviations)
}

/// The value below which `percent` (0 to 100) of the values lie, linear between neighbours; `None` for no values.
///
/// Rank `percent / 100 · (n − 1)`, counted from 0: definition 7 of R. J. Hyndman and Y. Fan, Sample quantiles
/// in statistical packages, The American Statistician 50(4), 1996, 361–365.
pub fn percentile(values: &[f64], percent: f64) -> Option<f64> {
    let last = values.len().checked_sub(1)?;
    let rank = (percent / 100.0).clamp(0.0, 1.0) * last as f64;
    let below = rank.floor() as usize;
    let mut sorted = values.to_vec();
    let (_, &mut low, above) = sorted.select_nth_unstable_by(below, f64::total_cmp);
    let high = above.iter().copied().min_by(f64::total_cmp).unwrap_or(low);
    Some(low + (high - low) * (rank - below as f64))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn percentiles_are_linear_between_ranks() {
        let values = [4.0, 1.0, 3.0, 2.0];
        assert_eq!(percentile(&values, 0.0), Some(1.0));
        assert_eq!(percentile(&values, 100.0), Some(4.0));
        assert_eq!(median(&values), Some(2.5));
        assert_eq!(percentile(&values, 25.0), Some(1.75));
        assert_eq!(percentile(&[7.0], 5.0), Some(7.0));
        assert_eq!(percentile(&[], 5.0), None);
    }

    #[test]
    fn mad_ignores_an_outlier() {
        assert_eq!(mad(&[1.0, 1.0, 2.0, 2.0, 4.0, 6.0, 900.0]), Some(1.0));
    }
}
