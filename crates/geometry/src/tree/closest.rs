//! Closest points.

use nalgebra::{Point3, Vector3};

use super::node::{Child, Interval, Node, WIDTH, above, lanes_within, limit, smallest};
use super::packet::Packet;
use super::{Closest, TriangleTree};
use crate::Feature;
use crate::triangle::{closest_to_origin, from};

impl TriangleTree {
    /// The closest point of the mesh, or `None` if it is farther than `within_mm`.
    ///
    /// `f64::INFINITY` sets no bound; a bound that fits the task makes far queries cheap.
    pub fn closest(&self, query: &Point3<f64>, within_mm: f64) -> Option<Closest> {
        pulp::Arch::new().dispatch(One { tree: self, query, within_mm })
    }

    /// The triangles that touch the ball around `centre`, in ascending order.
    pub fn triangles_near(&self, centre: &Point3<f64>, radius_mm: f64) -> Vec<u32> {
        pulp::Arch::new().dispatch(Around { tree: self, centre, radius_mm })
    }
}

/// A question for a ball, ready to be run with the processor's widest vectors.
struct Around<'a> {
    tree: &'a TriangleTree,
    centre: &'a Point3<f64>,
    radius_mm: f64,
}

impl pulp::NullaryFnOnce for Around<'_> {
    type Output = Vec<u32>;

    #[inline(always)]
    fn call(self) -> Vec<u32> {
        let Self { tree, centre, radius_mm } = self;
        let squared = radius_mm * radius_mm;
        let (interval, limit) = (Interval::around(centre), limit(squared));
        let mut found = Vec::new();
        tree.visit(
            #[inline(always)]
            |node| lanes_within(&node.squared_bounds(&interval), limit),
            #[inline(always)]
            |packet| {
                let (rough, slack) = packet.rough_squared(centre);
                let near = lanes_within(&rough, rough_limit(above(radius_mm), slack));
                for lane in Bits(near).take_while(|&lane| lane < packet.len()) {
                    let [a, b, c] = from(centre, &packet.corners[lane]);
                    if closest_to_origin(&a, &b, &c).0.norm_squared() <= squared {
                        found.push(packet.triangles[lane]);
                    }
                }
            },
        );
        found.sort_unstable();
        found
    }
}

/// A single query, ready to be run with the processor's widest vectors.
struct One<'a> {
    tree: &'a TriangleTree,
    query: &'a Point3<f64>,
    within_mm: f64,
}

impl pulp::NullaryFnOnce for One<'_> {
    type Output = Option<Closest>;

    #[inline(always)]
    fn call(self) -> Self::Output {
        Search::new(self.tree).closest(self.query, self.within_mm)
    }
}

/// A search with its stack, and where the last query ended: the next one often ends nearby.
pub(super) struct Search<'a> {
    tree: &'a TriangleTree,
    start: Node,
    stack: Vec<(f32, Child)>,
    last: Option<(usize, usize)>,
}

impl<'a> Search<'a> {
    #[inline(always)]
    pub fn new(tree: &'a TriangleTree) -> Self {
        Self { tree, start: tree.root(), stack: Vec::with_capacity(64), last: None }
    }

    /// Answers queries that lie near each other: the first from the root, the others from where the tree
    /// can still matter to any of them.
    #[inline(always)]
    pub fn closest_of_group(
        &mut self,
        queries: &[Point3<f64>],
        within_mm: f64,
        mut each: impl FnMut(&Point3<f64>, Option<Closest>),
    ) {
        self.start = self.tree.root();
        for (at, query) in queries.iter().enumerate() {
            let closest = self.closest(query, within_mm);
            if at == 0 && queries.len() > 1 {
                // No query is farther from the surface than from where the first one met it.
                let spread = queries.iter().map(|other| (other - query).norm()).fold(0.0, f64::max);
                let reach = closest.map_or(within_mm, |closest| within_mm.min(closest.distance_mm + spread));
                self.start = self.tree.common_start(&Interval::of(queries), limit(reach * reach));
            }
            each(query, closest);
        }
    }

