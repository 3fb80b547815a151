//! Small statistics over stations and vertices.

use nalgebra::{Matrix6, SMatrix, SVector, Vector3, Vector6};

/// A share of a weighted set: the smallest value with at least `share` of the weight at or below it,
/// interpolated between the midpoints of the weights. `None` for an empty set.
pub fn weighted_quantile(pairs: &[(f64, f64)], share: f64) -> Option<f64> {
    let mut sorted: Vec<(f64, f64)> = pairs.iter().copied().filter(|pair| pair.1 > 0.0).collect();
    sorted.sort_by(|a, b| a.0.total_cmp(&b.0));
    let total: f64 = sorted.iter().map(|pair| pair.1).sum();
    let wanted = share * total;
    let mut below = 0.0;
    let mut last: Option<(f64, f64)> = None;
    for (value, weight) in sorted {
        let middle = below + 0.5 * weight;
        if middle >= wanted {
            return Some(match last {
                Some((last_middle, last_value)) if middle > last_middle => {
                    last_value + (value - last_value) * (wanted - last_middle) / (middle - last_middle)
                }
                _ => value,
            });
        }
        last = Some((middle, value));
        below += weight;
    }
    last.map(|(_, value)| value)
}

/// The median, or `None` for an empty slice.
pub fn median(values: &[f64]) -> Option<f64> {
    kerfwright_geometry::fit::median(values)
}

/// Standard deviation estimated from the median absolute deviation.
pub fn robust_sigma(values: &[f64]) -> Option<f64> {
    kerfwright_geometry::fit::mad(values).map(|mad| 1.4826 * mad)
}

/// Smooths a closed ring of values by a robust local quadratic over `half_window` places to each side.
///
/// Missing values are filled from their neighbourhood; `None` where fewer than four values lie in the window.
pub fn smooth_ring(values: &[Option<f64>], half_window: usize) -> Vec<Option<f64>> {
    (0..values.len()).map(|place| smooth_at(values, place, half_window)).collect()
}

fn smooth_at(values: &[Option<f64>], place: usize, half_window: usize) -> Option<f64> {
    let n = values.len() as isize;
    let reach = (half_window as isize).min((n - 1) / 2);
    let near: Vec<(f64, f64)> = (-reach..=reach)
        .filter_map(|offset| {
            let value = values[(place as isize + offset).rem_euclid(n) as usize]?;
            Some((offset as f64 / (reach as f64 + 1.0), value))
        })
        .collect();
    local_quadratic(&near)
}

/// Robust quadratic through `(x, y)` pairs with |x| < 1, evaluated at 0 (tricube weights times Tukey weights).
pub fn local_quadratic(pairs: &[(f64, f64)]) -> Option<f64> {
    if pairs.len() < 4 {
        return None;
    }
    let tricube = |x: f64| (1.0 - x.abs().min(1.0).powi(3)).powi(3);
    let mut weights: Vec<f64> = pairs.iter().map(|pair| tricube(pair.0)).collect();
    let mut fit = quadratic(pairs, &weights)?;
    for _ in 0..4 {
        let residuals: Vec<f64> =
            pairs.iter().map(|&(x, y)| y - (fit[0] + fit[1] * x + fit[2] * x * x)).collect();
        let absolute: Vec<f64> = residuals.iter().map(|residual| residual.abs()).collect();
        let scale = (1.4826 * median(&absolute)?).max(1e-4);
        for ((weight, pair), residual) in weights.iter_mut().zip(pairs).zip(&residuals) {
            let ratio = (residual / (4.685 * scale)).powi(2);
            *weight = if ratio < 1.0 { tricube(pair.0) * (1.0 - ratio).powi(2) } else { 0.0 };
        }
        match quadratic(pairs, &weights) {
            Some(better) => fit = better,
            None => break,
        }
    }
    Some(fit[0])
}

/// Weighted least-squares coefficients of `c0 + c1 x + c2 x²`.
pub fn quadratic(pairs: &[(f64, f64)], weights: &[f64]) -> Option<[f64; 3]> {
    let mut normal = nalgebra::Matrix3::zeros();
    let mut right = nalgebra::Vector3::zeros();
    for (&(x, y), &weight) in pairs.iter().zip(weights) {
        let row = nalgebra::Vector3::new(1.0, x, x * x);
        normal += row * row.transpose() * weight;
        right += row * (y * weight);
    }
    normal += nalgebra::Matrix3::from_diagonal(&nalgebra::Vector3::new(0.0, 1e-9, 1e-9));
    let solved = normal.cholesky()?.solve(&right);
    Some([solved.x, solved.y, solved.z])
}

