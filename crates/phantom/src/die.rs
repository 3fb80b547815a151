//! A die: one tooth on a base, freed below its finish line as a laboratory trims it.

use nalgebra::Point3;

use crate::finish_line::FinishLine;

/// The groove below E: its radius, and where its centre lies outside of and below E, mm.
const DITCH_RADIUS_MM: f64 = 1.2;
const DITCH_OUTSIDE_MM: f64 = 0.2;
const DITCH_BELOW_MM: f64 = 1.5;
/// The base: how far under the lowest point of E it begins, where it ends, and how it widens downwards.
const BASE_UNDER_MM: f64 = 2.6;
const BASE_END_Z_MM: f64 = -9.0;
const BASE_WIDENS: f64 = 0.12;

/// What surrounds the tooth of a die, in the tooth's frame.
#[derive(Debug, Clone)]
pub struct Die {
    base_z: f64,
    radius: f64,
}

impl Die {
    /// A base wide enough for a tooth of these half widths.
    pub fn new(line: &FinishLine, half_widths_mm: &[f64; 4]) -> Self {
        let lowest = (0..360).map(|i| line.edge(f64::from(i).to_radians()).z).fold(f64::MAX, f64::min);
        Self {
            base_z: lowest - BASE_UNDER_MM,
            radius: half_widths_mm.iter().copied().fold(0.0, f64::max) + 1.0,
        }
    }

    /// The base alone: a cone cut off flat at both ends, negative inside.
    pub fn base(&self, p: &Point3<f64>) -> f64 {
        let side = (p.x.hypot(p.y) - self.radius - BASE_WIDENS * (self.base_z - p.z)) / 1.01;
        side.max(p.z - self.base_z).max(BASE_END_Z_MM - p.z)
    }

    /// Volume of the base, mm³, in closed form.
    #[cfg(test)]
    pub fn base_mm3(&self) -> f64 {
        let height = self.base_z - BASE_END_Z_MM;
        let (a, b) = (self.radius, self.radius + BASE_WIDENS * height);
        std::f64::consts::PI / 3.0 * height * (a * a + a * b + b * b)
    }

    /// Positive in the groove below the finish line.
    pub fn ditch(&self, line: &FinishLine, p: &Point3<f64>) -> f64 {
        let place = line.place(&(line.prep_from_tooth * p));
        DITCH_RADIUS_MM - (place.inward + DITCH_OUTSIDE_MM).hypot(place.height + DITCH_BELOW_MM)
    }
}

#[cfg(test)]
mod tests {
    use crate::phantom::Phantom;
    use crate::scan::ScanOptions;
    use crate::spec::Spec;

    /// A scanned die is closed; above its base it holds what the ditch leaves of the tooth, and the base is a cone.
    #[test]
    fn a_die_is_closed_and_its_base_a_cone() {
        let phantom = Phantom::new(&Spec { fdi: 35, ..Spec::default() }.as_die());
        let die = phantom.die.as_ref().unwrap();
        let mesh = phantom.scan(&ScanOptions { edge_mm: 0.25, ..ScanOptions::exact() }).after;
        let six = |t: u32| {
            let [a, b, c] = mesh.corners(t).map(|p| p.coords);
            a.dot(&b.cross(&c))
        };
        let volume = (0..mesh.triangles.len() as u32).map(six).sum::<f64>() / 6.0;
        let step = 0.1;
        let above = (0..160usize.pow(3)).filter(|i| {
            let at = |k: usize| step * ((i / 160usize.pow(k as u32) % 160) as f64 + 0.5);
            let p = nalgebra::Point3::new(at(0) - 8.0, at(1) - 8.0, die.base_z + at(2));
            phantom.is_inside_after(&p)
        });
        let expected = die.base_mm3() + above.count() as f64 * step.powi(3);
        // Corners that the mesh cuts: 2π(12 + 8 mm) of edge, 0.06 mm² each at most.
        assert!((volume - expected).abs() < 5.0, "{volume} instead of {expected}");
        let mut balance = std::collections::HashMap::new();
        for t in &mesh.triangles {
            for k in 0..3 {
                let (a, b) = (t[k], t[(k + 1) % 3]);
                *balance.entry((a.min(b), a.max(b))).or_insert(0) += if a < b { 1 } else { -1 };
            }
        }
        assert!(balance.values().all(|&b| b == 0), "the die has holes");
    }
}
