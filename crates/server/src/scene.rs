//! The scene of an attempt: what the browser needs to know besides the meshes.

use std::sync::Arc;

use kerfwright_exercise::{Stage, Wanted};
use kerfwright_measure::document::rows;
use kerfwright_measure::frame::Aspect;
use kerfwright_view::colour::hex;
use kerfwright_view::maps::{Map, MapKind};
use kerfwright_view::view::coordinates;
use kerfwright_view::{Held, View};
use nalgebra::{Point3, Vector3};

use crate::wire::{AspectAnswer, Directions, LimitAnswer, MapAnswer, Scene, TargetPart, ViewAnswer};

/// Puts it together; limits are those of `stage`.
pub fn scene(view: &View, target: Option<&Result<Arc<Held>, String>>, stage: Option<&Stage>) -> Scene {
    let (target_notes, target_parts) = match target {
        None => (Vec::new(), Vec::new()),
        Some(Err(reason)) => (vec![reason.clone()], Vec::new()),
        Some(Ok(held)) => (held.notes.clone(), held.parts.iter().map(part).collect()),
    };
    Scene {
        fdi: view.tooth.fdi(),
        bodies: view.bodies().into_iter().map(|(which, _)| which).collect(),
        maps: view.maps.iter().map(|map| map_answer(map, stage)).collect(),
        views: views(view),
        directions: directions(view),
        screen_from_after: rows(&view.frame.screen_from_after.to_homogeneous()),
        aspects: Aspect::ALL.map(|aspect| aspect_answer(view, aspect)).to_vec(),
        finish_line: view.stations.iter().map(|station| coordinates(&station.point)).collect(),
        target_notes,
        target_parts,
    }
}

fn part(part: &kerfwright_plan::deviation::Part) -> TargetPart {
    TargetPart {
        part: part.part.clone(),
        median_mm: part.median_mm,
        over_cut_mm: part.over_cut_mm,
        under_cut_mm: part.under_cut_mm,
    }
}

fn map_answer(map: &Map, stage: Option<&Stage>) -> MapAnswer {
    let (kind, ramp) = (map.kind, map.kind.ramp());
    let share = |k: usize| ramp.least + (ramp.most - ramp.least) * k as f64 / 255.0;
    MapAnswer {
        id: kind,
        title: kind.title().into(),
        unit: kind.unit().into(),
        attribute: kind.attribute(),
        of: kind.of(),
        least: ramp.least,
        most: ramp.most,
        step: ramp.step,
        colour_map: ramp.name.into(),
        colours: (0..256).map(|k| hex(ramp.colour(share(k)))).collect(),
        legend: ramp.legend(kind.unit()),
        u95: kerfwright_measure::document::rounded(map.u95),
        limits: stage.map_or(Vec::new(), |stage| limits(kind, stage)),
    }
}

/// Limits on readings of which the map is the picture.
fn limits(kind: MapKind, stage: &Stage) -> Vec<LimitAnswer> {
    let family = match kind {
        MapKind::Reduction => "reduction.",
        MapKind::Clearance => "clearance.mip",
        MapKind::Taper => "taper.",
        MapKind::Undercut => "undercut.depth",
        MapKind::Damage => "neighbour.",
        MapKind::Deviation => return Vec::new(),
    };
    let unit = kind.unit();
    let criteria = stage.criteria.iter().filter(|criterion| criterion.unit == unit);
    let asked = criteria.flat_map(|criterion| {
        criterion.asked().into_iter().map(move |asked| (criterion.title.clone(), asked))
    });
    let of_family = asked.filter(|(_, asked)| asked.reading.starts_with(family));
    of_family
        .filter_map(|(title, asked)| match asked.wanted {
            Wanted::Number { ideal, acceptable } => Some(LimitAnswer {
                title,
                reading: asked.reading.clone(),
                place: asked.place.map(str::to_owned),
                ideal_from: ideal.from,
                ideal_to: ideal.to,
                acceptable_from: acceptable.from,
                acceptable_to: acceptable.to,
            }),
            Wanted::Words { .. } => None,
        })
        .collect()
}

fn directions(view: &View) -> Directions {
    let facial = Vector3::y() * view.frame.facial_sign;
    let row = |direction: Vector3<f64>| coordinates(&Point3::from(direction));
    Directions {
        mesial: row(Vector3::x()),
        distal: row(-Vector3::x()),
        facial: row(facial),
        lingual: row(-facial),
        occlusal: row(Vector3::z()),
        path: row(view.path),
    }
}

/// The five sides of the tooth; keys by their first letters.
fn views(view: &View) -> Vec<ViewAnswer> {
    let at = directions(view);
    let side = |name: &str, direction: [f64; 3], up: [f64; 3]| ViewAnswer {
        name: name.into(),
        key: name[..1].into(),
        direction,
        up,
    };
    vec![
        side("occlusal", at.occlusal, at.facial),
        side("mesial", at.mesial, at.occlusal),
        side("facial", at.facial, at.occlusal),
        side("distal", at.distal, at.occlusal),
        side("lingual", at.lingual, at.occlusal),
    ]
}

fn aspect_answer(view: &View, aspect: Aspect) -> AspectAnswer {
    let (sine, cosine) = aspect.centre_deg().to_radians().sin_cos();
    let direction = Point3::new(cosine, sine * view.frame.facial_sign, 0.0);
    AspectAnswer {
        name: aspect.id().into(),
        angle_deg: aspect.centre_deg(),
        direction: coordinates(&direction),
    }
}
