//! The document against its published JSON Schema (draft 2020-12), with a general-purpose validator (crate jsonschema).

use std::sync::OnceLock;

use kerfwright_phantom::ScanOptions;
use kerfwright_trial::common::{Files, phantoms};
use serde_json::{Value, json};

const SCHEMA: &str = include_str!("../../../docs/measurement.schema.json");

fn validator() -> jsonschema::Validator {
    let schema: Value = serde_json::from_str(SCHEMA).unwrap();
    jsonschema::draft202012::meta::validate(&schema).unwrap();
    jsonschema::draft202012::new(&schema).unwrap()
}

/// A real document of all three scans, and one of the after scan alone.
fn documents() -> &'static [Value; 2] {
    static DOCUMENTS: OnceLock<[Value; 2]> = OnceLock::new();
    DOCUMENTS.get_or_init(|| {
        let scans = phantoms::short_arch_26().scan(&ScanOptions { seed: 6, ..ScanOptions::default() });
        let files = Files::of(&scans);
        [true, false].map(|all| serde_json::to_value(files.measure(26, all, all).unwrap()).unwrap())
    })
}

fn faults(document: &Value) -> Vec<String> {
    validator().iter_errors(document).map(|error| format!("{}: {error}", error.instance_path())).collect()
}

#[test]
fn real_documents_are_valid() {
    for document in documents() {
        assert_eq!(faults(document), Vec::<String>::new());
    }
}

#[test]
fn broken_documents_are_not() {
    type Break = fn(&mut Value);
    let breaks: [(&str, Break); 14] = [
        ("another layout", |document| document["schema"] = json!("kerfwright-measurement-2")),
        ("an unknown field", |document| document["grade"] = json!("B")),
        ("no cautions", |document| document["cautions"] = json!([])),
        ("a missing part", |document| {
            document.as_object_mut().unwrap().remove("refused");
        }),
        ("a tooth that does not exist", |document| document["tooth"]["fdi"] = json!(19)),
        ("a hash cut short", |document| document["inputs"]["after"]["sha256"] = json!("0123abc")),
        ("an unknown role", |document| document["inputs"]["wax_up"] = document["inputs"]["after"].clone()),
        ("an unknown reading", |document| {
            document["readings"]["taper.buccal_deg"] = document["readings"]["taper.facial_deg"].clone();
        }),
        ("a taper in mm", |document| document["readings"]["taper.facial_deg"]["unit"] = json!("mm")),
        ("a word for a number", |document| document["readings"]["taper.facial_deg"]["value"] = json!("6")),
        ("a number for a word", |document| {
            document["readings"]["finish_line.kind.facial"]["value"] = json!(1)
        }),
        ("a negative uncertainty", |document| document["readings"]["taper.facial_deg"]["u95"] = json!(-0.1)),
        ("an extra that is a list", |document| {
            document["readings"]["taper.facial_deg"]["all"] = json!([1, 2])
        }),
        ("a frame that scales", |document| document["frame"]["tooth_from_after"][3][3] = json!(2)),
    ];
    for (what, break_it) in breaks {
        let mut document = documents()[0].clone();
        break_it(&mut document);
        assert!(!faults(&document).is_empty(), "{what} passes");
    }
}

#[test]
fn every_reading_taken_is_described() {
    let schema: Value = serde_json::from_str(SCHEMA).unwrap();
    let readings = &schema["$defs"]["single"]["properties"]["readings"];
    for group in ["properties", "patternProperties"] {
        for (id, entry) in readings[group].as_object().unwrap() {
            assert!(
                entry["description"].as_str().is_some_and(|text| text.len() >= 10),
                "{id} has no description"
            );
        }
    }
    assert!(documents()[0]["readings"].as_object().unwrap().len() > 80);
}

