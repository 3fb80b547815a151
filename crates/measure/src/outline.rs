//! The finish line as radius and height by angle.

use nalgebra::{Point3, Vector3};

use crate::finish_line::{self, Ring, axes};

/// The finish line as radius and height by angle, for quick inside tests.
#[derive(Debug, Clone)]
pub struct Outline {
    centre: Point3<f64>,
    up: Vector3<f64>,
    u: Vector3<f64>,
    v: Vector3<f64>,
    /// `(radius, height)` at each of 720 angles.
    table: Vec<(f64, f64)>,
}

impl Outline {
    const N: usize = 720;

    /// Tabulates a ring seen along `up`.
    pub fn new(ring: &Ring, up: &Vector3<f64>) -> Self {
        let centre = ring.centre();
        let (u, v) = axes(up);
        let mut outline = Self { centre, up: *up, u, v, table: Vec::new() };
        let mut sums: Vec<Option<(f64, f64)>> = vec![None; Self::N];
        let n = ring.points.len();
        for k in 0..n {
            // Subdivide each step so that every angle gets a value.
            for part in 0..6 {
                let point =
                    ring.points[k] + (ring.points[(k + 1) % n] - ring.points[k]) * (f64::from(part) / 6.0);
                let (angle, radius_mm, height_mm) = outline.polar(&point);
                let place = &mut sums[angle as usize % Self::N];
                if place.is_none_or(|(known_mm, _)| radius_mm > known_mm) {
                    *place = Some((radius_mm, height_mm));
                }
            }
        }
        let column = |pick: fn((f64, f64)) -> f64| {
            finish_line::fill(&sums.iter().map(|pair| pair.map(pick)).collect::<Vec<_>>()).unwrap_or_default()
        };
        outline.table = column(|pair| pair.0).into_iter().zip(column(|pair| pair.1)).collect();
        outline
    }

    /// Radius and height of a point, and radius and height of the finish line at its angle, mm.
    pub fn place(&self, point: &Point3<f64>) -> (f64, f64, (f64, f64)) {
        let (angle, radius_mm, height_mm) = self.polar(point);
        (radius_mm, height_mm, self.table[angle as usize % Self::N])
    }

    fn polar(&self, point: &Point3<f64>) -> (f64, f64, f64) {
        let at = point - self.centre;
        let (x, y) = (at.dot(&self.u), at.dot(&self.v));
        let angle = y.atan2(x).rem_euclid(std::f64::consts::TAU) / std::f64::consts::TAU * Self::N as f64;
        (angle, x.hypot(y), at.dot(&self.up))
    }
}
