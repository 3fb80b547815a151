//! Lines in a plane: total least squares, and robust.

use nalgebra::{Point2, Vector2};

use super::statistics::{MAD_TO_SIGMA, median};

/// A line fitted to points of a plane.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LineFit {
    /// A point of the line: the (weighted) mean of the points, mm.
    pub point: Point2<f64>,
    /// Unit direction; of its two senses the one from the first towards the last point.
    pub direction: Vector2<f64>,
    /// Root mean square of the (weighted) perpendicular distances, mm.
    pub rms_mm: f64,
}

impl LineFit {
    /// Perpendicular distance of a point in mm, positive to the left of the direction.
    #[inline]
    pub fn signed_distance(&self, point: &Point2<f64>) -> f64 {
        self.direction.perp(&(point - self.point))
    }
}

/// A line that outliers do not pull.
#[derive(Debug, Clone, PartialEq)]
pub struct RobustLineFit {
    /// The line; its `rms_mm` is weighted.
    pub line: LineFit,
    /// Robust standard deviation of the perpendicular distances (from their median absolute value), mm.
    pub scale_mm: f64,
    /// Final weight of each point, 0 (an outlier) to 1.
    pub weights: Vec<f64>,
}

/// The line with the least sum of squared perpendicular distances.
///
/// `None` for fewer than two points, points that all coincide, or coordinates that are not finite.
pub fn line2(points: &[Point2<f64>]) -> Option<LineFit> {
    by_weight(points, points.len() as f64, |_| 1.0)
}

/// A line by an M-estimator with Tukey's biweight (c = 4.685) on perpendicular distances.
///
/// Starts from the least median of squares over lines through pairs of points, so that just under half of the points
/// may be outliers. `smallest_scale_mm` (say a fraction of the scan noise) keeps the scale from
/// collapsing when most points lie exactly on a line.
///
/// `None` as for [`line2`].
///
/// # Source
/// P. J. Rousseeuw and A. M. Leroy, Robust Regression and Outlier Detection, 1987 (least median of squares).
/// The constant 4.685 gives 95 % efficiency for normal errors (textbook value, from memory).
pub fn line2_robust(points: &[Point2<f64>], smallest_scale_mm: f64) -> Option<RobustLineFit> {
    const C: f64 = 4.685;
    let mut line = least_median(points).or_else(|| line2(points))?;
    let mut scale_mm = scale(points, &line, smallest_scale_mm)?;
    let mut weights = vec![1.0; points.len()];
    for _ in 0..30 {
        for (weight, point) in weights.iter_mut().zip(points) {
            let ratio = line.signed_distance(point) / (C * scale_mm);
            *weight = if ratio.abs() < 1.0 { (1.0 - ratio * ratio).powi(2) } else { 0.0 };
        }
        let next = weighted(points, &weights)?;
        let turn = next.direction.perp(&line.direction).abs();
        let shift = line.signed_distance(&next.point).abs();
        line = next;
        scale_mm = scale(points, &line, smallest_scale_mm)?;
        if turn < 1e-12 && shift < 1e-12 {
            break;
        }
    }
    Some(RobustLineFit { line, scale_mm, weights })
}

fn weighted(points: &[Point2<f64>], weights: &[f64]) -> Option<LineFit> {
    by_weight(points, weights.iter().sum(), |k| weights[k])
}

/// The line by a weight each, `total` in all.
#[inline]
fn by_weight(points: &[Point2<f64>], total: f64, weight: impl Fn(usize) -> f64) -> Option<LineFit> {
    if points.len() < 2 || total <= 0.0 {
        return None;
    }
    let pairs = || points.iter().enumerate().map(|(k, point)| (point, weight(k)));
    let (mut x, mut y) = (0.0, 0.0);
    for (point, weight) in pairs() {
        x += point.x * weight;
        y += point.y * weight;
    }
    let mean = Point2::new(x / total, y / total);
    let (mut xx, mut xy, mut yy) = (0.0, 0.0, 0.0);
    for (point, weight) in pairs() {
        let d = point - mean;
        xx += weight * d.x * d.x;
        xy += weight * d.x * d.y;
        yy += weight * d.y * d.y;
    }
    if !(xx + yy > 0.0 && (xx + yy).is_finite()) {
        return None;
    }
    let angle_rad = 0.5 * f64::atan2(2.0 * xy, xx - yy);
    let mut direction = Vector2::new(angle_rad.cos(), angle_rad.sin());
    if direction.dot(&(points[points.len() - 1] - points[0])) < 0.0 {
        direction = -direction;
    }
    let squares: f64 = pairs().map(|(p, w)| w * direction.perp(&(p - mean)).powi(2)).sum();
    Some(LineFit { point: mean, direction, rms_mm: (squares / total).sqrt() })
}

