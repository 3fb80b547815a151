//! One triangle: its closest point.

use nalgebra::{Point3, Vector3};

/// The part of a triangle on which a closest point lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Feature {
    /// Inside the triangle.
    Face,
    /// On edge `k`, which runs from corner `k` to corner `(k + 1) % 3`.
    Edge(u8),
    /// At corner `k`.
    Vertex(u8),
}

/// Squared sine of the smallest corner below which the face of a triangle is not trusted.
///
/// Above it the barycentric coordinates keep at least four digits; below it the closest point on the
/// three edges is compared too, which is off by less than the height of the sliver.
const SLIVER: f64 = 1e-12;

/// Closest point of triangle `corners` to `query`, the square of its distance in mm², and where it lies.
///
/// Also right for triangles without area, which count as segments or points.
pub fn closest_on_triangle(query: &Point3<f64>, corners: &[Point3<f64>; 3]) -> (Point3<f64>, f64, Feature) {
    // Relative to the query, so that the rounding of large coordinates cancels before it is multiplied.
    let [a, b, c] = from(query, corners);
    let (offset, feature) = closest_to_origin(&a, &b, &c);
    let point = match feature {
        Feature::Vertex(k) => corners[k as usize], // Exactly the corner, not the corner minus and plus the query.
        _ => query + offset,
    };
    (point, offset.norm_squared(), feature)
}

/// The corners of a triangle relative to a point.
#[inline(always)]
pub(crate) fn from(point: &Point3<f64>, [a, b, c]: &[Point3<f64>; 3]) -> [Vector3<f64>; 3] {
    [a - point, b - point, c - point]
}

/// Closest point of the triangle `a b c` to the origin, by the regions of the three corners and edges.
///
/// Source: C. Ericson, Real-Time Collision Detection, 2005, §5.1.5, with a fallback for slivers.
#[inline(always)]
pub(crate) fn closest_to_origin(
    a: &Vector3<f64>,
    b: &Vector3<f64>,
    c: &Vector3<f64>,
) -> (Vector3<f64>, Feature) {
    let ab = b - a;
    let ac = c - a;
    let (d1, d2) = (-ab.dot(a), -ac.dot(a));
    if d1 <= 0.0 && d2 <= 0.0 {
        return (*a, Feature::Vertex(0));
    }
    let (d3, d4) = (-ab.dot(b), -ac.dot(b));
    if d3 >= 0.0 && d4 <= d3 {
        return (*b, Feature::Vertex(1));
    }
    let (d5, d6) = (-ab.dot(c), -ac.dot(c));
    if d6 >= 0.0 && d5 <= d6 {
        return (*c, Feature::Vertex(2));
    }
    let normal_squared = ab.cross(&ac).norm_squared();
    if normal_squared <= SLIVER * ab.norm_squared() * ac.norm_squared() {
        return closest_of_sliver(a, b, c);
    }
    let vc = d1 * d4 - d3 * d2;
    if vc <= 0.0 && d1 >= 0.0 && d3 <= 0.0 {
        return (a + ab * (d1 / (d1 - d3)), Feature::Edge(0));
    }
    let vb = d5 * d2 - d1 * d6;
    if vb <= 0.0 && d2 >= 0.0 && d6 <= 0.0 {
        return (a + ac * (d2 / (d2 - d6)), Feature::Edge(2));
    }
    let va = d3 * d6 - d5 * d4;
    if va <= 0.0 && d4 >= d3 && d5 >= d6 {
        return (b + (c - b) * ((d4 - d3) / ((d4 - d3) + (d5 - d6))), Feature::Edge(1));
    }
    let scale = 1.0 / (va + vb + vc);
    (a + ab * (vb * scale) + ac * (vc * scale), Feature::Face)
}

/// The nearest of the three edges, each seen as a segment of its own.
#[cold]
#[inline(never)]
fn closest_of_sliver(a: &Vector3<f64>, b: &Vector3<f64>, c: &Vector3<f64>) -> (Vector3<f64>, Feature) {
    let mut best = closest_on_segment(a, b, 0);
    for candidate in [closest_on_segment(b, c, 1), closest_on_segment(c, a, 2)] {
        if candidate.0.norm_squared() < best.0.norm_squared() {
            best = candidate;
        }
    }
    best
}

fn closest_on_segment(from: &Vector3<f64>, to: &Vector3<f64>, edge: u8) -> (Vector3<f64>, Feature) {
    let along = to - from;
    let t = -from.dot(&along) / along.norm_squared();
    if t >= 1.0 {
        (*to, Feature::Vertex((edge + 1) % 3))
    } else if t > 0.0 {
        (from + along * t, Feature::Edge(edge))
    } else {
        (*from, Feature::Vertex(edge)) // Also when the edge has no length and t is not a number.
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const CORNERS: [Point3<f64>; 3] =
        [Point3::new(0.0, 0.0, 0.0), Point3::new(4.0, 0.0, 0.0), Point3::new(0.0, 3.0, 0.0)];

    #[test]
    fn names_the_feature() {
        let cases = [
            ([1.0, 1.0, 2.0], [1.0, 1.0, 0.0], Feature::Face),
            ([2.0, -1.0, 1.0], [2.0, 0.0, 0.0], Feature::Edge(0)),
            ([2.0 + 3.0, 1.5 + 4.0, 0.0], [2.0, 1.5, 0.0], Feature::Edge(1)),
            ([-1.0, 1.0, 1.0], [0.0, 1.0, 0.0], Feature::Edge(2)),
            ([-1.0, -1.0, 1.0], [0.0, 0.0, 0.0], Feature::Vertex(0)),
            ([6.0, -1.0, 1.0], [4.0, 0.0, 0.0], Feature::Vertex(1)),
            ([-1.0, 5.0, 1.0], [0.0, 3.0, 0.0], Feature::Vertex(2)),
        ];
        for (query, expected, feature) in cases {
            let (query, expected) = (Point3::from(query), Point3::from(expected));
            let (point, squared, found) = closest_on_triangle(&query, &CORNERS);
            assert_eq!(found, feature, "{query}");
            assert!((point - expected).norm() < 1e-15, "{query}: {point}");
            assert!((squared - (query - expected).norm_squared()).abs() < 1e-14);
        }
    }

    #[test]
    fn flat_and_pointlike_triangles_count_as_segments_and_points() {
        let query = Point3::new(1.0, 2.0, 0.0);
        let segment = [[0.0, 0.0, 0.0], [3.0, 0.0, 0.0], [2.0, 0.0, 0.0]].map(Point3::from);
        let (point, squared, _) = closest_on_triangle(&query, &segment);
        assert_eq!((point, squared), (Point3::new(1.0, 0.0, 0.0), 4.0));
        let (point, squared, feature) = closest_on_triangle(&query, &[Point3::new(1.0, 1.0, 0.0); 3]);
        assert_eq!((point, squared), (Point3::new(1.0, 1.0, 0.0), 1.0));
        assert!(matches!(feature, Feature::Vertex(_)));
    }

    #[test]
    fn a_needle_is_right_to_its_own_height() {
        for height in [1e-3, 1e-5, 1e-7, 1e-9, 1e-12] {
            let corners = [[0.0, 0.0, 0.0], [1.0, 0.0, 0.0], [0.5, height, 0.0]].map(Point3::from);
            let (_, squared, _) = closest_on_triangle(&Point3::new(0.4, 0.5 * height, 0.3), &corners);
            assert!((squared.sqrt() - 0.3).abs() < 1e-9, "height {height}: {}", squared.sqrt() - 0.3);
        }
    }
}
