//! Where the tooth stands that is to be cut: its axis, its frame, and the line along which the gingiva meets it.

use kerfwright_geometry::{Surface, noise_mm};
use kerfwright_measure::arch::{MesialEvidence, Question};
use kerfwright_measure::axis::{self, Axis};
use kerfwright_measure::axis_evidence::tooth_axis;
use kerfwright_measure::finish_line::{Ring, axes, bridge};
use kerfwright_measure::frame::ToothFrame;
use kerfwright_measure::scene::{Placed, Scene};
use kerfwright_measure::section::Section;
use kerfwright_measure::station;
use kerfwright_tooth::Tooth;
use nalgebra::{Point2, Point3, Vector3};
use rayon::prelude::*;

use crate::PlanError;

/// Directions round the tooth: every degree, 0.09 mm apart on a molar.
pub const N_STATIONS: usize = 360;
/// Height over the gingiva at which the tooth is first followed round, mm.
const FIRST_HEIGHT_MM: f64 = 0.5;
/// Half-width over which the gingiva line is smoothed, in stations: about 0.6 mm.
const SMOOTHING: usize = 7;

/// What the user says of the tooth.
#[derive(Debug, Clone)]
pub struct Wish {
    /// The tooth.
    pub tooth: Tooth,
    /// A point on its occlusal surface.
    pub at: Point3<f64>,
    /// A point on its mesial side, where the arch does not tell.
    pub mesial_point: Option<Point3<f64>>,
}

/// Where the tooth stands. All in the frame of the scan before cutting.
#[derive(Debug, Clone)]
pub struct Site {
    /// The tooth.
    pub tooth: Tooth,
    /// Its frame; the origin lies in the middle of the gingiva line.
    pub frame: ToothFrame,
    /// What its axis rests on.
    pub axis: Axis,
    /// What mesial rests on.
    pub mesial: MesialEvidence,
    /// Standard deviation of the scan's noise, mm.
    pub noise_mm: f64,
    /// The triangle of the scan under the user's point.
    pub(crate) at_triangle: u32,
    /// Directions round the tooth, counter-clockwise seen against the axis.
    pub(crate) polar: Polar,
    /// Where the gingiva meets the tooth, one point a direction.
    pub gingiva: Vec<Point3<f64>>,
}

/// Directions round an upright line through the tooth.
#[derive(Debug, Clone, Copy)]
pub struct Polar {
    /// A point of the line.
    pub centre: Point3<f64>,
    /// Along it, occlusally.
    pub up: Vector3<f64>,
    u: Vector3<f64>,
    v: Vector3<f64>,
}

impl Polar {
    fn new(centre: Point3<f64>, up: Vector3<f64>) -> Self {
        let (u, v) = axes(&up);
        Self { centre, up, u, v }
    }

    /// Unit, outward.
    pub fn outward(&self, station: usize) -> Vector3<f64> {
        let angle_rad = std::f64::consts::TAU * station as f64 / N_STATIONS as f64;
        self.u * angle_rad.cos() + self.v * angle_rad.sin()
    }

    /// Radius, height over the centre, and place among the stations (with a fraction) of a point.
    pub fn place(&self, point: &Point3<f64>) -> (f64, f64, f64) {
        let at = point - self.centre;
        let (x, y) = (at.dot(&self.u), at.dot(&self.v));
        let turn = (y.atan2(x) / std::f64::consts::TAU).rem_euclid(1.0);
        (x.hypot(y), at.dot(&self.up), turn * N_STATIONS as f64)
    }

    /// Where a level ray from the middle at a height first meets the scan: the side of the tooth.
    pub fn side(&self, scan: &Surface, station: usize, height_mm: f64) -> Option<Point3<f64>> {
        const WIDEST_MM: f64 = 9.0;
        let from = self.centre + self.up * height_mm;
        Some(scan.tree.ray(&from, &self.outward(station), WIDEST_MM)?.point)
    }
}

