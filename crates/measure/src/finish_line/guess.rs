//! The first guess of the finish line: walks from the top of the tooth outward.

use kerfwright_geometry::Surface;
use nalgebra::{Point2, Point3, Vector3};
use rayon::prelude::*;

use super::{axes, bridge, fill};
use crate::region::{Change, Region};
use crate::trace::trace;

/// Directions of the first search.
const N_RAYS: usize = 240;

/// First guess from the change between the scans: the outer border of the region that was cut.
pub fn from_change(after: &Surface, change: &Change, region: &Region) -> Option<Vec<Point3<f64>>> {
    let up = region.facing;
    let centre = middle_of(after, region, &up);
    let level = |vertex: u32| {
        let reduction_mm = change.reduction_mm[vertex as usize];
        let known = if reduction_mm.is_nan() { 0.0 } else { reduction_mm };
        if region.inside[vertex as usize] { known } else { known.min(0.0) }
    };
    let values = |points: &[Point3<f64>], triangles: &[u32]| -> Vec<f64> {
        let value = |(k, point): (usize, &Point3<f64>)| {
            interpolate(after, triangles[k.min(triangles.len() - 1)], point, &level)
        };
        points.iter().enumerate().map(value).collect()
    };
    let crossing = |points: &[Point3<f64>], values: &[f64], last: usize| {
        let share = (values[last] - change.threshold_mm) / (values[last] - values[last + 1]);
        points[last] + (points[last + 1] - points[last]) * share.clamp(0.0, 1.0)
    };
    let outermost = rays(after, &centre, &up, |points, triangles| {
        // The outermost place where the region's change passes the threshold.
        let values = values(points, triangles);
        let last = values.iter().rposition(|&value| value > change.threshold_mm)?;
        (last + 1 < points.len()).then(|| crossing(points, &values, last))
    })?;
    let below_wall = rays(after, &centre, &up, |points, triangles| {
        let values = values(points, triangles);
        let last = end_below_wall(points, &values, change.threshold_mm, &up)?;
        Some(crossing(points, &values, last))
    })?;
    let outline = without_moved_gingiva(&outermost, &below_wall, &centre, &up);
    bridge(&outline, &centre, &up, 5)
}

/// Where, on a walk outward, the change that began on the first steep wall ends for the length of some triangles: the last
/// point over the threshold. What changed beyond may be gingiva that moved.
fn end_below_wall(
    points: &[Point3<f64>],
    values: &[f64],
    threshold_mm: f64,
    up: &Vector3<f64>,
) -> Option<usize> {
    const STEEP: f64 = 0.8; // 53° from the horizontal.
    const WALL_MM: f64 = 0.8;
    const UNCHANGED_MM: f64 = 0.2;
    let (mut wall_mm, mut unchanged_mm) = (0.0, 0.0);
    let mut last = None;
    for (k, pair) in points.windows(2).enumerate() {
        let along = pair[1] - pair[0];
        let length_mm = along.norm();
        if values[k] <= threshold_mm {
            unchanged_mm += length_mm;
            if wall_mm >= WALL_MM && unchanged_mm > UNCHANGED_MM {
                return last;
            }
            continue;
        }
        (unchanged_mm, last) = (0.0, Some(k));
        if wall_mm < WALL_MM {
            // Triangles on a noisy wall are not all steep.
            let is_steep = -along.dot(up) > STEEP * length_mm;
            wall_mm = if is_steep { wall_mm + length_mm } else { f64::max(wall_mm - length_mm, 0.0) };
        }
    }
    None
}

/// Two guesses in one direction: the outermost end of the change, and the first end below a wall.
type Guesses = (Option<Point3<f64>>, Option<Point3<f64>>);

/// Chooses between two guesses in each direction. Where they agree there is no doubt; where they do not, the change either
/// goes on over gingiva that moved, or an uncut spot interrupts the wall: the one nearer to its neighbours is right. Where
/// they hardly ever agree, gingiva moved all round.
fn without_moved_gingiva(
    outermost: &[Option<Point3<f64>>],
    below_wall: &[Option<Point3<f64>>],
    centre: &Point3<f64>,
    up: &Vector3<f64>,
) -> Vec<Option<Point3<f64>>> {
    const SAME_MM: f64 = 0.3;
    const LEAST_SURE: usize = 4;
    let pairs: Vec<_> = outermost.iter().copied().zip(below_wall.iter().copied()).collect();
    let differ = |pair: &Guesses| match pair {
        (Some(outer), Some(inner)) => (outer - inner).norm() > SAME_MM,
        _ => false,
    };
    let sure: Vec<Option<Point3<f64>>> =
        pairs.iter().map(|pair| pair.0.filter(|_| pair.1.is_some() && !differ(pair))).collect();
    let (u, v) = axes(up);
    let polar = |point: &Point3<f64>| {
        let at = point - centre;
        Point2::new(at.dot(&u).hypot(at.dot(&v)), at.dot(up))
    };
    let column = |pick: fn(&Point2<f64>) -> f64| {
        fill(&sure.iter().map(|point| point.as_ref().map(|point| pick(&polar(point)))).collect::<Vec<_>>())
    };
    let expected = column(|at| at.x).zip(column(|at| at.y));
    let is_sure = sure.iter().flatten().count() * LEAST_SURE >= sure.len();
    let choose = |(k, pair): (usize, &Guesses)| {
        let (Some(outer), Some(inner)) = pair else { return pair.0 };
        if !differ(pair) {
            return Some(*outer);
        }
        let Some((radii, heights)) = expected.as_ref().filter(|_| is_sure) else { return Some(*inner) };
        let off = |point: &Point3<f64>| (polar(point) - Point2::new(radii[k], heights[k])).norm();
        Some(if off(inner) < off(outer) { *inner } else { *outer })
    };
    pairs.iter().enumerate().map(choose).collect()
}

