//! A section through the middle of the tooth, with what is measured in its plane.

use kerfwright_geometry::{Plane, Polyline};
use kerfwright_measure::frame::Aspect;
use kerfwright_measure::preparation::Preparation;
use kerfwright_measure::section::{Section, SectionFrame};
use kerfwright_measure::station::Station;
use nalgebra::{Point2, Point3, Vector3};

use crate::camera::{Axes, View};

/// The two planes that hold the path and go through the centre of the finish line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MainPlane {
    /// From mesial to distal.
    Mesiodistal,
    /// From facial to lingual.
    Faciolingual,
}

/// A section in plane coordinates, mm: x across, y along the path, origin at the centre of the finish line.
#[derive(Debug)]
pub struct Profile {
    /// Which plane.
    pub plane: MainPlane,
    /// What lies at the left and the right end.
    pub ends: [&'static str; 2],
    /// After cutting.
    pub after: Vec<Line>,
    /// Before cutting.
    pub before: Vec<Line>,
    /// The opposing teeth.
    pub opposing: Vec<Line>,
    /// The left and the right wall, where the finish line crosses the plane.
    pub sides: Vec<Side>,
    /// Highest prepared point, mm.
    pub top_mm: f64,
    /// Where prepared and opposing surface come nearest in this plane.
    pub clearance: Option<[Point2<f64>; 2]>,
}

/// A chain of points.
#[derive(Debug, Clone)]
pub struct Line {
    /// In plane coordinates.
    pub points: Vec<Point2<f64>>,
    /// Whether the last point joins the first.
    pub closed: bool,
    /// For each point, whether it lies on prepared occlusal surface.
    is_occlusal: Vec<bool>,
}

/// One of the two walls.
#[derive(Debug)]
pub struct Side {
    /// Which.
    pub aspect: Aspect,
    /// The finish line in plane coordinates.
    pub edge: Point2<f64>,
    /// +1 where the tooth's middle lies to the right, −1 where it lies to the left.
    pub inward: f64,
    /// What this section says, its own coordinates horizontal and along the path.
    pub station: Station,
    /// Height of the finish line over the gingiva along the tooth's axis, mm.
    pub above_gingiva_mm: Option<f64>,
}

#[cfg(test)]
impl Line {
    /// An open line on which nothing is occlusal surface.
    pub fn open(points: Vec<Point2<f64>>) -> Self {
        Self { is_occlusal: vec![false; points.len()], points, closed: false }
    }
}

impl Side {
    /// Plane coordinates of a point of the station.
    pub fn place(&self, flat: &Point2<f64>) -> Point2<f64> {
        Point2::new(self.edge.x + self.inward * flat.x, self.edge.y + flat.y)
    }
}

impl MainPlane {
    /// Both.
    pub const ALL: [Self; 2] = [Self::Mesiodistal, Self::Faciolingual];

    /// The name in text and ids.
    pub fn name(self) -> &'static str {
        match self {
            Self::Mesiodistal => "mesiodistal",
            Self::Faciolingual => "faciolingual",
        }
    }

    /// From where the section is looked at, so that it lies like the picture of the same view.
    pub fn seen_from(self) -> View {
        match self {
            Self::Mesiodistal => View::Facial,
            Self::Faciolingual => View::Mesial,
        }
    }

    fn aspects(self) -> [Aspect; 2] {
        match self {
            Self::Mesiodistal => [Aspect::Mesial, Aspect::Distal],
            Self::Faciolingual => [Aspect::Facial, Aspect::Lingual],
        }
    }
}

