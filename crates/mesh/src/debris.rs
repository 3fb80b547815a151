//! Small loose pieces: drops of saliva, bits of a glove, noise at the rim of a scan.

use crate::repair::drop_loose_vertices;
use crate::{Audit, Finding, Scan};

/// Pieces of fewer triangles may be debris.
pub const DEBRIS_TRIANGLES: usize = 50;

/// Pieces of a smaller area may be debris, mm²; a value of our own, about the size of a 1 mm flake.
pub const DEBRIS_AREA_MM2: f64 = 1.0;

impl Scan {
    /// The scan without pieces that are both below [`DEBRIS_TRIANGLES`] and below [`DEBRIS_AREA_MM2`].
    ///
    /// The largest piece always stays. The audit says what was dropped and describes the rest.
    pub fn without_debris(mut self) -> Self {
        let is_debris = |island: &&crate::Island| {
            island.n_triangles < DEBRIS_TRIANGLES && island.area_mm2 < DEBRIS_AREA_MM2
        };
        let islands = self.audit.islands.iter().skip(1);
        let mut debris: Vec<u32> = islands.filter(is_debris).map(|island| island.first_triangle).collect();
        if debris.is_empty() {
            return self;
        }
        let (_, island_of) = Audit::with_islands(&self.mesh);
        debris.sort_unstable();
        let mut island_of_next = island_of.iter();
        let before = self.mesh.triangles.len();
        let is_kept = |island: &u32| debris.binary_search(island).is_err();
        self.mesh.triangles.retain(|_| island_of_next.next().is_some_and(is_kept));
        let faces = before - self.mesh.triangles.len();
        drop_loose_vertices(&mut self.mesh, &mut self.vertex_colours);
        let mut findings = self.audit.findings;
        findings.retain(|finding| !finding.is_state());
        findings.push(Finding::Debris { islands: debris.len(), faces });
        self.audit = Audit::of(&self.mesh).after(findings);
        self
    }
}
