//! Triangle meshes as scanners export them.

use nalgebra::{Isometry3, Point3};

/// An indexed triangle mesh in millimetres.
///
/// Triangles run counter-clockwise seen from outside the tooth.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Mesh {
    /// `n` points, mm.
    pub vertices: Vec<Point3<f64>>,
    /// Three indices into `vertices` each.
    pub triangles: Vec<[u32; 3]>,
}

impl Mesh {
    /// The three corners of one triangle.
    pub fn corners(&self, triangle: u32) -> [Point3<f64>; 3] {
        self.triangles[triangle as usize].map(|vertex| self.vertices[vertex as usize])
    }

    /// The same mesh in another frame.
    pub fn transformed(&self, to_from_here: &Isometry3<f64>) -> Self {
        Self {
            vertices: self.vertices.iter().map(|vertex| to_from_here * vertex).collect(),
            triangles: self.triangles.clone(),
        }
    }
}
