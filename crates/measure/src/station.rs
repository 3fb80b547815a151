//! What one section says: floor, wall line, occlusal line angle, gingiva.

use kerfwright_geometry::fit::{self, LineFit};
use nalgebra::{Point2, Point3, Vector2, Vector3};

use crate::corner::{Face, WallArc};
use crate::floor::{Floor, Taken};
use crate::section::Section;

/// Spacing of the resampled profile, mm.
const STEP_MM: f64 = 0.05;
/// Window in which the steepest stretch is sought, mm: longer than a chamfer's corner, shorter than any wall.
const WALL_WINDOW_MM: f64 = 0.7;
/// A stretch less steep than this is no axial wall, degrees from the horizontal.
const WALL_LEAST_DEG: f64 = 50.0;
/// Length of wall that carries the wall line, measured from its gingival end, mm (check: gingival 2 mm).
const WALL_LINE_MM: f64 = 2.0;
/// Less straight wall over a round floor carries no line, mm.
const LEAST_STRAIGHT_MM: f64 = 0.5;
/// Where the surface's normal comes within 60° of the path the occlusal surface begins.
const OCCLUSAL_DEG: f64 = 60.0;

/// One station's findings, in the plane coordinates of its section unless said otherwise.
#[derive(Debug, Clone)]
pub struct Station {
    /// The section, its origin on the finish line.
    pub section: Section,
    /// Angle around the tooth, degrees: 0 mesial, 90 facial, 180 distal, 270 lingual.
    pub angle_deg: f64,
    /// Whether the finish line was seen here.
    pub seen: bool,
    /// The axial wall, if one was found.
    pub wall: Option<Wall>,
    /// Slope of the floor next to the edge, degrees from the plane square on the path; 0 = flat.
    pub declination_deg: Option<f64>,
    /// Angle through the tooth between floor and uncut surface, degrees.
    pub cavosurface_deg: Option<f64>,
    /// Whether the floor is one arc from edge to wall, as a round end leaves it.
    pub floor_is_arc: Option<bool>,
    /// That arc.
    pub floor_arc: Option<WallArc>,
    /// Slope next to the edge in the form that was not taken, where it might as well have been, degrees.
    pub other_declination_deg: Option<f64>,
    /// The floor in both forms, for the stretch to decide.
    pub floor: Floor,
    /// The wall as found before a round floor moved its lower end.
    found_wall: Option<Wall>,
    /// Direction of the uncut surface below the edge, downward.
    uncut: Option<Vector2<f64>>,
    /// Where the gingiva meets the tooth.
    pub gingiva: Option<Point2<f64>>,
}

/// The axial wall in a section.
#[derive(Debug, Clone)]
pub struct Wall {
    /// The wall line, its direction towards the occlusal.
    pub line: LineFit,
    /// Arc lengths between which it was fitted, mm.
    pub fitted_mm: [f64; 2],
    /// Arc lengths between which the wall runs, of which a round floor's upper end may be left out of the line, mm.
    pub begin_mm: f64,
    /// See `begin_mm`.
    pub end_mm: f64,
    /// Standard error of its angle, degrees.
    pub angle_sigma_deg: f64,
    /// Angle to the path, degrees; positive converges occlusally.
    pub taper_deg: f64,
    /// Horizontal distance from the edge to the wall line at the edge's level, mm.
    pub width_mm: f64,
    /// The occlusal line angle.
    pub top: Option<Point2<f64>>,
    /// The same from faces farther away, past the rounding of a well-rounded edge.
    pub rounded_top: Option<Point2<f64>>,
    /// Unit normal of the wall, outward, after frame.
    pub normal: Vector3<f64>,
    /// Whether enough straight wall lies between a round floor and the occlusal edge to carry the line. Without it the
    /// line leans with the arc below and the rounding above: height and place hold, taper and width do not.
    pub sound: bool,
}

