//! The line along which the teeth of a jaw stand, seen from the occlusal.

use nalgebra::{Point3, Vector2};

use crate::planar::Planar;

/// A line in the occlusal plane, symmetric about `s = 0`, where it runs along `x` with `y` facial.
///
/// Made of circular arcs: `s` is the length along it, `t` the distance across it (facial positive).
#[derive(Debug, Clone, Copy)]
pub struct ArchLine {
    /// Curvature around `s = 0`, 1/mm; 0 makes the whole line straight.
    front: f64,
    /// Curvature beyond `joint`, 1/mm.
    side: f64,
    /// Where the curvature changes, mm to both sides; infinite where it never does.
    joint: f64,
}

impl ArchLine {
    /// One circle (or a straight line with curvature 0).
    pub fn even(curvature_per_mm: f64) -> Self {
        Self { front: curvature_per_mm, side: curvature_per_mm, joint: f64::INFINITY }
    }

    /// The usual form of a jaw around its mid-line: a round front from canine to canine, then ever so slightly bent
    /// sides.
    ///
    /// With the average teeth the upper canines' tips come to lie 33 mm apart and the first molars' middles 49 mm,
    /// the lower ones 25 mm and 43 mm: drawn so, common practice, no source.
    pub fn of_jaw(is_upper: bool) -> Self {
        if is_upper {
            Self { front: 1.0 / 20.0, side: 1.0 / 55.0, joint: 20.0 }
        } else {
            Self { front: 1.0 / 16.0, side: 1.0 / 48.0, joint: 15.0 }
        }
    }

    /// Whether the curvature is the same everywhere.
    pub fn is_even(&self) -> bool {
        self.joint.is_infinite()
    }

    /// The frame at a place along the line and across it: `x` along (towards greater `s`), `y` facial.
    pub fn frame(&self, s: f64, t: f64, z: f64, mirrored: bool) -> Planar {
        if self.front == 0.0 {
            return Planar::new(Point3::new(s, t, z), Vector2::x(), mirrored);
        }
        let (centre, radius, angle) = if s.abs() <= self.joint {
            (Vector2::new(0.0, -1.0 / self.front), 1.0 / self.front, s * self.front)
        } else {
            let turn = self.joint * self.front;
            let angle = turn + (s.abs() - self.joint) * self.side;
            let centre = self.side_centre();
            (Vector2::new(centre.x * s.signum(), centre.y), 1.0 / self.side, angle * s.signum())
        };
        let (sine, cosine) = angle.sin_cos();
        let at = centre + Vector2::new(sine, cosine) * (radius + t);
        Planar::new(Point3::new(at.x, at.y, z), Vector2::new(cosine, -sine), mirrored)
    }

    /// Place along the line and across it.
    pub fn along_and_across(&self, x: f64, y: f64) -> (f64, f64) {
        if self.front == 0.0 {
            return (x, y);
        }
        let radius = 1.0 / self.front;
        let up = y + radius;
        let angle = x.atan2(up);
        let turn = self.joint * self.front;
        if angle.abs() <= turn {
            return (angle * radius, (x * x + up * up).sqrt() - radius);
        }
        let centre = self.side_centre();
        let (dx, dy) = (x.abs() - centre.x, y - centre.y);
        let s = self.joint + (dx.atan2(dy) - turn) / self.side;
        (s * x.signum(), (dx * dx + dy * dy).sqrt() - 1.0 / self.side)
    }

    /// Centre of the arc on the side of positive `x`: on the line from the front's centre through the joint.
    fn side_centre(&self) -> Vector2<f64> {
        let (sine, cosine) = (self.joint * self.front).sin_cos();
        Vector2::new(0.0, -1.0 / self.front)
            + Vector2::new(sine, cosine) * (1.0 / self.front - 1.0 / self.side)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn places_lead_back_to_length_and_distance() {
        for line in
            [ArchLine::even(0.0), ArchLine::even(1.0 / 45.0), ArchLine::of_jaw(true), ArchLine::of_jaw(false)]
        {
            for s in [-52.0, -21.0, -19.0, -3.0, 0.5, 14.9, 15.1, 48.0] {
                for t in [-4.0, 0.0, 5.0] {
                    let p = line.frame(s, t, 1.0, false).apply(&Point3::origin());
                    let (found_s, found_t) = line.along_and_across(p.x, p.y);
                    assert!(
                        (found_s - s).abs() < 1e-9 && (found_t - t).abs() < 1e-9,
                        "{s} {t}: {found_s} {found_t}"
                    );
                }
            }
        }
    }
}
