//! Tooth guidance: the unprepared teeth slide along each other and open the jaw.

use nalgebra::{Isometry3, Matrix3, Point3, Vector3};
use rayon::prelude::*;

use super::path::{Moment, Site};
use super::relief::{NEARBY_MM, Relief};
use crate::outline::Outline;
use crate::preparation::Preparation;
use crate::scene::Placed;

/// A contact is at least this large, mm²: two or three vertices. A single one is noise.
const CONTACT_MM2: f64 = 0.05;
/// Teeth that only this much opening lets pass are locked, mm.
const MOST_MM: f64 = 10.0;
/// More than this far outside of the finish line begins what may guide, mm.
const BESIDE_MM: f64 = 0.3;
/// Opening within this is at rest, mm.
const SETTLED_MM: f64 = 0.001;
/// So far the jaw opens or closes with the points that were near at first, mm.
const ACTIVE_MM: f64 = 0.3;
/// Facets steeper than this do not carry: about 80°.
const STEEP: f64 = 0.17;

/// Separation per radian of opening, linear over the after frame.
#[derive(Debug, Clone, Copy)]
pub struct Lever {
    /// Its gradient.
    pub slope: Vector3<f64>,
    /// Where it is 0.
    pub hinge: Point3<f64>,
}

impl Lever {
    /// Millimetres per radian at a point.
    pub fn at(&self, point: &Point3<f64>) -> f64 {
        self.slope.dot(&(point - self.hinge))
    }
}

/// The unprepared teeth of both arches, ready to say by how much a pose must be opened.
#[derive(Debug, Clone)]
pub struct Guidance<'scan> {
    opposing: Placed<'scan>,
    scan_from_after: Isometry3<f64>,
    /// Unprepared vertices of the prepared arch that may meet an opponent, with their areas.
    points: Vec<(Point3<f64>, f64)>,
    /// Of the box around them.
    corners: [Point3<f64>; 8],
    relief: Relief,
    /// How deep contacts may be: the noise, or what the closed bite shows.
    pub depth_mm: f64,
}

impl<'scan> Guidance<'scan> {
    /// From the unprepared teeth around a preparation and the opposing scan.
    pub fn new(preparation: &Preparation<'_>, site: &Site<'scan>) -> Self {
        let relief = Relief::new(&site.opposing, &site.occlusal, &site.ball.centre);
        let after = preparation.scene.after;
        let outline = Outline::new(&preparation.ring, &preparation.path);
        let vertices = (0..after.mesh.vertices.len()).into_par_iter().with_min_len(4096);
        let points: Vec<(Point3<f64>, f64)> = vertices
            .filter_map(|vertex| {
                let point = after.mesh.vertices[vertex];
                let carries = after.vertex_normals[vertex].dot(&site.occlusal) > STEEP;
                if !carries || preparation.inside[vertex] || !relief.may_meet(&point) {
                    return None;
                }
                let (radius_mm, _, edge) = outline.place(&point);
                (radius_mm > edge.0 + BESIDE_MM).then(|| (point, preparation.vertex_area_mm2[vertex]))
            })
            .collect();
        let opposing = site.opposing;
        let scan_from_after = opposing.after_from_scan.inverse();
        let corners = corners_around(&points);
        let mut guidance = Self { opposing, scan_from_after, points, corners, relief, depth_mm: 0.0 };
        guidance.depth_mm = guidance.closed_depth_mm().clamp(4.0 * preparation.noise_mm, 0.3);
        guidance
    }

    /// Whether any unprepared tooth can guide.
    pub fn is_empty(&self) -> bool {
        self.points.is_empty()
    }

    /// How deep the teeth reach into each other in the closed bite, along the normal, mm.
    fn closed_depth_mm(&self) -> f64 {
        let mut deepest = Deepest::new();
        for (point, area_mm2) in &self.points {
            if let Some((over_mm, steepness)) = self.relief.over(point) {
                deepest.add(over_mm / steepness, *area_mm2);
            }
        }
        deepest.value()
    }