impl Station {
    /// Reads a section. `uncut` is the section of the uncut surface, if a before scan gave one; `near` are the sections
    /// of this station and its neighbours, which share the few points of a narrow floor.
    pub fn read(
        section: Section,
        angle_deg: f64,
        seen: bool,
        uncut: Option<&Section>,
        near: &[&Section],
        noise_mm: f64,
    ) -> Self {
        let wall = Wall::find(&section, noise_mm);
        let floor = Floor::read(&section, near, wall.as_ref(), noise_mm);
        let taken = floor.alone();
        let gingiva = gingiva(uncut.unwrap_or(&section));
        let mut station = Self {
            angle_deg,
            seen,
            declination_deg: None,
            cavosurface_deg: None,
            floor_is_arc: None,
            floor_arc: None,
            other_declination_deg: None,
            floor,
            uncut: uncut_line(uncut.unwrap_or(&section), gingiva.as_ref(), uncut.is_some())
                .map(|line| line.direction),
            gingiva,
            found_wall: wall,
            wall: None,
            section,
        };
        station.settle_floor(taken);
        station
    }

    /// Takes a form for the floor: its angles at the edge follow, and the wall begins above its arc.
    pub fn settle_floor(&mut self, taken: Option<Taken>) {
        let direction = taken.as_ref().map(|taken| taken.direction);
        let angle_deg = |one: Vector2<f64>, other: Vector2<f64>| one.dot(&other).clamp(-1.0, 1.0).acos();
        self.declination_deg = direction.map(|direction| direction.y.atan2(direction.x).to_degrees());
        self.cavosurface_deg =
            direction.zip(self.uncut).map(|(floor, down)| angle_deg(floor, down).to_degrees());
        self.floor_is_arc = taken.as_ref().map(|taken| taken.arc.is_some());
        self.floor_arc = taken.as_ref().and_then(|taken| taken.arc);
        self.wall = taken.and_then(|taken| taken.wall).or_else(|| self.found_wall.clone());
        if let (Some(wall), Some(arc)) = (&mut self.wall, &self.floor_arc) {
            wall.sound = wall.straight_above_mm(&self.section, &arc.foot) >= LEAST_STRAIGHT_MM;
        }
    }

    /// Height of the lip that the floor would have in the form that was not taken, where it might as well have been, mm.
    pub fn other_lip_mm(&self) -> Option<f64> {
        self.other_declination_deg?;
        if self.floor_is_arc == Some(true) { Some(0.0) } else { self.floor.arc_lip_mm() }
    }

    /// Where an arc of the floor, carried on outward, meets the uncut surface. A scan chops a steep rim, and the edge found
    /// there lies on the uncut surface, but too low by up to a tenth of a millimetre. `None` farther off: then it is another place.
    pub fn rim(&self, arc: &WallArc) -> Option<Point2<f64>> {
        const FAR_MM: f64 = 0.25;
        let upward = -self.uncut?;
        // Upward from the edge, with |t · upward − centre| = radius: once into the hollow, once out of it.
        let along = upward.dot(&arc.centre.coords);
        let root = along * along - arc.centre.coords.norm_squared() + arc.radius_mm * arc.radius_mm;
        let root = (root >= 0.0).then(|| root.sqrt())?;
        let places = [along - root, along + root].into_iter().filter(|place| place.abs() < FAR_MM);
        let nearest = places.min_by(|a, b| a.abs().total_cmp(&b.abs()))?;
        Some(Point2::from(upward * nearest))
    }

    /// The wall, if its line stands on enough straight wall to tell taper and width.
    pub fn sound_wall(&self) -> Option<&Wall> {
        self.wall.as_ref().filter(|wall| wall.sound)
    }

    /// Height of the finish line over the gingiva along `axis`, mm.
    pub fn above_gingiva_mm(&self, axis: &Vector3<f64>) -> Option<f64> {
        Some((self.edge() - self.section.frame.solid(&self.gingiva?)).dot(axis))
    }

