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