    /// The opening at which the unprepared teeth just carry each other and reach in by no more than `depth_mm`, radians.
    ///
    /// From `start_rad`, the opening a step before, the jaw closes until something carries, and opens by what reaches in:
    /// so it slides along the teeth and jumps over none. `among` restricts the search to some of the points.
    /// `None` if the teeth lock.
    pub fn opening_rad(&self, moment: &Moment<'_>, start_rad: f64, among: Among<'_>) -> Option<f64> {
        let mut opening_rad = start_rad;
        let mut among = among;
        for _ in 0..40 {
            let (next_rad, is_settled) = match &mut among {
                Among::These(near) => self.settle(moment, opening_rad, f64::INFINITY, near),
                Among::All(nearby) => {
                    let active = self.carrying(moment, opening_rad, 2.0 * ACTIVE_MM, nearby);
                    self.settle(moment, opening_rad, ACTIVE_MM / moment.arm_mm(), &active)
                }
            };
            opening_rad = next_rad;
            if is_settled {
                return Some(opening_rad);
            }
            if opening_rad * moment.arm_mm() > MOST_MM {
                return None;
            }
        }
        None
    }

    /// Closes and opens with some of the points, as far as `reach_rad` from the start; whether it came to rest.
    fn settle(&self, moment: &Moment<'_>, start_rad: f64, reach_rad: f64, near: &[u32]) -> (f64, bool) {
        let settled_rad = SETTLED_MM / moment.arm_mm();
        let mut opening_rad = start_rad;
        for _ in 0..20 {
            let gap_rad = -self.need_rad(moment, opening_rad, near);
            if gap_rad <= settled_rad || opening_rad == 0.0 {
                break;
            }
            // Not all the way: closing also carries the teeth forward, to where they may meet earlier.
            opening_rad = (opening_rad - 0.7 * gap_rad).max(0.0);
            if start_rad - opening_rad > reach_rad {
                return (start_rad - reach_rad, false);
            }
        }
        for _ in 0..60 {
            let (depth_mm, steepness) = self.deepest(moment, opening_rad, near);
            let deeper_mm = depth_mm - self.depth_mm;
            if deeper_mm <= SETTLED_MM {
                return (opening_rad, true);
            }
            // Nothing that reaches in so deep can come out by less; on a slope it takes more, but steep walls may end.
            opening_rad += deeper_mm * steepness.min(2.0) / moment.arm_mm();
            if opening_rad - start_rad > reach_rad {
                return (opening_rad, false);
            }
        }
        (opening_rad, false)
    }

    /// Opening that the heights alone ask for; negative where there is a gap.
    fn need_rad(&self, moment: &Moment<'_>, opening_rad: f64, near: &[u32]) -> f64 {
        let (lever, pose) = (moment.lever_plane(), Moved::new(&moment.relative(opening_rad)));
        let mut deepest = Deepest::new();
        for &index in near {
            let (point, area_mm2) = &self.points[index as usize];
            let at = pose.at(point);
            if let Some((over_mm, steepness)) = self.relief.over(&at) {
                deepest.add((over_mm - self.depth_mm * steepness) / lever.at(&at).max(1.0), *area_mm2);
            }
        }
        deepest.value()
    }

    /// How deep the teeth reach into each other, mm, and how steep it is there. The true distance, since a height says
    /// little beside a steep wall.
    fn deepest(&self, moment: &Moment<'_>, opening_rad: f64, near: &[u32]) -> (f64, f64) {
        let pose = Moved::new(&moment.relative(opening_rad));
        let (mut deepest, mut steepest) = (Deepest::new(), f64::INFINITY);
        for &index in near {
            let (point, area_mm2) = &self.points[index as usize];
            let at = pose.at(point);
            let Some((over_mm, steepness)) = self.relief.over(&at) else { continue };
            // What stands over no deeper than the deepest contact found cannot be a deeper one.
            if over_mm <= self.depth_mm.max(deepest.floor()) {
                continue;
            }
            let surface = self.opposing.surface;
            let inside = surface.signed(&(self.scan_from_after * at), over_mm);
            if let Some(inside) = inside.filter(|inside| !surface.on_boundary(&inside.closest)) {
                deepest.add(-inside.distance_mm, *area_mm2);
                steepest = steepness.min(steepest);
            }
        }
        (deepest.value(), if steepest.is_finite() { steepest } else { 1.0 })
    }

    /// The points that are within `within_mm` of carrying at an opened moment. `nearby` holds what is worth looking at
    /// from one call to the next.
    pub fn carrying(
        &self,
        moment: &Moment<'_>,
        opening_rad: f64,
        within_mm: f64,
        nearby: &mut Nearby,
    ) -> Vec<u32> {
        let relative = moment.relative(opening_rad);
        let pose = Moved::new(&relative);
        let near = |index: &u32| {
            let at = pose.at(&self.points[*index as usize].0);
            self.relief.may_be_over(&at, -within_mm)
                && self.relief.over(&at).is_some_and(|(over_mm, _)| over_mm > -within_mm)
        };
        self.look_around(&relative, within_mm, nearby);
        nearby.points.iter().copied().filter(near).collect()
    }