    #[inline(always)]
    pub fn closest(&mut self, query: &Point3<f64>, within_mm: f64) -> Option<Closest> {
        if !(query.x.is_finite() && query.y.is_finite() && query.z.is_finite() && within_mm >= 0.0) {
            return None;
        }
        let interval = Interval::around(query);
        let mut best = Best::new(within_mm);
        if let Some((packet, lane)) = self.last {
            best.offer(query, &self.tree.packets[packet], packet, lane);
        }
        self.stack.clear();
        push_nearest_last(&mut self.stack, &self.start, &interval, best.limit);
        while let Some((bound, child)) = self.stack.pop() {
            if bound > best.limit {
                continue;
            }
            match child.target() {
                Ok(packet) => search_packet(query, &self.tree.packets[packet], packet, &mut best),
                Err(node) => {
                    push_nearest_last(&mut self.stack, &self.tree.nodes[node], &interval, best.limit)
                }
            }
        }
        let (packet, lane) = best.place?;
        self.last = best.place;
        Some(Closest {
            point: best.point(query, &self.tree.packets[packet].corners[lane]),
            distance_mm: best.squared.sqrt(),
            triangle: best.triangle,
            feature: best.feature,
        })
    }
}

impl TriangleTree {
    fn root(&self) -> Node {
        self.nodes.first().cloned().unwrap_or(Node::EMPTY)
    }

    /// A node made of up to eight parts of the tree that together hold all that lies within the squared
    /// distance `limit` of the box `around`: the root, opened as far as eight lanes allow.
    #[inline(always)]
    fn common_start(&self, around: &Interval, limit: f32) -> Node {
        let mut start = Node::EMPTY;
        let mut n = self.nodes.first().map_or(0, |root| start.take(root, around, limit, 0));
        let mut lane = 0;
        while lane < n {
            let Err(child) = start.children[lane].target() else {
                lane += 1;
                continue;
            };
            let child = &self.nodes[child];
            let n_inside = lanes_within(&child.squared_bounds(around), limit).count_ones() as usize;
            if n - 1 + n_inside > WIDTH {
                lane += 1;
                continue;
            }
            // The last lane moves to where the opened child was, and its own children follow.
            n -= 1;
            start.move_lane(n, lane);
            n = start.take(child, around, limit, n);
        }
        start
    }
}

#[inline(always)]
fn push_nearest_last(stack: &mut Vec<(f32, Child)>, node: &Node, point: &Interval, limit: f32) {
    let bounds = node.squared_bounds(point);
    let first = stack.len();
    for lane in Bits(lanes_within(&bounds, limit)) {
        if node.children[lane] == Child::NONE {
            continue; // Only where the bound is infinite and so is the limit.
        }
        let entry = (bounds[lane], node.children[lane]);
        let mut at = stack.len();
        stack.push(entry);
        while at > first && stack[at - 1].0 < entry.0 {
            stack[at] = stack[at - 1];
            at -= 1;
        }
        stack[at] = entry;
    }
}

#[inline(always)]
fn search_packet(query: &Point3<f64>, packet: &Packet, index: usize, best: &mut Best) {
    let (mut rough, slack) = packet.rough_squared(query);
    for _ in 0..packet.len() {
        // The most promising one first: it often rules out the others.
        let least = smallest(&rough);
        if least > best.rough_limit(slack) {
            break;
        }
        let lane = (lanes_within(&rough, least).trailing_zeros() as usize) % WIDTH;
        best.offer(query, packet, index, lane);
        rough[lane] = f32::INFINITY;
    }
}

/// The nearest triangle so far.
struct Best {
    squared: f64,
    /// The distance itself, and the squared one for boxes, both rounded up.
    root: f32,
    limit: f32,
    triangle: u32,
    place: Option<(usize, usize)>,
    offset: Vector3<f64>,
    feature: Feature,
}

