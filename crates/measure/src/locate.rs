//! Finding the prepared tooth without a before scan, by its shape: a straight wall all round, at its foot a floor,
//! and outside the floor a sharp edge below which the uncut tooth falls away. An uncut tooth bulges instead, and where
//! its side meets the gingiva nothing falls away.

use kerfwright_geometry::{Plane, Surface, fit};
use nalgebra::{Matrix3, Point2, Point3, Vector3};
use rayon::prelude::*;

use crate::MeasureError;
use crate::axis::facing;
use crate::finish_line::{axes, bridge, rays};
use crate::start::Start;

/// Share of the directions in which an edge must be found.
const LEAST_FOUND: f64 = 0.62;
/// From this share on a tooth may show an edge all round once the direction is righted on what was found.
const PROMISING: f64 = 0.4;
/// Directions to each side over which the first guess is smoothed: 18°, wider than a stray crevice.
const SMOOTHING: usize = 12;
/// The same once the direction is righted and strays are dropped: between front teeth the finish line rises by two
/// millimetres within 30°.
const RIGHTED_SMOOTHING: usize = 4;
/// Spacing of the resampled walk, mm.
const STEP_MM: f64 = 0.05;
/// Stretch over which a direction is read, mm.
const REACH_MM: f64 = 0.25;

/// Teeth that look prepared, the clearest first: outline and direction.
///
/// # Errors
/// [`MeasureError::NoFinishLine`] if no tooth shows an edge in 62 % of the directions round it.
pub fn from_shape(after: &Surface) -> Result<Vec<Start>, MeasureError> {
    let mut best: Option<(Vector3<f64>, Vec<Try>)> = None;
    let share = |tries: &[Try]| tries.first().map_or(0.0, |best| best.found);
    for up in directions(after) {
        let tries = tries(after, &up);
        if best.as_ref().is_none_or(|(_, other)| share(other) < share(&tries)) {
            best = Some((up, tries));
        }
        // A scan's own facing is enough where it shows a preparation; a closed body has none to begin with.
        if best.as_ref().is_some_and(|(_, tries)| share(tries) >= LEAST_FOUND) {
            break;
        }
    }
    let Some((up, tries)) = best else { return Err(MeasureError::NoFinishLine { found_pct: 0.0 }) };
    let found_pct = 100.0 * share(&tries);
    let starts = tries.iter().filter(|found| found.found >= LEAST_FOUND).filter_map(|found| {
        Some(Start { outline: bridge(&found.outline, &found.centre, &up, SMOOTHING)?, up })
    });
    let mut starts: Vec<Start> = starts.collect();
    if starts.is_empty() {
        let promising = tries.iter().filter(|found| found.found >= PROMISING);
        starts = promising.filter_map(|found| around(after, &found.centre, &up)).collect();
    }
    if starts.is_empty() { Err(MeasureError::NoFinishLine { found_pct }) } else { Ok(starts) }
}

/// The start that one tooth's shape alone gives around a place on it; `None` where it shows an edge in less than 62 % of
/// the directions. A direction that is some 20° off rights itself on what is found of the edge.
pub fn around(after: &Surface, centre: &Point3<f64>, up: &Vector3<f64>) -> Option<Start> {
    const ROUNDS: usize = 4;
    const LEAST_POINTS: usize = 60;
    const RIGHT_DEG: f64 = 4.0;
    let (mut centre, mut up) = (*centre, *up);
    let mut best: Option<(Try, Vector3<f64>)> = None;
    for _ in 0..ROUNDS {
        let Some(found) = try_at(after, &centre, &up) else { break };
        let points: Vec<Point3<f64>> = found.outline.iter().flatten().copied().collect();
        if best.as_ref().is_none_or(|(other, _)| other.found <= found.found) {
            best = Some((found, up));
        }
        let Some(plane) = fit::plane(&points).filter(|_| points.len() >= LEAST_POINTS) else { break };
        let righted = plane.normal_towards(&up);
        if righted.angle(&up).to_degrees() < RIGHT_DEG {
            break;
        }
        (centre, up) = (plane.centroid, righted);
    }
    let (found, up) = best.filter(|(found, _)| found.found >= LEAST_FOUND)?;
    Some(Start { outline: bridge(&found.outline, &found.centre, &up, RIGHTED_SMOOTHING)?, up })
}

