//! The arithmetic that every statistic here uses.

pub(crate) mod distribution;
pub(crate) mod location;
pub(crate) mod proportion;
pub(crate) mod random;
pub(crate) mod resample;

pub use proportion::wilson;

/// The arithmetic mean; of nothing it is not a number.
pub(crate) fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}

/// Sum of squared distances from the mean; exactly zero where all values are the same.
pub(crate) fn squares(values: &[f64]) -> f64 {
    if values.iter().all(|value| *value == values[0]) {
        return 0.0;
    }
    let mean = mean(values);
    values.iter().map(|value| (value - mean).powi(2)).sum()
}

/// Standard deviation of a sample, with n − 1.
pub(crate) fn deviation(values: &[f64]) -> f64 {
    (squares(values) / (values.len() as f64 - 1.0)).sqrt()
}

/// Pearson's correlation, none where one of the two has no spread.
pub(crate) fn correlation(x: &[f64], y: &[f64]) -> Option<f64> {
    let (mean_x, mean_y) = (mean(x), mean(y));
    let both: f64 = x.iter().zip(y).map(|(a, b)| (a - mean_x) * (b - mean_y)).sum();
    let spread = (squares(x) * squares(y)).sqrt();
    let size: f64 = (x.iter().map(|a| a * a).sum::<f64>() * y.iter().map(|b| b * b).sum::<f64>()).sqrt();
    // Sums that should be equal differ by rounding.
    (spread > 1e-13 * size).then(|| (both / spread).clamp(-1.0, 1.0))
}

/// Ascending, with a total order.
pub(crate) fn sorted(values: &[f64]) -> Vec<f64> {
    let mut ascending = values.to_vec();
    ascending.sort_by(f64::total_cmp);
    ascending
}

/// The quantile by linear interpolation between order statistics at 1 + (n − 1) p.
///
/// # Source
/// Definition 7 of `docs/sources.md#hyndman-and-fan-1996`.
pub(crate) fn quantile(ascending: &[f64], p: f64) -> f64 {
    let place = (ascending.len() - 1) as f64 * p;
    let below = (place.floor() as usize).min(ascending.len() - 1);
    let above = (below + 1).min(ascending.len() - 1);
    ascending[below] + (place - below as f64) * (ascending[above] - ascending[below])
}

/// The median.
pub(crate) fn median(values: &[f64]) -> f64 {
    quantile(&sorted(values), 0.5)
}

/// The different values, ascending.
pub(crate) fn distinct(values: impl IntoIterator<Item = f64>) -> Vec<f64> {
    // Adding zero turns -0.0 into 0.0, which are one category.
    let mut all: Vec<f64> = values.into_iter().map(|value| value + 0.0).collect();
    all.sort_by(f64::total_cmp);
    all.dedup();
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quartiles_interpolate() {
        let values = [1.0, 2.0, 3.0, 4.0];
        assert_eq!([0.0, 0.25, 0.5, 0.75, 1.0].map(|p| quantile(&values, p)), [1.0, 1.75, 2.5, 3.25, 4.0]);
        assert_eq!(quantile(&[7.0], 0.25), 7.0);
    }

    /// 0.1 + 0.1 + 0.1 divided by three is not 0.1.
    #[test]
    fn equal_values_have_no_spread() {
        assert_eq!((squares(&[0.1; 3]), deviation(&[0.1; 3])), (0.0, 0.0));
        assert_eq!(correlation(&[1.0, 2.0, 3.0], &[0.1 + 0.2, 0.3, 0.3]), None);
    }

    #[test]
    fn both_zeros_are_one_category() {
        assert_eq!(distinct([0.0, -0.0, 1.0]), [0.0, 1.0]);
    }
}