    /// The finish-line point, after frame.
    pub fn edge(&self) -> Point3<f64> {
        self.section.frame.origin
    }
}

impl Wall {
    /// The lowest steep stretch of a section, or `None` if there is none.
    fn find(section: &Section, noise_mm: f64) -> Option<Self> {
        let profile = section.resampled(0.0, 10.0, STEP_MM);
        let window = (WALL_WINDOW_MM / STEP_MM) as usize;
        if profile.len() < window + 2 {
            return None;
        }
        let angles: Vec<f64> = profile.windows(window + 1).map(slope_deg).collect();
        let steep = first_steep_run(&angles, window)?;
        // The steepest window; a second plane or a rounded top above it leans more.
        let best = steep.max_by(|&a, &b| angles[a].total_cmp(&angles[b]).then(b.cmp(&a)))?;
        let grown = grow(&profile, best, best + window, noise_mm)?;
        let (low, high) = below_ledge(&profile, &angles, grown, noise_mm).unwrap_or(grown);
        let margin = if (high - low) as f64 * STEP_MM > 1.0 { (0.1 / STEP_MM) as usize } else { 0 };
        let low_mm = (low + margin) as f64 * STEP_MM;
        let end_mm = (high - margin) as f64 * STEP_MM;
        let corner = line_angle(&profile, low);
        let wall = Self::fit(section, low_mm, end_mm, noise_mm)?;
        Some(Self {
            top: corner.map(|corner| nearby_faces_meeting(&profile, corner)),
            rounded_top: corner.map(|corner| {
                let near = profile[corner];
                let meeting = faces_meeting(&profile, corner, WIDE_MM);
                meeting.filter(|meeting| (meeting - near).norm() < FAR_MM).unwrap_or(near)
            }),
            ..wall
        })
    }

    /// The wall line from `low_mm` to `end_mm` along the section, its gingival part if that is long.
    fn fit(section: &Section, low_mm: f64, end_mm: f64, noise_mm: f64) -> Option<Self> {
        let high_mm = end_mm.min(low_mm + WALL_LINE_MM);
        let points = section.between(low_mm, high_mm);
        let robust = fit::line2_robust(&points, (0.5 * noise_mm).max(0.001))?;
        let mut line = robust.line;
        if line.direction.y < 0.0 {
            line.direction = -line.direction;
        }
        let length_mm = high_mm - low_mm;
        let angle_sigma_rad =
            line.rms_mm.max(0.001) * (12.0 / points.len() as f64).sqrt() / length_mm.max(0.2);
        let taper_deg = line.direction.x.atan2(line.direction.y).to_degrees();
        let width_mm = line.point.x - line.point.y * line.direction.x / line.direction.y;
        let frame = &section.frame;
        let normal = frame.up * line.direction.x - frame.inward * line.direction.y;
        Some(Self {
            fitted_mm: [low_mm, high_mm],
            begin_mm: low_mm,
            end_mm,
            angle_sigma_deg: angle_sigma_rad.to_degrees(),
            taper_deg,
            width_mm,
            top: None,
            rounded_top: None,
            normal,
            line,
            sound: true,
        })
    }

    /// The same wall, its line begun above the foot of the floor's arc; `None` if it does so already, or if too little
    /// wall would be left.
    pub fn above(&self, section: &Section, foot: &Point2<f64>, noise_mm: f64) -> Option<Self> {
        const LEAST_MM: f64 = 0.45;
        const CLEAR_MM: f64 = 0.05;
        // From the lower end of the line up to the arc's foot.
        let start = section.at_arc(self.fitted_mm[0])?;
        let lift_mm = (foot - start).dot(&self.line.direction) + CLEAR_MM;
        let low_mm = self.fitted_mm[0] + lift_mm;
        if lift_mm < 0.02 || self.end_mm - low_mm < LEAST_MM {
            return None;
        }
        let higher = Self::fit(section, low_mm, self.end_mm, noise_mm)?;
        Some(Self { begin_mm: self.begin_mm, top: self.top, rounded_top: self.rounded_top, ..higher })
    }