/// A closed row of `(angle_rad, value)` pairs as a sum of waves, up to four round the circle, of which a minority far
/// away is ignored: the sum at each pair's angle.
pub fn round_form(pairs: &[(f64, Option<f64>)]) -> Option<Vec<f64>> {
    const N_TERMS: usize = 9;
    const SCALE_MM: f64 = 0.4;
    let terms = |&(angle_rad, _): &(f64, Option<f64>)| {
        nalgebra::SVector::<f64, N_TERMS>::from_fn(|term, _| {
            let wave = term.div_ceil(2) as f64 * angle_rad;
            if term % 2 == 0 { wave.cos() } else { wave.sin() }
        })
    };
    let rows: Vec<_> = pairs.iter().map(terms).collect();
    let known: Vec<f64> = pairs.iter().filter_map(|pair| pair.1).collect();
    let mut form = nalgebra::SVector::<f64, N_TERMS>::zeros();
    form[0] = kerfwright_geometry::fit::median(&known)?;
    for _ in 0..12 {
        // A trace of damping keeps a wide gap from swinging.
        let mut normal = nalgebra::SMatrix::<f64, N_TERMS, N_TERMS>::identity() * 1e-3 * known.len() as f64;
        normal[(0, 0)] = 0.0;
        let mut right = nalgebra::SVector::<f64, N_TERMS>::zeros();
        for (row, pair) in rows.iter().zip(pairs) {
            let Some(value) = pair.1 else { continue };
            let off = (value - row.dot(&form)) / SCALE_MM;
            let weight = 1.0 / (1.0 + off * off).powi(2);
            normal += row * row.transpose() * weight;
            right += row * (weight * value);
        }
        form = normal.cholesky()?.solve(&right);
    }
    Some(rows.iter().map(|row| row.dot(&form)).collect())
}

/// The terms of a quadratic surface at a place: 1, x, y, x², xy, y².
pub(crate) fn surface_terms(at: &Vector3<f64>) -> Vector6<f64> {
    Vector6::new(1.0, at.x, at.y, at.x * at.x, at.x * at.y, at.y * at.y)
}

/// Weighted least-squares coefficients of the heights (z) over a plane as a quadratic surface.
pub(crate) fn quadratic_surface(
    points: &[Vector3<f64>],
    weight: impl Fn(&Vector3<f64>) -> f64,
) -> Option<Vector6<f64>> {
    let (mut normal, mut right) = (Matrix6::zeros(), Vector6::zeros());
    for at in points {
        let (row, weight) = (surface_terms(at), weight(at));
        add_square(&mut normal, &row, weight);
        right += row * (at.z * weight);
    }
    Some(normal.cholesky()?.solve(&right))
}

/// Adds a row's weighted product with itself to the lower triangle of a normal matrix; the upper one mirrors it.
#[inline]
pub(crate) fn add_square<const N: usize>(
    normal: &mut SMatrix<f64, N, N>,
    row: &SVector<f64, N>,
    weight: f64,
) {
    for j in 0..N {
        for i in j..N {
            normal[(i, j)] += row[i] * row[j] * weight;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn weighted_quantile_of_equal_weights_is_the_plain_median() {
        let pairs = [(3.0, 1.0), (1.0, 1.0), (2.0, 1.0)];
        assert_eq!(weighted_quantile(&pairs, 0.5), Some(2.0));
        let heavy = [(1.0, 1.0), (5.0, 100.0)];
        assert!(weighted_quantile(&heavy, 0.5).unwrap() > 4.9);
        assert_eq!(weighted_quantile(&[], 0.5), None);
    }

    #[test]
    fn smoothing_keeps_a_parabola_and_drops_a_spike() {
        let n = 100;
        let ring: Vec<Option<f64>> = (0..n)
            .map(|k| Some((f64::from(k) / 100.0 * std::f64::consts::TAU).cos()))
            .enumerate()
            .map(|(k, value)| if k == 50 { Some(9.0) } else { value })
            .collect();
        let smooth = smooth_ring(&ring, 5);
        let expected = (0.5 * std::f64::consts::TAU).cos();
        assert!((smooth[50].unwrap() - expected).abs() < 2e-3, "{:?}", smooth[50]);
    }

    #[test]
    fn a_run_of_strays_does_not_bend_the_round_form() {
        let angle_rad = |k: usize| k as f64 * std::f64::consts::TAU / 240.0;
        let radius = |k: usize| 4.5 + 0.6 * (2.0 * angle_rad(k)).cos();
        let value = |k: usize| match k {
            30..60 => Some(radius(k) + 3.0),
            100..120 => None,
            _ => Some(radius(k)),
        };
        let pairs: Vec<_> = (0..240).map(|k| (angle_rad(k), value(k))).collect();
        let form = round_form(&pairs).unwrap();
        let worst = (0..240).map(|k| (form[k] - radius(k)).abs()).fold(0.0, f64::max);
        assert!(worst < 0.2, "{worst}");
    }
}