impl Site {
    /// Finds the tooth under `wish.at`.
    ///
    /// # Errors
    /// See [`PlanError`]: the point is off the scan, the gingiva does not show, mesial is unknown.
    pub fn find(before: &Surface, wish: &Wish) -> Result<Self, PlanError> {
        let (at, at_triangle) = on_scan(before, &wish.at)?;
        let mut up = axis::facing(before).unwrap_or_else(Vector3::z);
        let mut rough = rough_line(before, &at, &at, &up)?;
        let scene = Scene { after: before, before: Some(Placed::in_place(before)), opposing: None };
        let mut axis = None;
        // The axis needs the ring and the ring the axis.
        for _ in 0..2 {
            let polar = Polar::new(middle(&rough), up);
            let ring = raised(before, &polar, &rough);
            let found = tooth_axis(&scene, &ring, &up);
            up = found.direction;
            axis = Some(found);
            rough = rough_line(before, &at, &ring.centre(), &up)?;
        }
        let axis = axis.unwrap_or(Axis { direction: up, sigma_deg: 10.0, opinions: Vec::new() });
        let polar = Polar::new(middle(&rough), up);
        let ring = raised(before, &polar, &rough);
        let gingiva = refined(before, &polar, &ring)?;
        let question = Question {
            after: before,
            tooth: wish.tooth,
            centre: polar.centre,
            axis: up,
            finish_line: &ring.points,
            mesial_point: wish.mesial_point,
            write_point: &|point| format!("{:.1},{:.1},{:.1}", point.x, point.y, point.z),
        };
        let mesial = question.mesial()?;
        let toward = (mesial.mesial - up * mesial.mesial.dot(&up)).normalize();
        let frame = ToothFrame {
            origin: polar.centre,
            mesial: toward,
            facial: up.cross(&toward) * wish.tooth.handedness(),
            occlusal: up,
        };
        let noise_mm = scan_noise(before);
        Ok(Self { tooth: wish.tooth, frame, axis, mesial, noise_mm, at_triangle, polar, gingiva })
    }

    /// Angle round the tooth of each station, degrees.
    pub(crate) fn angle_deg(&self, station: usize) -> f64 {
        self.frame.angle_deg(&(self.polar.centre + self.polar.outward(station)))
    }
}

fn on_scan(before: &Surface, at: &Point3<f64>) -> Result<(Point3<f64>, u32), PlanError> {
    const NEAR_MM: f64 = 1.0;
    match before.tree.closest(at, 200.0) {
        Some(closest) if closest.distance_mm <= NEAR_MM => Ok((closest.point, closest.triangle)),
        found => {
            let distance_mm = found.map_or(f64::INFINITY, |closest| closest.distance_mm);
            Err(PlanError::PointOffScan { distance_mm })
        }
    }
}

fn scan_noise(before: &Surface) -> f64 {
    let n = before.mesh.vertices.len();
    let vertices: Vec<u32> = (0..n).step_by((n / 6000).max(1)).map(|vertex| vertex as u32).collect();
    noise_mm(before, &vertices)
}

fn middle(points: &[Point3<f64>]) -> Point3<f64> {
    let sum: Vector3<f64> = points.iter().map(|point| point.coords).sum();
    Point3::from(sum / points.len().max(1) as f64)
}

/// The gingiva line to a few tenths, from the sides of the tooth seen from within, followed down from under `at` to the
/// gingiva.
fn rough_line(
    before: &Surface,
    at: &Point3<f64>,
    centre: &Point3<f64>,
    up: &Vector3<f64>,
) -> Result<Vec<Point3<f64>>, PlanError> {
    let mut centre = *centre;
    let mut line = Vec::new();
    let mut found_pct = 0.0;
    for _ in 0..3 {
        let top_mm = (at - centre).dot(up);
        let polar = Polar::new(centre, *up);
        let corners: Vec<Option<Point3<f64>>> =
            (0..N_STATIONS).into_par_iter().map(|k| lowest_side(before, &polar, k, top_mm)).collect();
        found_pct =
            100.0 * corners.iter().filter(|corner| corner.is_some()).count() as f64 / N_STATIONS as f64;
        let kept = without_strays(&corners, &polar);
        let Some(bridged) = bridge(&kept, &centre, up, 12) else { break };
        line = bridged;
        centre = middle(&line);
    }
    if line.is_empty() { Err(PlanError::NoGingiva { found_pct }) } else { Ok(line) }
}