fn try_at(after: &Surface, centre: &Point3<f64>, up: &Vector3<f64>) -> Option<Try> {
    let edges = rays(after, centre, up, |points, _| Some(edges_on_walk(points, centre, up)))?;
    let edges = edges.into_iter().map(Option::unwrap_or_default).collect();
    let outline = without_strays(below_ledges(edges), centre, up);
    let found = outline.iter().flatten().count() as f64 / outline.len() as f64;
    Some(Try { found, outline, centre: *centre })
}

/// Directions in which the teeth may point: the one the scan faces; for closed or oddly trimmed bodies, both ways along
/// the main axes of the surface, the longest first, since a die stands on its stump.
fn directions(after: &Surface) -> Vec<Vector3<f64>> {
    let vertices = &after.mesh.vertices;
    let middle =
        vertices.iter().map(|vertex| vertex.coords).sum::<Vector3<f64>>() / vertices.len().max(1) as f64;
    let moments: Matrix3<f64> =
        vertices.iter().map(|vertex| (vertex.coords - middle) * (vertex.coords - middle).transpose()).sum();
    let eigen = moments.symmetric_eigen();
    let mut order = [0, 1, 2];
    order.sort_by(|&a, &b| eigen.eigenvalues[b].total_cmp(&eigen.eigenvalues[a]));
    let axes = order.into_iter().flat_map(|k| {
        let axis: Vector3<f64> = eigen.eigenvectors.column(k).into_owned();
        [axis, -axis]
    });
    facing(after).into_iter().chain(axes).collect()
}

/// The candidates seen along `up` that show an edge, the clearest first.
fn tries(after: &Surface, up: &Vector3<f64>) -> Vec<Try> {
    let mut tries: Vec<Try> =
        candidates(after, up).into_par_iter().filter_map(|centre| try_at(after, &centre, up)).collect();
    // The last of equals first, as `max_by` takes it.
    tries.reverse();
    tries.sort_by(|a, b| b.found.total_cmp(&a.found));
    tries
}

/// How well one tooth looks like a preparation.
struct Try {
    /// Share of the directions in which an edge was found.
    found: f64,
    outline: Vec<Option<Point3<f64>>>,
    centre: Point3<f64>,
}

/// Middles of the tooth-sized outlines in planes square on `up`.
fn candidates(after: &Surface, up: &Vector3<f64>) -> Vec<Point3<f64>> {
    const LEVEL_MM: f64 = 0.6;
    const APART_MM: f64 = 2.5;
    let heights: Vec<f64> = after.mesh.vertices.iter().map(|vertex| vertex.coords.dot(up)).collect();
    let (Some(low), Some(high)) = (fit::percentile(&heights, 1.0), fit::percentile(&heights, 99.5)) else {
        return Vec::new();
    };
    let n_levels = ((high - low) / LEVEL_MM) as usize;
    let mut found: Vec<Point3<f64>> = Vec::new();
    // From the top down: higher up teeth stand apart.
    for level in (0..n_levels).rev() {
        let at = low + LEVEL_MM * level as f64;
        let plane = Plane { point: Point3::from(up * at), normal: *up };
        for line in after.section(&plane) {
            let area_mm2 = line.area_mm2(&plane).abs();
            if !line.closed || !(6.0..160.0).contains(&area_mm2) {
                continue;
            }
            let sum: Vector3<f64> = line.points.iter().map(|point| point.coords).sum();
            let middle = Point3::from(sum / line.points.len() as f64);
            let flat = |other: &Point3<f64>| {
                let apart = middle - other;
                (apart - up * apart.dot(up)).norm()
            };
            if found.iter().all(|other| flat(other) > APART_MM) {
                found.push(middle);
            }
        }
    }
    found
}

