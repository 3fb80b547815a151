//! A scan made ready to be asked: tree, topology and normals.

use kerfwright_mesh::Mesh;
use nalgebra::{Point3, Vector3};
use rayon::prelude::*;

use crate::{Closest, Feature, Topology, TriangleTree};

/// A mesh with everything that distance and section queries need.
#[derive(Debug, Clone)]
pub struct Surface {
    /// The mesh itself.
    pub mesh: Mesh,
    /// Closest points and rays.
    pub tree: TriangleTree,
    /// Neighbours.
    pub topology: Topology,
    /// Unit normal of each triangle; zero for a triangle without area.
    pub triangle_normals: Vec<Vector3<f64>>,
    /// Unit normal of each vertex, weighted by the angles of its triangles; zero where there are none.
    pub vertex_normals: Vec<Vector3<f64>>,
}

/// A signed distance to a surface.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Signed {
    /// Distance in mm, positive outside (on the side the normals point to).
    pub distance_mm: f64,
    /// Where the surface is closest.
    pub closest: Closest,
}

impl Surface {
    /// Builds the tree, the topology and the normals of `mesh`.
    pub fn new(mesh: Mesh) -> Self {
        let (tree, (topology, triangle_normals, vertex_normals)) = rayon::join(
            || TriangleTree::new(&mesh),
            || {
                let (topology, triangle_normals) =
                    rayon::join(|| Topology::new(&mesh), || triangle_normals(&mesh));
                let vertex_normals = vertex_normals(&mesh, &topology, &triangle_normals);
                (topology, triangle_normals, vertex_normals)
            },
        );
        Self { mesh, tree, topology, triangle_normals, vertex_normals }
    }

    /// Signed distance of `point`, or `None` if the surface is farther than `within_mm`.
    ///
    /// The sign comes from the angle-weighted pseudo-normal of the face, edge or vertex that is closest, so it
    /// is right for every point near a closed surface. Where the closest feature lies
    /// [on the boundary](Self::on_boundary) of an open scan the sign has no meaning.
    ///
    /// # Source
    /// J. A. Bærentzen and H. Aanæs, Signed distance computation using the angle weighted pseudonormal,
    /// IEEE Transactions on Visualization and Computer Graphics 11(3), 2005, 243–253.
    pub fn signed(&self, point: &Point3<f64>, within_mm: f64) -> Option<Signed> {
        self.tree.closest(point, within_mm).map(|closest| self.sign(point, closest))
    }

    /// [`signed`](Self::signed) for many points, in parallel, in the order of the points.
    pub fn signed_many(&self, points: &[Point3<f64>], within_mm: f64) -> Vec<Option<Signed>> {
        self.tree
            .closest_map(points, within_mm, |point, closest| closest.map(|closest| self.sign(point, closest)))
    }

    /// Whether the closest feature is an edge without a neighbour, or a vertex at the end of one.
    #[inline]
    pub fn on_boundary(&self, closest: &Closest) -> bool {
        let triangle = closest.triangle as usize;
        match closest.feature {
            Feature::Face => false,
            Feature::Edge(k) => self.topology.opposite[triangle][k as usize] == Topology::NONE,
            Feature::Vertex(k) => self.topology.is_boundary_vertex(self.mesh.triangles[triangle][k as usize]),
        }
    }

    /// The pseudo-normal of the closest feature: of the face, or the unit mean over the edge or vertex.
    pub fn normal_at(&self, closest: &Closest) -> Vector3<f64> {
        let pseudo_normal = self.pseudo_normal(closest);
        pseudo_normal.try_normalize(0.0).unwrap_or(pseudo_normal)
    }

    #[inline]
    fn sign(&self, point: &Point3<f64>, closest: Closest) -> Signed {
        let inside = (point - closest.point).dot(&self.pseudo_normal(&closest)) < 0.0;
        let distance_mm = if inside { -closest.distance_mm } else { closest.distance_mm };
        Signed { distance_mm, closest }
    }

    #[inline]
    fn pseudo_normal(&self, closest: &Closest) -> Vector3<f64> {
        let triangle = closest.triangle as usize;
        match closest.feature {
            Feature::Face => self.triangle_normals[triangle],
            Feature::Edge(k) => match self.topology.opposite[triangle][k as usize] {
                Topology::NONE => self.normal_of_odd_edge(triangle, k as usize),
                other => self.triangle_normals[triangle] + self.triangle_normals[other as usize],
            },
            Feature::Vertex(k) => self.vertex_normals[self.mesh.triangles[triangle][k as usize] as usize],
        }
    }

    /// Sum over all triangles that use an edge which is open or shared by more than two.
    fn normal_of_odd_edge(&self, triangle: usize, edge: usize) -> Vector3<f64> {
        let corners = self.mesh.triangles[triangle];
        let (from, to) = (corners[edge], corners[(edge + 1) % 3]);
        let users = self.topology.vertex_triangles(from).iter();
        users
            .filter(|&&other| self.mesh.triangles[other as usize].contains(&to))
            .map(|&other| self.triangle_normals[other as usize])
            .sum()
    }
}

fn triangle_normals(mesh: &Mesh) -> Vec<Vector3<f64>> {
    let triangles = mesh.triangles.par_iter().with_min_len(4096);
    triangles
        .map(|corners| {
            let [a, b, c] = mesh.points_of(corners);
            let normal = (b - a).cross(&(c - a));
            normal.try_normalize(0.0).unwrap_or_else(Vector3::zeros)
        })
        .collect()
}

fn vertex_normals(mesh: &Mesh, topology: &Topology, triangle_normals: &[Vector3<f64>]) -> Vec<Vector3<f64>> {
    let vertices = (0..mesh.vertices.len() as u32).into_par_iter().with_min_len(2048);
    vertices
        .map(|vertex| {
            let triangles = topology.vertex_triangles(vertex).iter();
            let sum: Vector3<f64> = triangles
                .map(|&triangle| {
                    triangle_normals[triangle as usize] * corner_angle_rad(mesh, triangle, vertex)
                })
                .sum();
            sum.try_normalize(0.0).unwrap_or_else(Vector3::zeros)
        })
        .collect()
}

fn corner_angle_rad(mesh: &Mesh, triangle: u32, vertex: u32) -> f64 {
    let corners = mesh.triangles[triangle as usize];
    let k = corners.iter().position(|&corner| corner == vertex).unwrap_or(0);
    let at = |k: usize| mesh.vertices[corners[k % 3] as usize];
    let (to_next, to_last) = (at(k + 1) - at(k), at(k + 2) - at(k));
    to_next.cross(&to_last).norm().atan2(to_next.dot(&to_last))
}
