//! Which triangles and vertices of a mesh touch.

use kerfwright_mesh::Mesh;
use rayon::prelude::*;

/// Neighbours over edges and around vertices.
///
/// Two triangles are neighbours over an edge when exactly these two use it, in opposite directions.
/// Every other edge (open, used three times, or by triangles that face opposite ways) counts as boundary.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Topology {
    /// For each triangle the neighbour over edge `k` (corner `k` to corner `(k + 1) % 3`), or [`Topology::NONE`].
    pub opposite: Vec<[u32; 3]>,
    triangles: Rows,
    neighbours: Rows,
    boundary: Vec<bool>,
}

impl Topology {
    /// Stands for "no neighbour": the edge is open or not shared by exactly two consistent triangles.
    pub const NONE: u32 = u32::MAX;

    /// Finds the neighbours of every triangle and vertex of `mesh`.
    pub fn new(mesh: &Mesh) -> Self {
        let triangles = triangles_of_vertices(mesh);
        let opposite: Vec<[u32; 3]> = (0..mesh.triangles.len() as u32)
            .into_par_iter()
            .with_min_len(1024)
            .map(|triangle| {
                let over = |edge: usize| opposite(mesh, &triangles, triangle, edge);
                [over(0), over(1), over(2)]
            })
            .collect();
        let mut boundary = vec![false; mesh.vertices.len()];
        for (corners, neighbours) in mesh.triangles.iter().zip(&opposite) {
            for edge in 0..3 {
                if neighbours[edge] == Self::NONE {
                    boundary[corners[edge] as usize] = true;
                    boundary[corners[(edge + 1) % 3] as usize] = true;
                }
            }
        }
        let neighbours = neighbours_of_vertices(mesh, &triangles);
        Self { opposite, triangles, neighbours, boundary }
    }

    /// The triangles that use `vertex`, in ascending order.
    #[inline]
    pub fn vertex_triangles(&self, vertex: u32) -> &[u32] {
        self.triangles.row(vertex)
    }

    /// The vertices that share an edge with `vertex`, in ascending order.
    #[inline]
    pub fn vertex_neighbours(&self, vertex: u32) -> &[u32] {
        self.neighbours.row(vertex)
    }

    /// Whether an edge without a neighbour ends at `vertex`.
    #[inline]
    pub fn is_boundary_vertex(&self, vertex: u32) -> bool {
        self.boundary[vertex as usize]
    }
}

/// Lists of different length, one behind the other.
#[derive(Debug, Clone, Default, PartialEq)]
struct Rows {
    starts: Vec<u32>,
    items: Vec<u32>,
}

impl Rows {
    #[inline]
    fn row(&self, index: u32) -> &[u32] {
        let index = index as usize;
        &self.items[self.starts[index] as usize..self.starts[index + 1] as usize]
    }
}

fn triangles_of_vertices(mesh: &Mesh) -> Rows {
    let mut starts = vec![0u32; mesh.vertices.len() + 2];
    for &vertex in mesh.triangles.iter().flat_map(distinct) {
        starts[vertex as usize + 2] += 1;
    }
    for index in 2..starts.len() {
        starts[index] += starts[index - 1];
    }
    let mut items = vec![0u32; starts[starts.len() - 1] as usize];
    for (triangle, corners) in mesh.triangles.iter().enumerate() {
        for &vertex in distinct(corners) {
            let next = &mut starts[vertex as usize + 1];
            items[*next as usize] = triangle as u32;
            *next += 1;
        }
    }
    starts.pop();
    Rows { starts, items }
}

/// The corners of a triangle, a repeated one once.
fn distinct(corners: &[u32; 3]) -> impl Iterator<Item = &u32> {
    (0..3).filter(|&k| !corners[..k].contains(&corners[k])).map(|k| &corners[k])
}

