//! The finish line: the closed outer edge between cut and uncut surface.
//!
//! A threshold on the change between the scans lies inside the true edge by threshold ÷ tan of the angle between
//! cut and uncut surface. So the threshold only starts the search; in a section square on the line the edge is
//! where the floor, extended outward, meets the uncut surface.

use kerfwright_geometry::Surface;
use nalgebra::{Point2, Point3, Vector3};
use rayon::prelude::*;

use crate::MeasureError;
use crate::scene::Placed;
use crate::section::{Section, SectionFrame};
use crate::stats::smooth_ring;
use edge::{EdgeSamples, OFF_SURFACE_MM, edge_samples};

pub use guess::{from_change, rays};

mod edge;
mod guess;

/// Fewest stations (Groten 2000: fewer than 50 do not give a stable mean).
const LEAST_STATIONS: usize = 200;
/// Largest spacing of stations, mm.
const SPACING_MM: f64 = 0.15;
/// Smallest share of stations at which the line must be seen without a before scan: an uncut tooth shows some edge too.
const LEAST_FOUND: f64 = 0.8;
/// The same where the change between two scans says that a tooth was cut.
const LEAST_FOUND_BY_CHANGE: f64 = 0.4;
/// Half-width of the smoothing along the line, mm: half a gauge's width, less than any step worth reporting.
const SMOOTHING_MM: f64 = 0.6;

/// One round of moving the line onto the edge.
#[derive(Debug, Clone, Copy)]
struct Pass {
    /// Stations to each side whose points are taken together.
    pooled: usize,
    /// Half-width of the smoothing along the line, mm.
    smoothing_mm: f64,
    /// How far from the line the edge is sought, mm.
    search_mm: f64,
}

const PASS: Pass = Pass { pooled: 1, smoothing_mm: SMOOTHING_MM, search_mm: 0.5 };
/// First coarsely, so that a few stray sections do not lead their neighbours away, and from farther: a first guess that was
/// smoothed around the tooth cuts the finish line's rise between front teeth short by a millimetre.
const FIRST_PASS: Pass = Pass { pooled: 0, smoothing_mm: 2.5 * SMOOTHING_MM, search_mm: 1.0 };

/// Half-width over which the uncut surface's bend is smoothed along the line, mm: a crown's bulge changes slowly.
const BEND_SMOOTHING_MM: f64 = 1.5;

/// A closed ring of finish-line points, evenly spaced seen along `up`.
#[derive(Debug, Clone)]
pub struct Ring {
    /// The points, counter-clockwise seen against `up`.
    pub points: Vec<Point3<f64>>,
    /// Whether each point was seen, not bridged from its neighbours.
    pub seen: Vec<bool>,
    /// Departure of each seen point from the smooth line, horizontal and vertical, mm.
    pub scatter_mm: Vec<Option<[f64; 2]>>,
    /// The direction taken for the path.
    pub up: Vector3<f64>,
}

impl Ring {
    /// A ring of evenly spaced points on a closed line, all of them seen.
    pub(crate) fn through(points: &[Point3<f64>], up: &Vector3<f64>) -> Self {
        evenly_spaced(points, up)
    }

    /// Centre: the middle of the enclosed area seen along `up`, at the mean height.
    pub fn centre(&self) -> Point3<f64> {
        let mean: Vector3<f64> =
            self.points.iter().map(|point| point.coords).sum::<Vector3<f64>>() / self.points.len() as f64;
        let (mut area, mut moment) = (0.0, Vector3::zeros());
        for (point, next) in self.pairs() {
            let (a, b) = (point.coords - mean, next.coords - mean);
            let wedge = a.cross(&b).dot(&self.up);
            area += wedge;
            moment += (a + b) * (wedge / 3.0);
        }
        let offset = moment / f64::max(area, 1e-9);
        Point3::from(mean + offset - self.up * offset.dot(&self.up))
    }

    /// Length of the line, mm.
    pub fn length_mm(&self) -> f64 {
        self.pairs().map(|(point, next)| (next - point).norm()).sum()
    }

    fn pairs(&self) -> impl Iterator<Item = (&Point3<f64>, &Point3<f64>)> {
        self.points.iter().zip(self.points.iter().cycle().skip(1))
    }

    /// The section frame at each point, square on the line seen along `up`.
    pub fn section_frames(&self, up: &Vector3<f64>) -> Vec<SectionFrame> {
        let n = self.points.len();
        let flatten = |direction: Vector3<f64>| direction - up * direction.dot(up);
        (0..n)
            .map(|k| {
                // A chord over four neighbours to each side is steadier than over one.
                let tangent = flatten(self.points[(k + 4) % n] - self.points[(k + n - 4) % n]);
                let inward = up.cross(&tangent).normalize();
                SectionFrame { origin: self.points[k], inward, up: *up }
            })
            .collect()
    }
}

