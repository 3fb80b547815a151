//! Teeth in contact on a gently curved arch, with the gum around them.

use nalgebra::{Isometry3, Point3, Translation3, UnitQuaternion, Vector3};

use crate::field::Field;
use crate::gingiva::{Footing, Gingiva};
use crate::teeth::Fdi;
use crate::tooth::Tooth;

/// A tooth in its place. All places are turned about the tooth's axis and shifted; none is tipped.
#[derive(Debug, Clone)]
pub struct Placed {
    /// The tooth in its own frame.
    pub tooth: Tooth,
    /// Its place along the arch, mm (mesial positive).
    pub s: f64,
    origin: Point3<f64>,
    cosine: f64,
    sine: f64,
}

impl Placed {
    /// A point of the arch in the tooth's own frame.
    pub fn tooth_from_arch(&self, p: &Point3<f64>) -> Point3<f64> {
        let d = p - self.origin;
        Point3::new(self.cosine * d.x - self.sine * d.y, self.sine * d.x + self.cosine * d.y, d.z)
    }

    /// Where the tooth stands.
    pub fn arch_from_tooth(&self) -> Isometry3<f64> {
        let turn = UnitQuaternion::from_axis_angle(&Vector3::z_axis(), (-self.sine).atan2(self.cosine));
        Isometry3::from_parts(Translation3::from(self.origin), turn)
    }

    /// Moves the tooth along its axis.
    pub fn shift_occlusally(&mut self, by_mm: f64) {
        self.origin.z += by_mm;
    }
}

impl Field for Placed {
    fn value(&self, p: &Point3<f64>) -> f64 {
        self.tooth.value(&self.tooth_from_arch(p))
    }
}

/// A row of teeth in one jaw: `x` mesial at the middle tooth, `y` facial, `z` occlusal.
///
/// Right-handed, whatever the quadrant; the files of quadrants 2 and 4 are mirrored on the way out.
#[derive(Debug, Clone)]
pub struct Arch {
    /// In order along the arch, the most distal first.
    pub teeth: Vec<Placed>,
    /// Which of them stands at the origin.
    pub middle: usize,
    /// The gum; `None` leaves it away.
    pub gingiva: Option<Gingiva>,
    /// Curvature of the arch in the occlusal plane, 1/mm; 0 is straight.
    curvature: f64,
    /// Sideways shift of the whole row, mm facially.
    t0: f64,
}

impl Arch {
    /// Teeth `first..=last` steps distally of `middle` (negative = mesially), cusps level with those of `middle`.
    ///
    /// `s0`, `t0` shift the row along and across the arch, as an opposing row needs it.
    pub fn new(middle: Fdi, mesially: u8, distally: u8, curvature: f64, s0: f64, t0: f64) -> Self {
        let level = middle.size().crown_mm;
        let mut arch = Self { teeth: Vec::new(), middle: 0, gingiva: None, curvature, t0 };
        let row: Vec<Fdi> =
            (-(mesially as i8)..=distally as i8).rev().filter_map(|step| middle.distally(step)).collect();
        arch.middle = row.iter().position(|&fdi| fdi == middle).unwrap_or(0);
        let mut placed = vec![None; row.len()];
        placed[arch.middle] = Some(arch.place(middle, s0, level));
        for i in arch.middle + 1..row.len() {
            let beside = placed[i - 1].clone();
            placed[i] = beside.map(|b| arch.touching(&b, row[i], 1.0, level));
        }
        for i in (0..arch.middle).rev() {
            let beside = placed[i + 1].clone();
            placed[i] = beside.map(|b| arch.touching(&b, row[i], -1.0, level));
        }
        arch.teeth = placed.into_iter().flatten().collect();
        arch.gingiva = Some(Gingiva::new(&arch.footings()));
        arch
    }

    /// Makes the gum anew after teeth were moved.
    pub fn refit_gingiva(&mut self) {
        self.gingiva = Some(Gingiva::new(&self.footings()));
    }

    /// A point in the arch's own coordinates: along the row (mesial positive), across it (facial positive).
    pub fn along_and_across(&self, p: &Point3<f64>) -> (f64, f64) {
        if self.curvature == 0.0 {
            return (p.x, p.y - self.t0);
        }
        let radius = 1.0 / self.curvature;
        let y = p.y + radius;
        (p.x.atan2(y) * radius, (p.x * p.x + y * y).sqrt() - radius - self.t0)
    }

    /// Ends of the row along the arch, mm.
    pub fn ends(&self) -> (f64, f64) {
        let (first, last) = (&self.teeth[0], &self.teeth[self.teeth.len() - 1]);
        (first.s - first.tooth.half_widths_mm()[2], last.s + last.tooth.half_widths_mm()[0])
    }