fn opposite(mesh: &Mesh, triangles: &Rows, triangle: u32, edge: usize) -> u32 {
    let corners = mesh.triangles[triangle as usize];
    let (from, to) = (corners[edge], corners[(edge + 1) % 3]);
    let mut found = Topology::NONE;
    let mut users = 0;
    for &other in triangles.row(from) {
        let other_corners = &mesh.triangles[other as usize];
        if !other_corners.contains(&to) {
            continue;
        }
        users += 1;
        if other != triangle && runs(other_corners, to, from) {
            found = other;
        }
    }
    if users == 2 && from != to { found } else { Topology::NONE }
}

fn runs(corners: &[u32; 3], from: u32, to: u32) -> bool {
    (0..3).any(|k| corners[k] == from && corners[(k + 1) % 3] == to)
}

fn neighbours_of_vertices(mesh: &Mesh, triangles: &Rows) -> Rows {
    const CHUNK: usize = 4096;
    let n_vertices = mesh.vertices.len();
    let chunks: Vec<(Vec<u32>, Vec<u32>)> = (0..n_vertices.div_ceil(CHUNK))
        .into_par_iter()
        .map(|chunk| {
            let vertices = chunk * CHUNK..n_vertices.min((chunk + 1) * CHUNK);
            let (mut counts, mut items, mut row) = (Vec::new(), Vec::new(), Vec::new());
            for vertex in vertices {
                row.clear();
                for &triangle in triangles.row(vertex as u32) {
                    row.extend(mesh.triangles[triangle as usize].iter().filter(|&&v| v != vertex as u32));
                }
                row.sort_unstable();
                row.dedup();
                counts.push(row.len() as u32);
                items.extend_from_slice(&row);
            }
            (counts, items)
        })
        .collect();
    let mut rows = Rows { starts: Vec::with_capacity(n_vertices + 1), items: Vec::new() };
    let mut end = 0;
    rows.starts.push(end);
    for (counts, items) in &chunks {
        for count in counts {
            end += count;
            rows.starts.push(end);
        }
        rows.items.extend_from_slice(items);
    }
    rows
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::Point3;

    fn mesh(n_vertices: usize, triangles: &[[u32; 3]]) -> Mesh {
        Mesh { vertices: vec![Point3::origin(); n_vertices], triangles: triangles.to_vec() }
    }

    #[test]
    fn two_triangles_share_one_edge() {
        let topology = Topology::new(&mesh(5, &[[0, 1, 2], [2, 1, 3]]));
        assert_eq!(topology.opposite, [[u32::MAX, 1, u32::MAX], [0, u32::MAX, u32::MAX]]);
        assert_eq!(topology.vertex_triangles(1), [0, 1]);
        assert_eq!(topology.vertex_neighbours(1), [0, 2, 3]);
        assert_eq!(topology.vertex_neighbours(4), [0u32; 0]);
        assert!(topology.is_boundary_vertex(0) && !topology.is_boundary_vertex(4));
    }

    #[test]
    fn a_tetrahedron_has_no_boundary() {
        let topology = Topology::new(&mesh(4, &[[0, 2, 1], [0, 1, 3], [1, 2, 3], [2, 0, 3]]));
        assert!((0..4).all(|vertex| !topology.is_boundary_vertex(vertex)));
        for (triangle, neighbours) in topology.opposite.iter().enumerate() {
            assert!(
                neighbours
                    .iter()
                    .all(|&other| topology.opposite[other as usize].contains(&(triangle as u32)))
            );
        }
    }

    #[test]
    fn an_edge_used_three_times_or_twice_the_same_way_has_no_neighbour() {
        let fin = Topology::new(&mesh(5, &[[0, 1, 2], [1, 0, 3], [0, 1, 4]]));
        assert!(fin.opposite.iter().flatten().all(|&other| other == Topology::NONE));
        let flipped = Topology::new(&mesh(4, &[[0, 1, 2], [0, 1, 3]]));
        assert!(flipped.opposite.iter().flatten().all(|&other| other == Topology::NONE));
    }

    #[test]
    fn a_triangle_with_a_repeated_corner_is_listed_once() {
        let topology = Topology::new(&mesh(2, &[[0, 0, 1]]));
        assert_eq!(topology.vertex_triangles(0), [0]);
        assert_eq!(topology.vertex_neighbours(0), [1]);
    }
}