/// Two unit vectors that make a right-handed frame with `up`.
pub fn axes(up: &Vector3<f64>) -> (Vector3<f64>, Vector3<f64>) {
    let helper = if up.x.abs() < 0.8 { Vector3::x() } else { Vector3::y() };
    let u = (helper - up * helper.dot(up)).normalize();
    (u, up.cross(&u))
}

/// Fills the missing directions from their neighbours, smoothing over `half_window` directions to each side; `None` if
/// too many are missing.
pub fn bridge(
    outline: &[Option<Point3<f64>>],
    centre: &Point3<f64>,
    up: &Vector3<f64>,
    half_window: usize,
) -> Option<Vec<Point3<f64>>> {
    let n_seen = outline.iter().filter(|point| point.is_some()).count();
    if (n_seen as f64) < 0.6 * outline.len() as f64 {
        return None;
    }
    let (u, v) = axes(up);
    let radius: Vec<Option<f64>> = outline
        .iter()
        .map(|point| {
            let at = (*point)? - centre;
            Some((at - up * at.dot(up)).norm())
        })
        .collect();
    let height: Vec<Option<f64>> = outline.iter().map(|point| Some(((*point)? - centre).dot(up))).collect();
    let radius = fill(&smooth_ring(&radius, half_window))?;
    let height = fill(&smooth_ring(&height, half_window))?;
    let points = (0..outline.len()).map(|k| {
        let angle_rad = std::f64::consts::TAU * k as f64 / outline.len() as f64;
        centre + (u * angle_rad.cos() + v * angle_rad.sin()) * radius[k] + up * height[k]
    });
    Some(points.collect())
}

/// Linear interpolation over the missing places of a ring.
pub fn fill(ring: &[Option<f64>]) -> Option<Vec<f64>> {
    let n = ring.len();
    let known: Vec<usize> = (0..n).filter(|&k| ring[k].is_some()).collect();
    if known.is_empty() {
        return None;
    }
    let mut filled = vec![0.0; n];
    for (place, &from) in known.iter().enumerate() {
        let to = known[(place + 1) % known.len()];
        let gap = if to > from { to - from } else { to + n - from };
        for step in 0..gap {
            let share = step as f64 / gap as f64;
            filled[(from + step) % n] = ring[from]? * (1.0 - share) + ring[to]? * share;
        }
    }
    Some(filled)
}

/// How the uncut surface is known in a section.
#[derive(Debug, Clone, Copy)]
pub enum Uncut<'scan> {
    /// From the before scan.
    Before(Placed<'scan>),
    /// From the after scan itself, below the finish line.
    Below,
}

/// Moves a first guess onto the true edge, in sections, until it stays.
///
/// `noise_mm` is the scan's noise (1 sigma).
///
/// # Errors
/// [`MeasureError::OpenFinishLine`] if less than 80 % of the line is seen, with a before scan less than 40 %.
pub fn refine(
    after: &Surface,
    uncut: Uncut<'_>,
    guess: &[Point3<f64>],
    up: &Vector3<f64>,
    noise_mm: f64,
) -> Result<Ring, MeasureError> {
    let mut ring = evenly_spaced(guess, up);
    let first = match uncut {
        // The change between the scans leads close to the line: from farther another edge might be taken.
        Uncut::Before(_) => Pass { search_mm: PASS.search_mm, ..FIRST_PASS },
        Uncut::Below => FIRST_PASS,
    };
    for pass in [first, PASS, PASS] {
        ring = refine_once(after, uncut, &ring, up, noise_mm, pass)?;
    }
    Ok(ring)
}

/// Moves a ring that already lies on the edge once more, square on another direction.
///
/// # Errors
/// As for [`refine`].
pub fn adjust(
    after: &Surface,
    uncut: Uncut<'_>,
    ring: &Ring,
    up: &Vector3<f64>,
    noise_mm: f64,
) -> Result<Ring, MeasureError> {
    refine_once(after, uncut, &evenly_spaced(&ring.points, up), up, noise_mm, PASS)
}

