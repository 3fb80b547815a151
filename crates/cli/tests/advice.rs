//! `kerf grade --advice` on files, as a user runs it.

mod measurement;
mod program;

use std::sync::OnceLock;

use program::{folder, kerf};
use serde_json::{Value, json};

/// A measurement with two readings, written once.
fn measurement() -> &'static str {
    static WRITTEN: OnceLock<String> = OnceLock::new();
    WRITTEN.get_or_init(|| {
        measurement::write(
            &folder("advice"),
            &json!({
                "reduction.occlusal.functional_mm": { "value": 1.02, "unit": "mm", "u95": 0.03 },
                "reduction.occlusal.nonfunctional_mm": { "value": 1.2, "unit": "mm", "u95": 0.03 }
            }),
        )
    })
}

fn grade(more: &[&str]) -> (i32, String, String) {
    let arguments = ["grade", measurement(), "--exercise", "quayside-26", "--stage", "occlusal"];
    kerf(&[&arguments, more].concat())
}

#[test]
fn advice_stands_under_the_table_in_the_language_asked_for() {
    let text = |more: &[&str]| grade(more).1;
    let plain = text(&[]);
    let english = text(&["--advice"]);
    assert!(english.starts_with(&plain), "the table changes");
    assert!(
        english.contains("  1. Take another 0.38 mm off the functional cusps: lay the 1.6 mm round-end taper (ISO 806 314 198 524 016, taper-round-016) along")
    );
    let spanish = text(&["--advice", "--language", "es"]);
    assert!(
        spanish.contains("  1. Rebaja 0,38 mm más en las cúspides funcionales: apoya la fresa troncocónica")
    );
    assert_eq!(grade(&["--advice"]).0, 1);
}

#[test]
fn advice_is_in_the_json_only_if_asked_for() {
    let path = folder("advice-json").join("grade.json");
    let written = |more: &[&str]| {
        let (_, out, _) = grade(&[&["--quiet", "--json", path.to_str().unwrap()], more].concat());
        assert!(out.is_empty());
        serde_json::from_slice::<Value>(&std::fs::read(&path).unwrap()).unwrap()
    };
    let plain = written(&[]);
    let mut advised = written(&["--advice", "--language", "es"]);
    assert_eq!(advised["advice"]["language"], "es");
    assert_eq!(advised["advice"]["items"][0]["readings"][0], "reduction.occlusal.functional_mm");
    assert_eq!(advised["advice"]["items"][0]["urgency"], "mend");
    advised.as_object_mut().unwrap().remove("advice");
    assert_eq!(advised, plain);
}

#[test]
fn a_language_without_advice_is_a_slip() {
    let (status, _, fault) = grade(&["--language", "es"]);
    assert_eq!(status, 2);
    assert!(fault.contains("--advice"));
}