/// The edges on a walk from the top outward, by the steepness of the surface below the horizontal: the wall is steep and
/// straight, the floor is less steep, and at the edge the surface turns down again, sharply. A ledge in the wall has all that
/// too, and so may the uncut tooth over its gingiva: the first is the finish line unless [`below_ledges`] knows better.
fn edges_on_walk(points: &[Point3<f64>], centre: &Point3<f64>, up: &Vector3<f64>) -> Vec<Point3<f64>> {
    const WALL_DEG: std::ops::RangeInclusive<f64> = 55.0..=98.0;
    const WALL_MM: f64 = 0.8;
    const STRAIGHT_DEG: f64 = 14.0;
    const CONCAVE_DEG: f64 = 18.0;
    const CONVEX_DEG: f64 = 25.0;
    const WIDEST_FLOOR_MM: f64 = 2.6;
    const CLEAR: f64 = 0.5;
    const MOST_EDGES: usize = 3;
    let walk = Walk::new(points, centre, up);
    let (n, reach) = (walk.flat.len(), (REACH_MM / STEP_MM) as usize);
    let wall_steps = (WALL_MM / STEP_MM) as usize;
    if n < wall_steps + 4 * reach {
        return Vec::new();
    }
    let steep = walk.steepness_deg(reach);
    // The foot of the wall: steep and straight for its length, then less steep by a clear corner.
    let is_foot = |k: usize| {
        let wall = &steep[k - wall_steps..k];
        let (low, high) =
            wall.iter().fold((f64::MAX, f64::MIN), |(low, high), &deg| (low.min(deg), high.max(deg)));
        let next = steep.get(k + 2 * reach).copied().unwrap_or(f64::MAX);
        WALL_DEG.contains(&low)
            && WALL_DEG.contains(&high)
            && high - low < STRAIGHT_DEG
            && next < low - CONCAVE_DEG
    };
    let widest = ((WIDEST_FLOOR_MM + 2.0 * REACH_MM) / STEP_MM) as usize;
    let turn_deg = |k: usize| steep[k + reach] - steep[k - reach];
    let corner_beyond = |foot: usize| -> Option<usize> {
        let last = (foot + widest).min(n.saturating_sub(reach + 1));
        let turns: Vec<(usize, f64)> = (foot + reach..last)
            .filter(|&k| k + reach < steep.len())
            .map(|k| (k, turn_deg(k)))
            .filter(|&(_, deg)| deg > CONVEX_DEG)
            .collect();
        let greatest_deg = turns.iter().map(|turn| turn.1).fold(0.0, f64::max);
        // The first clear one: the crest of the papilla or the adjacent tooth, farther out, may turn more sharply.
        let is_clear = |&&(k, deg): &&(usize, f64)| {
            let near = turns.iter().filter(|other| other.0.abs_diff(k) <= reach);
            deg >= CLEAR * greatest_deg && near.into_iter().all(|other| other.1 <= deg)
        };
        Some(turns.iter().find(is_clear)?.0)
    };
    let mut edges = Vec::new();
    let mut from = 0;
    while edges.len() < MOST_EDGES
        && let Some(foot) = (from + wall_steps..n.saturating_sub(2 * reach)).find(|&k| is_foot(k))
        && let Some(corner) = corner_beyond(foot)
    {
        edges.push(walk.solid[corner]);
        from = corner;
    }
    edges
}

