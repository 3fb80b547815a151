//! What of a preparation meets the opposing teeth, and whether their scan can be believed.

use nalgebra::Point3;

use crate::front::FrontZones;
use crate::preparation::Preparation;
use crate::scene::{Near, Placed};
use crate::zones::{self, OcclusalVertex};

/// Farther than this there is no clearance but a missing antagonist, mm.
pub(crate) const OPPOSITE_MM: f64 = 8.0;

impl Preparation<'_> {
    /// The vertices that meet the opposing teeth, with the edges round them.
    pub(crate) fn find_bite(&self) -> Vec<OcclusalVertex> {
        let after = self.scene.after;
        let mut is_bite = vec![false; after.mesh.vertices.len()];
        self.occlusal.vertices.iter().for_each(|vertex| is_bite[vertex.vertex as usize] = true);
        // The edge belongs to the surface that ends there, and on a sharp one the opposing teeth come nearest. Where the cut
        // ends on uncut tooth there is no such edge.
        if self.uncovered.is_empty() && !self.is_early {
            let faces = self.occlusal.vertices.iter();
            let around = faces.flat_map(|vertex| after.topology.vertex_triangles(vertex.vertex));
            for &triangle in around.filter(|&&triangle| self.faces_occlusally(triangle)) {
                let corners = after.mesh.triangles[triangle as usize];
                if corners.iter().all(|&corner| self.inside[corner as usize]) {
                    corners.iter().for_each(|&corner| is_bite[corner as usize] = true);
                }
            }
        }
        if self.tooth.is_front() {
            let zones = FrontZones::of(self);
            let both = zones.incisal.iter().chain(&zones.fossa);
            both.for_each(|vertex| is_bite[vertex.vertex as usize] = true);
        }
        (0..is_bite.len() as u32)
            .filter(|&vertex| is_bite[vertex as usize])
            .map(|vertex| self.placed(vertex))
            .collect()
    }

    fn faces_occlusally(&self, triangle: u32) -> bool {
        self.scene.after.triangle_normals[triangle as usize].dot(&self.path) > zones::OCCLUSAL_COS
    }

    /// The nearest opposing surface to each vertex of the bite; none where the opposing scan is at fault.
    pub(crate) fn find_opposite(&self) -> Vec<Option<Near>> {
        let Some(opposing) = self.scene.opposing.filter(|_| self.opposing_fault.is_none()) else {
            return Vec::new();
        };
        let vertices = &self.scene.after.mesh.vertices;
        let points: Vec<Point3<f64>> =
            self.bite.iter().map(|vertex| vertices[vertex.vertex as usize]).collect();
        opposing.nearest(&points, OPPOSITE_MM)
    }

    /// The opposing teeth must nearly touch the uncut ones and must not reach into them.
    pub(crate) fn check_opposing(&mut self) {
        const NEARLY_MM: f64 = 1.0;
        const INTO_MM: f64 = 0.3;
        let Some(opposing) = &self.scene.opposing else { return };
        let against = self.scene.before.unwrap_or(Placed::in_place(self.scene.after));
        let n = against.surface.mesh.vertices.len();
        let points: Vec<Point3<f64>> =
            (0..n as u32).step_by((n / 12_000).max(1)).map(|vertex| against.vertex(vertex)).collect();
        let gaps: Vec<f64> = opposing
            .nearest(&points, 1.5)
            .into_iter()
            .flatten()
            .filter(|near| !near.on_border)
            .map(|near| near.signed_mm)
            .collect();
        let least_mm = gaps.iter().copied().fold(f64::INFINITY, f64::min);
        let Some(p01_mm) = kerfwright_geometry::fit::percentile(&gaps, 0.5) else {
            self.opposing_fault = Some(
                "the opposing scan lies more than 1.5 mm away from the teeth: say whose frame it shares with \
                 --opposing-frame, or scan the bite again"
                    .into(),
            );
            return;
        };
        if least_mm > NEARLY_MM {
            self.opposing_fault = Some(format!(
                "the opposing teeth stay {least_mm:.1} mm away from every tooth: not a closed bite; check --opposing-frame"
            ));
        } else if p01_mm < -INTO_MM {
            self.opposing_fault = Some(format!(
                "the opposing teeth reach {:.2} mm into these: not a bite; check --opposing-frame",
                -least_mm
            ));
        } else if least_mm < -(4.0 * self.noise_mm).max(0.05) {
            self.warnings.push(format!(
                "the opposing teeth reach {:.2} mm into these at one place: clearance may be too small by as much",
                -least_mm
            ));
        }
    }
}
