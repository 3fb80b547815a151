//! How an incisor or canine is cut over its walls: incisal edge, lingual fossa, second facial plane.

use nalgebra::{Point3, Vector3};
use rayon::prelude::*;

use crate::field::{closest_from, project, rounded_max};
use crate::finish_line::FinishLine;
use crate::front::FrontForm;
use crate::spec::Spec;
use crate::tooth::Tooth;

/// Azimuth of the facial middle.
const FACIAL: f64 = std::f64::consts::FRAC_PI_2;
/// The second plane never reaches down to the finish line: it ends this far over E.
const OVER_EDGE_MM: f64 = 0.6;

/// The cuts of a front tooth that are not walls, in the tooth's frame.
#[derive(Debug, Clone)]
pub struct FrontCut {
    form: FrontForm,
    incisal_mm: f64,
    /// How far the fossa cut lies under the uncut fossa, counted along the tooth's faciolingual axis.
    fossa_drop: f64,
    plane: Option<SecondFacial>,
    edge_radius: f64,
}

/// The second facial plane; it bends around the tooth as the facial surface does.
#[derive(Debug, Clone, Copy)]
struct SecondFacial {
    at: Point3<f64>,
    normal: Vector3<f64>,
    along: Vector3<f64>,
    curvature: f64,
}

/// Which cut decides at a point.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FrontZone {
    /// The incisal edge.
    Incisal,
    /// The lingual fossa.
    Fossa,
}

impl FrontCut {
    /// The cuts of this tooth; `None` for premolars and molars.
    pub fn new(spec: &Spec, tooth: &Tooth, line: &FinishLine) -> Option<Self> {
        let form = tooth.front()?.clone();
        let plane = spec.second_plane.map(|p| {
            let section = line.section(FACIAL);
            let (inward, up) = (line.inward(FACIAL), line.axis());
            let lean = section.tan_taper.atan() + p.angle_deg.to_radians();
            SecondFacial {
                at: line.edge(FACIAL) + inward * section.wall_inward(p.break_mm) + up * p.break_mm,
                normal: up * lean.sin() - inward * lean.cos(),
                along: up.cross(&inward),
                curvature: form.facial_curvature(),
            }
        });
        Some(Self {
            form,
            incisal_mm: spec.incisal.incisal_mm,
            fossa_drop: 1.1 * spec.incisal.fossa_mm,
            plane,
            edge_radius: spec.line_angle_radius_mm,
        })
    }

    /// Positive over the incisal or inside the lingual cut, with the outward normal there.
    pub fn removed(&self, p: &Point3<f64>) -> (f64, Vector3<f64>) {
        let (incisal, incisal_normal) = self.incisal(p);
        let (fossa, fossa_normal) = self.fossa(p);
        // Away from the edge its rounding is nobody's business, and on curved faces it would overshoot.
        let is_far = incisal.max(fossa) > 0.5;
        let radius = if is_far { 0.0 } else { self.edge_radius };
        let value = rounded_max(incisal, fossa, incisal_normal.dot(&fossa_normal), radius);
        (value, if fossa > incisal { fossa_normal } else { incisal_normal })
    }

    /// Positive over the incisal cut alone.
    pub fn edge_removed(&self, p: &Point3<f64>) -> f64 {
        self.incisal(p).0
    }

    /// Positive outside of the second facial plane, with its normal; `height` is that over E.
    pub fn second_plane(&self, p: &Point3<f64>, height: f64) -> Option<(f64, Vector3<f64>)> {
        let plane = self.plane?;
        let d = p - plane.at;
        let aside = d.dot(&plane.along).clamp(-4.0, 4.0);
        let value = d.dot(&plane.normal) + plane.curvature * aside * aside;
        let normal = (plane.normal + plane.along * (2.0 * plane.curvature * aside)).normalize();
        Some((value.min(height - OVER_EDGE_MM), normal))
    }

    /// Which cut a point of the prepared surface lies on, its rounded borders left out.
    pub fn zone(&self, p: &Point3<f64>, within_mm: f64) -> Option<FrontZone> {
        if self.incisal(p).0.abs() < within_mm {
            return Some(FrontZone::Incisal);
        }
        (self.fossa(p).0.abs() < within_mm).then_some(FrontZone::Fossa)
    }