/// Drops edges far from the round form of all others: where next to no uncut tooth shows over the gingiva, a fold of the
/// gingiva may pass for the edge, and each pass would follow it farther.
fn without_detours(
    ring: &Ring,
    frames: &[SectionFrame],
    edges: Vec<Option<Point2<f64>>>,
    up: &Vector3<f64>,
) -> Vec<Option<Point2<f64>>> {
    const DETOUR_MM: f64 = 0.5;
    let centre = ring.centre();
    let (u, v) = axes(up);
    let polar = |(frame, edge): (&SectionFrame, &Option<Point2<f64>>)| {
        let at = edge.map_or(frame.origin, |edge| frame.solid(&edge)) - centre;
        let (x, y) = (at.dot(&u), at.dot(&v));
        (y.atan2(x), edge.map(|_| x.hypot(y)))
    };
    let pairs: Vec<(f64, Option<f64>)> = frames.iter().zip(&edges).map(polar).collect();
    let Some(form) = crate::stats::round_form(&pairs) else { return edges };
    let is_near = |k: usize| pairs[k].1.is_some_and(|radius| (radius - form[k]).abs() < DETOUR_MM);
    edges.into_iter().enumerate().map(|(k, edge)| edge.filter(|_| is_near(k))).collect()
}

/// The middle value of the places within `reach` to each side; `None` with fewer than five. Where few places tell of the
/// bend, a curve through them would run wild beyond their end.
fn middle_of_near(ring: &[Option<f64>], reach: usize) -> Vec<Option<f64>> {
    const LEAST: usize = 5;
    let n = ring.len();
    let middle = |k: usize| {
        let near: Vec<f64> = (0..=2 * reach).filter_map(|step| ring[(k + n + step - reach) % n]).collect();
        if near.len() < LEAST { None } else { crate::stats::median(&near) }
    };
    (0..n).map(middle).collect()
}

fn refine_once(
    after: &Surface,
    uncut: Uncut<'_>,
    ring: &Ring,
    up: &Vector3<f64>,
    noise_mm: f64,
    Pass { pooled, smoothing_mm, search_mm }: Pass,
) -> Result<Ring, MeasureError> {
    let frames = ring.section_frames(up);
    let sections: Vec<Option<Section>> =
        frames.par_iter().map(|frame| Section::cut_within(after, *frame, 1.5, 1.5)).collect();
    let samples = edge_samples(&sections, uncut, search_mm);
    let n = frames.len();
    let pools: Vec<EdgeSamples> = (0..n)
        .map(|k| {
            let near = (0..=2 * pooled).map(|offset| &samples[(k + n + offset - pooled) % n]);
            let mut pool = EdgeSamples { corner: samples[k].corner, ..EdgeSamples::default() };
            near.for_each(|other| pool.add(other));
            pool
        })
        .collect();
    let bends_per_mm = match uncut {
        Uncut::Before(_) => vec![None; n],
        Uncut::Below => {
            let bends: Vec<Option<f64>> = pools.par_iter().map(|pool| pool.bend_below(noise_mm)).collect();
            middle_of_near(&bends, (BEND_SMOOTHING_MM * n as f64 / ring.length_mm()).round() as usize)
        }
    };
    let edges: Vec<Option<Point2<f64>>> = (0..n)
        .into_par_iter()
        .map(|k| {
            let edge = match uncut {
                Uncut::Before(_) => pools[k].edge_by_change(noise_mm),
                Uncut::Below => pools[k].edge_by_corner(bends_per_mm[k], noise_mm),
            }?;
            // Farther than this it is another edge; off the surface it is an extrapolation from a crevice.
            (edge.coords.norm() < search_mm + 0.1 && samples[k].distance_mm(&edge) < OFF_SURFACE_MM)
                .then_some(edge)
        })
        .collect();
    match uncut {
        Uncut::Before(_) => smoothed(ring, &frames, &edges, up, smoothing_mm, LEAST_FOUND_BY_CHANGE, true),
        Uncut::Below => {
            let edges = without_detours(ring, &frames, edges, up);
            smoothed(ring, &frames, &edges, up, smoothing_mm, LEAST_FOUND, false)
        }
    }
}

/// Puts points without an edge on the round way from bank to bank of their gap, whatever led them astray before.
fn bridge_gaps(
    points: &mut [Point3<f64>],
    edges: &[Option<Point2<f64>>],
    centre: &Point3<f64>,
    up: &Vector3<f64>,
) {
    let n = points.len();
    let (u, v) = axes(up);
    let cylindric = |point: &Point3<f64>| {
        let at = point - centre;
        Vector3::new(at.dot(&v).atan2(at.dot(&u)), at.dot(&u).hypot(at.dot(&v)), at.dot(up))
    };
    let banks: Vec<usize> = (0..n).filter(|&k| edges[k].is_some()).collect();
    for (place, &from) in banks.iter().enumerate() {
        let to = banks[(place + 1) % banks.len()];
        let gap = (to + n - from - 1) % n + 1;
        let (start, end) = (cylindric(&points[from]), cylindric(&points[to]));
        let turn_rad = (end.x - start.x).sin().atan2((end.x - start.x).cos());
        for step in 1..gap {
            let share = step as f64 / gap as f64;
            let (angle_rad, radius, height) = (
                start.x + share * turn_rad,
                start.y + share * (end.y - start.y),
                start.z + share * (end.z - start.z),
            );
            points[(from + step) % n] =
                centre + u * (radius * angle_rad.cos()) + v * (radius * angle_rad.sin()) + up * height;
        }
    }
}

