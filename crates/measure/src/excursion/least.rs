//! The least distance from moving points to a resting surface over a whole path: nothing between two poses is missed.

use std::cmp::Ordering;
use std::collections::BinaryHeap;

use kerfwright_geometry::Surface;
use kerfwright_jaw::{Ball, Motion, Sweep};
use nalgebra::{Isometry3, Point3};

/// The search ends when no stretch of the path can hold less than the least found by more than this, mm.
const RESOLUTION_MM: f64 = 0.005;

/// Points over the open border of the surface are followed to stretches this short, and then left, mm.
const BESIDE_MM: f64 = 0.02;

/// Where and when points come closest.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Least {
    /// Distance, mm, negative inside; at most 5 µm over the least there is.
    pub signed_mm: f64,
    /// Index of the point.
    pub point: usize,
    /// Share of the path.
    pub share: f64,
    /// How often a distance was looked up.
    pub n_looked: usize,
}

/// The least signed distance between `points`, carried by `motion`, and the resting `surface`.
///
/// `surface_from_points` takes a moved point into the frame of the surface. What is nearest on the open border of the
/// surface does not count: the sign has no meaning there. `None` if nothing comes within `within_mm`.
///
/// The motion bounds how far a point goes along a stretch of the path, so the distance in the middle of a stretch bounds
/// all of it; a box of points and a stretch are split until the bound is below 5 µm or cannot matter any more.
pub fn least_over(
    pieces: &Pieces,
    motion: &Motion,
    surface: &Surface,
    surface_from_points: &Isometry3<f64>,
    within_mm: f64,
) -> Option<Least> {
    let sweep = Sweep::new(motion, &pieces.ball()?);
    let mut search = Search {
        pieces,
        sweep,
        surface,
        surface_from_points,
        within_mm,
        is_deep: false,
        best: None,
        queue: BinaryHeap::new(),
        pose: (f64::NAN, Isometry3::identity()),
        n_looked: 0,
    };
    search.run();
    if search.best.is_some_and(|best| best.signed_mm < RESOLUTION_MM) {
        // Where points go through the surface, the deepest one may lie farther from it than any outside.
        search.is_deep = true;
        search.run();
    }
    let n_looked = search.n_looked;
    search.best.map(|best| Least { n_looked, ..best })
}

/// Points in a tree of balls: the first holds all, each is split in two down to single points.
#[derive(Debug, Clone)]
pub struct Pieces {
    nodes: Vec<Node>,
}

#[derive(Debug, Clone, Copy)]
struct Node {
    centre: Point3<f64>,
    radius_mm: f64,
    /// The first child, the second follows it; or the point itself.
    child: Child,
}

#[derive(Debug, Clone, Copy)]
enum Child {
    Pair(u32),
    Point(u32),
}

impl Pieces {
    /// The tree over `points`.
    pub fn new(points: &[Point3<f64>]) -> Self {
        let mut indices: Vec<u32> = (0..points.len() as u32).collect();
        let mut pieces = Self { nodes: Vec::with_capacity(2 * points.len()) };
        if !points.is_empty() {
            pieces.nodes.push(Node { centre: points[0], radius_mm: 0.0, child: Child::Point(0) });
            pieces.grow(0, points, &mut indices);
        }
        pieces
    }

    /// A ball that holds all points.
    pub fn ball(&self) -> Option<Ball> {
        let root = self.nodes.first()?;
        Some(Ball { centre: root.centre, radius_mm: root.radius_mm })
    }

    fn grow(&mut self, at: usize, points: &[Point3<f64>], indices: &mut [u32]) {
        let of = |index: &u32| points[*index as usize];
        if let [only] = *indices {
            self.nodes[at] = Node { centre: of(&only), radius_mm: 0.0, child: Child::Point(only) };
            return;
        }
        let mut low = of(&indices[0]);
        let mut high = low;
        for point in indices.iter().map(of) {
            (low, high) = (low.inf(&point), high.sup(&point));
        }
        let centre = nalgebra::center(&low, &high);
        let radius_mm = indices.iter().map(|index| (of(index) - centre).norm()).fold(0.0, f64::max);
        let axis = (high - low).imax();
        let middle = indices.len() / 2;
        let by_place = |a: &u32, b: &u32| of(a)[axis].total_cmp(&of(b)[axis]).then(a.cmp(b));
        indices.select_nth_unstable_by(middle, by_place);
        let first = self.nodes.len();
        self.nodes.extend([self.nodes[at]; 2]);
        self.nodes[at] = Node { centre, radius_mm, child: Child::Pair(first as u32) };
        let (left, right) = indices.split_at_mut(middle);
        self.grow(first, points, left);
        self.grow(first + 1, points, right);
    }
}

