//! A line through noisy values, or a parabola where they bend for sure.

use crate::stats::quadratic;

/// A line, or a parabola where the values bend for sure: `value(x) = c[0] + c[1] x + c[2] x²`.
#[derive(Debug, Clone, Copy)]
pub struct Trend([f64; 3]);

impl Trend {
    /// Least squares through `(x, value)` pairs.
    pub fn through(pairs: &[(f64, f64)]) -> Option<Self> {
        if pairs.len() < 3 {
            return None;
        }
        let n = pairs.len() as f64;
        let mean_x = pairs.iter().map(|pair| pair.0).sum::<f64>() / n;
        let mean_y = pairs.iter().map(|pair| pair.1).sum::<f64>() / n;
        let spread: f64 = pairs.iter().map(|pair| (pair.0 - mean_x).powi(2)).sum();
        let slope = pairs.iter().map(|pair| (pair.0 - mean_x) * (pair.1 - mean_y)).sum::<f64>() / spread;
        if !slope.is_finite() {
            return None;
        }
        let line = Self([mean_y - slope * mean_x, slope, 0.0]);
        if pairs.len() < 8 {
            return Some(line);
        }
        let curve = Self(quadratic(pairs, &vec![1.0; pairs.len()])?);
        Some(if curve.rms(pairs, 3.0) < 0.8 * line.rms(pairs, 2.0) { curve } else { line })
    }

    /// Its value.
    pub fn at(&self, x: f64) -> f64 {
        self.0[0] + self.0[1] * x + self.0[2] * x * x
    }

    fn rms(&self, pairs: &[(f64, f64)], n_free: f64) -> f64 {
        let squares: f64 = pairs.iter().map(|&(x, y)| (y - self.at(x)).powi(2)).sum();
        (squares / (pairs.len() as f64 - n_free)).sqrt()
    }

    /// Where the values, which grow with `x`, began at zero; `None` if they hardly grow.
    pub fn root(&self) -> Option<f64> {
        const LEAST_SLOPE: f64 = 0.05;
        let [c0, c1, c2] = self.0;
        if c2 == 0.0 {
            return (c1 > LEAST_SLOPE).then(|| -c0 / c1);
        }
        let discriminant = c1 * c1 - 4.0 * c0 * c2;
        if discriminant < 0.0 {
            return None;
        }
        // Of the two roots the one where the values grow: slope +√discriminant.
        let root = (discriminant.sqrt() - c1) / (2.0 * c2);
        (discriminant.sqrt() > LEAST_SLOPE).then_some(root)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_straight_row_stays_a_line_and_a_bent_one_bends() {
        let row = |value: fn(f64) -> f64| {
            (1..12).map(|k| 0.1 * f64::from(k)).map(|x| (x, value(x))).collect::<Vec<_>>()
        };
        let line = Trend::through(&row(|x| 2.0 * x - 0.5)).unwrap();
        assert!((line.root().unwrap() - 0.25).abs() < 1e-12);
        let curve = Trend::through(&row(|x| (x + 0.2) * (x + 0.2) + 0.3 * (x + 0.2))).unwrap();
        // The fit is damped by 1e-9, which keeps flat data solvable.
        assert!((curve.root().unwrap() + 0.2).abs() < 1e-6, "{curve:?}");
        assert!(Trend::through(&row(|_| 1.0)).unwrap().root().is_none());
    }
}