impl Best {
    #[inline(always)]
    fn new(within_mm: f64) -> Self {
        let squared = within_mm * within_mm;
        let (root, limit) = limits(squared);
        let (offset, feature) = (Vector3::zeros(), Feature::Face);
        Self { squared, root, limit, triangle: u32::MAX, place: None, offset, feature }
    }

    /// The rough squared distance up to which a triangle must be looked at exactly.
    #[inline(always)]
    fn rough_limit(&self, slack: f32) -> f32 {
        rough_limit(self.root, slack)
    }

    /// Takes the triangle if it is nearer, or as near and lower: so the order of the offers does not matter.
    #[inline(always)]
    fn offer(&mut self, query: &Point3<f64>, packet: &Packet, index: usize, lane: usize) {
        let [a, b, c] = from(query, &packet.corners[lane]);
        let (offset, feature) = closest_to_origin(&a, &b, &c);
        let squared = offset.norm_squared();
        let triangle = packet.triangles[lane];
        if squared < self.squared || (squared == self.squared && triangle < self.triangle) {
            let place = Some((index, lane));
            let (root, limit) = limits(squared);
            *self = Self { squared, root, limit, triangle, place, offset, feature };
        }
    }

    /// Exactly the corner where that is the feature, not the corner minus and plus the query.
    #[inline(always)]
    fn point(&self, query: &Point3<f64>, corners: &[Point3<f64>; 3]) -> Point3<f64> {
        match self.feature {
            Feature::Vertex(k) => corners[k as usize],
            _ => query + self.offset,
        }
    }
}

/// The rough squared distance within which a triangle may lie within `reach`.
#[inline(always)]
fn rough_limit(reach: f32, slack: f32) -> f32 {
    (reach + slack) * (reach + slack) * (1.0 + 1e-6)
}

#[inline(always)]
fn limits(squared: f64) -> (f32, f32) {
    (above(squared.sqrt()), limit(squared))
}

/// The bits that are set, lowest first.
pub(super) struct Bits(pub u32);

impl Iterator for Bits {
    type Item = usize;

    #[inline(always)]
    fn next(&mut self) -> Option<usize> {
        let lane = self.0.trailing_zeros() as usize;
        (self.0 != 0).then(|| {
            self.0 &= self.0 - 1;
            lane
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bodies::{Random, lumpy};

    #[test]
    fn plain_and_widest_vectors_give_the_same_bits() {
        let mut random = Random::new(31);
        let mesh = lumpy(20, 0.01, &mut random);
        let tree = TriangleTree::new(&mesh);
        let mut plain = Search::new(&tree);
        for k in 0..5000 {
            let near = mesh.vertices[k % mesh.vertices.len()];
            let query = near + random.vector(if k % 3 == 0 { 30.0 } else { 0.3 });
            assert_eq!(plain.closest(&query, f64::INFINITY), tree.closest(&query, f64::INFINITY));
        }
    }

    #[test]
    fn a_group_may_be_wide_or_hold_what_is_no_point() {
        let mut random = Random::new(32);
        let tree = TriangleTree::new(&lumpy(20, 0.01, &mut random));
        for within_mm in [f64::INFINITY, 3.0, 0.0] {
            let mut group: Vec<_> = (0..16).map(|_| Point3::from(random.vector(12.0))).collect();
            group[5].y = f64::NAN;
            group[9].x = f64::INFINITY;
            for rotation in 0..16 {
                group.rotate_left(rotation);
                let mut together = Vec::new();
                Search::new(&tree).closest_of_group(&group, within_mm, |_, closest| together.push(closest));
                let alone: Vec<_> = group.iter().map(|query| tree.closest(query, within_mm)).collect();
                assert_eq!(together, alone);
            }
        }
    }
}
