//! What the readings of a front tooth's incisal edge and lingual fossa should say, from the phantom's exact surfaces.
//!
//! Both zones by the words of `docs/measures.md`, not by the cuts that made them. Heights over a grid in the tooth's own
//! frame, found by bisection of the exact body, stand for the surface; closest distances are to a scan without noise, as in
//! `truth_occlusal`; the lines of the walls are those of `exact_walls`.

use std::collections::BTreeMap;

use kerfwright_measure::document::Value;
use kerfwright_phantom::Phantom;
use nalgebra::{Point3, Vector2, Vector3};
use rayon::prelude::*;

use super::truth::{ExactWall, Expected, angle_deg, centre_of, exact_walls, line};
use super::truth_occlusal::{Before, height, inside_line, quantile};

const STEP_MM: f64 = 0.05;
/// The incisal edge faces within 45° of the path.
const FACING_COS: f64 = std::f64::consts::FRAC_1_SQRT_2;
const BELOW_TOP_MM: f64 = 1.0;
/// The fossa lies so far inside the line of the cingulum's wall, and within 45° of the lingual direction.
const INSIDE_WALL_MM: f64 = 0.15;
const HALF_ANGLE_DEG: f64 = 45.0;

/// Adds what is expected of incisal edge and lingual fossa.
pub fn add(phantom: &Phantom, all: &mut Expected) {
    let path = Vector3::from(phantom.truth().path);
    let places = places(phantom, &path);
    let is_edge = edge(&places, half_way(phantom, &places, &path));
    let walls = exact_walls(phantom, &path);
    let centre = centre_of(&line(phantom));
    let is_fossa = |k: usize| !is_edge[k] && in_fossa(&places[k], &walls, &centre, &path);
    let before = Before::of(phantom);
    let mut put = |id: &str, chosen: &(dyn Fn(usize) -> bool + Sync)| {
        let of = |k: usize| chosen(k).then(|| (before.distance_mm(&places[k].at), places[k].area_mm2));
        let pairs: Vec<(f64, f64)> = (0..places.len()).into_par_iter().filter_map(of).collect();
        all.insert(id.into(), Value::Number(quantile(&pairs, 0.5)));
        all.insert(format!("{id}#p05"), Value::Number(quantile(&pairs, 0.05)));
    };
    put("reduction.incisal_mm", &|k| is_edge[k]);
    put("reduction.lingual_fossa_mm", &is_fossa);
}

/// A place of the prepared surface, seen from the occlusal.
struct Place {
    at: Point3<f64>,
    /// Cosine of the angle between its normal and the path.
    facing: f64,
    /// Height along the path.
    up_mm: f64,
    area_mm2: f64,
    column: i64,
}

fn places(phantom: &Phantom, path: &Vector3<f64>) -> Vec<Place> {
    const NEAR_MM: f64 = 0.01;
    let line = line(phantom);
    let inside = |p: &Point3<f64>| phantom.is_inside_after(p);
    let cells: Vec<(i64, i64)> = (-110..=110).flat_map(|i| (-110..=110).map(move |j| (i, j))).collect();
    let place = |&(i, j): &(i64, i64)| {
        let at = Vector2::new(i as f64, j as f64) * STEP_MM;
        if !inside_line(&line, &at, 1.0) {
            return None;
        }
        let near = |dx: f64, dy: f64| height(&inside, &(at + Vector2::new(dx, dy)));
        let on = Point3::new(at.x, at.y, near(0.0, 0.0)?);
        let up = Vector3::new(
            (near(-NEAR_MM, 0.0)? - near(NEAR_MM, 0.0)?) / (2.0 * NEAR_MM),
            (near(0.0, -NEAR_MM)? - near(0.0, NEAR_MM)?) / (2.0 * NEAR_MM),
            1.0,
        );
        Some(Place {
            at: on,
            facing: up.normalize().dot(path),
            up_mm: on.coords.dot(path),
            area_mm2: up.norm() * STEP_MM * STEP_MM,
            column: i,
        })
    };
    cells.par_iter().filter_map(place).collect()
}

/// Half-way from the highest point of the finish line to the highest prepared place.
fn half_way(phantom: &Phantom, places: &[Place], path: &Vector3<f64>) -> f64 {
    let line_mm = line(phantom).iter().map(|p| p.coords.dot(path)).fold(f64::MIN, f64::max);
    0.5 * (line_mm + places.iter().map(|place| place.up_mm).fold(f64::MIN, f64::max))
}

fn edge(places: &[Place], half_way_mm: f64) -> Vec<bool> {
    let may = |place: &Place| place.facing > FACING_COS && place.up_mm > half_way_mm;
    let mut tops = BTreeMap::<i64, f64>::new();
    for place in places.iter().filter(|place| may(place)) {
        let top = tops.entry(place.column).or_insert(f64::MIN);
        *top = top.max(place.up_mm);
    }
    places.iter().map(|place| may(place) && place.up_mm > tops[&place.column] - BELOW_TOP_MM).collect()
}

fn in_fossa(place: &Place, walls: &[ExactWall], centre: &Point3<f64>, path: &Vector3<f64>) -> bool {
    let own_deg = angle_deg(&place.at, centre);
    let off_deg = |other_deg: f64| ((other_deg - own_deg + 180.0).rem_euclid(360.0) - 180.0).abs();
    if off_deg(270.0) > HALF_ANGLE_DEG {
        return false;
    }
    let near = walls.iter().min_by(|a, b| off_deg(a.angle_deg).total_cmp(&off_deg(b.angle_deg)));
    near.is_some_and(|wall| {
        let from = place.at - wall.edge;
        let (inward_mm, up_mm) = (from.dot(&wall.inward), from.dot(path));
        let line_mm = wall.width_mm + wall.taper_deg.to_radians().tan() * up_mm;
        up_mm > wall.middle_mm && inward_mm - line_mm > INSIDE_WALL_MM
    })
}
