//! The section at a station: the plane that holds the path and stands square on the finish line.

use kerfwright_geometry::{Plane, Surface};
use nalgebra::{Isometry3, Point2, Point3, Vector2, Vector3};

use crate::trace::{Walk, crossing_near};

/// How far a section follows the surface outward from the finish line, mm.
pub const OUTWARD_MM: f64 = 4.0;
/// How far a section follows the surface inward, over floor, wall and occlusal edge, mm.
pub const INWARD_MM: f64 = 11.0;
/// How near to the expected finish line the surface must be, mm.
const CATCH_MM: f64 = 0.7;
/// Where it is looked for first, mm.
const NEAR_MM: f64 = 0.15;
/// Length over which the two ways from the finish line are told apart, mm.
const CLIMB_MM: f64 = 2.0;

/// The plane coordinates of a section: `h` horizontal towards the tooth's middle, `z` along the path.
#[derive(Debug, Clone, Copy)]
pub struct SectionFrame {
    /// Where `h` and `z` are zero: the finish line.
    pub origin: Point3<f64>,
    /// Unit, perpendicular to `up`, towards the tooth.
    pub inward: Vector3<f64>,
    /// Unit, the path (or the direction taken for it).
    pub up: Vector3<f64>,
}

/// A section: points from the outside (gingiva) inward over the finish line, floor and wall to the top.
#[derive(Debug, Clone)]
pub struct Section {
    /// Its plane coordinates.
    pub frame: SectionFrame,
    /// `(h, z)` in mm, where the surface's edges cross the plane, in order.
    pub points: Vec<Point2<f64>>,
    /// Length along the surface from the origin, mm, negative outside.
    pub arc_mm: Vec<f64>,
    /// Whether the outer end is the scan's border.
    pub open_outside: bool,
}

impl SectionFrame {
    /// The plane of the section.
    pub fn plane(&self) -> Plane {
        Plane { point: self.origin, normal: self.inward.cross(&self.up) }
    }

    /// Plane coordinates of a point.
    pub fn flat(&self, point: &Point3<f64>) -> Point2<f64> {
        let from_origin = point - self.origin;
        Point2::new(from_origin.dot(&self.inward), from_origin.dot(&self.up))
    }

    /// The same section in another frame.
    pub fn moved(&self, there_from_here: &Isometry3<f64>) -> Self {
        Self {
            origin: there_from_here * self.origin,
            inward: there_from_here * self.inward,
            up: there_from_here * self.up,
        }
    }

    /// The point with these plane coordinates.
    pub fn solid(&self, flat: &Point2<f64>) -> Point3<f64> {
        self.origin + self.inward * flat.x + self.up * flat.y
    }
}

impl Section {
    /// Cuts `surface` at a station. `None` if the surface is missing there.
    pub fn cut(surface: &Surface, frame: SectionFrame) -> Option<Self> {
        Self::cut_within(surface, frame, OUTWARD_MM, INWARD_MM)
    }

    /// The same with other lengths.
    pub fn cut_within(
        surface: &Surface,
        frame: SectionFrame,
        outward_mm: f64,
        inward_mm: f64,
    ) -> Option<Self> {
        let plane = frame.plane();
        let start = crossing_near(surface, &plane, &frame.origin, NEAR_MM)
            .or_else(|| crossing_near(surface, &plane, &frame.origin, CATCH_MM))?;
        let mut up = Walk::from(surface, &plane, start, &frame.up)?;
        let mut down = Walk::from(surface, &plane, start, &-frame.up)?;
        up.go_on(CLIMB_MM);
        down.go_on(CLIMB_MM);
        // Inside lies where the surface leads inward and up; both signs of slope occur next to a finish line.
        let up_is_in = climb(&frame, &up.trace.points) >= climb(&frame, &down.trace.points);
        let (mut inner, mut outer) = if up_is_in { (up, down) } else { (down, up) };
        inner.go_on(inward_mm);
        outer.go_on(outward_mm + CLIMB_MM);
        let (inner, outer) = (inner.trace.within(inward_mm), outer.trace);
        let mut points: Vec<Point2<f64>> =
            outer.points[1..].iter().rev().map(|point| frame.flat(point)).collect();
        let n_outer = points.len();
        points.extend(inner.points[1..].iter().map(|point| frame.flat(point)));
        let mut section = Self { frame, arc_mm: Vec::new(), points, open_outside: outer.met_border };
        section.arc_mm = section.arcs_from(n_outer - 1);
        let keep = |arc_mm: f64| arc_mm >= -outward_mm;
        let first = section.arc_mm.iter().position(|&arc_mm| keep(arc_mm)).unwrap_or(0);
        if first > 0 {
            section.open_outside = false;
            section.points.drain(..first);
            section.arc_mm.drain(..first);
        }
        Some(section)
    }

