//! Teeth covered in part, as by an onlay or a three-quarter crown: the finish line climbs over the crown, and on some
//! aspects there is no axial wall.

use crate::frame::Aspect;
use crate::outline::Outline;
use crate::preparation::Preparation;
use crate::station::Station;
use crate::zones::{Occlusal, OcclusalVertex, Source};

/// A wall lower than this is an edge's rounding, mm.
const LEAST_WALL_MM: f64 = 0.7;
/// A wall this far in from the finish line, farther than any is wide, stands across the channel of an onlay, mm; engineering judgement, no
/// source.
const ACROSS_MM: f64 = 2.5;
/// An aspect with walls at less than this share of its sections has none.
const LEAST_SHARE: f64 = 0.25;
/// Where there is no wall the occlusal surface begins so far inside the finish line, mm.
const INSET_MM: f64 = 0.25;
/// Where there is no wall at all, as after the first stage, so far inside: nearer to its rim the closest uncut surface is the
/// tooth's side, and the depth of the cut would read too small. As on a complete crown, whose lowest 1.5 mm do not count.
const RIM_MM: f64 = 1.5;
/// Unless less than this share of the surface is left: then it is too small to have a middle.
const LEAST_MIDDLE: f64 = 0.25;

/// The surfaces on which the preparation has no axial wall. Empty for a complete crown, and without a before scan, where a
/// wall may only have been missed.
pub fn uncovered(preparation: &Preparation<'_>) -> Vec<Aspect> {
    if preparation.scene.before.is_none() {
        return Vec::new();
    }
    let has_wall = |station: &&Station| {
        let wall = station.wall.as_ref().filter(|wall| wall.width_mm < ACROSS_MM);
        wall.and_then(|wall| wall.top).is_some_and(|top| top.y > LEAST_WALL_MM)
    };
    let is_bare = |aspect: &Aspect| {
        let seen = preparation.stations.iter().filter(|station| station.seen);
        let own: Vec<&Station> = seen.filter(|station| aspect.holds_in_middle(station.angle_deg)).collect();
        let n_walls = own.iter().filter(|station| has_wall(station)).count();
        own.len() >= 4 && (n_walls as f64) < LEAST_SHARE * own.len() as f64
    };
    Aspect::SURFACES.into_iter().filter(is_bare).collect()
}

/// What the user should know.
pub fn warning(uncovered: &[Aspect]) -> Option<String> {
    let names: Vec<&str> = uncovered.iter().map(|aspect| aspect.id()).collect();
    (!names.is_empty()).then(|| {
        format!(
            "covered in part: no axial wall on the {} aspect; what needs one there is refused",
            names.join(" and the ")
        )
    })
}

/// The cut vertices inside the finish line, however deep below it a cavity reaches.
pub fn prepared_vertices(preparation: &Preparation<'_>, outline: &Outline) -> Vec<bool> {
    let after = preparation.scene.after;
    let Some(change) = &preparation.change else { return vec![false; after.mesh.vertices.len()] };
    let cut = |vertex: usize| {
        let point = &after.mesh.vertices[vertex];
        if !outline.may_reach(point, 0.02, [-6.0, 15.0]) {
            return false;
        }
        let (radius_mm, height_mm, edge) = outline.place(point);
        // The last triangles at the rim changed by less than the threshold.
        let is_cut = change.reduction_mm[vertex] > 0.5 * change.threshold_mm;
        is_cut && radius_mm <= edge.0 + 0.02 && (-6.0..15.0).contains(&(height_mm - edge.1))
    };
    let found = crate::region::regions(after, cut);
    let largest = found.into_iter().max_by(|a, b| a.area_mm2.total_cmp(&b.area_mm2));
    largest.map_or_else(|| vec![false; after.mesh.vertices.len()], |region| region.inside)
}

/// The occlusal surface: above half the wall where there is a wall, a little inside the finish line where there is none, and well
/// inside it where there is none all round.
pub fn occlusal(preparation: &Preparation<'_>, source: Source<'_>, outline: &Outline) -> Occlusal {
    const BELOW_ALL_MM: f64 = -100.0;
    let everything = Source { finish_line_top_mm: BELOW_ALL_MM, least_wall_mm: 10.0, ..source };
    let mut occlusal = Occlusal::find(&everything);
    let mesh = &preparation.scene.after.mesh;
    let is_inside = |vertex: &OcclusalVertex, inset_mm: f64| {
        let point = &mesh.vertices[vertex.vertex as usize];
        let (radius_mm, height_mm, edge) = outline.place(point);
        match wall_top_mm(preparation, preparation.frame.angle_deg(point)) {
            Some(top_mm) => height_mm - edge.1 > 0.5 * top_mm,
            None => edge.0 - radius_mm > inset_mm,
        }
    };
    occlusal.vertices.retain(|vertex| is_inside(vertex, INSET_MM));
    let is_bare_all_round = preparation.uncovered.len() == Aspect::SURFACES.len();
    let n_middle = occlusal.vertices.iter().filter(|vertex| is_inside(vertex, RIM_MM)).count();
    if is_bare_all_round && n_middle as f64 > LEAST_MIDDLE * occlusal.vertices.len() as f64 {
        occlusal.vertices.retain(|vertex| is_inside(vertex, RIM_MM));
    }
    occlusal
}

/// Height of the wall over the finish line at the station nearest to an angle.
fn wall_top_mm(preparation: &Preparation<'_>, angle_deg: f64) -> Option<f64> {
    let off = |station: &Station| ((station.angle_deg - angle_deg + 180.0).rem_euclid(360.0) - 180.0).abs();
    let nearest = preparation.stations.iter().min_by(|a, b| off(a).total_cmp(&off(b)))?;
    nearest.wall.as_ref().and_then(|wall| wall.top).map(|top| top.y).filter(|top| *top > LEAST_WALL_MM)
}
