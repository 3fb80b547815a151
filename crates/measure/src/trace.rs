//! Following a plane section from triangle to triangle, so that a short piece costs only its own length.

use kerfwright_geometry::{Plane, Surface, Topology};
use nalgebra::{Point3, Vector3};

/// A piece of a plane section: `n + 1` points and the `n` triangles between them.
#[derive(Debug, Clone, Default)]
pub struct Trace {
    /// Where the section crosses triangle edges, in order.
    pub points: Vec<Point3<f64>>,
    /// The triangle of each segment.
    pub triangles: Vec<u32>,
    /// Whether the trace ended at the scan's border and not at the asked length.
    pub met_border: bool,
}

impl Trace {
    /// The trace as it would be, had it been followed for `length_mm` and no farther.
    pub fn within(mut self, length_mm: f64) -> Self {
        let mut walked_mm = 0.0;
        let reached = self.points.windows(2).position(|pair| {
            walked_mm += (pair[1] - pair[0]).norm();
            walked_mm >= length_mm
        });
        if let Some(n_triangles) = reached.map(|last| last + 1).filter(|&n| n < self.triangles.len()) {
            self.points.truncate(n_triangles + 1);
            self.triangles.truncate(n_triangles);
            self.met_border = false;
        }
        self
    }
}

/// Follows the section of `surface` by `plane` from `start` in the direction `toward` for `length_mm`.
///
/// The first point is where the trace enters `start`. Empty if `start` does not cross the plane.
pub fn trace(surface: &Surface, plane: &Plane, start: u32, toward: &Vector3<f64>, length_mm: f64) -> Trace {
    let Some(mut walk) = Walk::from(surface, plane, start, toward) else { return Trace::default() };
    walk.go_on(length_mm);
    walk.trace
}

/// A trace on its way, so that a short one can be looked at before it is taken further.
#[derive(Debug, Clone)]
pub struct Walk<'a> {
    /// What has been walked.
    pub trace: Trace,
    surface: &'a Surface,
    plane: &'a Plane,
    walked_mm: f64,
    /// The last triangle, and where the trace leaves it.
    at: (u32, Exit),
    is_at_end: bool,
}

impl<'a> Walk<'a> {
    /// Walks through `start` in the direction `toward`; `None` if `start` does not cross the plane.
    pub fn from(surface: &'a Surface, plane: &'a Plane, start: u32, toward: &Vector3<f64>) -> Option<Self> {
        let [first, second] = crossings(surface, plane, start)?;
        let forward = (second.1 - first.1).dot(toward) >= 0.0;
        let (entry, exit) = if forward { (first, second) } else { (second, first) };
        Some(Self {
            trace: Trace { points: vec![entry.1, exit.1], triangles: vec![start], met_border: false },
            surface,
            plane,
            walked_mm: (exit.1 - entry.1).norm(),
            at: (start, exit),
            is_at_end: false,
        })
    }

    /// Walks on until the trace is `length_mm` long, counted from its first point, or ends.
    pub fn go_on(&mut self, length_mm: f64) {
        while !self.is_at_end && self.walked_mm < length_mm && self.trace.triangles.len() < MOST_TRIANGLES {
            self.step();
        }
    }

    fn step(&mut self) {
        let (triangle, exit) = self.at;
        let next = match self.surface.topology.opposite[triangle as usize][exit.0] {
            Topology::NONE => over_gap(self.surface, self.plane, &self.trace),
            next => over_edge(self.surface, self.plane, triangle, next),
        };
        let trace = &mut self.trace;
        trace.met_border = next.is_none();
        match next.filter(|next| next.0 != trace.triangles[0]) {
            Some((triangle, exit)) => {
                self.walked_mm += (exit.1 - trace.points[trace.points.len() - 1]).norm();
                trace.points.push(exit.1);
                trace.triangles.push(triangle);
                self.at = (triangle, exit);
            }
            None => self.is_at_end = true,
        }
    }
}

/// A trace this long has lost its way.
const MOST_TRIANGLES: usize = 5000;
/// Widest crack that a trace steps over, mm: less than a triangle's edge.
const CRACK_MM: f64 = 0.25;

type Exit = (usize, Point3<f64>);

/// Over a shared edge the crossing is the same point; the other crossing of `next` leads on.
fn over_edge(surface: &Surface, plane: &Plane, from: u32, next: u32) -> Option<(u32, Exit)> {
    let [one, other] = crossings(surface, plane, next)?;
    let came_over_one = surface.topology.opposite[next as usize][one.0] == from;
    Some((next, if came_over_one { other } else { one }))
}

