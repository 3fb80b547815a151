//! Building: split the widest box by the surface-area heuristic until each node has eight children.

use kerfwright_mesh::Mesh;
use nalgebra::Point3;
use rayon::prelude::*;

use super::node::{Child, Node, WIDTH, padding};
use super::packet::Packet;
use super::{TriangleTree, build::split::split};

mod split;

/// Subtrees with more triangles are built in parallel.
const PARALLEL: usize = 4096;

/// A triangle on its way into the tree.
#[derive(Debug, Clone, Copy)]
struct Item {
    bounds: Bounds,
    triangle: u32,
}

impl Item {
    /// Twice the centre of its box.
    fn centre(&self, axis: usize) -> f32 {
        self.bounds.low[axis] + self.bounds.high[axis]
    }
}

#[derive(Debug, Clone, Copy)]
struct Bounds {
    low: [f32; 3],
    high: [f32; 3],
}

impl Bounds {
    const EMPTY: Self = Self { low: [f32::INFINITY; 3], high: [f32::NEG_INFINITY; 3] };

    fn of(items: &[Item]) -> Self {
        items.iter().fold(Self::EMPTY, |bounds, item| bounds.with(&item.bounds))
    }

    #[inline(always)]
    fn with(mut self, other: &Self) -> Self {
        for axis in 0..3 {
            self.low[axis] = self.low[axis].min(other.low[axis]);
            self.high[axis] = self.high[axis].max(other.high[axis]);
        }
        self
    }

    fn half_area(&self) -> f32 {
        let [x, y, z] = [0, 1, 2].map(|axis| (self.high[axis] - self.low[axis]).max(0.0));
        x * y + y * z + z * x
    }
}

pub(super) fn build(mesh: &Mesh) -> TriangleTree {
    let used = mesh.vertices.iter().map(|vertex| vertex.coords).filter(|v| v.iter().all(|x| x.is_finite()));
    let padding = padding(used);
    let triangles = (0..mesh.triangles.len() as u32).into_par_iter().with_min_len(PARALLEL);
    let mut items: Vec<Item> = triangles.filter_map(|triangle| item(mesh, triangle, padding)).collect();
    if items.is_empty() {
        return TriangleTree { nodes: Vec::new(), packets: Vec::new() };
    }
    let mut part = Part::default();
    part.grow(mesh, &mut items);
    TriangleTree { nodes: part.nodes, packets: part.packets }
}

fn item(mesh: &Mesh, triangle: u32, padding: f64) -> Option<Item> {
    let [a, b, c] = mesh.corners(triangle);
    let low = a.coords.inf(&b.coords).inf(&c.coords).map(|x| ((x - padding) as f32).next_down());
    let high = a.coords.sup(&b.coords).sup(&c.coords).map(|x| ((x + padding) as f32).next_up());
    let finite = [a, b, c].iter().all(|corner| corner.iter().all(|x| x.is_finite()));
    finite.then_some(Item { bounds: Bounds { low: low.into(), high: high.into() }, triangle })
}

/// A subtree; its root is the first node.
#[derive(Default)]
struct Part {
    nodes: Vec<Node>,
    packets: Vec<Packet>,
}

impl Part {
    /// Adds a node over `items` and all below it.
    fn grow(&mut self, mesh: &Mesh, items: &mut [Item]) {
        let at = self.nodes.len();
        self.nodes.push(Node::EMPTY);
        let parallel = items.len() > PARALLEL;
        let groups = groups(items);
        for (lane, (bounds, _)) in groups.iter().enumerate() {
            for axis in 0..3 {
                self.nodes[at].low[axis][lane] = bounds.low[axis];
                self.nodes[at].high[axis][lane] = bounds.high[axis];
            }
        }
        if parallel {
            let parts: Vec<Self> = groups
                .into_par_iter()
                .map(|(_, items)| {
                    let mut part = Self::default();
                    part.add(mesh, items);
                    part
                })
                .collect();
            for (lane, part) in parts.into_iter().enumerate() {
                self.nodes[at].children[lane] = self.append(part);
            }
        } else {
            for (lane, (_, items)) in groups.into_iter().enumerate() {
                self.nodes[at].children[lane] = self.add(mesh, items);
            }
        }
    }

    fn add(&mut self, mesh: &Mesh, items: &mut [Item]) -> Child {
        if items.len() > WIDTH {
            let child = Child::node(self.nodes.len());
            self.grow(mesh, items);
            return child;
        }
        let members: Vec<(u32, [Point3<f64>; 3])> =
            items.iter().map(|item| (item.triangle, mesh.corners(item.triangle))).collect();
        self.packets.push(Packet::new(&members));
        Child::packet(self.packets.len() - 1)
    }

    fn append(&mut self, part: Self) -> Child {
        let (n_nodes, n_packets) = (self.nodes.len(), self.packets.len());
        let child = if part.nodes.is_empty() { Child::packet(n_packets) } else { Child::node(n_nodes) };
        self.packets.extend(part.packets);
        self.nodes.extend(part.nodes.into_iter().map(|mut node| {
            node.children = node.children.map(|child| child.shifted(n_nodes, n_packets));
            node
        }));
        child
    }
}

/// Up to eight groups, made by splitting the group with the largest box until none is left that needs it.
fn groups(items: &mut [Item]) -> Vec<(Bounds, &mut [Item])> {
    let mut groups = vec![(Bounds::of(items), items)];
    while groups.len() < WIDTH {
        let splittable = groups.iter().enumerate().filter(|(_, (_, items))| items.len() > WIDTH);
        let largest = splittable.max_by(|a, b| a.1.0.half_area().total_cmp(&b.1.0.half_area()));
        let Some((at, _)) = largest else { break };
        let (_, items) = groups.swap_remove(at);
        let middle = split(items);
        let (left, right) = items.split_at_mut(middle);
        groups.push((Bounds::of(left), left));
        groups.push((Bounds::of(right), right));
    }
    groups
}
