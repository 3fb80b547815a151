//! `kerf grade --advice` on files, as a user runs it.

use std::path::PathBuf;
use std::process::{Command, Output};
use std::sync::OnceLock;

use serde_json::{Value, json};

fn folder() -> PathBuf {
    let folder = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join("advice");
    std::fs::create_dir_all(&folder).unwrap();
    folder
}

/// A measurement with two readings of 26: made up, since here the printing is tried.
fn measurement() -> &'static PathBuf {
    // Written once: the tests run side by side.
    static WRITTEN: OnceLock<PathBuf> = OnceLock::new();
    WRITTEN.get_or_init(write_measurement)
}

fn write_measurement() -> PathBuf {
    let document = json!({
        "schema": "kerfwright-measurement-1",
        "tool": { "name": "kerf", "version": "0" }, "inputs": {},
        "tooth": { "fdi": 26, "taken_for": "", "mesial_because": "" },
        "frame": { "tooth_from_after": [[1, 0, 0, 0], [0, 1, 0, 0], [0, 0, 1, 0], [0, 0, 0, 1]],
                   "axis_sigma_deg": 1.5, "axis_evidence": [] },
        "path": { "direction": [0, 0, 1], "choice": "best" },
        "finish_line": { "length_mm": 25, "points": [], "stations": [] },
        "readings": {
            "reduction.occlusal.functional_mm": { "value": 1.02, "unit": "mm", "u95": 0.03 },
            "reduction.occlusal.nonfunctional_mm": { "value": 1.2, "unit": "mm", "u95": 0.03 }
        },
        "refused": {}, "warnings": [], "cautions": []
    });
    let path = folder().join("measurement.json");
    std::fs::write(&path, document.to_string()).unwrap();
    path
}

fn grade(more: &[&str]) -> Output {
    let document = measurement();
    Command::new(env!("CARGO_BIN_EXE_kerf"))
        .args(["grade", document.to_str().unwrap(), "--exercise", "quayside-26", "--stage", "occlusal"])
        .args(more)
        .output()
        .unwrap()
}

#[test]
fn advice_stands_under_the_table_in_the_language_asked_for() {
    let text = |more: &[&str]| String::from_utf8(grade(more).stdout).unwrap();
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
    assert_eq!(grade(&["--advice"]).status.code(), Some(1));
}

#[test]
fn advice_is_in_the_json_only_if_asked_for() {
    let path = folder().join("grade.json");
    let written = |more: &[&str]| {
        let output = grade(&[&["--quiet", "--json", path.to_str().unwrap()], more].concat());
        assert!(output.stdout.is_empty());
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
    let output = grade(&["--language", "es"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&output.stderr).contains("--advice"));
}