    /// Arc lengths with zero at the point of the segment after `index` that lies nearest to the origin.
    fn arcs_from(&self, index: usize) -> Vec<f64> {
        let mut arcs = Vec::with_capacity(self.points.len());
        let mut walked_mm = 0.0;
        for (place, point) in self.points.iter().enumerate() {
            if place > 0 {
                walked_mm += (point - self.points[place - 1]).norm();
            }
            arcs.push(walked_mm);
        }
        let from = self.points[index];
        let along = self.points.get(index + 1).map_or(Vector2::zeros(), |to| to - from);
        let share = (-from.coords.dot(&along) / along.norm_squared().max(1e-30)).clamp(0.0, 1.0);
        let zero_mm = arcs[index] + share * along.norm();
        for arc_mm in &mut arcs {
            *arc_mm -= zero_mm;
        }
        arcs
    }

    /// The points whose arc length lies in a range.
    pub fn between(&self, from_mm: f64, to_mm: f64) -> Vec<Point2<f64>> {
        let pairs = self.points.iter().zip(&self.arc_mm);
        pairs.filter(|(_, arc_mm)| (from_mm..=to_mm).contains(*arc_mm)).map(|(point, _)| *point).collect()
    }

    /// Arc length of the section's own point that lies nearest to a point, mm.
    pub fn arc_near_mm(&self, point: &Point2<f64>) -> f64 {
        let pairs = self.points.iter().zip(&self.arc_mm);
        let off_mm2 = |own: &Point2<f64>| (own - point).norm_squared();
        let nearest = pairs.min_by(|one, other| off_mm2(one.0).total_cmp(&off_mm2(other.0)));
        nearest.map_or(0.0, |(_, arc_mm)| *arc_mm)
    }

    /// The point at an arc length, interpolated; `None` beyond the ends.
    pub fn at_arc(&self, arc_mm: f64) -> Option<Point2<f64>> {
        let after = self.arc_mm.iter().position(|&arc| arc >= arc_mm)?;
        if after == 0 {
            return (self.arc_mm[0] == arc_mm).then(|| self.points[0]);
        }
        let (from, to) = (self.arc_mm[after - 1], self.arc_mm[after]);
        let share = if to > from { (arc_mm - from) / (to - from) } else { 0.0 };
        Some(self.points[after - 1] + (self.points[after] - self.points[after - 1]) * share)
    }

    /// Where the surface, followed inward from the origin, first rises through a height; its `h` and `z`.
    pub fn at_height(&self, height_mm: f64) -> Option<Point2<f64>> {
        let inner = self.arc_mm.iter().position(|&arc_mm| arc_mm > 0.0)?;
        let pair = self.points[inner.saturating_sub(1)..]
            .windows(2)
            .find(|pair| pair[0].y <= height_mm && height_mm < pair[1].y)?;
        Some(pair[0] + (pair[1] - pair[0]) * ((height_mm - pair[0].y) / (pair[1].y - pair[0].y)))
    }

    /// Points every `step_mm` along the surface from `from_mm` to `to_mm` or the end.
    pub fn resampled(&self, from_mm: f64, to_mm: f64, step_mm: f64) -> Vec<Point2<f64>> {
        let n_steps = ((to_mm - from_mm) / step_mm).max(0.0) as usize;
        let mut resampled = Vec::with_capacity(n_steps + 1);
        let mut after = 1;
        for step in 0..=n_steps {
            let arc_mm = from_mm + step as f64 * step_mm;
            if arc_mm < self.arc_mm[0] {
                continue;
            }
            while after < self.points.len() && self.arc_mm[after] < arc_mm {
                after += 1;
            }
            if after >= self.points.len() {
                break;
            }
            let (from, to) = (self.arc_mm[after - 1], self.arc_mm[after]);
            let share = if to > from { (arc_mm - from) / (to - from) } else { 0.0 };
            resampled.push(self.points[after - 1] + (self.points[after] - self.points[after - 1]) * share);
        }
        resampled
    }

    /// Moves the origin to a point of the same plane, keeping the surface.
    pub fn recentred(mut self, origin: &Point2<f64>) -> Self {
        let solid = self.frame.solid(origin);
        for point in &mut self.points {
            *point -= origin.coords;
        }
        self.frame.origin = solid;
        let nearest = (0..self.points.len().saturating_sub(1))
            .min_by(|&a, &b| self.segment_distance(a).total_cmp(&self.segment_distance(b)))
            .unwrap_or(0);
        self.arc_mm = self.arcs_from(nearest);
        self
    }

    fn segment_distance(&self, index: usize) -> f64 {
        let (from, along) = (self.points[index].coords, self.points[index + 1] - self.points[index]);
        let share = (-from.dot(&along) / along.norm_squared().max(1e-30)).clamp(0.0, 1.0);
        (from + along * share).norm()
    }
}

/// Mean of `h + z` over the beginning of a trace.
fn climb(frame: &SectionFrame, points: &[Point3<f64>]) -> f64 {
    let (mut walked_mm, mut sum, mut weight) = (0.0, 0.0, 0.0);
    for pair in points.windows(2) {
        let step_mm = (pair[1] - pair[0]).norm();
        let middle = frame.flat(&nalgebra::center(&pair[0], &pair[1]));
        sum += (middle.x + middle.y) * step_mm;
        weight += step_mm;
        walked_mm += step_mm;
        if walked_mm > CLIMB_MM {
            break;
        }
    }
    sum / f64::max(weight, 1e-12)
}
