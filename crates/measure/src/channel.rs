//! The inner form of an onlay: a channel over the groove with a box at each end, held against its walls with rays.
//!
//! Places in it are `[along, across, up]` in mm: along the groove towards the mesial, square on it and on the path towards the
//! facial, and along the path.

use kerfwright_geometry::fit::{LineFit, line2, line2_robust, percentile};
use nalgebra::{Point2, Point3, Vector3};

use crate::preparation::Preparation;
use crate::stats::median;
use crate::trend::Trend;

/// A wall runs outwards by this at most for each millimetre up, in the section across it; flatter is floor or cusp.
const STEEP_TAN: f64 = 0.75;
/// Walls are taken from so far above the floor, mm: below lies the rounding that an instrument leaves.
const ABOVE_FLOOR_MM: f64 = 0.3;
/// ... up to so far below their upper edge, mm.
const BELOW_EDGE_MM: f64 = 0.12;
/// Farthest that a wall is looked for, mm.
const FAR_MM: f64 = 5.0;
/// Spacing of heights, of places on a floor, and of sections, mm.
const STEP_MM: f64 = 0.05;
const SECTION_MM: f64 = 0.1;
/// From here surfaces are sought downwards, mm over the fossae.
const SKY_MM: f64 = 10.0;
/// Why there is no channel.
const NO_WALLS: &str = "no channel with a wall on both sides of the groove was found; what a three-quarter crown has inside \
                        (grooves, an offset) is not read";
/// Why there is no box.
const NO_BOX: &str = "no box was found at this end: no floor lies below that of the isthmus";
/// Sections are this far from where the floor ends, mm.
const INSET_MM: f64 = 0.3;

/// Where a channel lies.
pub struct Channel<'a, 'scan> {
    preparation: &'a Preparation<'scan>,
    origin: Point3<f64>,
    axes: [Vector3<f64>; 3],
    /// From where to where the isthmus floor runs, mm along: distal, mesial.
    pub isthmus_mm: [f64; 2],
    /// Median height of the isthmus floor, mm.
    pub floor_mm: f64,
}

/// A section across a channel: two walls over a floor.
pub struct Across {
    /// Where it lies, mm along.
    pub along_mm: f64,
    /// Distance of the walls, both lengthened to the floor, mm.
    pub width_mm: f64,
    /// How far the facial and the lingual wall lean outwards from the path, degrees; negative where undercut.
    pub lean_deg: [f64; 2],
    /// Height of the floor in the middle between the walls, mm.
    pub floor_mm: f64,
    /// How far the facial and the lingual edge lie from the middle, mm.
    pub half_mm: [f64; 2],
}

/// A box at one end.
pub struct End {
    /// Median height of its floor, mm.
    pub floor_mm: f64,
    /// From the finish line in to the axial wall, lengthened to the floor, mm; `None` where the line was not seen.
    pub depth_mm: Option<f64>,
    /// How far from the channel's origin the axial wall, lengthened, meets the floor, mm outwards.
    pub axial_mm: f64,
    /// How far the axial wall leans from the path towards the tooth's middle, degrees.
    pub axial_deg: f64,
    /// Standard error of that lean, degrees.
    pub axial_sigma_deg: f64,
    /// Departure of single rays and edge points from what they should be, as standard uncertainty of the depth, mm.
    pub depth_sigma_mm: f64,
    /// Sections across it.
    pub sections: Vec<Across>,
}

/// The axial wall of a box: where it meets the floor, mm outwards from the tooth's middle, its lean, and the standard errors of both.
struct Axial {
    at_mm: f64,
    lean_deg: f64,
    sigma_mm: f64,
    sigma_deg: f64,
}

