//! A tree of boxes over triangles.

mod build;
mod closest;
mod crossing;
mod ray;

use kerfwright_mesh::Mesh;
use nalgebra::{Point3, Vector3};

use crate::Feature;

/// Finds the triangles of a mesh near a point, along a ray or across a plane.
///
/// Holds its own copy of the corners. Triangles with a coordinate that is not finite are left out.
#[derive(Debug, Clone)]
pub struct TriangleTree {
    nodes: Vec<Node>,
    corners: Vec<[Point3<f64>; 3]>,
    triangles: Vec<u32>,
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

#[derive(Debug, Clone, Copy)]
struct Node {
    low: Vector3<f64>,
    high: Vector3<f64>,
    /// First triangle of a leaf, or index of the second child (the first one follows its parent).
    next: u32,
    /// Triangles in a leaf, 0 for an inner node.
    count: u32,
}

impl TriangleTree {
    /// Builds the tree over all triangles of `mesh`.
    pub fn new(mesh: &Mesh) -> Self {
        build::build(mesh)
    }

    /// How many triangles the tree holds.
    pub fn n_triangles(&self) -> usize {
        self.triangles.len()
    }
}
