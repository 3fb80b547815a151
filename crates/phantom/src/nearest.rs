//! The nearest of many points, by a plain grid.

use nalgebra::{Isometry3, Point3, UnitQuaternion, Vector3};

use crate::extract::{Lattice, extract};
use crate::field::Field;

const CELL_MM: f64 = 0.5;

/// Points sorted into the cells of a grid.
#[derive(Debug, Clone)]
pub struct Nearest {
    low: Point3<f64>,
    n: [usize; 3],
    first: Vec<u32>,
    points: Vec<Point3<f64>>,
}

impl Nearest {
    /// A grid over these points.
    pub fn new(points: &[Point3<f64>]) -> Self {
        let extreme = |f: fn(f64, f64) -> f64, from: f64| {
            points
                .iter()
                .fold(Point3::new(from, from, from), |e, p| Point3::from(e.coords.zip_map(&p.coords, f)))
        };
        let (low, high) = (extreme(f64::min, f64::MAX), extreme(f64::max, f64::MIN));
        let n: [usize; 3] = std::array::from_fn(|k| ((high[k] - low[k]).max(0.0) / CELL_MM) as usize + 1);
        let cell = |p: &Point3<f64>| {
            let i: [usize; 3] = std::array::from_fn(|k| ((p[k] - low[k]) / CELL_MM) as usize);
            i[0] + n[0] * (i[1] + n[1] * i[2])
        };
        let mut first = vec![0u32; n[0] * n[1] * n[2] + 1];
        points.iter().for_each(|p| first[cell(p) + 1] += 1);
        for i in 1..first.len() {
            first[i] += first[i - 1];
        }
        let mut next = first.clone();
        let mut sorted = vec![Point3::origin(); points.len()];
        for p in points {
            let at = &mut next[cell(p)];
            sorted[*at as usize] = *p;
            *at += 1;
        }
        Self { low, n, first, points: sorted }
    }

    /// Samples of a body's surface, about `spacing` apart, in a cube around `centre`.
    pub fn of_surface<B: Field>(body: &B, centre: Point3<f64>, half_size: f64, spacing: f64) -> Self {
        let lattice = Lattice {
            cell_mm: spacing,
            body_from_lattice: Isometry3::from_parts(
                centre.into(),
                UnitQuaternion::from_axis_angle(&Vector3::x_axis(), 0.3),
            ),
            half_size_mm: half_size,
            relaxations: 0,
        };
        let inside = |p: &Point3<f64>| (p - centre).amax() - half_size;
        Self::new(&extract(body, &inside, &lattice).0.vertices)
    }

    /// The nearest point; the origin when there is none.
    pub fn nearest(&self, q: &Point3<f64>) -> Point3<f64> {
        let centre: [i64; 3] = std::array::from_fn(|k| {
            (((q[k] - self.low[k]) / CELL_MM).floor() as i64).clamp(0, self.n[k] as i64 - 1)
        });
        let (mut best, mut best2) = (Point3::origin(), f64::MAX);
        let widest = self.n.iter().max().map_or(0, |&n| n as i64);
        for ring in 0..=widest {
            // Cells of this ring and beyond lie at least this far away.
            if ring > 0 && best2.sqrt() <= (ring - 1) as f64 * CELL_MM {
                break;
            }
            self.visit_ring(centre, ring, |p| {
                let d2 = (p - q).norm_squared();
                if d2 < best2 {
                    (best, best2) = (*p, d2);
                }
            });
        }
        best
    }

    fn visit_ring(&self, centre: [i64; 3], ring: i64, mut visit: impl FnMut(&Point3<f64>)) {
        let range = |k: usize| (centre[k] - ring).max(0)..=(centre[k] + ring).min(self.n[k] as i64 - 1);
        for z in range(2) {
            for y in range(1) {
                for x in range(0) {
                    let off = [x - centre[0], y - centre[1], z - centre[2]];
                    if off.iter().map(|o| o.abs()).max() != Some(ring) {
                        continue;
                    }
                    let cell = x as usize + self.n[0] * (y as usize + self.n[1] * z as usize);
                    let (from, to) = (self.first[cell] as usize, self.first[cell + 1] as usize);
                    self.points[from..to].iter().for_each(&mut visit);
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rng::Rng;

    #[test]
    fn finds_what_brute_force_finds() {
        let mut rng = Rng::new(3, 3);
        let mut point = |r: f64| Point3::new(rng.between(-r, r), rng.between(-r, r), rng.between(-r, r));
        let points: Vec<_> = (0..800).map(|_| point(4.0)).collect();
        let grid = Nearest::new(&points);
        for _ in 0..300 {
            let q = point(7.0);
            let brute = points.iter().map(|p| (p - q).norm()).fold(f64::MAX, f64::min);
            assert_eq!((grid.nearest(&q) - q).norm(), brute);
        }
    }
}
