//! The triangle mesh that every other crate reads.

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
    #[inline]
    pub fn corners(&self, triangle: u32) -> [Point3<f64>; 3] {
        self.points_of(&self.triangles[triangle as usize])
    }

    /// Where three vertices lie.
    #[inline]
    pub fn points_of(&self, &[a, b, c]: &[u32; 3]) -> [Point3<f64>; 3] {
        // By name: `map` over an array is a call through memory where it is not inlined.
        [self.vertices[a as usize], self.vertices[b as usize], self.vertices[c as usize]]
    }

    /// The same mesh in another frame.
    pub fn transformed(&self, to_from_here: &Isometry3<f64>) -> Self {
        Self {
            vertices: self.vertices.iter().map(|vertex| to_from_here * vertex).collect(),
            triangles: self.triangles.clone(),
        }
    }

    /// The lowest and highest corner of the box around all vertices, mm; nothing for an empty mesh.
    pub fn bounds(&self) -> Option<(Point3<f64>, Point3<f64>)> {
        let first = *self.vertices.first()?;
        Some(
            self.vertices
                .iter()
                .fold((first, first), |(low, high), vertex| (low.inf(vertex), high.sup(vertex))),
        )
    }

    /// The sum of all triangle areas, mm².
    pub fn area_mm2(&self) -> f64 {
        (0..self.triangles.len() as u32).map(|triangle| self.triangle_area_mm2(triangle)).sum()
    }

    /// The area of one triangle, mm².
    #[inline]
    pub fn triangle_area_mm2(&self, triangle: u32) -> f64 {
        let [a, b, c] = self.corners(triangle);
        0.5 * (b - a).cross(&(c - a)).norm()
    }

    /// The same surface seen from the other side: every triangle runs the other way round.
    pub fn reversed(&self) -> Self {
        Self {
            vertices: self.vertices.clone(),
            triangles: self.triangles.iter().map(|&[a, b, c]| [a, c, b]).collect(),
        }
    }
}
