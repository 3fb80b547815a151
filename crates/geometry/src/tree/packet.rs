//! A leaf: up to eight triangles, whose distances are first found roughly, all at once.

use nalgebra::{Point3, Vector3};
use wide::f32x8;

use super::node::{Lanes, WIDTH, larger};
use crate::triangle::from;

/// Up to eight triangles.
#[derive(Debug, Clone)]
#[repr(C, align(32))]
pub(super) struct Packet {
    rough: Rough,
    origin: Point3<f64>,
    radius: f32,
    /// Length of the longest dual vector.
    steepest: f32,
    count: u32,
    pub triangles: [u32; WIDTH],
    pub corners: [[Point3<f64>; 3]; WIDTH],
}

/// The triangles in `f32`, relative to the middle of the packet, so that their digits are not spent on where it is.
#[derive(Debug, Clone)]
#[repr(C, align(32))]
struct Rough {
    corners: [[Lanes; 3]; 3],
    /// One over the squared length of each edge, 0 for an edge without length.
    inverse: [Lanes; 3],
    normal: [Lanes; 3],
    /// Vectors whose dot product with a point relative to corner 0 gives its barycentric coordinates 1 and 2.
    dual: [[Lanes; 3]; 2],
}

/// Rounding of a rough distance per length: some ten operations, with a margin of two.
const ROUNDING: f32 = 2e-6;

/// Departure per length up to which the rounded normal may miss the corners it should be perpendicular to.
const TOLERANCE: f64 = 4e-7;

impl Packet {
    /// Makes a packet of one to eight triangles.
    pub fn new(members: &[(u32, [Point3<f64>; 3])]) -> Self {
        let origin = middle(members);
        let reach = |corner: &Point3<f64>| (corner - origin).norm();
        let radius = members.iter().flat_map(|(_, corners)| corners).map(reach).fold(0.0, f64::max);
        let mut packet = Self {
            rough: Rough::NOWHERE,
            origin,
            radius: (radius as f32).next_up(),
            steepest: 0.0,
            count: members.len() as u32,
            triangles: [u32::MAX; WIDTH],
            corners: [members[0].1; WIDTH],
        };
        for (lane, &(triangle, corners)) in members.iter().enumerate() {
            packet.triangles[lane] = triangle;
            packet.corners[lane] = corners;
            packet.rough.clear(lane);
            let steep = packet.rough.set(lane, &from(&origin, &corners), radius);
            packet.steepest = larger(packet.steepest, steep);
        }
        packet
    }

    pub fn len(&self) -> usize {
        self.count as usize
    }

    /// Roughly the squared distance of `point` from each triangle, and how far the distances (not squared) may
    /// be too large.
    #[inline(always)]
    pub fn rough_squared(&self, point: &Point3<f64>) -> (Lanes, f32) {
        let d = point - self.origin;
        let d = [d.x as f32, d.y as f32, d.z as f32];
        let slack = ROUNDING * (d[0].abs() + d[1].abs() + d[2].abs() + self.radius);
        (self.rough.squared(&d, -slack * self.steepest), slack)
    }
}

impl Rough {
    /// Lanes without a triangle: whatever the point, it is outside the face and far from the edges.
    const NOWHERE: Self = Self {
        corners: [[[1e18; WIDTH]; 3]; 3],
        inverse: [[0.0; WIDTH]; 3],
        normal: [[0.0; WIDTH]; 3],
        dual: [[[1.0; WIDTH]; 3]; 2],
    };

    /// Over the face the height counts, elsewhere the nearest edge. Where it is not certain that a point lies
    /// outside the face (a barycentric coordinate below `outside`), the height, which is never more.
    #[inline(always)]
    fn squared(&self, d: &[f32; 3], outside: f32) -> Lanes {
        // Eight lanes by name: from a loop over them the compiler makes one lane after the other.
        // Arrays by name too: `map` is a call of its own, through memory, where it is not inlined.
        let d = [f32x8::splat(d[0]), f32x8::splat(d[1]), f32x8::splat(d[2])];
        let a = difference(&d, &lanes(&self.corners[0]));
        let b = difference(&d, &lanes(&self.corners[1]));
        let c = difference(&d, &lanes(&self.corners[2]));
        let height = dot(&a, &lanes(&self.normal));
        let (v, w) = (dot(&a, &lanes(&self.dual[0])), dot(&a, &lanes(&self.dual[1])));
        let least = v.fast_min(w).fast_min(f32x8::ONE - v - w);
        let [ab, bc, ca] = lanes(&self.inverse);
        let edges = to_segment(&a, &b, ab).fast_min(to_segment(&b, &c, bc)).fast_min(to_segment(&c, &a, ca));
        least.simd_lt(f32x8::splat(outside)).select(edges, height * height).to_array()
    }

