use nalgebra::{Point3, Vector3};
use rayon::prelude::*;

use super::{Node, RayHit, TriangleTree};

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
        let ray = Ray::new(origin, direction)?;
        let mut best: Option<(f64, u32)> = None;
        let mut stack = if self.nodes.is_empty() { vec![] } else { vec![0] };
        while let Some(at) = stack.pop() {
            let node = &self.nodes[at];
            let limit = best.map_or(within_mm, |(t, _)| t);
            if !ray.meets(node, limit) {
                continue;
            }
            if node.count == 0 {
                stack.extend([at + 1, node.next as usize]);
                continue;
            }
            for slot in node.next as usize..(node.next + node.count) as usize {
                let Some(t) = ray.hit(&self.corners[slot]) else { continue };
                let candidate = (t, self.triangles[slot]);
                if t <= within_mm && best.is_none_or(|best| candidate < best) {
                    best = Some(candidate);
                }
            }
        }
        let (distance_mm, triangle) = best?;
        Some(RayHit { point: origin + direction * distance_mm, distance_mm, triangle })
    }

    /// [`ray`](Self::ray) for many rays, in parallel, in the order of the rays.
    pub fn ray_many(&self, rays: &[(Point3<f64>, Vector3<f64>)], within_mm: f64) -> Vec<Option<RayHit>> {
        let rays = rays.par_iter().with_min_len(256);
        rays.map(|(origin, direction)| self.ray(origin, direction, within_mm)).collect()
    }
}

/// A ray sheared so that it runs along the z axis.
struct Ray {
    origin: Point3<f64>,
    inverse: Vector3<f64>,
    axes: [usize; 3],
    shear: Vector3<f64>,
}

impl Ray {
    fn new(origin: &Point3<f64>, direction: &Vector3<f64>) -> Option<Self> {
        let z = direction.iamax();
        let finite = |v: &Vector3<f64>| v.iter().all(|x| x.is_finite());
        if !finite(direction) || !finite(&origin.coords) || direction[z] == 0.0 {
            return None;
        }
        let (x, y) = ((z + 1) % 3, (z + 2) % 3);
        let shear =
            Vector3::new(direction[x] / direction[z], direction[y] / direction[z], 1.0 / direction[z]);
        Some(Self { origin: *origin, inverse: direction.map(|d| 1.0 / d), axes: [x, y, z], shear })
    }

    fn meets(&self, node: &Node, limit: f64) -> bool {
        let (mut enter, mut leave) = (0.0f64, limit);
        for axis in 0..3 {
            let t1 = (node.low[axis] - self.origin[axis]) * self.inverse[axis];
            let t2 = (node.high[axis] - self.origin[axis]) * self.inverse[axis];
            // `min` and `max` drop the NaN of 0 × ∞, a ray that runs inside a face of the box.
            enter = enter.max(t1.min(t2));
            leave = leave.min(t1.max(t2));
        }
        let slack = 1e-9 * (1.0 + enter.abs());
        enter <= leave + slack
    }

    fn hit(&self, corners: &[Point3<f64>; 3]) -> Option<f64> {
        let [x, y, z] = self.axes;
        let sheared = corners.map(|corner| {
            let d = corner - self.origin;
            (d[x] - self.shear.x * d[z], d[y] - self.shear.y * d[z], d[z])
        });
        let [a, b, c] = sheared;
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
