//! Quantiles of the usual distributions, by bisection of their distribution functions.

use statrs::distribution::{ChiSquared, ContinuousCDF, FisherSnedecor, Normal, StudentsT};

/// Standard normal.
pub(crate) fn normal_quantile(p: f64) -> f64 {
    Normal::new(0.0, 1.0).map_or(f64::NAN, |normal| bisect(p, -40.0, 40.0, |x| normal.cdf(x)))
}

/// Probability below `x` of the standard normal.
pub(crate) fn normal_below(x: f64) -> f64 {
    Normal::new(0.0, 1.0).map_or(f64::NAN, |normal| normal.cdf(x))
}

/// Student's t.
pub(crate) fn t_quantile(p: f64, freedom: f64) -> f64 {
    StudentsT::new(0.0, 1.0, freedom).map_or(f64::NAN, |t| bisect(p, -1e9, 1e9, |x| t.cdf(x)))
}

/// Fisher's F.
pub(crate) fn f_quantile(p: f64, above: f64, below: f64) -> f64 {
    FisherSnedecor::new(above, below).map_or(f64::NAN, |f| bisect(p, 0.0, 1e12, |x| f.cdf(x)))
}

/// Chi-squared.
pub(crate) fn chi_squared_quantile(p: f64, freedom: f64) -> f64 {
    ChiSquared::new(freedom).map_or(f64::NAN, |chi| bisect(p, 0.0, 1e9, |x| chi.cdf(x)))
}

/// Where the rising `below` reaches `p`, to the last digits: the library's own inverses stop at four to six.
fn bisect(p: f64, mut low: f64, mut high: f64, below: impl Fn(f64) -> f64) -> f64 {
    for _ in 0..200 {
        let middle = low + (high - low) / 2.0;
        if middle <= low || middle >= high {
            break;
        }
        if below(middle) < p { low = middle } else { high = middle }
    }
    low + (high - low) / 2.0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quantiles_of_closed_forms() {
        // Two degrees of freedom: t² = 2 q²/(1 − q²) with q = 2p − 1.
        let q: f64 = 2.0 * 0.975 - 1.0;
        assert!((t_quantile(0.975, 2.0) - q * (2.0 / (1.0 - q * q)).sqrt()).abs() < 1e-8);
        // Two and two: F = p/(1 − p). Chi-squared with two: −2 ln(1 − p).
        assert!((f_quantile(0.975, 2.0, 2.0) - 39.0).abs() < 1e-6);
        assert!((chi_squared_quantile(0.9, 2.0) + 2.0 * 0.1_f64.ln()).abs() < 1e-8);
    }

    /// Of scipy, see `tests/reference`.
    #[test]
    fn quantiles_of_a_reference_library() {
        let reference: serde_json::Value =
            serde_json::from_str(include_str!("../../tests/reference/reference.json")).unwrap();
        let mut n_checked = 0;
        for name in ["f", "t", "chi_squared", "normal"] {
            for case in reference["quantiles"][name].as_array().unwrap() {
                let case: Vec<f64> = case.as_array().unwrap().iter().map(|n| n.as_f64().unwrap()).collect();
                let value = match name {
                    "f" => f_quantile(case[0], case[1], case[2]),
                    "t" => t_quantile(case[0], case[1]),
                    "chi_squared" => chi_squared_quantile(case[0], case[1]),
                    _ => normal_quantile(case[0]),
                };
                let expected = case[case.len() - 1];
                assert!(
                    (value - expected).abs() <= 1e-9 * expected.abs().max(1.0),
                    "{name} {case:?}: {value}"
                );
                n_checked += 1;
            }
        }
        assert_eq!(n_checked, 14);
    }
}
