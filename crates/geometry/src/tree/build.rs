//! Building: split the widest box by the surface-area heuristic until each node has eight children.

use std::ops::Range;

use kerfwright_mesh::Mesh;
use nalgebra::Point3;
use rayon::prelude::*;

use super::node::{Child, Node, WIDTH, larger, padding, smaller};
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
    #[inline]
    fn centre(&self, axis: usize) -> f32 {
        self.bounds.low[axis] + self.bounds.high[axis]
    }

    #[inline(always)]
    fn extent(&self) -> Extent {
        let centre = [self.centre(0), self.centre(1), self.centre(2)];
        Extent { bounds: self.bounds, centres: Bounds { low: centre, high: centre } }
    }
}

#[derive(Debug, Clone, Copy)]
struct Bounds {
    low: [f32; 3],
    high: [f32; 3],
}

impl Bounds {
    const EMPTY: Self = Self { low: [f32::INFINITY; 3], high: [f32::NEG_INFINITY; 3] };

    #[inline(always)]
    fn with(mut self, other: &Self) -> Self {
        for axis in 0..3 {
            self.low[axis] = smaller(other.low[axis], self.low[axis]);
            self.high[axis] = larger(other.high[axis], self.high[axis]);
        }
        self
    }

    #[inline]
    fn half_area(&self) -> f32 {
        let side = |axis: usize| (self.high[axis] - self.low[axis]).max(0.0);
        let (x, y, z) = (side(0), side(1), side(2));
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
    part.grow(&mut items, 0);
    // Packets are large: each is made where it stays.
    let leaves = part.leaves.par_iter().with_min_len(PARALLEL / WIDTH);
    let packets = leaves.map(|leaf| packet(mesh, &items[leaf.clone()])).collect();
    TriangleTree { nodes: part.nodes, packets }
}

fn packet(mesh: &Mesh, items: &[Item]) -> Packet {
    let mut members = [(0, [Point3::origin(); 3]); WIDTH];
    for (member, item) in members.iter_mut().zip(items) {
        *member = (item.triangle, mesh.corners(item.triangle));
    }
    Packet::new(&members[..items.len()])
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
    /// The items of each packet, as a range of all items.
    leaves: Vec<Range<usize>>,
}

impl Part {
    /// Adds a node over `items`, of which the first is number `first` of all, and all below it.
    fn grow(&mut self, items: &mut [Item], first: usize) {
        let at = self.nodes.len();
        self.nodes.push(Node::EMPTY);
        let parallel = items.len() > PARALLEL;
        let groups = groups(items, first);
        for (lane, group) in groups.iter().enumerate() {
            for axis in 0..3 {
                self.nodes[at].low[axis][lane] = group.extent.bounds.low[axis];
                self.nodes[at].high[axis][lane] = group.extent.bounds.high[axis];
            }
        }
        if parallel {
            let parts: Vec<Self> = groups
                .into_par_iter()
                .map(|group| {
                    let mut part = Self::default();
                    part.add(group);
                    part
                })
                .collect();
            for (lane, part) in parts.into_iter().enumerate() {
                self.nodes[at].children[lane] = self.append(part);
            }
        } else {
            for (lane, group) in groups.into_iter().enumerate() {
                self.nodes[at].children[lane] = self.add(group);
            }
        }
    }

    fn add(&mut self, Group { items, first, .. }: Group<'_>) -> Child {
        if items.len() > WIDTH {
            let child = Child::node(self.nodes.len());
            self.grow(items, first);
            return child;
        }
        self.leaves.push(first..first + items.len());
        Child::packet(self.leaves.len() - 1)
    }

    fn append(&mut self, part: Self) -> Child {
        let (n_nodes, n_packets) = (self.nodes.len(), self.leaves.len());
        let child = if part.nodes.is_empty() { Child::packet(n_packets) } else { Child::node(n_nodes) };
        self.leaves.extend(part.leaves);
        self.nodes.extend(part.nodes.into_iter().map(|mut node| {
            node.children = node.children.map(|child| child.shifted(n_nodes, n_packets));
            node
        }));
        child
    }
}

/// The box around some items, and the one around (twice) their centres.
#[derive(Debug, Clone, Copy)]
struct Extent {
    bounds: Bounds,
    centres: Bounds,
}

impl Extent {
    const EMPTY: Self = Self { bounds: Bounds::EMPTY, centres: Bounds::EMPTY };

    fn of(items: &[Item]) -> Self {
        items.iter().fold(Self::EMPTY, |extent, item| extent.with(&item.extent()))
    }

    #[inline(always)]
    fn with(self, other: &Self) -> Self {
        Self { bounds: self.bounds.with(&other.bounds), centres: self.centres.with(&other.centres) }
    }
}

/// Some items, one behind the other.
struct Group<'a> {
    extent: Extent,
    items: &'a mut [Item],
    /// Number of the first one among all items.
    first: usize,
}

/// Up to eight groups, made by splitting the group with the largest box until none is left that needs it.
fn groups(items: &mut [Item], first: usize) -> Vec<Group<'_>> {
    let mut groups = vec![Group { extent: Extent::of(items), items, first }];
    while groups.len() < WIDTH {
        let splittable = groups.iter().enumerate().filter(|(_, group)| group.items.len() > WIDTH);
        let size = |group: &Group<'_>| group.extent.bounds.half_area();
        let largest = splittable.max_by(|a, b| size(a.1).total_cmp(&size(b.1)));
        let Some((at, _)) = largest else { break };
        let Group { items, first, extent } = groups.swap_remove(at);
        let (middle, extents) = split(items, &extent);
        let (left, right) = items.split_at_mut(middle);
        groups.push(Group { extent: extents[0], items: left, first });
        groups.push(Group { extent: extents[1], items: right, first: first + middle });
    }
    groups
}
