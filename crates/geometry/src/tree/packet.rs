//! A leaf: up to eight triangles with a cheap lower bound of their distance.

use nalgebra::{Point3, Vector3};

use super::node::{Lanes, WIDTH, larger};

/// Up to eight triangles.
///
/// A point's distance from a triangle is at least its height over the triangle's plane, and within the plane
/// at least how far it lies outside each edge. Both are dot products with unit vectors, so eight
/// triangles at once cost a few dozen instructions; at a face or an edge the bound is exact.
#[derive(Debug, Clone)]
#[repr(C, align(32))]
pub(super) struct Packet {
    /// The triangles' planes: three components of the unit normal and the offset from `origin`.
    face: [Lanes; 4],
    /// The planes through each edge, perpendicular to the face, pointing out.
    edges: [[Lanes; 4]; 3],
    origin: Point3<f64>,
    radius: f32,
    count: u32,
    pub triangles: [u32; WIDTH],
    pub corners: [[Point3<f64>; 3]; WIDTH],
}

/// Rounding of a bound in `f32` per length: a dot product of three terms with rounded factors, doubled.
const ROUNDING: f32 = 2e-6;

/// Departure, per length, up to which a rounded plane may miss the corners it should contain.
const TOLERANCE: f64 = 4e-7;

impl Packet {
    /// Makes a packet of one to eight triangles.
    pub fn new(members: &[(u32, [Point3<f64>; 3])]) -> Self {
        let origin = middle(members);
        let reach = |corner: &Point3<f64>| (corner - origin).norm();
        let radius = members.iter().flat_map(|(_, corners)| corners).map(reach).fold(0.0, f64::max);
        let mut packet = Self {
            face: [[0.0; WIDTH]; 4],
            edges: [[[0.0; WIDTH]; 4]; 3],
            origin,
            radius: (radius as f32).next_up(),
            count: members.len() as u32,
            triangles: [u32::MAX; WIDTH],
            corners: [members[0].1; WIDTH],
        };
        for (lane, &(triangle, corners)) in members.iter().enumerate() {
            packet.triangles[lane] = triangle;
            packet.corners[lane] = corners;
            packet.set_planes(lane, &corners.map(|corner| corner - origin), radius);
        }
        packet
    }

    pub fn len(&self) -> usize {
        self.count as usize
    }

    /// One bit for each triangle there is.
    #[inline(always)]
    pub fn lanes(&self) -> u32 {
        (1 << self.count) - 1
    }

    /// A lower bound for the squared distance of `point` from each triangle.
    #[inline(always)]
    pub fn squared_bounds(&self, point: &Point3<f64>) -> Lanes {
        let d = point - self.origin;
        let d = [d.x as f32, d.y as f32, d.z as f32];
        let slack = ROUNDING * (d[0].abs() + d[1].abs() + d[2].abs() + self.radius);
        let mut squared = [0.0; WIDTH];
        for (lane, bound) in squared.iter_mut().enumerate() {
            let height = over(&self.face, lane, &d).abs();
            let [first, second, third] = [0, 1, 2].map(|edge: usize| over(&self.edges[edge], lane, &d));
            let outside = larger(larger(first, second), third);
            let (height, outside) = (larger(height - slack, 0.0), larger(outside - slack, 0.0));
            *bound = height * height + outside * outside;
        }
        squared
    }

    /// Planes that do not hold their triangle to within rounding (slivers) stay zero: they bound nothing.
    fn set_planes(&mut self, lane: usize, corners: &[Vector3<f64>; 3], radius: f64) {
        let [a, b, c] = corners;
        let Some(normal) = (b - a).cross(&(c - a)).try_normalize(0.0) else { return };
        let face = rounded(&normal, a);
        if corners.iter().any(|corner| height(&face, corner).abs() > TOLERANCE * radius) {
            return;
        }
        put(&mut self.face, lane, &face);
        for edge in 0..3 {
            let (from, to) = (corners[edge], corners[(edge + 1) % 3]);
            let Some(outward) = (to - from).cross(&normal).try_normalize(0.0) else { continue };
            let plane = rounded(&outward, &from);
            let holds = corners.iter().all(|corner| height(&plane, corner) <= TOLERANCE * radius);
            let upright = direction(&plane).dot(&direction(&face)).abs() <= TOLERANCE;
            if holds && upright {
                put(&mut self.edges[edge], lane, &plane);
            }
        }
    }
}

#[inline(always)]
fn over(plane: &[Lanes; 4], lane: usize, d: &[f32; 3]) -> f32 {
    plane[0][lane] * d[0] + plane[1][lane] * d[1] + plane[2][lane] * d[2] - plane[3][lane]
}

fn middle(members: &[(u32, [Point3<f64>; 3])]) -> Point3<f64> {
    let mut low = members[0].1[0].coords;
    let mut high = low;
    for corner in members.iter().flat_map(|(_, corners)| corners) {
        low = low.inf(&corner.coords);
        high = high.sup(&corner.coords);
    }
    Point3::from(0.5 * low + 0.5 * high)
}

fn rounded(normal: &Vector3<f64>, through: &Vector3<f64>) -> [f32; 4] {
    [normal.x as f32, normal.y as f32, normal.z as f32, normal.dot(through) as f32]
}

fn direction(plane: &[f32; 4]) -> Vector3<f64> {
    Vector3::new(plane[0].into(), plane[1].into(), plane[2].into())
}

fn height(plane: &[f32; 4], at: &Vector3<f64>) -> f64 {
    direction(plane).dot(at) - f64::from(plane[3])
}

fn put(planes: &mut [Lanes; 4], lane: usize, plane: &[f32; 4]) {
    for (lanes, &value) in planes.iter_mut().zip(plane) {
        lanes[lane] = value;
    }
}

#[cfg(test)]
mod tests {
    use super::super::node::limit;
    use super::*;
    use crate::bodies::Random;
    use crate::closest_on_triangle;

    #[test]
    fn bounds_are_never_above_the_distance_and_mostly_close() {
        let mut random = Random::new(1);
        let (mut close, mut n) = (0, 0);
        for round in 0..4000 {
            let centre = Point3::from(random.vector(60.0));
            let thin = if round % 4 == 0 { 10f64.powf(random.between(-9.0, 0.0)) } else { 1.0 };
            let mut corner = |scale: f64| centre + random.vector(0.5 * scale);
            let mut members = Vec::new();
            for triangle in 0..8 {
                let (a, b) = (corner(1.0), corner(1.0));
                let c = a + (corner(1.0) - a) * thin + (b - a) * 0.3;
                members.push((triangle, [a, b, c]));
            }
            let packet = Packet::new(&members);
            let far = 10f64.powf(random.between(-3.0, 2.0));
            let query = centre + random.vector(far);
            let bounds = packet.squared_bounds(&query);
            for (lane, (_, corners)) in members.iter().enumerate() {
                let (_, squared, _) = closest_on_triangle(&query, corners);
                assert!(bounds[lane] <= limit(squared), "{} is above {squared}", bounds[lane]);
                close += u32::from(f64::from(bounds[lane]) >= 0.7 * squared);
                n += 1;
            }
        }
        assert!(f64::from(close) > 0.6 * f64::from(n), "{close} of {n}");
    }
}
