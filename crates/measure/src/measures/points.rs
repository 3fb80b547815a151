//! `reduction.points.*`: how much was cut at the customary points.

use kerfwright_geometry::closest_on_triangle;
use kerfwright_tooth::Kind;
use nalgebra::{Point3, Vector3};

use super::NO_BEFORE;
use crate::front::FrontZones;
use crate::preparation::Preparation;
use crate::scene::Placed;
use crate::sheet::{Sheet, expanded, number};
use crate::zones::tooth_relief;

/// Farthest that prepared surface is looked for, mm.
const REACH_MM: f64 = 6.0;
/// What the place of a point leaves open, mm (1 sigma, from phantom scans): reduction changes beside a cusp's tip.
const PLACE_MM: f64 = 0.021;

/// Distance from the customary points of the uncut tooth to the closest prepared surface: the greatest thickness that
/// a crown of the original contour can have under its cusp tips and fossae.
///
/// Taken from the uncut point, not from a prepared one under it: what lies under a point hangs on the tooth's axis,
/// which is known to a few degrees only, and right under a cusp's tip the distance changes by 0.5 mm a mm.
///
/// Molars: the tips `mb`, `db`, `ml`, `dl` and the mesial and distal fossa `mf`, `df`. Premolars: `b`, `l` (or `ml`,
/// `dl`), `mf`, `df`. Incisors: the incisal edge at a sixth, a half and five sixths of its prepared length, `mi`, `i`,
/// `di`, and the uncut surface over the middle of the lingual fossa, `lf`. Canines: `tip`, half-way from it to both
/// ends `mi` and `di`, `lf`.
pub fn take(preparation: &Preparation<'_>, sheet: &mut Sheet) {
    let u95 = expanded(&[preparation.pose_sigma_mm(), preparation.noise_mm, PLACE_MM]);
    for (name, place) in customary(preparation) {
        let id = format!("reduction.points.{name}_mm");
        if preparation.scene.before.is_none() {
            sheet.refuse(id, NO_BEFORE);
            continue;
        }
        let Some(point) = place else {
            sheet.refuse(id, missing(name));
            continue;
        };
        match closest_prepared(preparation, &point) {
            Some((vertex, distance_mm)) => {
                let place = preparation.place_of_vertex(vertex);
                sheet.write(id, number(distance_mm, "mm", u95).at(Some(place)));
            }
            None => sheet.refuse(id, "the prepared surface under this point was not scanned"),
        }
    }
}

/// The closest prepared surface: its nearest vertex and the distance.
fn closest_prepared(preparation: &Preparation<'_>, point: &Point3<f64>) -> Option<(u32, f64)> {
    let after = preparation.scene.after;
    let inside = (0..after.mesh.vertices.len() as u32).filter(|&vertex| preparation.inside[vertex as usize]);
    let off = |vertex: u32| (after.mesh.vertices[vertex as usize] - point).norm_squared();
    let nearest = inside.min_by(|&a, &b| off(a).total_cmp(&off(b)))?;
    let around = after.topology.vertex_neighbours(nearest).iter().chain([&nearest]);
    let triangles = around.flat_map(|&vertex| after.topology.vertex_triangles(vertex));
    let distances = triangles.map(|&triangle| {
        let (_, squared_mm2, _) = closest_on_triangle(point, &after.mesh.corners(triangle));
        squared_mm2
    });
    let distance_mm = distances.fold(f64::INFINITY, f64::min).sqrt();
    (distance_mm < REACH_MM).then_some((nearest, distance_mm))
}

/// The customary points on the uncut surface, after frame; without a before scan only their names count.
fn customary(preparation: &Preparation<'_>) -> Vec<(&'static str, Option<Point3<f64>>)> {
    let kind = preparation.tooth.kind();
    let named = match (kind, &preparation.scene.before) {
        (Kind::Premolar | Kind::Molar, _) => preparation.occlusal.landmarks.customary(preparation.tooth),
        (_, Some(before)) => front(preparation, before),
        (Kind::Canine, None) => ["mi", "tip", "di", "lf"].map(|name| (name, None)).to_vec(),
        (Kind::Incisor, None) => ["mi", "i", "di", "lf"].map(|name| (name, None)).to_vec(),
    };
    let on_surface = |place: Vector3<f64>| on_uncut(preparation, &place);
    named.into_iter().map(|(name, place)| (name, place.and_then(on_surface))).collect()
}

/// Incisal edge and lingual fossa of a front tooth.
fn front(preparation: &Preparation<'_>, before: &Placed<'_>) -> Vec<(&'static str, Option<Vector3<f64>>)> {
    let zones = FrontZones::of(preparation);
    let ridge = tooth_relief(before, &preparation.frame, &preparation.ring).ridge();
    let at = |mesial_mm: f64| {
        let off = |place: &Vector3<f64>| (place.x - mesial_mm).abs();
        ridge.iter().copied().min_by(|a, b| off(a).total_cmp(&off(b)))
    };
    let tip = ridge.iter().copied().max_by(|a, b| a.z.total_cmp(&b.z));
    let ends = zones.incisal_ends_mm();
    let (middle_name, edge) = match (preparation.tooth.kind(), tip) {
        (Kind::Canine, Some(tip)) => {
            let half_way = |end_mm: f64| at(0.5 * (tip.x + end_mm));
            let ends = ends.map(|(mesial, distal)| [half_way(mesial), Some(tip), half_way(distal)]);
            ("tip", ends)
        }
        _ => {
            let shares = [1.0 / 6.0, 0.5, 5.0 / 6.0];
            ("i", ends.map(|(mesial, distal)| shares.map(|share| at(mesial + (distal - mesial) * share))))
        }
    };
    let edge = edge.unwrap_or([None; 3]);
    // The fossa is steep: what stands straight over its middle is the incisal edge.
    let fossa = zones.fossa_middle().and_then(|middle| {
        let near = preparation.change.as_ref()?.near[middle.vertex as usize]?;
        Some(preparation.frame.coordinates(&near.point))
    });
    vec![("mi", edge[0]), (middle_name, edge[1]), ("di", edge[2]), ("lf", fossa)]
}

/// The uncut surface over a place, seen along the tooth's axis: the relief's own heights are smoothed, which takes 0.02
/// mm off a cusp's tip.
fn on_uncut(preparation: &Preparation<'_>, place: &Vector3<f64>) -> Option<Point3<f64>> {
    const ABOVE_MM: f64 = 16.0;
    let before = preparation.scene.before.as_ref()?;
    let frame = &preparation.frame;
    let above = frame.origin + frame.mesial * place.x + frame.facial * place.y + frame.occlusal * ABOVE_MM;
    let own = before.after_from_scan.inverse();
    let hit = before.surface.tree.ray(&(own * above), &(own * -frame.occlusal), ABOVE_MM + 4.0)?;
    Some(above - frame.occlusal * hit.distance_mm)
}

fn missing(name: &str) -> String {
    let point = match name {
        "mb" => "mesiofacial cusp tip",
        "db" => "distofacial cusp tip",
        "ml" => "mesiolingual cusp tip",
        "dl" => "distolingual cusp tip",
        "b" => "facial cusp tip",
        "l" => "lingual cusp tip",
        "mf" => "mesial fossa",
        "df" => "distal fossa",
        "lf" => "lingual fossa above the wall of the cingulum",
        _ => "incisal edge",
    };
    format!("no {point} was found on this tooth")
}
