//! Faces of any number of corners, cut into triangles.

use nalgebra::{Point2, Point3, Vector3};

use crate::read::Parsed;
use crate::{Finding, Format, Mesh, ReadError};

/// Larger polygons are refused unless they are convex: clipping ears takes the square of their corners.
const MAX_CORNERS: usize = 1000;

/// Faces as files hold them: corners one after another, and where each face ends.
#[derive(Default)]
pub(crate) struct Faces {
    /// Vertex numbers from 0, not yet held against the number of vertices.
    pub corners: Vec<i64>,
    /// The end of each face in `corners`.
    pub ends: Vec<usize>,
}

/// Where indices of a format begin.
#[derive(Clone, Copy)]
pub(crate) enum FirstIndex {
    Zero,
    One,
}

impl Faces {
    /// Cuts every face into triangles; corners outside the vertices are an error.
    pub fn into_parsed(
        self,
        vertices: Vec<Point3<f64>>,
        format: Format,
        first_index: FirstIndex,
    ) -> Result<Parsed, ReadError> {
        check_size(vertices.len(), self.corners.len())?;
        let mut triangles = Vec::with_capacity(self.ends.len());
        let mut polygon: Vec<u32> = Vec::new();
        let (mut start, mut n_short) = (0, 0);
        for (face, &end) in self.ends.iter().enumerate() {
            polygon.clear();
            for &corner in &self.corners[start..end] {
                polygon.push(checked(corner, vertices.len(), face + 1, first_index)?);
            }
            start = end;
            match *polygon {
                [a, b, c] => triangles.push([a, b, c]),
                [] | [_] | [_, _] => n_short += 1,
                _ => triangulate(&vertices, &polygon, face + 1, &mut triangles)?,
            }
        }
        let findings = if n_short > 0 { vec![Finding::ShortFaces { faces: n_short }] } else { Vec::new() };
        Ok(Parsed { mesh: Mesh { vertices, triangles }, format, colours: None, findings })
    }
}

fn check_size(n_vertices: usize, n_corners: usize) -> Result<(), ReadError> {
    // A polygon of n corners becomes n - 2 triangles: three times the corners bound all indices.
    if n_vertices.max(n_corners) > (u32::MAX / 3) as usize - 1 {
        return Err(ReadError::TooLarge { limit: u32::MAX / 3 });
    }
    Ok(())
}

fn checked(corner: i64, n_vertices: usize, face: usize, first: FirstIndex) -> Result<u32, ReadError> {
    if (0..n_vertices as i64).contains(&corner) {
        return Ok(corner as u32);
    }
    let (index, lowest) = match first {
        FirstIndex::Zero => (corner, 0),
        FirstIndex::One => (corner.saturating_add(1), 1),
    };
    Err(ReadError::BadIndex { face, index, lowest, n_vertices })
}

/// Cuts a polygon of four or more corners into triangles of the same winding.
fn triangulate(
    vertices: &[Point3<f64>],
    polygon: &[u32],
    face: usize,
    triangles: &mut Vec<[u32; 3]>,
) -> Result<(), ReadError> {
    let flat = flattened(vertices, polygon);
    let n = flat.len();
    if (0..n).all(|k| turn(flat[k], flat[(k + 1) % n], flat[(k + 2) % n]) > 0.0) {
        triangles.extend((1..n - 1).map(|k| [polygon[0], polygon[k], polygon[k + 1]]));
        return Ok(());
    }
    if n > MAX_CORNERS {
        return Err(ReadError::PolygonTooLarge { face, n_corners: n });
    }
    let mut left: Vec<usize> = (0..n).collect();
    while left.len() > 3 {
        let ear = next_ear(&flat, &left);
        let [before, at, after] = around(&left, ear);
        triangles.push([polygon[before], polygon[at], polygon[after]]);
        left.remove(ear);
    }
    triangles.push([polygon[left[0]], polygon[left[1]], polygon[left[2]]]);
    Ok(())
}