    /// A lane whose face is everywhere: the rough distance is 0.
    fn clear(&mut self, lane: usize) {
        let zero = Vector3::zeros();
        put(&mut self.normal, lane, &zero);
        put(&mut self.dual[0], lane, &zero);
        put(&mut self.dual[1], lane, &zero);
    }

    /// Sets one triangle and returns the length of its longest dual vector.
    ///
    /// A sliver whose rounded normal misses its corners keeps zeros there: its rough distance is 0.
    fn set(&mut self, lane: usize, corners: &[Vector3<f64>; 3], radius: f64) -> f32 {
        let rounded = [single(&corners[0]), single(&corners[1]), single(&corners[2])];
        for k in 0..3 {
            put(&mut self.corners[k], lane, &rounded[k]);
            let squared = (rounded[(k + 1) % 3] - rounded[k]).norm_squared();
            self.inverse[k][lane] = if squared > f32::MIN_POSITIVE { 1.0 / squared } else { 0.0 };
        }
        let (ab, ac) = (corners[1] - corners[0], corners[2] - corners[0]);
        let cross = ab.cross(&ac);
        let Some(normal) = cross.try_normalize(0.0) else { return 0.0 };
        let seen = normal.map(|x| f64::from(x as f32));
        if ab.dot(&seen).abs().max(ac.dot(&seen).abs()) > TOLERANCE * radius {
            return 0.0;
        }
        let area = cross.norm();
        let dual = [ac.cross(&normal) / area, normal.cross(&ab) / area];
        let steepest = dual[0].norm() + dual[1].norm(); // Also not less than the length of their sum.
        if steepest > 1e6 / radius {
            return 0.0;
        }
        put(&mut self.normal, lane, &single(&normal));
        put(&mut self.dual[0], lane, &single(&dual[0]));
        put(&mut self.dual[1], lane, &single(&dual[1]));
        (steepest as f32).next_up()
    }
}

#[inline]
fn single(vector: &Vector3<f64>) -> Vector3<f32> {
    Vector3::new(vector.x as f32, vector.y as f32, vector.z as f32)
}

/// Squared distance of the origin from a segment, of which `inverse` is one over the squared length.
#[inline(always)]
fn to_segment(to_from: &[f32x8; 3], to_end: &[f32x8; 3], inverse: f32x8) -> f32x8 {
    let along = difference(to_from, to_end);
    let t = (dot(to_from, &along) * inverse).fast_max(f32x8::ZERO).fast_min(f32x8::ONE);
    let rest = [to_from[0] - t * along[0], to_from[1] - t * along[1], to_from[2] - t * along[2]];
    dot(&rest, &rest)
}

#[inline(always)]
fn lanes(vector: &[Lanes; 3]) -> [f32x8; 3] {
    [f32x8::new(vector[0]), f32x8::new(vector[1]), f32x8::new(vector[2])]
}

#[inline(always)]
fn difference(a: &[f32x8; 3], b: &[f32x8; 3]) -> [f32x8; 3] {
    [a[0] - b[0], a[1] - b[1], a[2] - b[2]]
}

#[inline(always)]
fn dot(a: &[f32x8; 3], b: &[f32x8; 3]) -> f32x8 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
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

fn put(vector: &mut [Lanes; 3], lane: usize, value: &Vector3<f32>) {
    for axis in 0..3 {
        vector[axis][lane] = value[axis];
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bodies::Random;
    use crate::closest_on_triangle;

    #[test]
    fn rough_distances_are_never_above_the_exact_ones_and_mostly_close() {
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
            let (rough, slack) = packet.rough_squared(&query);
            for (lane, (_, corners)) in members.iter().enumerate() {
                let (_, squared, _) = closest_on_triangle(&query, corners);
                let (rough, exact) = (f64::from(rough[lane]).sqrt(), squared.sqrt());
                assert!(
                    rough <= exact + 0.5 * f64::from(slack),
                    "{rough} is above {exact} by more than {slack}"
                );
                close += u32::from(rough >= exact - 2.0 * f64::from(slack));
                n += 1;
            }
        }
        assert!(f64::from(close) > 0.85 * f64::from(n), "{close} of {n}");
    }
}