impl<'a, 'scan> Channel<'a, 'scan> {
    /// Looks for a channel along the groove of a tooth that is covered in part.
    ///
    /// # Errors
    /// Why there is none.
    pub fn find(preparation: &'a Preparation<'scan>) -> Result<Self, &'static str> {
        let groove = preparation
            .occlusal
            .groove
            .ok_or("no groove between two cusp rows was found on the uncut tooth")?;
        let frame = &preparation.frame;
        let up = preparation.path;
        let level = |way: Vector3<f64>| (way - up * way.dot(&up)).normalize();
        let along = level(frame.mesial + frame.facial * groove.slope);
        let facially = level(frame.facial - along * frame.facial.dot(&along));
        let fossae = preparation.occlusal.landmarks.fossae.iter().map(|fossa| fossa.place.z);
        let height_mm = median(&fossae.collect::<Vec<_>>()).unwrap_or(0.0);
        let origin = frame.point(&Vector3::new(0.0, groove.at_mm, height_mm));
        let axes = [along, facially, up];
        let mut channel = Self { preparation, origin, axes, isthmus_mm: [0.0; 2], floor_mm: 0.0 };
        const ROUNDS: usize = 3;
        (0..ROUNDS).try_for_each(|_| channel.turn()).ok_or(NO_WALLS)?;
        channel.settle().ok_or(NO_WALLS)?;
        Ok(channel)
    }

    /// The ends of what is cut along the middle, mm.
    fn ends(&self) -> Option<(f64, f64)> {
        let cut: Vec<f64> =
            self.run(0.0, -9.0, 9.0).filter(|along| self.below(*along, 0.0).is_some()).collect();
        Some((*cut.first()?, *cut.last()?))
    }

    /// Turns the first axis along the middle between the walls: a channel need not follow the groove that was there.
    fn turn(&mut self) -> Option<()> {
        const FEWEST: usize = 5;
        let (first, last) = self.ends()?;
        let third = (last - first) / 3.0;
        let places: Vec<f64> = self.run(0.0, first + third, last - third).collect();
        let floors: Vec<f64> = places.iter().filter_map(|along| self.below(*along, 0.0)).collect();
        self.floor_mm = median(&floors)?;
        let middle = |along: &f64| {
            let from = [*along, 0.0, self.floor_mm + ABOVE_FLOOR_MM];
            let off_mm = 0.5 * (self.wall_mm(from, [0.0, 1.0])? - self.wall_mm(from, [0.0, -1.0])?);
            Some(Point2::new(*along, off_mm))
        };
        let middles: Vec<Point2<f64>> = places.iter().filter_map(middle).collect();
        let line = line2_robust(&middles, 0.01).filter(|_| middles.len() >= FEWEST)?.line;
        let slope = line.direction.y / line.direction.x;
        let [along, facially, up] = self.axes;
        self.origin += facially * (line.point.y - slope * line.point.x);
        let turned = (along + facially * slope).normalize();
        self.axes = [turned, (facially - turned * facially.dot(&turned)).normalize(), up];
        Some(())
    }

    /// How far the floor of the isthmus runs, and how high it lies.
    fn settle(&mut self) -> Option<()> {
        const LEVEL_MM: f64 = 0.3;
        let (first, last) = self.ends()?;
        let middle_mm = 0.5 * (first + last);
        let is_floor =
            |along: &f64| self.below(*along, 0.0).is_some_and(|mm| (mm - self.floor_mm).abs() < LEVEL_MM);
        let end = |way: f64| self.run(middle_mm, 0.0, way * 9.0).take_while(is_floor).last();
        self.isthmus_mm = [end(-1.0)?, end(1.0)?];
        let inner = self.run(0.0, self.isthmus_mm[0] + INSET_MM, self.isthmus_mm[1] - INSET_MM);
        self.floor_mm = median(&inner.filter_map(|along| self.below(along, 0.0)).collect::<Vec<_>>())?;
        Some(())
    }

    /// Places every tenth of a millimetre, counted from `start`.
    fn run(&self, start: f64, from: f64, to: f64) -> impl Iterator<Item = f64> + use<> {
        let n = ((to - from).abs() / SECTION_MM) as usize;
        (0..=n).map(move |k| start + from + (to - from).signum() * SECTION_MM * k as f64)
    }

    /// A place in the after scan's frame.
    pub fn point(&self, at: [f64; 3]) -> Point3<f64> {
        self.origin + self.axes[0] * at[0] + self.axes[1] * at[1] + self.axes[2] * at[2]
    }

    fn place(&self, point: &Point3<f64>) -> [f64; 3] {
        self.axes.map(|axis| (point - self.origin).dot(&axis))
    }

    /// Height of the cut surface under the sky, mm.
    fn below(&self, along_mm: f64, across_mm: f64) -> Option<f64> {
        let hit = self.hit([along_mm, across_mm, SKY_MM], -self.axes[2], 3.0 * SKY_MM)?;
        Some(SKY_MM - hit.0)
    }

    /// Distance to the first cut surface, and its normal.
    fn hit(&self, from: [f64; 3], way: Vector3<f64>, far_mm: f64) -> Option<(f64, Vector3<f64>)> {
        let after = self.preparation.scene.after;
        let hit = after.tree.ray(&self.point(from), &way, far_mm)?;
        let corners = after.mesh.triangles[hit.triangle as usize];
        let is_inside = corners.iter().any(|&corner| self.preparation.inside[corner as usize]);
        (is_inside || self.is_off_uncut(&hit.point))
            .then(|| (hit.distance_mm, after.triangle_normals[hit.triangle as usize]))
    }

    /// Whether a place was cut, by its distance from the uncut surface: a triangle as large as a wall, as designs have them, may have all its
    /// corners on the finish line.
    fn is_off_uncut(&self, place: &Point3<f64>) -> bool {
        let (Some(before), Some(change)) = (self.preparation.scene.before, &self.preparation.change) else {
            return false;
        };
        let in_before = before.after_from_scan.inverse() * place;
        let nearest = before.surface.tree.closest(&in_before, FAR_MM);
        nearest
            .is_some_and(|near| near.distance_mm > change.threshold_mm && !before.surface.on_boundary(&near))
    }

    /// Distance to a wall from a place, along `[along, across]`.
    fn wall_mm(&self, from: [f64; 3], way: [f64; 2]) -> Option<f64> {
        let way = self.axes[0] * way[0] + self.axes[1] * way[1];
        let (mm, normal) = self.hit(from, way, FAR_MM)?;
        (normal.dot(&self.axes[2]).abs() < STEEP_TAN * normal.dot(&way).abs()).then_some(mm)
    }

    /// Points `(distance, height)` of a wall over a floor, from the rounding at its foot to its upper edge, and the edge.
    fn wall(&self, from: [f64; 3], way: [f64; 2]) -> Option<(Vec<Point2<f64>>, Point2<f64>)> {
        const LEAP_MM: f64 = 0.12;
        const FEWEST: usize = 3;
        let mut points: Vec<Point2<f64>> = Vec::new();
        for k in 0.. {
            let height_mm = ABOVE_FLOOR_MM + STEP_MM * f64::from(k);
            let Some(mm) = self.wall_mm([from[0], from[1], from[2] + height_mm], way) else { break };
            if points.last().is_some_and(|last| mm - last.x > LEAP_MM) {
                break;
            }
            points.push(Point2::new(mm, from[2] + height_mm));
        }
        let edge = *points.last()?;
        points.retain(|point| point.y < edge.y - BELOW_EDGE_MM);
        (points.len() >= FEWEST).then_some((points, edge))
    }

    /// The section across the channel at a place, over a floor that lies about there.
    fn across(&self, along_mm: f64, floor_mm: f64) -> Option<Across> {
        const SHARE: f64 = 0.6;
        let from = [along_mm, 0.0, floor_mm];
        let (facial, facial_edge) = self.wall(from, [0.0, 1.0])?;
        let (lingual, lingual_edge) = self.wall(from, [0.0, -1.0])?;
        let half_mm = SHARE * facial.first()?.x.min(lingual.first()?.x);
        let steps = (half_mm / STEP_MM) as i32;
        let floor: Vec<Point2<f64>> = (-steps..=steps)
            .filter_map(|k| {
                let off_mm = STEP_MM * f64::from(k);
                Some(Point2::new(off_mm, self.below(along_mm, off_mm)?))
            })
            .collect();
        let mirrored: Vec<Point2<f64>> = floor.iter().map(|point| Point2::new(-point.x, point.y)).collect();
        let [(facial_foot, facial_deg), (lingual_foot, lingual_deg)] =
            [met(&facial, &floor)?, met(&lingual, &mirrored)?];
        let level = line2(&floor)?;
        Some(Across {
            along_mm,
            width_mm: facial_foot.x + lingual_foot.x,
            lean_deg: [facial_deg, lingual_deg],
            floor_mm: height_on(&level, 0.0),
            half_mm: [facial_edge.x, lingual_edge.x],
        })
    }

    /// Places along the isthmus, off its ends, mm.
    pub fn places(&self) -> impl Iterator<Item = f64> + use<> {
        self.run(0.0, self.isthmus_mm[0] + INSET_MM, self.isthmus_mm[1] - INSET_MM)
    }

    /// How far the farther edge of the isthmus lies from its middle, median over its sections, mm; 0 where it has none.
    pub fn half_mm(&self) -> f64 {
        let sections = self.isthmus();
        let halves: Vec<f64> =
            sections.iter().map(|section| section.half_mm[0].max(section.half_mm[1])).collect();
        median(&halves).unwrap_or(0.0)
    }

    /// Sections across the isthmus.
    pub fn isthmus(&self) -> Vec<Across> {
        self.places().filter_map(|along_mm| self.across(along_mm, self.floor_mm)).collect()
    }

    /// Whether a place of the cut surface lies in the isthmus, up to its farther edge.
    pub fn holds(&self, point: &Point3<f64>, half_mm: f64) -> bool {
        const EDGE_MM: f64 = 0.05;
        let at = self.place(point);
        at[1].abs() < half_mm + EDGE_MM
    }

    /// Height of the uncut surface over the middle of the channel, mm.
    pub fn uncut_mm(&self, along_mm: f64) -> Option<f64> {
        let before = self.preparation.scene.before?;
        let before_from_after = before.after_from_scan.inverse();
        let from = before_from_after * self.point([along_mm, 0.0, SKY_MM]);
        let hit = before.surface.tree.ray(&from, &(before_from_after * -self.axes[2]), 2.0 * SKY_MM)?;
        Some(SKY_MM - hit.distance_mm)
    }

    /// The box at one end: `sense` is 1 mesially and -1 distally.
    ///
    /// # Errors
    /// Why it is not read.
    pub fn end(&self, sense: f64) -> Result<End, &'static str> {
        const LOWER_MM: f64 = 0.4;
        const LEVEL_MM: f64 = 0.2;
        const FEWEST: usize = 4;
        let from = self.isthmus_mm[usize::from(sense > 0.0)];
        let beyond = self.run(from, 0.0, sense * 6.0);
        let low: Vec<(f64, f64)> = beyond
            .filter_map(|along| Some((along, self.below(along, 0.0)?)))
            .filter(|(_, mm)| *mm < self.floor_mm - LOWER_MM)
            .collect();
        let heights: Vec<f64> = low.iter().map(|(_, mm)| *mm).collect();
        let floor_mm = percentile(&heights, 40.0).ok_or(NO_BOX)?;
        let floor: Vec<f64> =
            low.iter().filter(|(_, mm)| (mm - floor_mm).abs() < LEVEL_MM).map(|(along, _)| *along).collect();
        let [inner, .., outer] = floor[..] else { return Err(NO_BOX) };
        if floor.len() < FEWEST {
            return Err(NO_BOX);
        }
        let middle = 0.5 * (inner + outer);
        let axial = self
            .axial(middle, floor_mm, sense)
            .ok_or("the axial wall of this box is too low or too short to be read")?;
        let places = self.run(0.0, inner + sense * 0.1, middle + sense * 0.1);
        let sections: Vec<Across> = places.filter_map(|along_mm| self.across(along_mm, floor_mm)).collect();
        let widths: Vec<f64> = sections.iter().map(|section| section.width_mm).collect();
        let edge = median(&widths).and_then(|width_mm| self.edge_mm(sense, width_mm));
        Ok(End {
            floor_mm,
            depth_mm: edge.map(|(edge_mm, _)| edge_mm - axial.at_mm),
            axial_mm: axial.at_mm,
            axial_deg: axial.lean_deg,
            axial_sigma_deg: axial.sigma_deg,
            depth_sigma_mm: axial.sigma_mm.hypot(edge.map_or(0.0, |edge| edge.1)),
            sections,
        })
    }

    /// The axial wall of a box.
    fn axial(&self, along_mm: f64, floor_mm: f64, sense: f64) -> Option<Axial> {
        const WITHIN_MM: f64 = 0.5;
        let steps = (WITHIN_MM / SECTION_MM) as i32;
        let walls = (-steps..=steps).filter_map(|k| {
            let from = [along_mm, SECTION_MM * f64::from(k), floor_mm];
            let (points, _) = self.wall(from, [-sense, 0.0])?;
            let floor: Vec<Point2<f64>> = (-3..=3)
                .filter_map(|k| {
                    let off_mm = STEP_MM * f64::from(k);
                    Some(Point2::new(off_mm, self.below(along_mm - sense * off_mm, from[1])?))
                })
                .collect();
            met(&points, &floor)
        });
        let (places, leans): (Vec<f64>, Vec<f64>) = walls.map(|(foot, lean)| (foot.x, lean)).unzip();
        Some(Axial {
            at_mm: sense * along_mm - median(&places)?,
            lean_deg: median(&leans)?,
            sigma_mm: error_of(&places),
            sigma_deg: error_of(&leans),
        })
    }

    /// How far out the finish line runs before the middle of a box, mm from the tooth's middle, with its standard error. Where some
    /// of it was not seen, as in a contact, it is carried on from both sides.
    fn edge_mm(&self, sense: f64, width_mm: f64) -> Option<(f64, f64)> {
        // Beyond lie the box's own corners.
        const WITHIN: f64 = 0.4;
        const SEEN: f64 = 0.5;
        let ring = &self.preparation.ring;
        let places = ring.points.iter().map(|point| self.place(point)).zip(&ring.seen);
        let near: Vec<([f64; 3], &bool)> =
            places.filter(|(at, _)| sense * at[0] > 0.0 && at[1].abs() < WITHIN * width_mm).collect();
        let seen: Vec<(f64, f64)> =
            near.iter().filter(|(_, seen)| **seen).map(|(at, _)| (at[1], sense * at[0])).collect();
        let has_both_sides =
            [-1.0, 1.0].iter().all(|side| seen.iter().any(|(across_mm, _)| across_mm * side > 0.0));
        if !has_both_sides || (seen.len() as f64) < SEEN * near.len() as f64 {
            return None;
        }
        let course = Trend::through(&seen)?;
        let off: Vec<f64> = seen.iter().map(|(across_mm, out_mm)| out_mm - course.at(*across_mm)).collect();
        Some((course.at(0.0), error_of(&off)))
    }
}