impl Profile {
    /// Cuts all scans with a plane.
    pub fn cut(preparation: &Preparation<'_>, axes: &Axes, which: MainPlane) -> Self {
        let across = axes.right(which.seen_from());
        let sheet = Sheet { origin: axes.origin, across, up: axes.path };
        let plane = Plane { point: axes.origin, normal: across.cross(&axes.path) };
        let scene = &preparation.scene;
        let after: Vec<Line> =
            scene.after.section(&plane).iter().map(|line| sheet.line(line, Some(preparation))).collect();
        let placed = |placed: Option<kerfwright_measure::scene::Placed<'_>>| -> Vec<Line> {
            placed.map_or_else(Vec::new, |placed| {
                placed.section(&plane).iter().map(|line| sheet.line(line, None)).collect()
            })
        };
        let opposing = placed(scene.opposing);
        let sides = sides(preparation, axes, which, &sheet);
        let occlusal = after.iter().flat_map(|line| line.points.iter().zip(&line.is_occlusal));
        let top_mm = occlusal.filter(|(_, is)| **is).map(|(point, _)| point.y).fold(2.0, f64::max);
        Self {
            plane: which,
            ends: [axes.word(&-across), axes.word(&across)],
            clearance: nearest(&after, &opposing),
            before: placed(scene.before),
            after,
            opposing,
            sides,
            top_mm,
        }
    }

    /// The sum of the two tapers in this plane, degrees.
    pub fn toc_deg(&self) -> Option<f64> {
        let tapers: Option<Vec<f64>> =
            self.sides.iter().map(|side| Some(side.station.wall.as_ref()?.taper_deg)).collect();
        tapers.filter(|tapers| tapers.len() == 2).map(|tapers| tapers[0] + tapers[1])
    }

    /// The least distance in this plane, mm.
    pub fn clearance_mm(&self) -> Option<f64> {
        self.clearance.map(|[from, to]| (to - from).norm())
    }
}

/// The plane's coordinates.
struct Sheet {
    origin: Point3<f64>,
    across: Vector3<f64>,
    up: Vector3<f64>,
}

impl Sheet {
    fn flat(&self, point: &Point3<f64>) -> Point2<f64> {
        let at = point - self.origin;
        Point2::new(at.dot(&self.across), at.dot(&self.up))
    }

    fn line(&self, line: &Polyline, prepared: Option<&Preparation<'_>>) -> Line {
        let n_points = line.points.len();
        let is_occlusal = (0..n_points).map(|k| {
            let triangle = line.triangles[k.min(line.triangles.len() - 1)];
            prepared.is_some_and(|preparation| is_occlusal(preparation, triangle))
        });
        Line {
            points: line.points.iter().map(|point| self.flat(point)).collect(),
            closed: line.closed,
            is_occlusal: is_occlusal.collect(),
        }
    }
}

/// Prepared, and within 60° of the path: what clearance is about.
fn is_occlusal(preparation: &Preparation<'_>, triangle: u32) -> bool {
    let after = preparation.scene.after;
    let corners = after.mesh.triangles[triangle as usize];
    corners.iter().all(|&vertex| preparation.inside[vertex as usize])
        && after.triangle_normals[triangle as usize].dot(&preparation.path) > 0.5
}

/// The walls where the finish line crosses the plane farthest out.
fn sides(preparation: &Preparation<'_>, axes: &Axes, which: MainPlane, sheet: &Sheet) -> Vec<Side> {
    let points = &preparation.ring.points;
    let normal = sheet.across.cross(&sheet.up);
    let off = |point: &Point3<f64>| (point - sheet.origin).dot(&normal);
    let crossings = points.iter().zip(points.iter().cycle().skip(1)).filter_map(|(from, to)| {
        let (a, b) = (off(from), off(to));
        ((a < 0.0) != (b < 0.0)).then(|| from + (to - from) * (a / (a - b)))
    });
    let crossings: Vec<Point3<f64>> = crossings.collect();
    let x = |point: &Point3<f64>| sheet.flat(point).x;
    let left = crossings.iter().min_by(|a, b| x(a).total_cmp(&x(b))).filter(|point| x(point) < 0.0);
    let right = crossings.iter().max_by(|a, b| x(a).total_cmp(&x(b))).filter(|point| x(point) > 0.0);
    let both = [(left, 1.0), (right, -1.0)].into_iter();
    both.filter_map(|(point, inward)| side(preparation, axes, which, sheet, point?, inward)).collect()
}

