use nalgebra::Vector3;

use super::{Node, TriangleTree};
use crate::Plane;

impl TriangleTree {
    /// The triangles with corners on both sides of `plane`, in ascending order.
    ///
    /// A corner exactly on the plane counts as lying on the positive side.
    pub fn crossing(&self, plane: &Plane) -> Vec<u32> {
        let mut found = Vec::new();
        let mut stack = if self.nodes.is_empty() { vec![] } else { vec![0] };
        while let Some(at) = stack.pop() {
            let node = &self.nodes[at];
            if !straddles(node, plane) {
                continue;
            }
            if node.count == 0 {
                stack.extend([at + 1, node.next as usize]);
                continue;
            }
            for slot in node.next as usize..(node.next + node.count) as usize {
                let above = self.corners[slot].map(|corner| plane.signed_distance(&corner) >= 0.0);
                if above[0] != above[1] || above[1] != above[2] {
                    found.push(self.triangles[slot]);
                }
            }
        }
        found.sort_unstable();
        found
    }
}

fn straddles(node: &Node, plane: &Plane) -> bool {
    let centre: Vector3<f64> = 0.5 * (node.low + node.high);
    let half: Vector3<f64> = 0.5 * (node.high - node.low);
    let reach = half.dot(&plane.normal.abs());
    let distance = (centre - plane.point.coords).dot(&plane.normal);
    distance.abs() <= reach + 1e-9 * (1.0 + reach)
}
