//! Rays.

use nalgebra::{Point3, Vector3};
use rayon::prelude::*;

use super::closest::Bits;
use super::node::{Child, Lanes, Node, WIDTH};
use super::{RayHit, TriangleTree};

impl TriangleTree {
    /// The first triangle that the ray from `origin` along the unit vector `direction` meets within
    /// `within_mm`, from either side; a surface at the origin itself counts.
    ///
    /// Watertight: a ray through a shared edge or vertex always hits.
    ///
    /// # Source
    /// S. Woop, C. Benthin and I. Wald, Watertight ray/triangle intersection, Journal of Computer Graphics
    /// Techniques 2(1), 2013, 65–82.
    pub fn ray(&self, origin: &Point3<f64>, direction: &Vector3<f64>, within_mm: f64) -> Option<RayHit> {
        pulp::Arch::new().dispatch(One { tree: self, origin, direction, within_mm })
    }

    /// [`ray`](Self::ray) for many rays, in parallel, in the order of the rays.
    pub fn ray_many(&self, rays: &[(Point3<f64>, Vector3<f64>)], within_mm: f64) -> Vec<Option<RayHit>> {
        let rays = rays.par_iter().with_min_len(256);
        rays.map(|(origin, direction)| self.ray(origin, direction, within_mm)).collect()
    }
}

struct One<'a> {
    tree: &'a TriangleTree,
    origin: &'a Point3<f64>,
    direction: &'a Vector3<f64>,
    within_mm: f64,
}

impl pulp::NullaryFnOnce for One<'_> {
    type Output = Option<RayHit>;

    #[inline(always)]
    fn call(self) -> Option<RayHit> {
        let ray = Ray::new(self.origin, self.direction)?;
        let mut best = (self.within_mm, u32::MAX);
        let mut stack = Vec::with_capacity(64);
        if !self.tree.nodes.is_empty() {
            stack.push((0.0, Child::node(0)));
        }
        while let Some((enter, child)) = stack.pop() {
            let limit = limit(best.0);
            if enter > limit {
                continue;
            }
            match child.target() {
                Ok(packet) => {
                    let packet = &self.tree.packets[packet];
                    for (corners, &triangle) in
                        packet.corners.iter().zip(&packet.triangles).take(packet.len())
                    {
                        if let Some(t) = ray.hit(corners).filter(|&t| (t, triangle) < best) {
                            best = (t, triangle);
                        }
                    }
                }
                Err(node) => ray.push_children(&self.tree.nodes[node], limit, &mut stack),
            }
        }
        let (distance_mm, triangle) = best;
        let point = self.origin + self.direction * distance_mm;
        (triangle != u32::MAX).then_some(RayHit { point, distance_mm, triangle })
    }
}

/// How far along the ray boxes may begin, in `f32`, for the nearest hit in `f64`.
fn limit(nearest: f64) -> f32 {
    ((nearest * (1.0 + 2e-6)) as f32).next_up()
}

/// A ray, as it meets boxes (in `f32`) and, sheared so that it runs along one axis, triangles (in `f64`).
struct Ray {
    origin: Point3<f64>,
    axes: [usize; 3],
    shear: Vector3<f64>,
    low: [f32; 3],
    high: [f32; 3],
    inverse: [f32; 3],
}

impl Ray {
    fn new(origin: &Point3<f64>, direction: &Vector3<f64>) -> Option<Self> {
        let finite = |v: &Vector3<f64>| v.iter().all(|x| x.is_finite());
        let z = direction.iamax();
        if !finite(direction) || !finite(&origin.coords) || direction[z] == 0.0 {
            return None;
        }
        let axes = [(z + 1) % 3, (z + 2) % 3, z];
        let shear = Vector3::new(direction[axes[0]], direction[axes[1]], 1.0) / direction[z];
        // Bounded, so that a ray inside a face of a box does not make 0 × ∞; over any length that can
        // occur such a slope moves the ray by less than the padding of the boxes.
        let slope = |axis: usize| (1.0 / direction[axis]).clamp(-1e24, 1e24) as f32;
        let inverse = [slope(0), slope(1), slope(2)];
        let [x, y, z] = [origin.x as f32, origin.y as f32, origin.z as f32];
        let low = [x.next_down(), y.next_down(), z.next_down()];
        let high = [x.next_up(), y.next_up(), z.next_up()];
        Some(Self { origin: *origin, axes, shear, low, high, inverse })
    }

    /// Where the ray enters and leaves each box, both a little early and late.
    #[inline(always)]
    fn cross(&self, node: &Node) -> (Lanes, Lanes) {
        let (mut enter, mut leave) = ([0.0f32; WIDTH], [f32::INFINITY; WIDTH]);
        for axis in 0..3 {
            let (low, high, inverse) = (self.low[axis], self.high[axis], self.inverse[axis]);
            for lane in 0..WIDTH {
                let (to_low, to_high) = (node.low[axis][lane] - high, node.high[axis][lane] - low);
                let (near, far) = if inverse >= 0.0 { (to_low, to_high) } else { (to_high, to_low) };
                enter[lane] = enter[lane].max(near * inverse);
                leave[lane] = leave[lane].min(far * inverse);
            }
        }
        (enter, leave)
    }

    #[inline(always)]
    fn push_children(&self, node: &Node, limit: f32, stack: &mut Vec<(f32, Child)>) {
        let (enter, leave) = self.cross(node);
        let mut mask = 0;
        for lane in 0..WIDTH {
            let late = leave[lane] * (1.0 + 2e-6);
            mask |= u32::from(enter[lane] <= late && enter[lane] <= limit) << lane;
        }
        let first = stack.len();
        for lane in Bits(mask) {
            if node.children[lane] != Child::NONE {
                stack.push((enter[lane], node.children[lane]));
            }
        }
        stack[first..].sort_unstable_by(|a, b| b.0.total_cmp(&a.0));
    }

    #[inline(always)]
    fn hit(&self, corners: &[Point3<f64>; 3]) -> Option<f64> {
        let [x, y, z] = self.axes;
        let sheared = |corner: &Point3<f64>| {
            let d = corner - self.origin;
            (d[x] - self.shear.x * d[z], d[y] - self.shear.y * d[z], d[z])
        };
        let (a, b, c) = (sheared(&corners[0]), sheared(&corners[1]), sheared(&corners[2]));
        let u = c.0 * b.1 - c.1 * b.0;
        let v = a.0 * c.1 - a.1 * c.0;
        let w = b.0 * a.1 - b.1 * a.0;
        let negative = u < 0.0 || v < 0.0 || w < 0.0;
        let positive = u > 0.0 || v > 0.0 || w > 0.0;
        let det = u + v + w;
        if (negative && positive) || det == 0.0 {
            return None;
        }
        let t = (u * a.2 + v * b.2 + w * c.2) * self.shear.z / det;
        (t >= 0.0).then_some(t)
    }
}