fn side(
    preparation: &Preparation<'_>,
    axes: &Axes,
    which: MainPlane,
    sheet: &Sheet,
    point: &Point3<f64>,
    inward: f64,
) -> Option<Side> {
    let frame = SectionFrame { origin: *point, inward: sheet.across * inward, up: sheet.up };
    let section = Section::cut(preparation.scene.after, frame)?;
    let uncut = preparation.scene.before.and_then(|before| {
        let own = before.after_from_scan.inverse();
        let there =
            SectionFrame { origin: own * frame.origin, inward: own * frame.inward, up: own * frame.up };
        Section::cut_within(before.surface, there, 4.0, 1.5)
    });
    let angle_deg = preparation.frame.angle_deg(point);
    let near = [&section.clone()];
    let station = Station::read(section, angle_deg, true, uncut.as_ref(), &near, preparation.noise_mm);
    let word = axes.word(&(sheet.across * -inward));
    let aspect = which.aspects().into_iter().find(|aspect| aspect.id() == word)?;
    let above_gingiva_mm = station.above_gingiva_mm(&preparation.frame.occlusal);
    Some(Side { aspect, edge: sheet.flat(point), inward, station, above_gingiva_mm })
}

/// The shortest way from a prepared occlusal point to the opposing line, or back from its corners.
fn nearest(after: &[Line], opposing: &[Line]) -> Option<[Point2<f64>; 2]> {
    const REACH_MM: f64 = 6.0;
    let mut best: Option<[Point2<f64>; 2]> = None;
    let mut offer = |from: Point2<f64>, to: Point2<f64>| {
        let length_mm = (to - from).norm();
        if length_mm < best.map_or(REACH_MM, |[from, to]| (to - from).norm()) {
            best = Some([from, to]);
        }
    };
    for line in after {
        for (k, start) in line.points.iter().enumerate().filter(|(k, _)| line.is_occlusal[*k]) {
            let end = line.points[(k + 1) % line.points.len()];
            for other in opposing {
                for pair in other.points.windows(2) {
                    offer(*start, foot(start, &pair[0], &pair[1]));
                    if k + 1 < line.points.len() {
                        offer(foot(&pair[0], start, &end), pair[0]);
                    }
                }
            }
        }
    }
    best
}

/// The nearest point of a segment.
fn foot(point: &Point2<f64>, from: &Point2<f64>, to: &Point2<f64>) -> Point2<f64> {
    let along = to - from;
    let share = ((point - from).dot(&along) / along.norm_squared().max(1e-30)).clamp(0.0, 1.0);
    from + along * share
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(points: &[(f64, f64)]) -> Line {
        Line {
            points: points.iter().map(|&(x, y)| Point2::new(x, y)).collect(),
            closed: false,
            is_occlusal: vec![true; points.len()],
        }
    }

    #[test]
    fn clearance_is_the_shortest_way_between_the_lines() {
        let floor = line(&[(-4.0, 0.0), (4.0, 0.0)]);
        let cusp = line(&[(-3.0, 5.0), (0.5, 1.25), (3.0, 5.0)]);
        let [from, to] = nearest(&[floor], &[cusp]).unwrap();
        assert_eq!((from, to), (Point2::new(0.5, 0.0), Point2::new(0.5, 1.25)));
    }

    #[test]
    fn nothing_near_is_no_clearance() {
        assert!(nearest(&[line(&[(0.0, 0.0), (1.0, 0.0)])], &[line(&[(0.0, 9.0), (1.0, 9.0)])]).is_none());
        assert!(nearest(&[line(&[(0.0, 0.0), (1.0, 0.0)])], &[]).is_none());
    }
}
