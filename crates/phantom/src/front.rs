//! The crown of an incisor or canine: an oval that thins to an edge, hollowed on its lingual side.

use nalgebra::Point3;

use crate::anatomy::FrontAnatomy;
use crate::field::smooth_max;
use crate::teeth::Fdi;
use crate::tooth::Profile;

/// How gently the fossa passes into the marginal ridges, and both into the incisal edge, mm.
const FOSSA_BLEND_MM: f64 = 0.6;
const EDGE_BLEND_MM: f64 = 0.5;
/// The fossa's curve starts this far outside the cingulum, mm, so that the cingulum keeps its size.
const OVER_CINGULUM_MM: f64 = 0.9;
/// The steepest slopes of the fossa and of the incisal edge, as divisors that keep the field's growth near 1.
const FOSSA_STEEPNESS: f64 = 1.45;
const EDGE_STEEPNESS: f64 = 1.2;

/// A front tooth in the tooth's frame, in mm.
#[derive(Debug, Clone)]
pub struct FrontForm {
    anatomy: FrontAnatomy,
    crown: f64,
    mesial: Profile,
    distal: Profile,
    facial: Face,
    lingual: Face,
}

/// The facial or lingual outline: cervix, crest of the cervical third, then ever straighter to the edge.
#[derive(Debug, Clone, Copy)]
struct Face {
    cervical: Profile,
    edge: f64,
}

impl FrontForm {
    /// The form of this tooth, given its proximal and cervical profiles; `None` for premolars and molars.
    pub fn new(fdi: Fdi, sides: &[Profile; 4]) -> Option<Self> {
        let anatomy = FrontAnatomy::of(fdi)?;
        let half_edge = 0.5 * anatomy.edge_mm;
        Some(Self {
            crown: fdi.size().crown_mm,
            mesial: sides[0],
            distal: sides[2],
            facial: Face { cervical: sides[1], edge: half_edge + anatomy.edge_y_mm },
            lingual: Face { cervical: sides[3], edge: half_edge - anatomy.edge_y_mm },
            anatomy,
        })
    }

    /// Negative inside, about the distance near the surface.
    pub fn value(&self, p: &Point3<f64>) -> f64 {
        let oval = self.oval(p);
        if p.z < self.cingulum_z() {
            return oval;
        }
        let fossa = (-p.y - self.fossa_depth(p.x, p.z)) / FOSSA_STEEPNESS;
        let edge = (p.z - self.edge_z(p.x, p.y)) / EDGE_STEEPNESS;
        smooth_max(smooth_max(oval, fossa, FOSSA_BLEND_MM), edge, EDGE_BLEND_MM)
    }

    /// The outline without fossa and edge.
    ///
    /// Its horizontal sections are squarish ovals, 1 on the outline of a function that is linear on every ray; divided
    /// by that function's own slope it gives distances on a thin section too.
    pub fn oval(&self, p: &Point3<f64>) -> f64 {
        let a = if p.x >= 0.0 { self.mesial } else { self.distal }.half_width(p.z);
        let b = if p.y >= 0.0 { self.facial } else { self.lingual }.half_width(p.z);
        let round = 1.9 + (self.anatomy.roundness - 1.9) * (p.z / self.crown).clamp(0.0, 1.0);
        let (u, v) = (p.x.abs() / a, p.y.abs() / b);
        let (u2, v2) = (u * u, v * v);
        let n = (u2 * u2 + v2 * v2 + round * u2 * v2).sqrt().sqrt();
        let (du, dv) = (u * (u2 + 0.5 * round * v2) / a, v * (v2 + 0.5 * round * u2) / b);
        let slope = (du * du + dv * dv).sqrt() / (n * n * n).max(1e-9);
        let inner = 0.8 * a.min(b);
        let near = n.min(1.0).powi(4);
        let scale = if near > 1e-6 { inner + (1.0 / slope - inner) * near } else { inner };
        0.9 * (n - 1.0) * scale
    }

    /// How far lingually of the axis the floor of the lingual fossa lies, mm.
    pub fn fossa_depth(&self, x: f64, z: f64) -> f64 {
        let (a, from) = (&self.anatomy, self.cingulum_z());
        let top = self.lingual.cervical.contour + OVER_CINGULUM_MM;
        let v = ((z - from) / (self.crown - from)).max(0.0);
        let bell = |v: f64| 1.0 / (1.0 + (v / a.fossa_bend).powi(2));
        let end = bell(1.0);
        let middle = self.lingual.edge + (top - self.lingual.edge) * (bell(v) - end) / (1.0 - end);
        let across = x / if x >= 0.0 { self.mesial } else { self.distal }.contour;
        let hollow = a.hollow_mm * across * across * (1.2 - v).clamp(0.0, 1.0);
        let ridge = a.lingual_ridge_mm / (1.0 + (across / 0.25).powi(2)).powi(2);
        middle + hollow + ridge * (4.0 * v * (1.0 - v)).max(0.0)
    }

    /// Height of the incisal edge (or of the canine's two slopes) over a place seen from the occlusal, mm.
    pub fn edge_z(&self, x: f64, y: f64) -> f64 {
        let a = &self.anatomy;
        let off = x - a.tip_x * self.mesial.contour;
        let (fall, half) =
            if off >= 0.0 { (a.fall[0], self.mesial.contour) } else { (a.fall[1], self.distal.contour) };
        // A hyperbola: level at its top, falling by `fall` mm towards the corner.
        let soft = a.tip_mm;
        let share = ((off * off + soft * soft).sqrt() - soft) / ((half * half + soft * soft).sqrt() - soft);
        self.crown - fall * share + a.edge_slope * (y - a.edge_y_mm).clamp(-3.0, 3.0)
    }

    /// How far facially of the axis the incisal edge lies, mm.
    pub fn edge_y(&self) -> f64 {
        self.anatomy.edge_y_mm
    }

    /// Height of the cingulum's crest, mm; the fossa begins over it.
    pub fn cingulum_z(&self) -> f64 {
        self.lingual.cervical.contour_z
    }

    /// How much the facial surface curves mesiodistally in its incisal half: fall per square of the distance, 1/mm.
    pub fn facial_curvature(&self) -> f64 {
        0.33 * self.facial.half_width(0.6 * self.crown) / self.mesial.contour.powi(2)
    }
}

impl Face {
    fn half_width(&self, z: f64) -> f64 {
        let c = &self.cervical;
        if z < c.contour_z {
            return c.half_width(z);
        }
        const BEND: f64 = 0.35;
        let u = ((z - c.contour_z) / (c.crown - c.contour_z)).min(1.1);
        c.contour - (c.contour - self.edge) * (1.0 + BEND) * u * u / (u + BEND)
    }
}