    /// Length of straight wall over the foot of a round floor, up to where the line or the rounding of the edge ends, mm.
    fn straight_above_mm(&self, section: &Section, foot: &Point2<f64>) -> f64 {
        const ROUNDED_MM: f64 = 0.15;
        let along = |point: &Point2<f64>| point.coords.dot(&self.line.direction);
        let end_mm = section.at_arc(self.end_mm).map_or(f64::INFINITY, |end| along(&end));
        let top_mm = self.top.map_or(f64::INFINITY, |top| along(&top) - ROUNDED_MM);
        end_mm.min(top_mm) - along(foot)
    }

    /// The wall as a face, hollow outside.
    pub fn face(&self) -> Face {
        Face::through(&self.line.point, &self.line.direction, &Vector2::new(-1.0, 0.0))
    }
}

/// The wall below a ledge, if the stretch found lies above one: as steep, long enough, and clearly farther out.
fn below_ledge(
    profile: &[Point2<f64>],
    angles: &[f64],
    (low, high): (usize, usize),
    noise_mm: f64,
) -> Option<(usize, usize)> {
    const ALIKE_DEG: f64 = 4.0;
    const OUT_MM: f64 = 0.08;
    let window = (WALL_WINDOW_MM / STEP_MM) as usize;
    let line = fit::line2(&profile[low..=high])?;
    let own_deg = slope_deg(&profile[low..=high]);
    let below = (0..low.checked_sub(window)?).filter(|&k| (angles[k] - own_deg).abs() < ALIKE_DEG);
    let best = below.max_by(|&a, &b| angles[a].total_cmp(&angles[b]).then(b.cmp(&a)))?;
    let out_mm = line.signed_distance(&profile[best + window / 2]).abs();
    let found = grow(profile, best, best + window, noise_mm)?;
    (out_mm > OUT_MM && found.1 < low).then_some(found)
}

/// The windows from the first steep one to the occlusal surface. A crevice where floor and wall meet spoils the slope
/// of every window that holds it, so the run ends only when it stays flat for longer than that.
fn first_steep_run(angles: &[f64], window: usize) -> Option<std::ops::Range<usize>> {
    let patience = window + (0.3 / STEP_MM) as usize;
    let first = angles.iter().position(|&angle| angle >= WALL_LEAST_DEG)?;
    let mut last = first;
    for (k, &angle) in angles.iter().enumerate().skip(first) {
        if angle >= WALL_LEAST_DEG - 5.0 {
            last = k;
        } else if k - last > patience {
            break;
        }
    }
    Some(first..last + 1)
}

/// Slope of a stretch by least squares, degrees from the horizontal: 90 is upright, more leans outward.
fn slope_deg(points: &[Point2<f64>]) -> f64 {
    let Some(line) = fit::line2(points) else { return 0.0 };
    let along = points[points.len() - 1] - points[0];
    let direction = if line.direction.dot(&along) < 0.0 { -line.direction } else { line.direction };
    let angle = direction.y.atan2(direction.x).to_degrees();
    if angle < -90.0 { angle + 360.0 } else { angle }
}

/// Extends a straight stretch in both directions while the profile stays on its line.
fn grow(profile: &[Point2<f64>], from: usize, to: usize, noise_mm: f64) -> Option<(usize, usize)> {
    let allowed_mm = (2.0 * noise_mm).max(0.012);
    let (mut low, mut high) = (from, to.min(profile.len() - 1));
    for _ in 0..6 {
        let line = fit::line2(&profile[low..=high])?;
        let off = |k: usize| line.signed_distance(&profile[k]).abs() <= allowed_mm;
        let runs_on = |k: usize, next: Option<usize>| off(k) || next.is_some_and(off);
        let mut wider = (low, high);
        while wider.0 > 0 && runs_on(wider.0 - 1, wider.0.checked_sub(2)) {
            wider.0 -= 1;
        }
        while wider.1 + 1 < profile.len()
            && runs_on(wider.1 + 1, (wider.1 + 2 < profile.len()).then_some(wider.1 + 2))
        {
            wider.1 += 1;
        }
        if wider == (low, high) {
            break;
        }
        (low, high) = wider;
    }
    Some((low, high))
}

