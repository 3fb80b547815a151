//! Smooth curves through equally spaced nodes: cubic Hermite pieces with fourth-order tangents.

/// `C` functions of one variable, given at equally spaced nodes.
///
/// Once continuously differentiable; with node spacing `d` it departs from a smooth function by the order of `d⁴`.
#[derive(Debug, Clone)]
pub struct Spline<const C: usize> {
    start: f64,
    step: f64,
    values: Vec<[f64; C]>,
    slopes: Vec<[f64; C]>,
    periodic: bool,
}

impl<const C: usize> Spline<C> {
    /// A closed curve over `[0, 2π)`: node `i` lies at `2π·i/n`.
    pub fn periodic(values: Vec<[f64; C]>) -> Self {
        let step = std::f64::consts::TAU / values.len() as f64;
        Self::build(0.0, step, values, true)
    }

    /// An open curve from `start`, constant beyond its ends.
    pub fn clamped(start: f64, step: f64, values: Vec<[f64; C]>) -> Self {
        Self::build(start, step, values, false)
    }

    fn build(start: f64, step: f64, values: Vec<[f64; C]>, periodic: bool) -> Self {
        let n = values.len() as i64;
        let node = |i: i64| {
            let at = if periodic { i.rem_euclid(n) } else { i.clamp(0, n - 1) };
            &values[at as usize]
        };
        let slope = |i: i64, c: usize| {
            (8.0 * (node(i + 1)[c] - node(i - 1)[c]) - node(i + 2)[c] + node(i - 2)[c]) / 12.0
        };
        let slopes = (0..n).map(|i| std::array::from_fn(|c| slope(i, c))).collect();
        Self { start, step, values, slopes, periodic }
    }

    /// Number of nodes.
    pub fn n_nodes(&self) -> usize {
        self.values.len()
    }

    /// The values at `x`.
    pub fn at(&self, x: f64) -> [f64; C] {
        let (i, j, t) = self.piece(x);
        let (t2, t3) = (t * t, t * t * t);
        let weights = [2.0 * t3 - 3.0 * t2 + 1.0, t3 - 2.0 * t2 + t, 3.0 * t2 - 2.0 * t3, t3 - t2];
        self.mix(i, j, weights, 1.0)
    }

    /// First derivatives at `x`.
    pub fn first(&self, x: f64) -> [f64; C] {
        let (i, j, t) = self.piece(x);
        let t2 = t * t;
        let weights = [6.0 * t2 - 6.0 * t, 3.0 * t2 - 4.0 * t + 1.0, 6.0 * t - 6.0 * t2, 3.0 * t2 - 2.0 * t];
        self.mix(i, j, weights, 1.0 / self.step)
    }

    /// Values, first and second derivatives of the first two functions at `x`: a plane curve on its own.
    pub fn plane_curve(&self, x: f64) -> [[f64; 2]; 3] {
        let (i, j, t) = self.piece(x);
        let (t2, t3) = (t * t, t * t * t);
        let (a, da, b, db) = (&self.values[i], &self.slopes[i], &self.values[j], &self.slopes[j]);
        let mix = |w: [f64; 4], scale: f64| {
            std::array::from_fn(|c| (w[0] * a[c] + w[1] * da[c] + w[2] * b[c] + w[3] * db[c]) * scale)
        };
        let per_step = 1.0 / self.step;
        [
            mix([2.0 * t3 - 3.0 * t2 + 1.0, t3 - 2.0 * t2 + t, 3.0 * t2 - 2.0 * t3, t3 - t2], 1.0),
            mix(
                [6.0 * t2 - 6.0 * t, 3.0 * t2 - 4.0 * t + 1.0, 6.0 * t - 6.0 * t2, 3.0 * t2 - 2.0 * t],
                per_step,
            ),
            mix([12.0 * t - 6.0, 6.0 * t - 4.0, 6.0 - 12.0 * t, 6.0 * t - 2.0], per_step * per_step),
        ]
    }

    fn piece(&self, x: f64) -> (usize, usize, f64) {
        let n = self.values.len();
        let u = (x - self.start) / self.step;
        if self.periodic {
            let u = u - n as f64 * (u / n as f64).floor();
            let i = (u as usize).min(n - 1);
            return (i, (i + 1) % n, u - i as f64);
        }
        let u = u.clamp(0.0, (n - 1) as f64);
        let i = (u as usize).min(n - 2);
        (i, i + 1, u - i as f64)
    }

    fn mix(&self, i: usize, j: usize, w: [f64; 4], scale: f64) -> [f64; C] {
        let (a, da, b, db) = (&self.values[i], &self.slopes[i], &self.values[j], &self.slopes[j]);
        std::array::from_fn(|c| (w[0] * a[c] + w[1] * da[c] + w[2] * b[c] + w[3] * db[c]) * scale)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn follows_a_circle_to_the_fourth_order() {
        let n = 64;
        let nodes = (0..n).map(|i| std::f64::consts::TAU * i as f64 / n as f64).map(|a| [a.cos(), a.sin()]);
        let spline = Spline::periodic(nodes.collect());
        let bound = (std::f64::consts::TAU / n as f64).powi(4) / 4.0;
        for k in 0..500 {
            let a = k as f64 * 0.0137 - 1.0;
            let [x, y] = spline.at(a);
            assert!((x - a.cos()).hypot(y - a.sin()) < bound);
            let [dx, dy] = spline.first(a);
            assert!((dx + a.sin()).hypot(dy - a.cos()) < 20.0 * bound);
        }
    }
}