/// Where the mesh is cracked or folded: the crossed triangle that goes on most nearly from where the trace stands.
fn over_gap(surface: &Surface, plane: &Plane, trace: &Trace) -> Option<(u32, Exit)> {
    let at = trace.points[trace.points.len() - 1];
    let recent = &trace.triangles[trace.triangles.len().saturating_sub(40)..];
    let back = trace.points[trace.points.len().saturating_sub(8)];
    let heading = (at - back).try_normalize(1e-9)?;
    let near = surface.tree.triangles_near(&at, CRACK_MM);
    let steps = near.into_iter().filter(|triangle| !recent.contains(triangle)).filter_map(|triangle| {
        let [one, other] = crossings(surface, plane, triangle)?;
        let (entry, exit) =
            if (one.1 - at).norm() <= (other.1 - at).norm() { (one, other) } else { (other, one) };
        let gap_mm = (entry.1 - at).norm();
        // Straight on or round a corner, but not back: the new piece must not retrace the last steps.
        let (ahead, length) = ((exit.1 - at).dot(&heading), (exit.1 - entry.1).norm());
        (gap_mm <= CRACK_MM && ahead > -0.7 * length).then_some((gap_mm - 0.2 * length, triangle, exit))
    });
    let (_, triangle, exit) = steps.min_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)))?;
    Some((triangle, exit))
}

/// The two edges of a triangle that cross the plane, each with its crossing point.
///
/// A corner on the plane counts as lying on its positive side, so that every crossed triangle has exactly two
/// crossed edges and neighbouring triangles agree on the shared one.
pub fn crossings(surface: &Surface, plane: &Plane, triangle: u32) -> Option<[(usize, Point3<f64>); 2]> {
    let corners = surface.mesh.corners(triangle);
    let height = |k: usize| plane.signed_distance(&corners[k]);
    let heights = [height(0), height(1), height(2)];
    let mut found = [None; 2];
    let mut n_found = 0;
    for edge in 0..3 {
        let next = (edge + 1) % 3;
        if (heights[edge] >= 0.0) != (heights[next] >= 0.0) {
            let share = heights[edge] / (heights[edge] - heights[next]);
            let point = corners[edge] + (corners[next] - corners[edge]) * share;
            found[n_found.min(1)] = Some((edge, point));
            n_found += 1;
        }
    }
    Some([found[0]?, found[1]?])
}

/// The triangle near `point` whose crossing with the plane lies closest to it, within `within_mm`.
pub fn crossing_near(surface: &Surface, plane: &Plane, point: &Point3<f64>, within_mm: f64) -> Option<u32> {
    let near = surface.tree.triangles_near(point, within_mm);
    let distances = near.into_iter().filter_map(|triangle| {
        let [first, second] = crossings(surface, plane, triangle)?;
        Some((distance_to_segment(point, &first.1, &second.1), triangle))
    });
    distances.min_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1))).map(|(_, triangle)| triangle)
}

fn distance_to_segment(point: &Point3<f64>, from: &Point3<f64>, to: &Point3<f64>) -> f64 {
    let along = to - from;
    let share = ((point - from).dot(&along) / along.norm_squared().max(1e-30)).clamp(0.0, 1.0);
    (point - (from + along * share)).norm()
}

#[cfg(test)]
mod tests {
    use super::*;
    use kerfwright_mesh::Mesh;

    /// A ridge along y over a square of 4 mm.
    fn ridge() -> Surface {
        let n = 20_u32;
        let mut mesh = Mesh::default();
        for place in 0..(n + 1) * (n + 1) {
            let at = |k: u32| 0.2 * f64::from(k) - 2.0;
            let (x, y) = (at(place % (n + 1)), at(place / (n + 1)));
            mesh.vertices.push(Point3::new(x, y, 1.0 - x.abs()));
        }
        for place in (0..n * (n + 1)).filter(|place| place % (n + 1) < n) {
            let above = place + n + 1;
            mesh.triangles.extend([[place, place + 1, above + 1], [place, above + 1, above]]);
        }
        Surface::new(mesh)
    }

    /// A trace taken on, or cut short, is the trace of that length; over the ridge 1 mm along x is √2 mm long.
    #[test]
    fn a_trace_taken_on_is_the_longer_one() {
        let ridge = ridge();
        let plane = Plane { point: Point3::new(0.0, 0.33, 0.0), normal: Vector3::y() };
        let start = crossing_near(&ridge, &plane, &Point3::new(-1.0, 0.33, 0.0), 0.3).unwrap();
        let mut walk = Walk::from(&ridge, &plane, start, &Vector3::x()).unwrap();
        let mut longest = 0;
        for length_mm in [0.05, 0.7, 2.0, 3.9, 9.0] {
            walk.go_on(length_mm);
            let whole = trace(&ridge, &plane, start, &Vector3::x(), length_mm);
            let short = trace(&ridge, &plane, start, &Vector3::x(), 9.0).within(length_mm);
            for same in [&walk.trace, &short] {
                assert_eq!((&same.points, &same.triangles), (&whole.points, &whole.triangles));
                assert_eq!(same.met_border, whole.met_border);
            }
            assert_eq!(whole.met_border, length_mm > 5.0);
            let ends = whole.points[whole.points.len() - 1].x - whole.points[0].x;
            assert!(whole.met_border || (length_mm..length_mm + 0.3).contains(&(2.0_f64.sqrt() * ends)));
            assert!(whole.triangles.len() > longest);
            longest = whole.triangles.len();
        }
    }
}