/// The corners in the coordinate plane they fill best, running counter-clockwise.
fn flattened(vertices: &[Point3<f64>], polygon: &[u32]) -> Vec<Point2<f64>> {
    let point = |k: usize| vertices[polygon[k % polygon.len()] as usize];
    let origin = point(0);
    // Newell's sum: twice the area vector of the polygon, also when it is neither flat nor convex.
    let normal: Vector3<f64> =
        (0..polygon.len()).map(|k| (point(k) - origin).cross(&(point(k + 1) - origin))).sum();
    let axis = normal.iamax();
    let (mut u, mut v) = ((axis + 1) % 3, (axis + 2) % 3);
    if normal[axis] < 0.0 {
        (u, v) = (v, u);
    }
    (0..polygon.len()).map(|k| Point2::new(point(k)[u], point(k)[v])).collect()
}

/// Twice the area of the triangle, positive when it turns left.
fn turn(a: Point2<f64>, b: Point2<f64>, c: Point2<f64>) -> f64 {
    (b - a).perp(&(c - a))
}

fn around(left: &[usize], k: usize) -> [usize; 3] {
    let n = left.len();
    [left[(k + n - 1) % n], left[k], left[(k + 1) % n]]
}

/// The first corner that can be cut off; on a polygon that crosses itself the one that turns left most.
fn next_ear(flat: &[Point2<f64>], left: &[usize]) -> usize {
    let turn_at = |k: usize| {
        let [before, at, after] = around(left, k).map(|corner| flat[corner]);
        turn(before, at, after)
    };
    (0..left.len())
        .find(|&k| turn_at(k) > 0.0 && is_free(flat, left, k))
        .or_else(|| (0..left.len()).max_by(|&a, &b| turn_at(a).total_cmp(&turn_at(b))))
        .unwrap_or(0)
}

/// Whether no other corner lies in the triangle that would be cut off.
fn is_free(flat: &[Point2<f64>], left: &[usize], k: usize) -> bool {
    let [a, b, c] = around(left, k).map(|corner| flat[corner]);
    left.iter().map(|&corner| flat[corner]).all(|point| {
        let is_corner = point == a || point == b || point == c;
        is_corner || turn(a, b, point) < 0.0 || turn(b, c, point) < 0.0 || turn(c, a, point) < 0.0
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Triangulates a polygon given in the plane z = x + 2 y and returns the areas seen along z.
    fn signed_areas(outline: &[[f64; 2]]) -> Vec<f64> {
        let vertices: Vec<_> = outline.iter().map(|&[x, y]| Point3::new(x, y, x + 2.0 * y)).collect();
        let polygon: Vec<u32> = (0..outline.len() as u32).collect();
        let mut triangles = Vec::new();
        triangulate(&vertices, &polygon, 1, &mut triangles).unwrap();
        assert_eq!(triangles.len(), outline.len() - 2);
        let point = |corner: u32| Point2::from(outline[corner as usize]);
        triangles.iter().map(|t| 0.5 * turn(point(t[0]), point(t[1]), point(t[2]))).collect()
    }

    #[test]
    fn cuts_concave_polygons_without_overlap() {
        let arrow: &[[f64; 2]] = &[[2.0, 1.0], [0.0, 4.0], [2.0, 0.0], [4.0, 4.0]];
        let comb: &[[f64; 2]] =
            &[[0.0, 0.0], [6.0, 0.0], [6.0, 3.0], [5.0, 1.0], [4.0, 3.0], [3.0, 1.0], [2.0, 3.0], [1.0, 1.0]];
        for (outline, area) in [(arrow, 2.0), (comb, 10.5)] {
            for start in 0..outline.len() {
                let mut turned = outline.to_vec();
                turned.rotate_left(start);
                let areas = signed_areas(&turned);
                // All turn the same way and add up: no overlap, nothing outside.
                assert!(areas.iter().all(|&part| part > 0.0), "{areas:?}");
                assert!((areas.iter().sum::<f64>() - area).abs() < 1e-12, "{areas:?}");
            }
        }
    }

    #[test]
    fn keeps_the_winding_of_a_clockwise_outline() {
        let areas = signed_areas(&[[0.0, 4.0], [2.0, 1.0], [4.0, 4.0], [2.0, 0.0]]);
        assert!(areas.iter().all(|&part| part < 0.0), "{areas:?}");
    }

    #[test]
    fn cuts_a_polygon_with_corners_on_a_straight_side() {
        let areas = signed_areas(&[[0.0, 0.0], [1.0, 0.0], [2.0, 0.0], [2.0, 2.0], [0.0, 2.0]]);
        assert!(areas.iter().all(|&part| part > 0.0), "{areas:?}");
    }
}