    /// The gum alone, negative inside.
    pub fn gingiva_value(&self, p: &Point3<f64>) -> f64 {
        let Some(gingiva) = &self.gingiva else { return f64::MAX };
        if p.z > gingiva.top_z + 1.0 {
            return p.z - gingiva.top_z;
        }
        let (s, t) = self.along_and_across(p);
        let (height, steep) = gingiva.height(s, t);
        (p.z - height) / (gingiva.steep2 + steep * steep).sqrt()
    }

    /// The union of the teeth for which `value` is given, cheaply: teeth far away are not evaluated.
    pub fn teeth_value(&self, p: &Point3<f64>, value: impl Fn(usize, &Tooth, &Point3<f64>) -> f64) -> f64 {
        let mut least = f64::MAX;
        for (index, placed) in self.teeth.iter().enumerate() {
            let local = placed.tooth_from_arch(p);
            let outside = placed.tooth.outside_box(&local);
            if outside > 1.0 {
                least = least.min(outside);
            } else if outside < least {
                least = least.min(value(index, &placed.tooth, &local));
            }
        }
        least
    }

    fn place(&self, fdi: Fdi, s: f64, level: f64) -> Placed {
        let tooth = Tooth::new(fdi);
        let z = level - tooth.crown_mm;
        let (x, y, angle) = if self.curvature == 0.0 {
            (s, self.t0, 0.0)
        } else {
            let radius = 1.0 / self.curvature;
            let (sine, cosine) = (s / radius).sin_cos();
            ((radius + self.t0) * sine, (radius + self.t0) * cosine - radius, s / radius)
        };
        Placed { tooth, s, origin: Point3::new(x, y, z), cosine: angle.cos(), sine: angle.sin() }
    }

    /// The tooth placed so that it just touches its neighbour, on the mesial (`side` 1) or distal (−1) side.
    fn touching(&self, beside: &Placed, fdi: Fdi, side: f64, level: f64) -> Placed {
        let samples = proximal_points(beside, side, 0.15);
        let gap = |placed: &Placed| samples.iter().map(|p| placed.value(p)).fold(f64::MAX, f64::min);
        let (mut near, mut far) = (beside.s + side * 3.0, beside.s + side * 14.0);
        while (far - near).abs() > 1e-6 {
            let middle = 0.5 * (near + far);
            if gap(&self.place(fdi, middle, level)) < 0.0 { near = middle } else { far = middle }
        }
        self.place(fdi, far, level)
    }

    fn footings(&self) -> Vec<Footing> {
        let footing = |placed: &Placed| {
            let [half_length, half_width] = placed.tooth.cervix_half_widths_mm();
            let size = placed.tooth.fdi.size();
            let rises = [size.curvature_distal_mm, size.curvature_mesial_mm];
            Footing { s: placed.s, z: placed.origin.z, half_length, half_width, rises }
        };
        self.teeth.iter().map(footing).collect()
    }
}

/// Points on one proximal side of a tooth, `spacing` mm apart: at 0.15 a contact is found to about a micrometre.
fn proximal_points(placed: &Placed, side: f64, spacing: f64) -> Vec<Point3<f64>> {
    let arch_from_tooth = placed.arch_from_tooth();
    let middle = if side > 0.0 { 0.0 } else { std::f64::consts::PI };
    let mut points = Vec::new();
    let n = (0.4 * placed.tooth.crown_mm / spacing) as i32;
    for k in 0..n {
        let z = 0.4 * placed.tooth.crown_mm + spacing * f64::from(k);
        for i in -(n / 2)..=n / 2 {
            let azimuth = middle + 0.2 * spacing * f64::from(i);
            let r = placed.tooth.radius_at(azimuth, z);
            points.push(arch_from_tooth * Point3::new(r * azimuth.cos(), r * azimuth.sin(), z));
        }
    }
    points
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn neighbours_touch_and_do_not_overlap() {
        for curvature in [0.0, 1.0 / 45.0] {
            let arch = Arch::new(Fdi::new(26).unwrap(), 2, 1, curvature, 0.0, 0.0);
            assert_eq!(arch.teeth.len(), 4);
            let numbers: Vec<u8> = arch.teeth.iter().map(|t| t.tooth.fdi.number()).collect();
            assert_eq!(numbers, [27, 26, 25, 24]);
            for pair in arch.teeth.windows(2) {
                let least = proximal_points(&pair[0], 1.0, 0.04)
                    .iter()
                    .map(|p| pair[1].value(p))
                    .fold(f64::MAX, f64::min);
                assert!((-2e-3..2e-3).contains(&least), "{least}");
            }
        }
    }

    #[test]
    fn a_point_moves_between_frames_and_back() {
        let arch = Arch::new(Fdi::new(35).unwrap(), 1, 1, 1.0 / 40.0, 0.0, 0.0);
        let placed = &arch.teeth[2];
        let p = Point3::new(1.0, 2.0, 3.0);
        assert!((placed.tooth_from_arch(&(placed.arch_from_tooth() * p)) - p).norm() < 1e-12);
    }
}
