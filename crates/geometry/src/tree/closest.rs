use nalgebra::{Point3, Vector3};
use rayon::prelude::*;

use super::{Closest, Node, TriangleTree};
use crate::triangle::closest_on_triangle;

/// Boxes are pruned only when they are farther by more than rounding can explain.
const SLACK: f64 = 1.0 - 1e-9;

impl TriangleTree {
    /// The closest point of the mesh, or `None` if it is farther than `within_mm`.
    pub fn closest(&self, query: &Point3<f64>, within_mm: f64) -> Option<Closest> {
        let mut best = Best { squared: within_mm * within_mm, triangle: u32::MAX, slot: None };
        let mut stack = vec![];
        if let Some(root) = self.nodes.first() {
            stack.push((box_squared(root, query), 0));
        }
        while let Some((bound, at)) = stack.pop() {
            if bound * SLACK > best.squared {
                continue;
            }
            let node = &self.nodes[at];
            if node.count > 0 {
                for slot in node.next..node.next + node.count {
                    let (_, squared, _) = closest_on_triangle(query, &self.corners[slot as usize]);
                    best.offer(squared, self.triangles[slot as usize], slot);
                }
                continue;
            }
            let near = (box_squared(&self.nodes[at + 1], query), at + 1);
            let far = (box_squared(&self.nodes[node.next as usize], query), node.next as usize);
            let (near, far) = if near.0 <= far.0 { (near, far) } else { (far, near) };
            stack.push(far);
            stack.push(near);
        }
        let slot = best.slot?;
        let (point, squared, feature) = closest_on_triangle(query, &self.corners[slot as usize]);
        Some(Closest { point, distance_mm: squared.sqrt(), triangle: best.triangle, feature })
    }

    /// [`closest`](Self::closest) for many points, in parallel, in the order of the points.
    pub fn closest_many(&self, queries: &[Point3<f64>], within_mm: f64) -> Vec<Option<Closest>> {
        queries.par_iter().with_min_len(256).map(|query| self.closest(query, within_mm)).collect()
    }

    /// The triangles that touch the ball around `centre`, in ascending order.
    pub fn triangles_near(&self, centre: &Point3<f64>, radius_mm: f64) -> Vec<u32> {
        let squared = radius_mm * radius_mm;
        let mut found = Vec::new();
        let mut stack = if self.nodes.is_empty() { vec![] } else { vec![0] };
        while let Some(at) = stack.pop() {
            let node: &Node = &self.nodes[at];
            if box_squared(node, centre) * SLACK > squared {
                continue;
            }
            if node.count == 0 {
                stack.extend([at + 1, node.next as usize]);
                continue;
            }
            for slot in node.next as usize..(node.next + node.count) as usize {
                if closest_on_triangle(centre, &self.corners[slot]).1 <= squared {
                    found.push(self.triangles[slot]);
                }
            }
        }
        found.sort_unstable();
        found
    }
}

struct Best {
    squared: f64,
    triangle: u32,
    slot: Option<u32>,
}

impl Best {
    fn offer(&mut self, squared: f64, triangle: u32, slot: u32) {
        if squared < self.squared || (squared == self.squared && triangle < self.triangle) {
            *self = Best { squared, triangle, slot: Some(slot) };
        }
    }
}

fn box_squared(node: &Node, point: &Point3<f64>) -> f64 {
    let outside = (node.low - point.coords).sup(&(point.coords - node.high)).sup(&Vector3::zeros());
    outside.norm_squared()
}