/// Everything that the contract names is taken or refused with a reason, whatever scans are missing.
#[test]
fn every_reading_of_the_contract_is_taken_or_refused() {
    let surfaces = ["mesial", "facial", "distal", "lingual"];
    let around = ["mesiofacial", "distofacial", "distolingual", "mesiolingual"];
    let aspects = || surfaces.iter().chain(&around);
    let mut ids: Vec<String> = [
        "registration.residual_um",
        "registration.error",
        "scan.noise_um",
        "scan.edge_mm",
        "scan.void_pct",
        "reduction.occlusal.functional_mm",
        "reduction.occlusal.nonfunctional_mm",
        "reduction.occlusal.groove_mm",
        "reduction.occlusal.marginal_ridge_mm",
        "reduction.volume_mm3",
        "reduction.crown_pct",
        "clearance.mip_mm",
        "clearance.excursion.protrusion_mm",
        "toc.mesiodistal_deg",
        "toc.faciolingual_deg",
        "toc.mesiofacial_distolingual_deg",
        "toc.distofacial_mesiolingual_deg",
        "path.tilt_deg",
        "path.tilt_toward",
        "path.blocked_by",
        "undercut.area_mm2",
        "undercut.depth_mm",
        "undercut.where",
        "finish_line.lip_mm",
        "finish_line.lip_where",
        "finish_line.shoulder_from_deg",
        "finish_line.shoulder_to_deg",
        "finish_line.roughness_um",
        "finish_line.steps",
        "finish_line.in_contact",
        "finish_line.neighbour.mesial_mm",
        "finish_line.neighbour.distal_mm",
        "ratio.oc_fl",
        "resistance.limiting_taper_deg",
        "retention.axial_area_mm2",
        "facial.planes",
        "facial.second_plane_deg",
        "occlusal.incline.functional_outer_deg",
        "occlusal.incline.functional_inner_deg",
        "occlusal.incline.nonfunctional_inner_deg",
        "occlusal.incline.parallel_deg",
        "occlusal.cusp_line_mm",
        "edge.sharp_pct",
        "edge.least_radius_mm",
        "edge.where",
        "surface.roughness_um",
        "surface.steps",
        "neighbour.mesial.depth_mm",
        "neighbour.mesial.area_mm2",
        "neighbour.distal.depth_mm",
        "neighbour.distal.area_mm2",
        "space.total_mm",
        "isthmus.width_mm",
        "isthmus.depth_mm",
        "isthmus.divergence_deg",
        "box.mesial.width_mm",
        "box.mesial.depth_mm",
        "box.mesial.height_mm",
        "box.mesial.divergence_deg",
        "box.distal.width_mm",
        "box.distal.depth_mm",
        "box.distal.height_mm",
        "box.distal.divergence_deg",
    ]
    .map(String::from)
    .to_vec();
    ids.extend(["mb", "db", "ml", "dl", "mf", "df"].map(|point| format!("reduction.points.{point}_mm")));
    for aspect in surfaces {
        let thirds = ["gingival", "middle", "occlusal"];
        ids.extend(thirds.map(|third| format!("reduction.axial.{aspect}.{third}_mm")));
    }
    for aspect in aspects() {
        ids.push(format!("taper.{aspect}_deg"));
        ids.push(format!("wall.height.{aspect}_mm"));
        ids.push(format!("resistance.resisting_pct.{aspect}"));
        ids.push(format!("finish_line.kind.{aspect}"));
        for (name, unit) in [
            ("width", "mm"),
            ("declination", "deg"),
            ("cavosurface", "deg"),
            ("internal_radius", "mm"),
            ("above_gingiva", "mm"),
        ] {
            ids.push(format!("finish_line.{name}.{aspect}_{unit}"));
        }
    }
    for document in documents() {
        let missing: Vec<&String> = ids
            .iter()
            .filter(|id| {
                let reason = document["refused"][id.as_str()].as_str();
                document["readings"][id.as_str()].is_null() && reason.is_none_or(|reason| reason.len() < 10)
            })
            .collect();
        assert!(missing.is_empty(), "{missing:?}");
    }
}