/// Takes away points whose height or radius stands out from the median over 21 stations.
fn without_strays(corners: &[Option<Point3<f64>>], polar: &Polar) -> Vec<Option<Point3<f64>>> {
    const REACH: usize = 10;
    const STRAY_MM: f64 = 0.6;
    let n = corners.len();
    let places: Vec<Option<(f64, f64, f64)>> =
        corners.iter().map(|corner| corner.map(|point| polar.place(&point))).collect();
    let median = |k: usize, value: &dyn Fn(&(f64, f64, f64)) -> f64| {
        let mut near: Vec<f64> = (0..=2 * REACH)
            .filter_map(|step| places[(k + n + step - REACH) % n].as_ref().map(value))
            .collect();
        near.sort_by(f64::total_cmp);
        near.get(near.len() / 2).copied().unwrap_or(f64::NAN)
    };
    (0..n)
        .map(|k| {
            let place = places[k]?;
            let (radius_mm, height_mm) = (median(k, &|place| place.0), median(k, &|place| place.1));
            let is_near = (place.0 - radius_mm).abs() < STRAY_MM && (place.1 - height_mm).abs() < STRAY_MM;
            corners[k].filter(|_| is_near)
        })
        .collect()
}

/// Where the tooth's side, followed down, first turns outward: the gingiva.
fn lowest_side(before: &Surface, polar: &Polar, station: usize, top_mm: f64) -> Option<Point3<f64>> {
    /// Levels on both sides of a corner: 0.4 mm.
    const SIDE: usize = 4;
    const LEAST_TURN_DEG: f64 = 25.0;
    let Side { points, flat: side } = followed_down(before, polar, station, top_mm)?;
    let turn_deg = |k: usize| {
        let (above, below) = (side[k] - side[k - SIDE], side[k + SIDE] - side[k]);
        above.perp(&below).atan2(above.dot(&below)).to_degrees()
    };
    let turns: Vec<f64> = (SIDE..side.len().saturating_sub(SIDE)).map(turn_deg).collect();
    let is_corner = |&k: &usize| {
        let near = &turns[k.saturating_sub(SIDE)..(k + SIDE + 1).min(turns.len())];
        turns[k] > LEAST_TURN_DEG && near.iter().all(|&other| other <= turns[k])
    };
    match (0..turns.len()).find(is_corner) {
        Some(corner) => Some(points[corner + SIDE]),
        // A gingiva that leads away level ends the side.
        None => points.last().copied(),
    }
}

/// The side of a tooth in one direction, from above down.
struct Side {
    points: Vec<Point3<f64>>,
    /// Their radius and height.
    flat: Vec<Point2<f64>>,
}

/// The side of the tooth in one direction, from under the top down, over holes at a contact.
fn followed_down(before: &Surface, polar: &Polar, station: usize, top_mm: f64) -> Option<Side> {
    const BELOW_MM: f64 = 2.5;
    const DEEPEST_MM: f64 = 14.0;
    const STEP_MM: f64 = 0.1;
    /// A jump outward between two levels: a hole at the contact, or the gingiva.
    const JUMP_MM: f64 = 0.35;
    /// How far below a hole the side may go on, in levels.
    const HOLE: usize = 35;
    let n_levels = ((DEEPEST_MM - BELOW_MM) / STEP_MM) as usize;
    let seen: Vec<Option<(Point3<f64>, f64, f64)>> = (0..n_levels)
        .map(|level| {
            let point = polar.side(before, station, top_mm - BELOW_MM - STEP_MM * level as f64)?;
            let (radius_mm, height_mm, _) = polar.place(&point);
            Some((point, radius_mm, height_mm))
        })
        .collect();
    let mut level = seen.iter().position(Option::is_some)?;
    let (mut points, mut side) = (Vec::new(), Vec::new());
    while let Some((point, radius_mm, height_mm)) = seen[level] {
        points.push(point);
        side.push(Point2::new(radius_mm, height_mm));
        let goes_on = |&next: &usize| {
            let reach_mm = JUMP_MM * ((next - level) as f64).min(2.0);
            seen.get(next).copied().flatten().is_some_and(|(_, next_mm, _)| next_mm < radius_mm + reach_mm)
        };
        match (level + 1..=level + HOLE).find(goes_on) {
            Some(next) => level = next,
            None => break,
        }
    }
    Some(Side { points, flat: side })
}

