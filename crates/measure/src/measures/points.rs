//! `reduction.points.*`: how much was cut at the customary points.

use kerfwright_tooth::Kind;
use nalgebra::Vector3;

use super::NO_BEFORE;
use crate::front::FrontZones;
use crate::preparation::Preparation;
use crate::sheet::{Sheet, expanded, number};
use crate::zones::{OcclusalVertex, tooth_relief};

/// Radius of the spot over which the distance is averaged, mm.
const SPOT_MM: f64 = 0.4;
/// Prepared surface this near to a point, seen along the axis, lies under it, mm.
const BESIDE_MM: f64 = 0.2;
/// Fewer vertices are no spot.
const LEAST_VERTICES: usize = 6;
/// What the place of a point leaves open, mm (1 sigma, from phantom scans): reduction changes beside a cusp's tip.
const PLACE_MM: f64 = 0.015;

/// Mean closest distance to the uncut surface over the spots of the prepared one that lie under the customary points of
/// the uncut tooth, seen along its axis. A spot has a radius of 0.4 mm, as a gauge's tip has: right under a cusp's tip
/// the distance has a crest, and a single point on it would follow every degree of the axis.
///
/// Where no prepared occlusal surface lies under a point (a fossa at the marginal ridge, over the axial wall) the
/// spot is the nearest one that does, seen along the axis.
///
/// Molars: the tips `mb`, `db`, `ml`, `dl` and the mesial and distal fossa `mf`, `df`. Premolars: `b`, `l` (or `ml`,
/// `dl`), `mf`, `df`. Incisors: the incisal edge at a sixth, a half and five sixths of its prepared length, `mi`, `i`,
/// `di`, and the middle of the lingual fossa, `lf`. Canines: `tip`, half-way from it to both ends `mi` and `di`, `lf`.
pub fn take(preparation: &Preparation<'_>, sheet: &mut Sheet) {
    let customary = customary(preparation);
    for (name, place) in customary.points {
        let id = format!("reduction.points.{name}_mm");
        let Some(change) = &preparation.change else {
            sheet.refuse(id, NO_BEFORE);
            continue;
        };
        let Some(place) = place else {
            sheet.refuse(id, missing(name));
            continue;
        };
        let (centre, spot) = spot(&customary.surface, &place);
        let distances: Vec<(f64, f64)> = spot
            .iter()
            .filter_map(|vertex| {
                let near = change.near[vertex.vertex as usize].filter(|near| !near.on_border)?;
                Some((near.signed_mm.abs(), vertex.area_mm2))
            })
            .collect();
        let Some(centre) = centre.filter(|_| distances.len() >= LEAST_VERTICES) else {
            sheet.refuse(id, "the surface under this point was not scanned before and after cutting");
            continue;
        };
        let total: f64 = distances.iter().map(|pair| pair.1).sum();
        let value = distances.iter().map(|pair| pair.0 * pair.1).sum::<f64>() / total;
        let scatter_mm = preparation.noise_mm / (distances.len() as f64).sqrt();
        let u95 = expanded(&[preparation.pose_sigma_mm(), scatter_mm, PLACE_MM]);
        sheet.write(id, number(value, "mm", u95).at(Some(preparation.place_of_vertex(centre))));
    }
}

/// The prepared vertices within the spot's radius of the one nearest to a place, seen along the axis, and that one.
fn spot<'a>(
    surface: &'a [OcclusalVertex],
    place: &Vector3<f64>,
) -> (Option<u32>, Vec<&'a OcclusalVertex>) {
    let off = |vertex: &OcclusalVertex, from: &Vector3<f64>| (vertex.place - from).xy().norm();
    let Some(nearest) = surface.iter().min_by(|a, b| off(a, place).total_cmp(&off(b, place))) else {
        return (None, Vec::new());
    };
    let from = if off(nearest, place) > BESIDE_MM { &nearest.place } else { place };
    let spot = surface.iter().filter(|vertex| off(vertex, from) < SPOT_MM).collect();
    (Some(nearest.vertex), spot)
}

/// The customary points of a tooth and the prepared surface on which they are read.
struct Customary {
    points: Vec<(&'static str, Option<Vector3<f64>>)>,
    surface: Vec<OcclusalVertex>,
}

/// The customary points in the tooth frame; without a before scan only their names count.
fn customary(preparation: &Preparation<'_>) -> Customary {
    let kind = preparation.tooth.kind();
    if matches!(kind, Kind::Premolar | Kind::Molar) {
        let points = preparation.occlusal.landmarks.customary(preparation.tooth);
        return Customary { points, surface: preparation.occlusal.vertices.clone() };
    }
    let names: [&'static str; 3] =
        if kind == Kind::Canine { ["mi", "tip", "di"] } else { ["mi", "i", "di"] };
    let Some(before) = &preparation.scene.before else {
        let points = names.into_iter().chain(["lf"]).map(|name| (name, None)).collect();
        return Customary { points, surface: Vec::new() };
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
    let surface = [zones.incisal, zones.fossa].concat();
    Customary { points, surface }
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