/// The finish line among the edges of each direction: of all ways round the tooth from one edge to the next the shortest, the
/// first edge of each direction before later ones of about the same way.
///
/// A ledge that runs along a part of the wall ends with a jump down at both its ends; the finish line under it does not.
fn below_ledges(edges: Vec<Vec<Point3<f64>>>) -> Vec<Option<Point3<f64>>> {
    /// What each later edge must save, mm.
    const LATER_MM: f64 = 0.05;
    /// A jump to or from a stray counts no more than this, mm.
    const FARTHEST_MM: f64 = 3.0;
    /// So many directions in a row may be passed over: where the finish line was missed, the ledge alone shows.
    const MOST_SKIPPED: usize = 4;
    /// What each of them must save, mm.
    const SKIPPED_MM: f64 = 0.3;
    let n = edges.len();
    let mut chosen = vec![None; n];
    // Where only one edge shows there is no choice.
    let Some(start) = (0..n).find(|&k| edges[k].len() == 1).or((0..n).find(|&k| !edges[k].is_empty())) else {
        return chosen;
    };
    let round: Vec<usize> = (0..n).map(|step| (start + step) % n).filter(|&k| !edges[k].is_empty()).collect();
    let way_mm = |from: &Point3<f64>, to: &Point3<f64>, nth: usize| {
        (to - from).norm().min(FARTHEST_MM) + LATER_MM * nth as f64
    };
    // Least way to each edge of a direction, and the step and edge before it on that way.
    let mut ways: Vec<Vec<(f64, usize, usize)>> = vec![vec![(0.0, 0, 0)]];
    for to in 1..round.len() {
        let least = edges[round[to]].iter().enumerate().map(|(nth, edge)| {
            let options = (to.saturating_sub(1 + MOST_SKIPPED)..to).flat_map(|from| {
                let skipped_mm = SKIPPED_MM * (to - from - 1) as f64;
                ways[from].iter().enumerate().map(move |(place, way)| (way.0 + skipped_mm, from, place))
            });
            let whole = options
                .map(|(way, from, place)| (way + way_mm(&edges[round[from]][place], edge, nth), from, place));
            whole.min_by(|a, b| a.0.total_cmp(&b.0)).unwrap_or((0.0, 0, 0))
        });
        let least = least.collect();
        ways.push(least);
    }
    // Back to where it began.
    let last = round.len() - 1;
    let closed = |step: usize| {
        let skipped_mm = SKIPPED_MM * (last - step) as f64;
        let ends = ways[step].iter().enumerate().map(move |(nth, way)| (way.0 + skipped_mm, step, nth));
        ends.map(|(way, step, nth)| (way + way_mm(&edges[round[step]][nth], &edges[start][0], 0), step, nth))
    };
    let ends = (last.saturating_sub(MOST_SKIPPED)..=last).rev().flat_map(closed);
    let (_, mut step, mut nth) = ends.min_by(|a, b| a.0.total_cmp(&b.0)).unwrap_or((0.0, 0, 0));
    loop {
        chosen[round[step]] = Some(edges[round[step]][nth]);
        if step == 0 {
            break;
        }
        (_, step, nth) = ways[step][nth];
    }
    chosen
}

/// A walk resampled evenly, flat: outward and up.
struct Walk {
    flat: Vec<Point2<f64>>,
    solid: Vec<Point3<f64>>,
}

impl Walk {
    fn new(points: &[Point3<f64>], centre: &Point3<f64>, up: &Vector3<f64>) -> Self {
        let mut solid = vec![points[0]];
        let mut rest_mm = STEP_MM;
        for pair in points.windows(2) {
            let (mut from, mut length_mm) = (pair[0], (pair[1] - pair[0]).norm());
            while length_mm >= rest_mm {
                from += (pair[1] - from) * (rest_mm / length_mm);
                length_mm -= rest_mm;
                rest_mm = STEP_MM;
                solid.push(from);
            }
            rest_mm -= length_mm;
        }
        let far = solid[solid.len() - 1] - centre;
        let outward = (far - up * far.dot(up)).normalize();
        let flat = solid
            .iter()
            .map(|point| Point2::new((point - centre).dot(&outward), (point - centre).dot(up)))
            .collect();
        Self { flat, solid }
    }

    /// Steepness below the horizontal around each sample, degrees: 0 flat outward, 90 straight down, more leads back.
    fn steepness_deg(&self, reach: usize) -> Vec<f64> {
        let n = self.flat.len();
        (0..n)
            .map(|k| {
                let (from, to) = (k.saturating_sub(reach / 2), (k + reach / 2).min(n - 1));
                let along = self.flat[to] - self.flat[from];
                (-along.y).atan2(along.x).to_degrees()
            })
            .collect()
    }
}

