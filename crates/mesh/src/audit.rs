//! What is wrong with a scan.

mod finding;

use crate::Mesh;
use crate::edges::{Edges, Sets};

pub use finding::Finding;

/// Coordinates beyond this are reported: single precision is coarser than 7 µm there.
pub const FAR_AWAY_MM: f64 = 1e5;

/// What was found in a scan, and what was repaired while reading it.
///
/// The numbers describe the mesh after the repairs.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Audit {
    /// Everything worth telling: first about the file and its repairs, then about the mesh as it stands.
    pub findings: Vec<Finding>,
    /// Edges with one triangle.
    pub n_open_edges: usize,
    /// Rims: groups of open edges that hang together at vertices, longest first.
    pub rims: Vec<Rim>,
    /// Edges with three or more triangles.
    pub n_non_manifold_edges: usize,
    /// Edges that both their triangles run the same way, so that they disagree about the outside.
    pub n_inconsistent_edges: usize,
    /// Triangles on the same three vertices as another one.
    pub n_back_to_back: usize,
    /// Pieces that share no edge, those of most triangles first.
    pub islands: Vec<Island>,
    /// The signed volume, mm³; nothing unless all islands are closed.
    pub volume_mm3: Option<f64>,
}

/// A rim of the surface.
#[derive(Debug, Clone, PartialEq)]
pub struct Rim {
    /// Its lowest vertex.
    pub first_vertex: u32,
    /// Open edges.
    pub n_edges: usize,
    /// Their length, mm.
    pub length_mm: f64,
}

/// A piece of the surface that shares no edge with the rest.
#[derive(Debug, Clone, PartialEq)]
pub struct Island {
    /// Its lowest triangle.
    pub first_triangle: u32,
    /// Number of triangles.
    pub n_triangles: usize,
    /// Sum of their areas, mm².
    pub area_mm2: f64,
    /// Whether exactly two triangles meet at every edge, in agreement.
    pub is_closed: bool,
}

impl Audit {
    /// Examines a mesh and changes nothing.
    pub fn of(mesh: &Mesh) -> Self {
        Self::with_islands(mesh).0
    }

    /// The same audit, after what was found and repaired before.
    pub(crate) fn after(mut self, mut findings: Vec<Finding>) -> Self {
        findings.append(&mut self.findings);
        Self { findings, ..self }
    }

    /// Examines a mesh, and gives the island of each triangle as its lowest triangle.
    pub(crate) fn with_islands(mesh: &Mesh) -> (Self, Vec<u32>) {
        let mut audit = Self::default();
        let mut islands = Sets::new(mesh.triangles.len());
        let mut open = Vec::new();
        // Triangles at an edge that is not closed properly.
        let mut not_closed = Vec::new();
        let edges = Edges::new(&mesh.triangles, mesh.vertices.len());
        edges.each(|edge| {
            let triangle = edge.half_edges().next().unwrap_or_default() / 3;
            edge.half_edges().for_each(|half_edge| islands.join(triangle, half_edge / 3));
            let is_inconsistent = edges.is_inconsistent(&edge);
            audit.n_inconsistent_edges += usize::from(is_inconsistent);
            audit.n_back_to_back += edges.count_coincident(&edge);
            audit.n_non_manifold_edges += usize::from(edge.len() > 2);
            if edge.len() == 1 {
                open.push(edge.vertices);
            }
            if edge.len() != 2 || is_inconsistent {
                not_closed.push(triangle);
            }
        });
        let island_of: Vec<u32> =
            (0..mesh.triangles.len() as u32).map(|triangle| islands.root(triangle)).collect();
        audit.n_open_edges = open.len();
        audit.rims = rims(mesh, &open);
        audit.islands = describe_islands(mesh, &island_of, &not_closed);
        let is_closed = !audit.islands.is_empty() && audit.islands.iter().all(|island| island.is_closed);
        audit.volume_mm3 = is_closed.then(|| signed_volume_mm3(mesh));
        audit.findings = audit.state(mesh);
        (audit, island_of)
    }