/// Occlusal surface that is lengthened towards the wall, mm: little, since it is round and a longer stretch of it would pass over
/// or under the corner.
const NEARBY_MM: f64 = 0.3;
/// The same where the edge itself is looked at, whose rounding may reach over half a millimetre.
const WIDE_MM: f64 = 0.5;
/// Faces do not meet farther from the corner than this, mm.
const FAR_MM: f64 = 0.5;

/// The place on the profile where the wall gives way to the occlusal surface.
fn line_angle(profile: &[Point2<f64>], wall_from: usize) -> Option<usize> {
    let window = (0.3 / STEP_MM) as usize;
    let flat = |k: usize| k + window < profile.len() && slope_deg(&profile[k..=k + window]) < OCCLUSAL_DEG;
    let mut from = wall_from;
    let turn = loop {
        let turn = (from..profile.len()).find(|&k| flat(k) && flat(k + window / 2))?;
        match wall_again(profile, turn) {
            Some(beyond) => from = beyond,
            None => break turn,
        }
    };
    // The window that is flat on average begins before the corner.
    Some((turn + window / 2).min(profile.len() - 1))
}

/// Where the faces next to a corner meet, the corner found again from there.
fn nearby_faces_meeting(profile: &[Point2<f64>], mut corner: usize) -> Point2<f64> {
    let reach = (0.6 / STEP_MM) as usize;
    let mut found = profile[corner];
    for _ in 0..3 {
        let meeting = faces_meeting(profile, corner, NEARBY_MM);
        let Some(meeting) = meeting.filter(|meeting| (meeting - profile[corner]).norm() <= FAR_MM) else {
            break;
        };
        found = meeting;
        let off = |k: &usize| (profile[*k] - found).norm_squared();
        let near = corner.saturating_sub(reach)..(corner + reach).min(profile.len());
        corner = near.min_by(|a, b| off(a).total_cmp(&off(b))).unwrap_or(corner);
    }
    found
}

/// Where the faces on both sides of a corner meet, past the quarter of a millimetre that a rounded edge reaches to both sides.
fn faces_meeting(profile: &[Point2<f64>], corner: usize, occlusal_mm: f64) -> Option<Point2<f64>> {
    let (gap, wall) = ((0.25 / STEP_MM) as usize, (0.5 / STEP_MM) as usize);
    let below = fit::line2(&profile[corner.saturating_sub(wall + gap)..=corner.saturating_sub(gap)])?;
    let end = corner + gap + (occlusal_mm / STEP_MM) as usize;
    let above = (corner + gap).min(profile.len() - 2)..(end + 1).min(profile.len());
    meeting(&below, &fit::line2(&profile[above])?, 0.15)
}

/// A place on the wall that goes on soon after it became flat, beyond `turn`: a ledge lies between, not the occlusal
/// surface.
fn wall_again(profile: &[Point2<f64>], turn: usize) -> Option<usize> {
    // A ledge's depth and the windows that hold it.
    const SOON_MM: f64 = 0.7;
    // No incline of an occlusal surface is as steep over so long a stretch.
    const STEEP_DEG: f64 = 70.0;
    let window = (WALL_WINDOW_MM / STEP_MM) as usize;
    let last = (turn + (SOON_MM / STEP_MM) as usize).min(profile.len().saturating_sub(window + 1));
    let steep = |k: &usize| (STEEP_DEG..=180.0 - STEEP_DEG).contains(&slope_deg(&profile[*k..=*k + window]));
    (turn..last).find(steep).map(|k| k + window / 2)
}