    /// Settles the fossa cut so that the median closest distance over it comes out as `wanted`.
    pub fn settle(
        &mut self,
        tooth: &Tooth,
        wanted: f64,
        removed: impl Fn(&Self, &Point3<f64>) -> f64 + Sync,
    ) {
        let half = tooth.half_widths_mm();
        for _ in 0..3 {
            let table: Vec<(i32, i32)> = (-10..=10).flat_map(|i| (0..30).map(move |j| (i, j))).collect();
            let sample = |&(i, j): &(i32, i32)| {
                let x = 0.085 * half[0] * f64::from(i);
                let z = tooth.crown_mm * (0.12 + 0.028 * f64::from(j));
                let p = Point3::new(x, -(self.form.fossa_depth(x, z) - self.fossa_drop), z);
                if removed(self, &p).abs() > 1e-6 {
                    return None;
                }
                let outside = p - Vector3::y() * self.fossa_drop;
                let foot = closest_from(tooth, &p, &project(tooth, &outside, 2.0)?);
                Some((foot - p).norm())
            };
            let mut found: Vec<f64> = table.par_iter().filter_map(sample).collect();
            if found.len() < 5 {
                return;
            }
            found.sort_by(f64::total_cmp);
            self.fossa_drop += 1.05 * (wanted - found[found.len() / 2]);
        }
    }

    fn incisal(&self, p: &Point3<f64>) -> (f64, Vector3<f64>) {
        let z = |x: f64, y: f64| self.form.edge_z(x, y);
        let here = z(p.x, p.y);
        const STEP: f64 = 1e-3;
        let (gx, gy) = ((z(p.x + STEP, p.y) - here) / STEP, (z(p.x, p.y + STEP) - here) / STEP);
        let long = Vector3::new(-gx, -gy, 1.0);
        ((p.z - here + self.incisal_mm) / long.norm(), long.normalize())
    }

    fn fossa(&self, p: &Point3<f64>) -> (f64, Vector3<f64>) {
        let depth = |x: f64, z: f64| self.form.fossa_depth(x, z);
        let here = depth(p.x, p.z);
        const STEP: f64 = 1e-3;
        let (gx, gz) = ((depth(p.x + STEP, p.z) - here) / STEP, (depth(p.x, p.z + STEP) - here) / STEP);
        let long = Vector3::new(-gx, -1.0, -gz);
        let value = (-p.y - here + self.fossa_drop) / long.norm();
        (value.min(p.z - self.form.cingulum_z()), long.normalize())
    }
}

#[cfg(test)]
mod tests {
    use crate::field::project;
    use crate::phantom::Phantom;
    use crate::rng::Rng;
    use crate::spec::{ByAspect, Spec};
    use nalgebra::Point3;

    /// A prepared tooth is a field as the extraction needs it: no place further away than its value says.
    #[test]
    fn prepared_front_teeth_grow_no_faster_than_the_extraction_allows() {
        let hidden = ByAspect { facial: -0.5, ..ByAspect::all(0.4) };
        let specs = [
            Spec::front(11),
            Spec::front(42),
            Spec::front(13),
            Spec { above_gingiva_mm: hidden, ..Spec::front(11) },
        ];
        let mut rng = Rng::new(5, 1);
        for spec in specs {
            let phantom = Phantom::new(&spec);
            let body = |p: &Point3<f64>| phantom.prepared_tooth(p);
            let surface: Vec<_> = (0..9000)
                .filter_map(|_| {
                    let p = Point3::new(rng.between(-5., 5.), rng.between(-5., 5.), rng.between(-2., 10.));
                    project(&body, &p, 3.0)
                })
                .collect();
            let mut worst = (0.0, Point3::origin());
            for _ in 0..4000 {
                let p = Point3::new(rng.between(-5., 5.), rng.between(-5., 5.), rng.between(-1., 10.));
                let value = body(&p).abs();
                let nearest = surface.iter().map(|q| (p - q).norm()).fold(f64::MAX, f64::min);
                // What is nearer than a block's half diagonal is never skipped.
                if value > 0.83 && value / nearest > worst.0 {
                    worst = (value / nearest, p);
                }
            }
            assert!(worst.0 < 1.35, "{}: {worst:?}", spec.fdi);
        }
    }
}