/// The side of the tooth at a height over the gingiva, as the ring from which sections are cut.
fn raised(before: &Surface, polar: &Polar, gingiva: &[Point3<f64>]) -> Ring {
    let heights: Vec<f64> =
        heights_by_station(polar, gingiva).into_iter().map(|height_mm| height_mm + FIRST_HEIGHT_MM).collect();
    ring_at(before, polar, &heights)
}

/// The heights of a closed line at the stations, interpolated.
fn heights_by_station(polar: &Polar, line: &[Point3<f64>]) -> Vec<f64> {
    let mut places: Vec<(f64, f64)> = line
        .iter()
        .map(|point| {
            let (_, height_mm, turn) = polar.place(point);
            (turn, height_mm)
        })
        .collect();
    places.sort_by(|a, b| a.0.total_cmp(&b.0));
    let n = places.len();
    (0..N_STATIONS)
        .map(|station| {
            let turn = station as f64;
            let after = places.partition_point(|place| place.0 < turn);
            let (from, to) = (places[(after + n - 1) % n], places[after % n]);
            let span = (to.0 - from.0).rem_euclid(N_STATIONS as f64).max(1e-9);
            let share = (turn - from.0).rem_euclid(N_STATIONS as f64) / span;
            from.1 + (to.1 - from.1) * share.min(1.0)
        })
        .collect()
}

/// The side of the tooth at a height a station; gaps bridged from their neighbours.
pub fn ring_at(before: &Surface, polar: &Polar, heights_mm: &[f64]) -> Ring {
    let seen: Vec<Option<Point3<f64>>> =
        (0..N_STATIONS).into_par_iter().map(|k| polar.side(before, k, heights_mm[k])).collect();
    let kept = without_strays(&seen, polar);
    let radius: Vec<Option<f64>> =
        kept.iter().map(|point| point.map(|point| polar.place(&point).0)).collect();
    let filled = kerfwright_measure::finish_line::fill(&radius).unwrap_or_else(|| vec![4.0; N_STATIONS]);
    let points = (0..N_STATIONS)
        .map(|k| polar.centre + polar.outward(k) * filled[k] + polar.up * heights_mm[k])
        .collect();
    Ring {
        points,
        seen: kept.iter().map(Option::is_some).collect(),
        scatter_mm: vec![None; N_STATIONS],
        up: polar.up,
    }
}

/// The gingiva line as the readings see it: the concave corner in sections square on the ring, smoothed along it.
fn refined(before: &Surface, polar: &Polar, ring: &Ring) -> Result<Vec<Point3<f64>>, PlanError> {
    let frames = ring.section_frames(&polar.up);
    let found: Vec<Option<Point3<f64>>> = frames
        .par_iter()
        .map(|frame| {
            let section = Section::cut_within(before, *frame, 4.0, 1.5)?;
            Some(frame.solid(&station::gingiva(&section)?))
        })
        .collect();
    let n_found = found.iter().filter(|point| point.is_some()).count();
    let kept = without_strays(&found, polar);
    bridge(&by_station(polar, &kept), &polar.centre, &polar.up, SMOOTHING)
        .ok_or(PlanError::NoGingiva { found_pct: 100.0 * n_found as f64 / N_STATIONS as f64 })
}

/// Points sorted into the stations whose direction they lie in; the sections do not run through the middle.
fn by_station(polar: &Polar, points: &[Option<Point3<f64>>]) -> Vec<Option<Point3<f64>>> {
    let mut sorted = vec![None; N_STATIONS];
    let line: Vec<Point3<f64>> = points.iter().flatten().copied().collect();
    if line.is_empty() {
        return sorted;
    }
    for point in &line {
        let (_, _, turn) = polar.place(point);
        sorted[turn.round() as usize % N_STATIONS] = Some(*point);
    }
    sorted
}