/// The uncut surface below the edge, its direction downward, clear of what the mesh fills of the gingiva's crease. With a
/// before scan the surface above the edge counts as well, since it is the same.
fn uncut_line(section: &Section, gingiva: Option<&Point2<f64>>, is_before: bool) -> Option<LineFit> {
    let (upper_mm, clear_mm) = if is_before { (0.4, 0.15) } else { (-0.06, 0.1) };
    // Beyond the crease a papilla may rise as high again.
    let lower_mm = gingiva.map_or(-0.5, |crease| (section.arc_near_mm(crease) + clear_mm).max(-0.5));
    let points = section.between(lower_mm, upper_mm);
    let mut line = fit::line2(&points).filter(|_| points.len() >= 3)?;
    // Along the section from outside in, the uncut surface leads up to the edge; the angle wants it leading away.
    let leads_in = points[points.len() - 1] - points[0];
    if line.direction.dot(&leads_in) > 0.0 {
        line.direction = -line.direction;
    }
    Some(line)
}

/// Where the gingiva meets the tooth: the concave corner outside the edge.
///
/// Followed from outside in, the section turns upward there. Of the places where it turns by more than 25° between
/// the 0.3 mm on either side, more than its neighbourhood does, the one nearest to the edge is taken: farther out
/// lie the papilla and the neighbour.
pub fn gingiva(section: &Section) -> Option<Point2<f64>> {
    const REACH_MM: f64 = 3.5;
    const SIDE_MM: f64 = 0.3;
    const LEAST_TURN_DEG: f64 = 25.0;
    const HIGHEST_MM: f64 = 0.15;
    let profile = section.resampled(-REACH_MM, 0.1 + SIDE_MM, STEP_MM);
    let side = (SIDE_MM / STEP_MM) as usize;
    if profile.len() < 2 * side + 3 {
        return None;
    }
    let turn_deg = |k: usize| {
        let (before, after) = (profile[k] - profile[k - side], profile[k + side] - profile[k]);
        before.perp(&after).atan2(before.dot(&after)).to_degrees()
    };
    let turns: Vec<f64> = (side..profile.len() - side).map(turn_deg).collect();
    let corner = (0..turns.len()).rev().find(|&k| {
        let near = &turns[k.saturating_sub(side)..(k + side + 1).min(turns.len())];
        turns[k] > LEAST_TURN_DEG && near.iter().all(|&other| other <= turns[k])
    })?;
    // A finish line that shows lies over its gingiva; a corner above it is a contact or a neighbour's.
    corner_at(&profile, corner + side).filter(|point| point.y < HIGHEST_MM)
}

/// Where two lines meet, unless the sine of the angle between them is below `least_sine`.
pub fn meeting(one: &LineFit, other: &LineFit, least_sine: f64) -> Option<Point2<f64>> {
    let sine = one.direction.perp(&other.direction);
    let along = (other.point - one.point).perp(&other.direction) / sine;
    (sine.abs() >= least_sine).then(|| one.point + one.direction * along)
}

/// The meeting point of the lines on both sides of a corner.
fn corner_at(profile: &[Point2<f64>], corner: usize) -> Option<Point2<f64>> {
    // As near as the scan's triangles let: farther off, tooth and gingiva curve away from their lines.
    const GAP_MM: f64 = 0.1;
    const REACH_MM: f64 = 0.25;
    let (gap, reach) = ((GAP_MM / STEP_MM) as usize, (REACH_MM / STEP_MM) as usize);
    let outer = &profile[corner.saturating_sub(gap + reach)..=corner.saturating_sub(gap)];
    let inner = &profile[(corner + gap).min(profile.len() - 1)..(corner + gap + reach).min(profile.len())];
    let near = profile[corner];
    let (Some(outer), Some(inner)) = (fit::line2(outer), fit::line2(inner)) else { return Some(near) };
    Some(meeting(&outer, &inner, 0.3).filter(|meeting| (meeting - near).norm() < 0.25).unwrap_or(near))
}
