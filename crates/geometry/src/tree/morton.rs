//! An order of points in which neighbours in the list are neighbours in space.

use nalgebra::{Point3, Vector3};

/// Bits for each axis.
const BITS: u32 = 10;

/// The indices of `points` along a Morton curve through their box.
pub(super) fn order(points: &[Point3<f64>]) -> Vec<u32> {
    let (low, high) = finite_bounds(points);
    let extent = (high - low).max();
    let cells = f64::from((1u32 << BITS) - 1);
    let per_mm = if extent > 0.0 { cells / extent } else { 0.0 };
    // Conversion to an integer saturates, and takes what is not a number to 0.
    let code = |point: &Point3<f64>| {
        let cell = ((point.coords - low) * per_mm).map(|x| x as u32);
        spread(cell.x) | spread(cell.y) << 1 | spread(cell.z) << 2
    };
    let mut keys: Vec<u64> = Vec::with_capacity(points.len());
    keys.extend(points.iter().enumerate().map(|(index, point)| u64::from(code(point)) << 32 | index as u64));
    sort(&mut keys);
    keys.into_iter().map(|key| key as u32).collect()
}

/// Whether each point is followed by one nearby, on the whole, so that no other order is needed.
pub(super) fn is_coherent(points: &[Point3<f64>]) -> bool {
    let (low, high) = finite_bounds(points);
    let step = (points.len() / 512).max(1);
    let jumps = points.windows(2).step_by(step).map(|pair| (pair[1] - pair[0]).norm());
    let (n, total) = jumps.fold((0.0, 0.0), |(n, total), jump| (n + 1.0, total + jump));
    // Neighbours of n points spread over a surface are about extent / √n apart; orders that zigzag are wider.
    total <= n * (high - low).norm() * 4.0 / (points.len() as f64).sqrt()
}

fn finite_bounds(points: &[Point3<f64>]) -> (Vector3<f64>, Vector3<f64>) {
    let mut low = Vector3::repeat(f64::INFINITY);
    let mut high = Vector3::repeat(f64::NEG_INFINITY);
    for point in points.iter().filter(|point| point.iter().all(|x| x.is_finite())) {
        low = low.inf(&point.coords);
        high = high.sup(&point.coords);
    }
    if low.x > high.x { (Vector3::zeros(), Vector3::zeros()) } else { (low, high) }
}

/// Puts two empty bits between the lower ten.
fn spread(bits: u32) -> u32 {
    let x = bits & 0x3ff;
    let x = (x | x << 16) & 0x0300_00ff;
    let x = (x | x << 8) & 0x0300_f00f;
    let x = (x | x << 4) & 0x030c_30c3;
    (x | x << 2) & 0x0924_9249
}

/// Sorts by the upper half of the keys, three digits of ten bits, keeping the order of equals.
fn sort(keys: &mut Vec<u64>) {
    let mut other = vec![0; keys.len()];
    for digit in 0..3 {
        let digit_of = |key: u64| (key >> (32 + BITS * digit)) as usize & ((1 << BITS) - 1);
        let mut starts = [0usize; 1 << BITS];
        for &key in keys.iter() {
            starts[digit_of(key)] += 1;
        }
        let mut start = 0;
        for count in &mut starts {
            (*count, start) = (start, start + *count);
        }
        for &key in keys.iter() {
            let next = &mut starts[digit_of(key)];
            other[*next] = key;
            *next += 1;
        }
        std::mem::swap(keys, &mut other);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bodies::Random;

    #[test]
    fn every_point_comes_once_and_neighbours_are_near() {
        let mut random = Random::new(2);
        let mut points: Vec<_> = (0..5000).map(|_| Point3::from(random.vector(10.0))).collect();
        points[17].x = f64::NAN;
        points[18].y = f64::INFINITY;
        let order = order(&points);
        let mut sorted = order.clone();
        sorted.sort_unstable();
        assert_eq!(sorted, (0..5000).collect::<Vec<u32>>());
        let ordered: Vec<_> =
            order.iter().map(|&k| points[k as usize]).filter(|p| p.coords.sum().is_finite()).collect();
        let mean =
            |p: &[Point3<f64>]| p.windows(2).map(|w| (w[1] - w[0]).norm()).sum::<f64>() / p.len() as f64;
        assert!(mean(&ordered) < 2.0, "{} mm from one to the next", mean(&ordered));
        assert!(is_coherent(&ordered[..]) || mean(&ordered) > 1.0);
        points.retain(|p| p.coords.sum().is_finite());
        assert!(!is_coherent(&points));
    }

    #[test]
    fn equal_cells_keep_their_order() {
        assert_eq!(order(&[Point3::new(1.0, 1.0, 1.0); 5]), [0, 1, 2, 3, 4]);
        assert_eq!(order(&[]), [0u32; 0]);
    }
}