/// Some points over a stretch of the path, with a lower bound of their distance.
#[derive(Debug, Clone, Copy)]
struct Stretch {
    bound_mm: f64,
    node: u32,
    from_mm: f64,
    to_mm: f64,
}

impl Ord for Stretch {
    /// The lowest bound first; what is equal goes by place, so that the order is always the same.
    fn cmp(&self, other: &Self) -> Ordering {
        other
            .bound_mm
            .total_cmp(&self.bound_mm)
            .then(other.node.cmp(&self.node))
            .then(other.from_mm.total_cmp(&self.from_mm))
    }
}

impl PartialOrd for Stretch {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl PartialEq for Stretch {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}

impl Eq for Stretch {}

struct Search<'a> {
    pieces: &'a Pieces,
    sweep: Sweep<'a>,
    surface: &'a Surface,
    surface_from_points: &'a Isometry3<f64>,
    within_mm: f64,
    /// Looks for the surface as far from inside it as from outside.
    is_deep: bool,
    best: Option<Least>,
    queue: BinaryHeap<Stretch>,
    /// The last pose with its length: both halves of a ball are looked at in the same one.
    pose: (f64, Isometry3<f64>),
    n_looked: usize,
}

impl Search<'_> {
    fn run(&mut self) {
        self.queue.clear();
        self.look(0, 0.0, self.sweep.length_mm());
        while let Some(stretch) = self.queue.pop() {
            if stretch.bound_mm >= self.limit_mm() {
                break;
            }
            self.split(&stretch);
        }
    }

    /// What a stretch must be able to go below to be of interest.
    fn limit_mm(&self) -> f64 {
        self.best.map_or(self.within_mm, |best| best.signed_mm - RESOLUTION_MM)
    }

    fn split(&mut self, stretch: &Stretch) {
        let node = self.pieces.nodes[stretch.node as usize];
        let half_mm = 0.5 * (stretch.to_mm - stretch.from_mm);
        match node.child {
            Child::Pair(first) if node.radius_mm >= half_mm => {
                for child in [first, first + 1] {
                    self.look(child, stretch.from_mm, stretch.to_mm);
                }
            }
            _ => {
                let middle_mm = stretch.from_mm + half_mm;
                self.look(stretch.node, stretch.from_mm, middle_mm);
                self.look(stretch.node, middle_mm, stretch.to_mm);
            }
        }
    }

    /// Looks at the middle of a stretch and keeps the stretch if it can matter.
    fn look(&mut self, node: u32, from_mm: f64, to_mm: f64) {
        let ball = self.pieces.nodes[node as usize];
        let middle_mm = 0.5 * (from_mm + to_mm);
        let slack_mm = ball.radius_mm + 0.5 * (to_mm - from_mm);
        let Some((signed_mm, on_border)) = self.distance(&ball.centre, middle_mm, slack_mm) else { return };
        if let Child::Point(point) = ball.child
            && !on_border
        {
            self.take(point, middle_mm, signed_mm);
            // The ends of the path are as good as its middle, and often the least lies there.
            for end_mm in [0.0, self.sweep.length_mm()] {
                if (from_mm == end_mm || to_mm == end_mm)
                    && let Some((signed_mm, false)) = self.distance(&ball.centre, end_mm, 0.0)
                {
                    self.take(point, end_mm, signed_mm);
                }
            }
        }
        // On the border only the distance itself is known.
        let bound_mm = if on_border { signed_mm.abs() } else { signed_mm } - slack_mm;
        let is_beside = on_border && slack_mm < BESIDE_MM;
        if bound_mm < self.limit_mm() && !is_beside {
            self.queue.push(Stretch { bound_mm, node, from_mm, to_mm });
        }
    }

    fn take(&mut self, point: u32, length_mm: f64, signed_mm: f64) {
        if signed_mm < self.best.map_or(self.within_mm, |best| best.signed_mm) {
            let share = self.sweep.share_at(length_mm);
            self.best = Some(Least { signed_mm, point: point as usize, share, n_looked: 0 });
        }
    }

    /// The signed distance of a point at a length of the path, and whether the border is nearest; `None` where it is too
    /// far to matter within `slack_mm`.
    fn distance(&mut self, point: &Point3<f64>, length_mm: f64, slack_mm: f64) -> Option<(f64, bool)> {
        self.n_looked += 1;
        if self.pose.0 != length_mm {
            self.pose = (length_mm, self.sweep.pose(length_mm));
        }
        let at = self.surface_from_points * (self.pose.1 * point);
        let reach_mm = if self.is_deep { self.within_mm } else { self.limit_mm().max(0.0) };
        let signed = self.surface.signed(&at, reach_mm + slack_mm + RESOLUTION_MM)?;
        Some((signed.distance_mm, self.surface.on_boundary(&signed.closest)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use kerfwright_geometry::closest_on_triangle;
    use kerfwright_mesh::Mesh;
    use nalgebra::Vector3;

    /// A height field over a square grid, facing up; `n` cells of `cell_mm` a side around the origin.
    fn field(n: usize, cell_mm: f64, height: impl Fn(f64, f64) -> f64) -> Mesh {
        let at = |k: usize| (k as f64 - 0.5 * n as f64) * cell_mm;
        let mut mesh = Mesh { vertices: Vec::new(), triangles: Vec::new() };
        for row in 0..=n {
            for column in 0..=n {
                let (x, y) = (at(column), at(row));
                mesh.vertices.push(Point3::new(x, y, height(x, y)));
            }
        }
        for row in 0..n {
            for column in 0..n {
                let corner = (row * (n + 1) + column) as u32;
                let (right, up) = (corner + 1, corner + n as u32 + 1);
                mesh.triangles.extend([[corner, right, up + 1], [corner, up + 1, up]]);
            }
        }
        mesh
    }

    fn path(step: impl Fn(f64) -> Isometry3<f64>) -> Motion {
        Motion::new(Point3::origin(), (0..=24).map(|k| step(f64::from(k) / 24.0)).collect())
    }

    fn find(points: &[Point3<f64>], motion: &Motion, surface: &Surface) -> Least {
        least_over(&Pieces::new(points), motion, surface, &Isometry3::identity(), 8.0).unwrap()
    }

    /// Points on the lower half of a sphere.
    fn sphere(centre: Point3<f64>, radius_mm: f64) -> Vec<Point3<f64>> {
        let mut points = vec![centre - Vector3::z() * radius_mm];
        for ring in 1..=30 {
            for turn in 0..60 {
                let (sine, cosine) = (0.03 * f64::from(ring)).sin_cos();
                let (y, x) = (f64::from(turn) / 60.0 * std::f64::consts::TAU).sin_cos();
                points.push(centre + Vector3::new(sine * x, sine * y, -cosine) * radius_mm);
            }
        }
        points
    }

    /// A sphere of radius r whose centre runs along a line over a plane: the least is the lower end's height less r.
    #[test]
    fn a_sphere_sliding_over_a_plane() {
        let plane = Surface::new(field(80, 0.5, |_, _| 0.0));
        let points = sphere(Point3::new(-2.0, 0.0, 3.0), 1.5);
        for (rise_mm, least_mm, share) in [(0.4, 1.5, 0.0), (-0.9, 0.6, 1.0)] {
            let least =
                find(&points, &path(|s| Isometry3::translation(4.0 * s, 1.0 * s, rise_mm * s)), &plane);
            assert!((least.signed_mm - least_mm).abs() < 1e-9, "{least:?}");
            assert_eq!((least.point, least.share), (0, share));
        }
        // Rocking down and up again: 1.2 mm lower in the middle of the path.
        let rocking = path(|s| Isometry3::translation(4.0 * s, 0.0, -1.2 * (1.0 - (2.0 * s - 1.0).abs())));
        let least = find(&points, &rocking, &plane);
        assert!((0.3..0.305).contains(&least.signed_mm), "{least:?}");
        assert!((least.share - 0.5).abs() < 0.002, "{least:?}");
        // Through the plane: the depth counts, not the nearness.
        let through = find(&points, &path(|s| Isometry3::translation(0.0, 0.0, -2.1 * s)), &plane);
        assert!((through.signed_mm + 0.6).abs() < 1e-9, "{through:?}");
    }

    /// Turning about a far hinge, as a jaw does: the closed form is the sphere's way along its circle.
    #[test]
    fn a_sphere_swinging_about_a_hinge() {
        let plane = Surface::new(field(80, 0.5, |_, _| 0.0));
        let centre = Point3::new(0.0, 0.0, 2.6);
        let hinge = Point3::new(60.0, 0.0, 40.0);
        let swing = |turn: f64| {
            let rotation = nalgebra::UnitQuaternion::new(Vector3::y() * turn);
            Isometry3::from_parts((hinge - rotation * hinge).into(), rotation)
        };
        let motion = path(|s| swing(-0.02 * s));
        let least = find(&sphere(centre, 1.5), &motion, &plane);
        let end = swing(-0.02) * centre;
        // Its lowest point is among the samples up to the sag between them, 1.5 (1 − cos 0.05) = 2 µm.
        assert!(end.z < centre.z && (least.signed_mm - (end.z - 1.5)).abs() < 0.003, "{least:?} {}", end.z);
    }

    /// Every distance the long way: all points against all triangles at 2000 poses.
    #[test]
    fn nothing_is_missed_against_brute_force() {
        let lumps = |x: f64, y: f64| 0.6 * (1.3 * x).sin() * (1.1 * y).cos() - 0.05 * x * x;
        let surface = Surface::new(field(16, 0.5, lumps));
        let own = |x: f64, y: f64| 1.9 + 0.5 * (1.7 * x + 0.4).cos() * (1.4 * y).sin();
        let patch: Vec<Point3<f64>> = field(6, 0.3, own).vertices;
        let motions = [
            path(|s| Isometry3::new(Vector3::new(2.5 * s, -0.6 * s, -0.5 * s), Vector3::y() * 0.05 * s)),
            path(|s| {
                Isometry3::new(Vector3::new(-1.5 * s, 1.9 * s, -0.8 * s * (1.0 - s)), Vector3::z() * 0.1 * s)
            }),
            path(|s| Isometry3::translation(0.0, 3.0 * s - 1.5, -0.9 * (6.0 * s).sin().abs())),
        ];
        for motion in &motions {
            let mut dense = (f64::INFINITY, 0.0);
            for pose in 0..2000 {
                let share = f64::from(pose) / 1999.0;
                let there = motion.pose(share);
                for point in &patch {
                    let at = there * point;
                    let squared = (0..surface.mesh.triangles.len() as u32)
                        .map(|triangle| closest_on_triangle(&at, &surface.mesh.corners(triangle)).1)
                        .fold(f64::INFINITY, f64::min);
                    if squared.sqrt() < dense.0 {
                        dense = (squared.sqrt(), share);
                    }
                }
            }
            let least = find(&patch, motion, &surface);
            // The search may stay 5 µm above the least there is; 2000 poses may miss it by half a step of the path.
            let step_mm = 0.5 * Sweep::new(motion, &Pieces::new(&patch).ball().unwrap()).length_mm() / 1999.0;
            assert!(least.signed_mm <= dense.0 + RESOLUTION_MM, "{least:?} {dense:?}");
            assert!(least.signed_mm >= dense.0 - step_mm, "{least:?} {dense:?}");
            let n_poses = 2000 * patch.len();
            assert!(least.n_looked < n_poses / 20, "{} of {n_poses} distances", least.n_looked);
        }
    }

    #[test]
    fn what_is_far_or_beside_is_nothing() {
        let plane = Surface::new(field(8, 0.5, |_, _| 0.0));
        let rest = path(|_| Isometry3::identity());
        let none = |point| least_over(&Pieces::new(&[point]), &rest, &plane, &Isometry3::identity(), 8.0);
        assert_eq!(none(Point3::new(0.0, 0.0, 9.0)), None);
        assert_eq!(none(Point3::new(5.0, 0.0, 1.0)), None, "over the border");
        assert_eq!(none(Point3::new(0.2, 0.1, 2.0)).unwrap().signed_mm, 2.0);
        assert!(least_over(&Pieces::new(&[]), &rest, &plane, &Isometry3::identity(), 8.0).is_none());
    }
}