/// Drops directions whose edge lies far from those of their neighbours, then those that lie far from the round form of
/// all others: a whole run of them may have ended at the tooth next door.
fn without_strays(
    outline: Vec<Option<Point3<f64>>>,
    centre: &Point3<f64>,
    up: &Vector3<f64>,
) -> Vec<Option<Point3<f64>>> {
    const STRAY_MM: f64 = 0.5;
    const NEAR: usize = 8;
    let (u, v) = axes(up);
    let polar = |point: &Point3<f64>| {
        let at = point - centre;
        Point2::new(at.dot(&u).hypot(at.dot(&v)), at.dot(up))
    };
    let n = outline.len();
    let mut places: Vec<Option<Point2<f64>>> =
        outline.iter().map(|point| point.as_ref().map(polar)).collect();
    let is_near = |k: usize| {
        let Some(own) = places[k] else { return false };
        let near = (1..=2 * NEAR).filter_map(|step| places[(k + n + step - NEAR) % n]);
        let distances: Vec<f64> = near.map(|other| (other - own).norm()).collect();
        fit::median(&distances).is_some_and(|median| median < STRAY_MM)
    };
    let keep: Vec<bool> = (0..n).map(is_near).collect();
    places.iter_mut().zip(&keep).for_each(|(place, keep)| *place = place.filter(|_| *keep));
    let angle_rad = |k: usize| std::f64::consts::TAU * k as f64 / n as f64;
    let pairs: Vec<_> = (0..n).map(|k| (angle_rad(k), places[k].map(|at| at.x))).collect();
    let radii = crate::stats::round_form(&pairs);
    let fits = |k: usize| {
        const OFF_FORM_MM: f64 = 1.0;
        let Some(place) = places[k] else { return false };
        radii.as_ref().is_none_or(|radii| (place.x - radii[k]).abs() < OFF_FORM_MM)
    };
    let keep: Vec<bool> = (0..n).map(fits).collect();
    outline.into_iter().zip(keep).map(|(point, keep)| point.filter(|_| keep)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    const N: usize = 240;

    fn at(place: usize, radius_mm: f64, height_mm: f64) -> Point3<f64> {
        let angle_rad = std::f64::consts::TAU * place as f64 / N as f64;
        Point3::new(radius_mm * angle_rad.cos(), radius_mm * angle_rad.sin(), height_mm)
    }

    /// The way round along a ledge over 75° begins and ends with a jump; along the line under it, it does not.
    #[test]
    fn a_ledge_over_part_of_the_wall_is_passed_over() {
        let line = |place: usize| at(place, 4.5, 0.3 * (place as f64 / 20.0).sin());
        let edges = (0..N).map(|place| {
            if (30..80).contains(&place) { vec![at(place, 4.0, 2.2), line(place)] } else { vec![line(place)] }
        });
        let chosen = below_ledges(edges.collect());
        assert!((0..N).all(|place| chosen[place] == Some(line(place))));
    }

    /// Where the line itself was missed in a few directions, they are passed over rather than the ledge followed to them.
    #[test]
    fn a_ledge_that_alone_shows_in_places_is_passed_over() {
        let line = |place: usize| at(place, 4.5, 0.3 * (place as f64 / 20.0).sin());
        let is_missed = |place: usize| matches!(place, 40..43 | 60);
        let edges = (0..N).map(|place| match place {
            30..80 if is_missed(place) => vec![at(place, 4.0, 2.2)],
            30..80 => vec![at(place, 4.0, 2.2), line(place)],
            _ => vec![line(place)],
        });
        let chosen = below_ledges(edges.collect());
        assert!((0..N).all(|place| chosen[place] == (!is_missed(place)).then(|| line(place))));
    }

    /// Where gingiva and uncut tooth show an edge farther out as well, the first edge stays, also past directions without any.
    #[test]
    fn what_lies_beyond_an_even_finish_line_is_not_taken() {
        let line = |place: usize| at(place, 4.5, 0.0);
        let edges = (0..N).map(|place| match place {
            100..120 => Vec::new(),
            40..160 => vec![line(place), at(place, 5.0, -1.0)],
            _ => vec![line(place)],
        });
        let chosen = below_ledges(edges.collect());
        assert!((0..N).all(|place| chosen[place] == (!(100..120).contains(&place)).then(|| line(place))));
    }
}