    /// The findings about the mesh as it stands.
    fn state(&self, mesh: &Mesh) -> Vec<Finding> {
        let reach_mm = mesh.vertices.iter().map(|vertex| vertex.coords.amax()).fold(0.0, f64::max);
        let volume_mm3 = self.volume_mm3.unwrap_or_default();
        let n_islands = self.islands.len();
        let largest = self.islands.first().map_or(0, |island| island.n_triangles);
        let all = [
            (self.n_open_edges > 0, Finding::Open { edges: self.n_open_edges, loops: self.rims.len() }),
            (self.n_non_manifold_edges > 0, Finding::NonManifold { edges: self.n_non_manifold_edges }),
            (self.n_inconsistent_edges > 0, Finding::Inconsistent { edges: self.n_inconsistent_edges }),
            (self.n_back_to_back > 0, Finding::BackToBack { faces: self.n_back_to_back }),
            (
                n_islands > 1,
                Finding::Islands {
                    islands: n_islands,
                    faces_outside_largest: mesh.triangles.len() - largest,
                },
            ),
            (volume_mm3 < 0.0, Finding::InsideOut { volume_mm3 }),
            (reach_mm > FAR_AWAY_MM, Finding::FarAway { reach_mm, step_mm: single_step(reach_mm) }),
        ];
        all.into_iter().filter_map(|(is_so, finding)| is_so.then_some(finding)).collect()
    }
}

/// The gap between neighbouring numbers of single precision.
fn single_step(value: f64) -> f64 {
    let single = value as f32;
    f64::from(single.next_up()) - f64::from(single)
}

fn rims(mesh: &Mesh, open: &[[u32; 2]]) -> Vec<Rim> {
    let mut joined = Sets::new(if open.is_empty() { 0 } else { mesh.vertices.len() });
    open.iter().for_each(|&[a, b]| joined.join(a, b));
    let mut all: Vec<(u32, f64)> = open
        .iter()
        .map(|&[a, b]| (joined.root(a), (mesh.vertices[a as usize] - mesh.vertices[b as usize]).norm()))
        .collect();
    // Stable, so that the lengths add up in the same order every time.
    all.sort_by_key(|&(root, _)| root);
    let mut rims: Vec<Rim> = all
        .chunk_by(|a, b| a.0 == b.0)
        .map(|edges| Rim {
            first_vertex: edges[0].0,
            n_edges: edges.len(),
            length_mm: edges.iter().map(|&(_, length_mm)| length_mm).sum(),
        })
        .collect();
    rims.sort_by(|a, b| b.length_mm.total_cmp(&a.length_mm).then(a.first_vertex.cmp(&b.first_vertex)));
    rims
}

fn describe_islands(mesh: &Mesh, island_of: &[u32], not_closed: &[u32]) -> Vec<Island> {
    const NONE: u32 = u32::MAX;
    let mut place_of = vec![NONE; island_of.len()];
    let mut islands: Vec<Island> = Vec::new();
    for (triangle, &first_triangle) in island_of.iter().enumerate() {
        let place = &mut place_of[first_triangle as usize];
        if *place == NONE {
            *place = islands.len() as u32;
            islands.push(Island { first_triangle, n_triangles: 0, area_mm2: 0.0, is_closed: true });
        }
        let island = &mut islands[*place as usize];
        island.n_triangles += 1;
        island.area_mm2 += mesh.triangle_area_mm2(triangle as u32);
    }
    for &triangle in not_closed {
        islands[place_of[island_of[triangle as usize] as usize] as usize].is_closed = false;
    }
    islands.sort_by_key(|island| (std::cmp::Reverse(island.n_triangles), island.first_triangle));
    islands
}

fn signed_volume_mm3(mesh: &Mesh) -> f64 {
    // From a vertex of the mesh, so that far-away scans lose no digits.
    let origin = mesh.vertices.first().copied().unwrap_or_default();
    let six_fold: f64 = (0..mesh.triangles.len() as u32)
        .map(|triangle| {
            let [a, b, c] = mesh.corners(triangle).map(|corner| corner - origin);
            a.dot(&b.cross(&c))
        })
        .sum();
    six_fold / 6.0
}
