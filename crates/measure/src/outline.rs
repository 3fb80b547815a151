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
    most_radius_mm: f64,
    /// The lowest and the highest height.
    heights_mm: [f64; 2],
}

impl Outline {
    const N: usize = 720;

    /// Tabulates a ring seen along `up`.
    pub fn new(ring: &Ring, up: &Vector3<f64>) -> Self {
        let centre = ring.centre();
        let (u, v) = axes(up);
        let mut outline = Self {
            centre,
            up: *up,
            u,
            v,
            table: Vec::new(),
            most_radius_mm: 0.0,
            heights_mm: [f64::INFINITY, f64::NEG_INFINITY],
        };
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
        for (radius_mm, height_mm) in &outline.table {
            outline.most_radius_mm = outline.most_radius_mm.max(*radius_mm);
            let [low_mm, high_mm] = outline.heights_mm;
            outline.heights_mm = [low_mm.min(*height_mm), high_mm.max(*height_mm)];
        }
        outline
    }

    /// Whether a point may lie within `beyond_mm` outside the finish line and from `from_mm` to `to_mm` over it: a quick
    /// look at the whole outline's bounds, to be followed by [`place`](Self::place) where it says yes.
    pub fn may_reach(&self, point: &Point3<f64>, beyond_mm: f64, [from_mm, to_mm]: [f64; 2]) -> bool {
        let at = point - self.centre;
        let height_mm = at.dot(&self.up);
        let (x, y) = (at.dot(&self.u), at.dot(&self.v));
        // A trace more, for what rounding does to a point on the bound.
        let reach_mm = self.most_radius_mm + beyond_mm + 1e-9;
        x * x + y * y <= reach_mm * reach_mm
            && height_mm >= self.heights_mm[0] + from_mm - 1e-9
            && height_mm <= self.heights_mm[1] + to_mm + 1e-9
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