    /// Collects the points that may come within `within_mm` of carrying before the jaw has moved by [`NEARBY_MM`], unless
    /// those that are held still hold good.
    fn look_around(&self, relative: &Isometry3<f64>, within_mm: f64, nearby: &mut Nearby) {
        let holds = nearby.from.is_some_and(|(from, reach_mm)| {
            // A difference of two rigid poses is largest at a corner of the box.
            let moved = |corner: &Point3<f64>| (relative * corner - from * corner).norm() < NEARBY_MM;
            within_mm <= reach_mm && self.corners.iter().all(moved)
        });
        if holds {
            return;
        }
        let pose = Moved::new(relative);
        let least_mm = -within_mm - NEARBY_MM;
        let may_come =
            |index: &u32| self.relief.may_come_over(&pose.at(&self.points[*index as usize].0), least_mm);
        nearby.points.clear();
        nearby.points.extend((0..self.points.len() as u32).filter(may_come));
        nearby.from = Some((*relative, within_mm));
    }
}

/// Among which points the opening is sought.
#[derive(Debug)]
pub enum Among<'a> {
    /// All; what is near is remembered from one moment to the next.
    All(&'a mut Nearby),
    /// These alone.
    These(&'a [u32]),
}

/// The points that are worth a look until the jaw has moved on by [`NEARBY_MM`].
#[derive(Debug, Clone, Default)]
pub struct Nearby {
    /// The pose at which they were collected, and how near to carrying they may come, mm.
    from: Option<(Isometry3<f64>, f64)>,
    points: Vec<u32>,
}

/// A rigid pose for many points.
struct Moved {
    turn: Matrix3<f64>,
    shift: Vector3<f64>,
}

impl Moved {
    fn new(pose: &Isometry3<f64>) -> Self {
        Self { turn: pose.rotation.to_rotation_matrix().into_inner(), shift: pose.translation.vector }
    }

    #[inline]
    fn at(&self, point: &Point3<f64>) -> Point3<f64> {
        let (m, x) = (&self.turn, point);
        let axis = |k: usize| m[(k, 0)] * x.x + m[(k, 1)] * x.y + m[(k, 2)] * x.z + self.shift[k];
        Point3::new(axis(0), axis(1), axis(2))
    }
}

/// The corners of the box around some points.
fn corners_around(points: &[(Point3<f64>, f64)]) -> [Point3<f64>; 8] {
    let start = points.first().map_or(Point3::origin(), |first| first.0);
    let (low, high) =
        points.iter().fold((start, start), |(low, high), (point, _)| (low.inf(point), high.sup(point)));
    std::array::from_fn(|corner| {
        let side = |axis: usize| if corner >> axis & 1 == 0 { low[axis] } else { high[axis] };
        Point3::new(side(0), side(1), side(2))
    })
}

/// The greatest value that a contact's area reaches: strays smaller than a contact do not count.
struct Deepest {
    /// Falling; the last ones only as far as their areas are needed.
    held: Vec<(f64, f64)>,
}

impl Deepest {
    fn new() -> Self {
        Self { held: Vec::with_capacity(16) }
    }

    #[inline]
    fn add(&mut self, value: f64, area_mm2: f64) {
        if value <= self.floor() {
            return;
        }
        let at = self.held.partition_point(|entry| entry.0 > value);
        self.held.insert(at, (value, area_mm2));
        let mut total_mm2 = 0.0;
        let enough = self.held.iter().position(|entry| {
            total_mm2 += entry.1;
            total_mm2 >= CONTACT_MM2
        });
        self.held.truncate(enough.map_or(self.held.len(), |last| last + 1));
    }

    /// What a value must exceed to count.
    fn floor(&self) -> f64 {
        let held_mm2: f64 = self.held.iter().map(|entry| entry.1).sum();
        if held_mm2 >= CONTACT_MM2 { self.value() } else { f64::NEG_INFINITY }
    }

    /// With no point at all, nothing touches: as low as can be.
    fn value(&self) -> f64 {
        self.held.last().map_or(f64::NEG_INFINITY, |entry| entry.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_stray_is_no_contact() {
        let mut deepest = Deepest::new();
        for (value, area_mm2) in [(0.1, 0.02), (9.0, 0.02), (0.3, 0.02), (0.2, 0.02), (0.4, 0.02)] {
            deepest.add(value, area_mm2);
        }
        assert_eq!(deepest.value(), 0.3);
        assert_eq!(Deepest::new().value(), f64::NEG_INFINITY);
    }
}