/// Applies the edges found in the sections, smooths along the line and spaces the stations evenly again.
///
/// Between edges the line keeps to `ring` where `keeps_guess`, as the change between two scans knows more of it than the
/// banks of a gap; else it goes round from bank to bank.
fn smoothed(
    ring: &Ring,
    frames: &[SectionFrame],
    edges: &[Option<Point2<f64>>],
    up: &Vector3<f64>,
    smoothing_mm: f64,
    least_found: f64,
    keeps_guess: bool,
) -> Result<Ring, MeasureError> {
    let n = edges.len();
    let n_seen = edges.iter().filter(|edge| edge.is_some()).count();
    let found = n_seen as f64 / n as f64;
    if found < least_found {
        let missing: Vec<_> = (0..n).filter(|&k| edges[k].is_none()).map(|k| ring.points[k].coords).collect();
        let place = missing.iter().sum::<Vector3<f64>>() / missing.len() as f64;
        return Err(MeasureError::OpenFinishLine {
            found_pct: 100.0 * found,
            where_to: format!("near {:.1}, {:.1}, {:.1} of the after scan", place.x, place.y, place.z),
        });
    }
    let spacing_mm = ring.length_mm() / n as f64;
    let half_window = ((smoothing_mm / spacing_mm).round() as usize).max(2);
    let across: Vec<Option<f64>> = edges.iter().map(|edge| edge.map(|edge| edge.x)).collect();
    let along: Vec<Option<f64>> = edges.iter().map(|edge| edge.map(|edge| edge.y)).collect();
    // A gap is bridged straight: a curve through its one bank would run wild over it, farther with each pass.
    let smooth_seen = |values: &[Option<f64>]| -> Vec<Option<f64>> {
        smooth_ring(values, half_window)
            .into_iter()
            .zip(values)
            .map(|(smooth, own)| own.and(smooth))
            .collect()
    };
    let (smooth_across, smooth_along) = (smooth_seen(&across), smooth_seen(&along));
    let scatter: Vec<Option<[f64; 2]>> =
        (0..n).map(|k| Some([across[k]? - smooth_across[k]?, along[k]? - smooth_along[k]?])).collect();
    let (Some(filled_across), Some(filled_along)) = (fill(&smooth_across), fill(&smooth_along)) else {
        return Err(MeasureError::OpenFinishLine { found_pct: 0.0, where_to: "everywhere".into() });
    };
    let mut points: Vec<Point3<f64>> =
        (0..n).map(|k| frames[k].solid(&Point2::new(filled_across[k], filled_along[k]))).collect();
    if !keeps_guess {
        bridge_gaps(&mut points, edges, &ring.centre(), up);
    }
    let mut next = evenly_spaced(&points, up);
    // Spacing hardly changes, so flags and scatter stay with their places.
    let place = |k: usize| k * n / next.points.len();
    next.seen = (0..next.points.len()).map(|k| edges[place(k)].is_some()).collect();
    next.scatter_mm = (0..next.points.len()).map(|k| scatter[place(k)]).collect();
    Ok(next)
}

/// A closed line with stations evenly spaced as seen along `up`.
fn evenly_spaced(points: &[Point3<f64>], up: &Vector3<f64>) -> Ring {
    let n = points.len();
    let flat = |direction: Vector3<f64>| (direction - up * direction.dot(up)).norm();
    let mut arcs = vec![0.0];
    let mut length_mm = 0.0;
    for k in 0..n {
        let step = points[(k + 1) % n] - points[k];
        length_mm += step.norm();
        arcs.push(arcs[k] + flat(step));
    }
    let n_stations = LEAST_STATIONS.max((length_mm / SPACING_MM).ceil() as usize);
    let mut stations = Vec::with_capacity(n_stations);
    let mut k = 0;
    for station in 0..n_stations {
        let wanted = arcs[n] * station as f64 / n_stations as f64;
        while k + 1 < n && arcs[k + 1] <= wanted {
            k += 1;
        }
        let share = (wanted - arcs[k]) / (arcs[k + 1] - arcs[k]).max(1e-12);
        stations.push(points[k] + (points[(k + 1) % n] - points[k]) * share);
    }
    Ring { seen: vec![true; n_stations], scatter_mm: vec![None; n_stations], points: stations, up: *up }
}
