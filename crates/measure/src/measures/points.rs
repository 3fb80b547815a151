//! `reduction.points.*`: how much was cut at the customary points.

use kerfwright_tooth::Kind;
use nalgebra::{Point3, Vector3};

use super::NO_BEFORE;
use crate::front::FrontZones;
use crate::preparation::Preparation;
use crate::sheet::{Sheet, expanded, number};
use crate::zones::tooth_relief;

/// Farthest that the uncut surface is looked for, mm.
const REACH_MM: f64 = 6.0;
/// What the place of a point leaves open, mm (1 sigma, from phantom scans): reduction changes beside a cusp's tip.
const PLACE_MM: f64 = 0.015;

/// Closest distance to the uncut surface from the prepared points that lie closest to the customary points of the uncut
/// tooth. Under a cusp's tip that is the prepared cusp's own summit, whichever way the tooth's axis is taken to run.
///
/// Molars: the tips `mb`, `db`, `ml`, `dl` and the mesial and distal fossa `mf`, `df`. Premolars: `b`, `l` (or `ml`,
/// `dl`), `mf`, `df`. Incisors: the incisal edge at a sixth, a half and five sixths of its prepared length, `di`, `i`,
/// `mi`, and the middle of the lingual fossa, `lf`. Canines: `tip`, half-way from it to both ends `mi` and `di`, `lf`.
pub fn take(preparation: &Preparation<'_>, sheet: &mut Sheet) {
    for (name, place) in customary(preparation) {
        let id = format!("reduction.points.{name}_mm");
        let Some(before) = &preparation.scene.before else {
            sheet.refuse(id, NO_BEFORE);
            continue;
        };
        let Some(place) = place else {
            sheet.refuse(id, missing(name));
            continue;
        };
        let Some(point) = prepared_beside(preparation, &place) else {
            sheet.refuse(id, "the prepared surface beside this point was not scanned");
            continue;
        };
        let Some(near) = before.nearest(&[point], REACH_MM)[0].filter(|near| !near.on_border) else {
            sheet.refuse(id, "the uncut surface over this point was not scanned");
            continue;
        };
        let u95 = expanded(&[preparation.pose_sigma_mm(), 1.1 * preparation.noise_mm, PLACE_MM]);
        let reading = number(near.signed_mm.abs(), "mm", u95).at(Some(preparation.place_of(&point)));
        sheet.write(id, reading);
    }
}

/// The customary points in the tooth frame; without a before scan only their names count.
fn customary(preparation: &Preparation<'_>) -> Vec<(&'static str, Option<Vector3<f64>>)> {
    let kind = preparation.tooth.kind();
    if matches!(kind, Kind::Premolar | Kind::Molar) {
        return preparation.occlusal.landmarks.customary(preparation.tooth);
    }
    let names: [&'static str; 3] =
        if kind == Kind::Canine { ["mi", "tip", "di"] } else { ["mi", "i", "di"] };
    let Some(before) = &preparation.scene.before else {
        return names.into_iter().chain(["lf"]).map(|name| (name, None)).collect();
    };
    let zones = FrontZones::of(preparation);
    let ridge = tooth_relief(before, &preparation.frame, &preparation.ring).ridge();
    let at = |mesial_mm: f64| {
        let off = |place: &Vector3<f64>| (place.x - mesial_mm).abs();
        ridge.iter().copied().min_by(|a, b| off(a).total_cmp(&off(b)))
    };
    let tip = ridge.iter().copied().max_by(|a, b| a.z.total_cmp(&b.z));
    let edge = zones.incisal_ends_mm().map(|(mesial, distal)| match (kind, tip) {
        (Kind::Canine, Some(tip)) => [at(0.5 * (tip.x + mesial)), Some(tip), at(0.5 * (tip.x + distal))],
        _ => [1.0 / 6.0, 0.5, 5.0 / 6.0].map(|share| at(mesial + (distal - mesial) * share)),
    });
    let mut points: Vec<_> = names.into_iter().zip(edge.unwrap_or([None; 3])).collect();
    points.push(("lf", zones.fossa_middle().map(|vertex| vertex.place)));
    points
}

/// The prepared point closest to a place of the uncut tooth.
fn prepared_beside(preparation: &Preparation<'_>, place: &Vector3<f64>) -> Option<Point3<f64>> {
    let frame = &preparation.frame;
    let point = frame.origin + frame.mesial * place.x + frame.facial * place.y + frame.occlusal * place.z;
    let after = preparation.scene.after;
    let closest = after.tree.closest(&point, REACH_MM)?;
    let corners = after.mesh.triangles[closest.triangle as usize];
    corners.iter().any(|&vertex| preparation.inside[vertex as usize]).then_some(closest.point)
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
