//! Plane sections as chains of segments.

use nalgebra::Point3;

use crate::{Plane, Surface, Topology};

/// A chain of points, one triangle a segment.
///
/// Segment `k` runs from point `k` to the next one inside triangle `k`. A closed chain has as many points as
/// triangles, its last segment returns to the first point; an open one has one point more.
/// Seen from the side the plane's normal points to, the outside of the surface is on the right, so the
/// outline of a body runs counter-clockwise.
#[derive(Debug, Clone, PartialEq)]
pub struct Polyline {
    /// Points, mm.
    pub points: Vec<Point3<f64>>,
    /// The triangle each segment lies in.
    pub triangles: Vec<u32>,
    /// Whether the last point joins the first.
    pub closed: bool,
}

impl Polyline {
    /// Start and end of each segment, with its triangle.
    pub fn segments(&self) -> impl Iterator<Item = (Point3<f64>, Point3<f64>, u32)> + '_ {
        let n_points = self.points.len();
        let ends = self.triangles.iter().enumerate();
        ends.map(move |(k, &triangle)| (self.points[k], self.points[(k + 1) % n_points], triangle))
    }

    /// Length of the chain, mm.
    pub fn length_mm(&self) -> f64 {
        self.segments().map(|(from, to, _)| (to - from).norm()).sum()
    }

    /// Area inside a closed chain, mm²; positive where it runs counter-clockwise seen against `plane.normal`.
    pub fn area_mm2(&self, plane: &Plane) -> f64 {
        let origin = self.points.first().copied().unwrap_or(plane.point);
        let twice = |(from, to, _): (Point3<f64>, Point3<f64>, u32)| (from - origin).cross(&(to - origin));
        0.5 * self.segments().map(|segment| twice(segment).dot(&plane.normal)).sum::<f64>()
    }
}

impl Surface {
    /// The section of the surface with `plane`: open chains first, then closed ones, each in the order of its
    /// lowest triangle.
    ///
    /// A vertex that lies exactly on the plane counts as lying on the positive side, so every crossing
    /// triangle is crossed by exactly two edges; triangles that lie in the plane do not appear. The point on an edge
    /// is computed once from its two ends in the order of their numbers: both triangles get the same bits.
    pub fn section(&self, plane: &Plane) -> Vec<Polyline> {
        let crossing = self.tree.crossing(plane);
        let mut todo = vec![true; crossing.len()];
        let mut chains = Vec::new();
        let steps: Vec<Step> = crossing.iter().map(|&triangle| self.step(plane, triangle)).collect();
        for start in 0..crossing.len() {
            if steps[start].from_triangle == Topology::NONE {
                chains.extend(self.chain(plane, &crossing, &steps, &mut todo, start));
            }
        }
        for start in 0..crossing.len() {
            if todo[start] {
                chains.extend(self.chain(plane, &crossing, &steps, &mut todo, start));
            }
        }
        chains
    }

    fn chain(
        &self,
        plane: &Plane,
        crossing: &[u32],
        steps: &[Step],
        todo: &mut [bool],
        start: usize,
    ) -> Option<Polyline> {
        let mut chain = Polyline { points: Vec::new(), triangles: Vec::new(), closed: false };
        let mut at = start;
        loop {
            todo[at] = false;
            let step = &steps[at];
            let (from, to) = (self.edge_point(plane, step.from), self.edge_point(plane, step.to));
            if from != to {
                chain.points.push(from);
                chain.triangles.push(crossing[at]);
            }
            let next = crossing.binary_search(&step.to_triangle).ok();
            match next {
                Some(next) if todo[next] => at = next,
                Some(next) => {
                    chain.closed = next == start;
                    break;
                }
                None => {
                    chain.points.push(to);
                    break;
                }
            }
        }
        (!chain.triangles.is_empty()).then_some(chain)
    }

    /// Where the section enters and leaves a triangle: from the edge that comes down through the plane to the
    /// one that goes up.
    fn step(&self, plane: &Plane, triangle: u32) -> Step {
        let corners = self.mesh.triangles[triangle as usize];
        let side = |k: usize| plane.signed_distance(&self.mesh.vertices[corners[k] as usize]) >= 0.0;
        let above = [side(0), side(1), side(2)];
        let edge = |k: usize| (corners[k], corners[(k + 1) % 3]);
        let down = (0..3).find(|&k| above[k] && !above[(k + 1) % 3]).unwrap_or(0);
        let up = (0..3).find(|&k| !above[k] && above[(k + 1) % 3]).unwrap_or(0);
        let neighbours = &self.topology.opposite[triangle as usize];
        Step { from: edge(down), to: edge(up), from_triangle: neighbours[down], to_triangle: neighbours[up] }
    }

    fn edge_point(&self, plane: &Plane, (a, b): (u32, u32)) -> Point3<f64> {
        let low = self.mesh.vertices[a.min(b) as usize];
        let high = self.mesh.vertices[a.max(b) as usize];
        let (d_low, d_high) = (plane.signed_distance(&low), plane.signed_distance(&high));
        // From the nearer end, so that a vertex on the plane is met exactly.
        if d_low.abs() <= d_high.abs() {
            low + (high - low) * (d_low / (d_low - d_high))
        } else {
            high + (low - high) * (d_high / (d_high - d_low))
        }
    }
}

struct Step {
    from: (u32, u32),
    to: (u32, u32),
    from_triangle: u32,
    to_triangle: u32,
}
