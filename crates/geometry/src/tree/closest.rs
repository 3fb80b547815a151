//! Closest points.

use nalgebra::{Point3, Vector3};

use super::node::{Child, Interval, Lanes, WIDTH, lanes_within, limit, smallest_lane};
use super::packet::Packet;
use super::{Closest, TriangleTree};
use crate::Feature;
use crate::triangle::closest_to_origin;

impl TriangleTree {
    /// The closest point of the mesh, or `None` if it is farther than `within_mm`.
    ///
    /// `f64::INFINITY` sets no bound; a bound that fits the task makes far queries cheap.
    pub fn closest(&self, query: &Point3<f64>, within_mm: f64) -> Option<Closest> {
        pulp::Arch::new().dispatch(One { tree: self, query, within_mm })
    }

    /// The triangles that touch the ball around `centre`, in ascending order.
    pub fn triangles_near(&self, centre: &Point3<f64>, radius_mm: f64) -> Vec<u32> {
        let squared = radius_mm * radius_mm;
        let (interval, limit) = (Interval::around(centre), limit(squared));
        let mut found = Vec::new();
        self.visit(
            |node| lanes_within(&node.squared_bounds(&interval), limit),
            |packet| {
                for lane in 0..packet.len() {
                    let [a, b, c] = packet.corners[lane].map(|corner| corner - centre);
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
    stack: Vec<(f32, Child)>,
    last: Option<(usize, usize)>,
}

impl<'a> Search<'a> {
    #[inline(always)]
    pub fn new(tree: &'a TriangleTree) -> Self {
        Self { tree, stack: Vec::with_capacity(64), last: None }
    }

    #[inline(always)]
    pub fn closest(&mut self, query: &Point3<f64>, within_mm: f64) -> Option<Closest> {
        let interval = Interval::around(query);
        let mut best = Best::new(within_mm);
        if let Some((packet, lane)) = self.last {
            best.offer(query, &self.tree.packets[packet], packet, lane);
        }
        self.stack.clear();
        if !self.tree.nodes.is_empty() {
            self.stack.push((0.0, Child::node(0)));
        }
        while let Some((bound, child)) = self.stack.pop() {
            if bound > best.limit {
                continue;
            }
            match child.target() {
                Ok(packet) => search_packet(query, &self.tree.packets[packet], packet, &mut best),
                Err(node) => {
                    let node = &self.tree.nodes[node];
                    let bounds = node.squared_bounds(&interval);
                    push_nearest_last(&mut self.stack, &bounds, &node.children, best.limit);
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

#[inline(always)]
fn push_nearest_last(stack: &mut Vec<(f32, Child)>, bounds: &Lanes, children: &[Child; WIDTH], limit: f32) {
    let first = stack.len();
    for lane in Bits(lanes_within(bounds, limit)) {
        if children[lane] == Child::NONE {
            continue; // Only where the bound is infinite and so is the limit.
        }
        let entry = (bounds[lane], children[lane]);
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
    let (rough, slack) = packet.rough_squared(query);
    let mut within = lanes_within(&rough, best.rough_limit(slack)) & packet.lanes();
    while within != 0 {
        // The most promising one first: it often rules out the others.
        let lane = smallest_lane(&rough, within);
        best.offer(query, packet, index, lane);
        within &= !(1 << lane);
        within &= lanes_within(&rough, best.rough_limit(slack));
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
        let squared = if within_mm >= 0.0 { within_mm * within_mm } else { -1.0 }; // Nothing is as near as that.
        let (root, limit) = limits(squared);
        let (offset, feature) = (Vector3::zeros(), Feature::Face);
        Self { squared, root, limit, triangle: u32::MAX, place: None, offset, feature }
    }

    /// The rough squared distance up to which a triangle must be looked at exactly.
    #[inline(always)]
    fn rough_limit(&self, slack: f32) -> f32 {
        (self.root + slack) * (self.root + slack) * (1.0 + 1e-6)
    }

    /// Takes the triangle if it is nearer, or as near and lower: so the order of the offers does not matter.
    #[inline(always)]
    fn offer(&mut self, query: &Point3<f64>, packet: &Packet, index: usize, lane: usize) {
        let [a, b, c] = packet.corners[lane].map(|corner| corner - query);
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

#[inline(always)]
fn limits(squared: f64) -> (f32, f32) {
    ((squared.sqrt() as f32).next_up(), limit(squared))
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