/// Height of a line at a place across.
fn height_on(line: &LineFit, across_mm: f64) -> f64 {
    line.point.y + (across_mm - line.point.x) * line.direction.y / line.direction.x
}

/// Where a wall, lengthened, meets a floor, and how far it leans from the path, degrees. Both as `(distance, height)`.
fn met(wall: &[Point2<f64>], floor: &[Point2<f64>]) -> Option<(Point2<f64>, f64)> {
    const SCALE_MM: f64 = 0.004;
    let wall = line2_robust(wall, SCALE_MM)?.line;
    let floor = line2(floor)?;
    let up = if wall.direction.y < 0.0 { -wall.direction } else { wall.direction };
    let turn = up.perp(&floor.direction);
    if turn.abs() < 0.5 {
        return None;
    }
    let along = (floor.point - wall.point).perp(&floor.direction) / turn;
    Some((wall.point + up * along, up.x.atan2(up.y).to_degrees()))
}

/// Standard error of the median of values along a line, from how much neighbours differ: what changes slowly along it is no error.
/// About every third is independent.
pub fn error_of(values: &[f64]) -> f64 {
    const A_SAMPLE: f64 = 3.0;
    let steps: Vec<f64> =
        values.windows(2).map(|pair| (pair[1] - pair[0]) / std::f64::consts::SQRT_2).collect();
    let n = (values.len() as f64 / A_SAMPLE).max(1.0);
    1.2533 * crate::stats::robust_sigma(&steps).unwrap_or(0.0) / n.sqrt()
}
