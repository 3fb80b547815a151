//! Planes, and the walk over the tree that any question can use.

use nalgebra::Vector3;

use super::TriangleTree;
use super::closest::Bits;
use super::node::{Child, Node, WIDTH};
use super::packet::Packet;
use crate::Plane;

impl TriangleTree {
    /// The triangles with corners on both sides of `plane`, in ascending order.
    ///
    /// A corner exactly on the plane counts as lying on the positive side.
    pub fn crossing(&self, plane: &Plane) -> Vec<u32> {
        let mut found = Vec::new();
        self.visit(
            |node| straddling(node, plane),
            |packet| {
                for (corners, &triangle) in packet.corners.iter().zip(&packet.triangles).take(packet.len()) {
                    let above = |k: usize| plane.signed_distance(&corners[k]) >= 0.0;
                    if above(0) != above(1) || above(1) != above(2) {
                        found.push(triangle);
                    }
                }
            },
        );
        found.sort_unstable();
        found
    }

    /// Walks over all packets below the lanes that `open` names, node by node.
    #[inline(always)]
    pub(super) fn visit(&self, open: impl Fn(&Node) -> u32, mut each: impl FnMut(&Packet)) {
        let mut stack = Vec::with_capacity(64);
        if !self.nodes.is_empty() {
            stack.push(Child::node(0));
        }
        while let Some(child) = stack.pop() {
            match child.target() {
                Ok(packet) => each(&self.packets[packet]),
                Err(node) => {
                    let node = &self.nodes[node];
                    let lanes = Bits(open(node)).map(|lane| node.children[lane]);
                    stack.extend(lanes.filter(|&child| child != Child::NONE));
                }
            }
        }
    }
}

/// One bit for each box with a corner on either side of the plane, or so near that rounding cannot tell.
fn straddling(node: &Node, plane: &Plane) -> u32 {
    let mut mask = 0;
    for lane in 0..WIDTH {
        let low = Vector3::from_fn(|axis, _| f64::from(node.low[axis][lane]));
        let high = Vector3::from_fn(|axis, _| f64::from(node.high[axis][lane]));
        let reach = 0.5 * (high - low).dot(&plane.normal.abs());
        let distance = (0.5 * (low + high) - plane.point.coords).dot(&plane.normal);
        mask |= u32::from(distance.abs() <= reach * (1.0 + 1e-9)) << lane;
    }
    mask
}