/// The best of some 400 lines through two of the points, spread evenly over all pairs.
fn least_median(points: &[Point2<f64>]) -> Option<LineFit> {
    const PAIRS: usize = 400;
    let n = points.len();
    let n_pairs = n * n.saturating_sub(1) / 2;
    let mut best: Option<(f64, LineFit)> = None;
    let mut distances = Vec::with_capacity(n);
    for k in 0..n_pairs.min(PAIRS) {
        let (i, j) = pair(k * n_pairs / n_pairs.min(PAIRS), n);
        let Some(direction) = (points[j] - points[i]).try_normalize(0.0) else { continue };
        let line = LineFit { point: points[i], direction, rms_mm: 0.0 };
        if best.as_ref().is_some_and(|best| !is_below(points, &line, best.0)) {
            continue;
        }
        distances.clear();
        distances.extend(points.iter().map(|point| line.signed_distance(point).abs()));
        let middle = median(&distances)?;
        if best.as_ref().is_none_or(|best| middle < best.0) {
            best = Some((middle, line));
        }
    }
    best.map(|(_, line)| line)
}

/// Whether the median distance from a line may lie below `limit_mm`: counting is quicker than sorting.
fn is_below(points: &[Point2<f64>], line: &LineFit, limit_mm: f64) -> bool {
    let near = points.iter().filter(|point| line.signed_distance(point).abs() < limit_mm).count();
    // The lower of the two in the middle is below no other than the median.
    near > (points.len() - 1) / 2
}

/// The `rank`-th of the pairs `i < j < n`, ordered by their gap `j − i`, widest first.
fn pair(mut rank: usize, n: usize) -> (usize, usize) {
    let mut gap = n - 1;
    while rank >= n - gap {
        rank -= n - gap;
        gap -= 1;
    }
    (rank, rank + gap)
}

fn scale(points: &[Point2<f64>], line: &LineFit, smallest_mm: f64) -> Option<f64> {
    let distances: Vec<f64> = points.iter().map(|point| line.signed_distance(point).abs()).collect();
    Some((MAD_TO_SIGMA * median(&distances)?).max(smallest_mm).max(f64::MIN_POSITIVE))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn on_line(n: usize) -> Vec<Point2<f64>> {
        (0..n).map(|k| Point2::new(10.0 + 0.1 * k as f64, -3.0 + 0.05 * k as f64)).collect()
    }

    #[test]
    fn a_steep_line_is_no_harder_than_a_flat_one() {
        let points: Vec<_> = on_line(20).iter().map(|p| Point2::new(7.0, p.x)).collect();
        let fit = line2(&points).unwrap();
        assert!((fit.direction - Vector2::y()).norm() < 1e-12 && fit.rms_mm < 1e-12);
        assert!((fit.signed_distance(&Point2::new(6.0, 0.0)) - 1.0).abs() < 1e-12);
    }

    #[test]
    fn refuses_what_is_no_line() {
        assert!(line2(&on_line(1)).is_none());
        assert!(line2(&[Point2::new(1.0, 1.0); 5]).is_none());
        assert!(line2_robust(&[Point2::new(1.0, f64::NAN); 5], 0.0).is_none());
    }

    #[test]
    fn two_fifths_of_outliers_on_one_side_do_not_turn_the_robust_line() {
        let mut points = on_line(60);
        for (k, point) in points.iter_mut().enumerate().skip(36) {
            point.y += 0.1 + 0.05 * (k - 36) as f64; // A fillet that leaves the wall.
        }
        let exact = line2(&on_line(60)).unwrap();
        let robust = line2_robust(&points, 1e-6).unwrap();
        assert!(robust.line.direction.perp(&exact.direction).abs() < 1e-9);
        assert!(robust.weights[36..].iter().all(|&weight| weight == 0.0));
        assert!(robust.weights[..36].iter().all(|&weight| weight > 0.99));
        assert!(
            line2(&points).unwrap().direction.perp(&exact.direction).abs() > 0.05,
            "the plain fit is pulled"
        );
    }

    #[test]
    fn pairs_are_all_different() {
        let mut all: Vec<_> = (0..21).map(|rank| pair(rank, 7)).collect();
        all.sort_unstable();
        all.dedup();
        assert_eq!(all.len(), 21);
        assert!(all.iter().all(|&(i, j)| i < j && j < 7));
    }
}
