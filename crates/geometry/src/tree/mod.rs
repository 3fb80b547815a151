//! A tree of boxes over triangles, eight children a node and eight triangles a leaf.
//!
//! Boxes and leaf bounds are `f32` and rounded outwards, so they only ever let too much through; what is
//! reported is computed in plain `f64` from the corners. Distances, ties and features therefore do not depend
//! on the width of the processor's vectors, on the order of the search, or on the number of threads.

mod batch;
mod build;
mod closest;
mod crossing;
mod morton;
mod node;
mod packet;
mod ray;

use kerfwright_mesh::Mesh;
use nalgebra::Point3;

use crate::Feature;
use node::Node;
use packet::Packet;

/// Finds the triangles of a mesh near a point, along a ray or across a plane.
///
/// Holds its own copy of the corners. Triangles with a coordinate that is not finite are left out.
#[derive(Debug, Clone)]
pub struct TriangleTree {
    /// The first one is the root; none for a mesh without triangles.
    nodes: Vec<Node>,
    packets: Vec<Packet>,
}

/// The closest point of a mesh.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Closest {
    /// The closest point, mm.
    pub point: Point3<f64>,
    /// Distance from the query, mm, never negative.
    pub distance_mm: f64,
    /// The triangle it lies on; where several are equally near, the lowest.
    pub triangle: u32,
    /// Where on that triangle.
    pub feature: Feature,
}

/// The first hit of a ray.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RayHit {
    /// Where the ray hits, mm.
    pub point: Point3<f64>,
    /// Distance along the ray, mm.
    pub distance_mm: f64,
    /// The triangle hit; where several are hit at the same distance, the lowest.
    pub triangle: u32,
}

impl TriangleTree {
    /// Builds the tree over all triangles of `mesh`.
    pub fn new(mesh: &Mesh) -> Self {
        build::build(mesh)
    }

    /// How many triangles the tree holds.
    pub fn n_triangles(&self) -> usize {
        self.packets.iter().map(Packet::len).sum()
    }
}