/// The middle of a region's outline seen along `up`.
fn middle_of(after: &Surface, region: &Region, up: &Vector3<f64>) -> Point3<f64> {
    let (u, v) = axes(up);
    let mut low = [f64::INFINITY; 2];
    let mut high = [f64::NEG_INFINITY; 2];
    for (vertex, point) in after.mesh.vertices.iter().enumerate() {
        if region.inside[vertex] {
            let at = point - region.centre;
            for (k, value) in [at.dot(&u), at.dot(&v)].into_iter().enumerate() {
                low[k] = low[k].min(value);
                high[k] = high[k].max(value);
            }
        }
    }
    region.centre + u * (0.5 * (low[0] + high[0])) + v * (0.5 * (low[1] + high[1]))
}

/// Walks from the top of the tooth outward in evenly spread directions and picks something on each walk.
///
/// `pick` gets the points of the walk and the triangle of each segment.
pub fn rays<T: Send>(
    after: &Surface,
    centre: &Point3<f64>,
    up: &Vector3<f64>,
    pick: impl Fn(&[Point3<f64>], &[u32]) -> Option<T> + Sync,
) -> Option<Vec<Option<T>>> {
    const WALK_MM: f64 = 16.0;
    let top = after.tree.ray(&(centre + up * 15.0), &-up, 30.0)?;
    let (u, v) = axes(up);
    let picked = (0..N_RAYS).into_par_iter().map(|k| {
        let angle_rad = std::f64::consts::TAU * k as f64 / N_RAYS as f64;
        let outward = u * angle_rad.cos() + v * angle_rad.sin();
        let plane = kerfwright_geometry::Plane { point: top.point, normal: outward.cross(up) };
        let start = if crate::trace::crossings(after, &plane, top.triangle).is_some() {
            top.triangle
        } else {
            crate::trace::crossing_near(after, &plane, &top.point, 0.5)?
        };
        let walk = trace(after, &plane, start, &outward, WALK_MM);
        let n_points = outward_part(&walk.points, &top.point, &outward, up);
        if n_points < 3 { None } else { pick(&walk.points[..n_points], &walk.triangles[..n_points - 1]) }
    });
    Some(picked.collect())
}

/// How many points of a walk lead outward, before it turns back under the tooth (a die without gingiva is closed).
fn outward_part(
    points: &[Point3<f64>],
    top: &Point3<f64>,
    outward: &Vector3<f64>,
    up: &Vector3<f64>,
) -> usize {
    const BACK_MM: f64 = 1.5;
    const BELOW_MM: f64 = 1.0;
    let mut farthest_mm = f64::NEG_INFINITY;
    let turned = points.iter().position(|point| {
        let (out_mm, down_mm) = ((point - top).dot(outward), -(point - top).dot(up));
        farthest_mm = farthest_mm.max(out_mm);
        out_mm < farthest_mm - BACK_MM && down_mm > BELOW_MM
    });
    turned.unwrap_or(points.len())
}

/// Value of a vertex field at a point of a triangle.
fn interpolate(after: &Surface, triangle: u32, point: &Point3<f64>, value: &impl Fn(u32) -> f64) -> f64 {
    let [a, b, c] = after.mesh.corners(triangle);
    let corners = after.mesh.triangles[triangle as usize];
    let normal = (b - a).cross(&(c - a));
    let whole = normal.norm_squared().max(1e-30);
    let share_b = (c - a).cross(&(a - point)).dot(&-normal) / whole;
    let share_c = (a - b).cross(&(a - point)).dot(&-normal) / whole;
    let (share_b, share_c) = (share_b.clamp(0.0, 1.0), share_c.clamp(0.0, 1.0));
    value(corners[0]) * (1.0 - share_b - share_c) + value(corners[1]) * share_b + value(corners[2]) * share_c
}
