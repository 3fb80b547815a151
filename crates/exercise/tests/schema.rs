//! The published JSON Schema against the shipped files, with a general-purpose validator (crate jsonschema).

use kerfwright_exercise::{library, to_toml};
use serde_json::Value;

fn validator() -> jsonschema::Validator {
    let schema: Value = serde_json::from_str(include_str!("../../../docs/exercise.schema.json")).unwrap();
    jsonschema::draft202012::meta::validate(&schema).unwrap();
    jsonschema::draft202012::new(&schema).unwrap()
}

fn faults(text: &str) -> Vec<String> {
    let value: Value = toml::from_str(text).unwrap();
    validator().iter_errors(&value).map(|error| format!("{}: {error}", error.instance_path())).collect()
}

#[test]
fn shipped_files_are_valid_as_written_and_written_out() {
    for name in library::names() {
        assert_eq!(faults(library::text(name).unwrap()), Vec::<String>::new(), "{name}");
    }
    for name in library::exercise_names() {
        let whole = to_toml(&library::exercise(name).unwrap());
        assert_eq!(faults(&whole), Vec::<String>::new(), "{name}");
    }
}

#[test]
fn a_broken_inner_form_is_not() {
    let right = to_toml(&library::exercise("onlay-cast").unwrap());
    for (from, to) in
        [("isthmus_width_mm = ", "istmus_width_mm = "), ("divergence_deg = 5", "divergence_deg = 0")]
    {
        assert!(right.contains(from), "{from}");
        assert!(!faults(&right.replacen(from, to, 1)).is_empty(), "{to} passes");
    }
}

#[test]
fn broken_files_are_not() {
    let right = to_toml(&library::exercise("cast-crown-molar").unwrap());
    for (what, from, to) in [
        ("an unknown key", "summary = ", "sumary = "),
        ("an unknown key of a criterion", "weight = 3", "wieght = 3"),
        ("a negative weight", "weight = 3", "weight = -3"),
        ("an open range without an end", "{ from = 4 }", "{}"),
        ("a range of three", "[10, 20]", "[10, 15, 20]"),
        ("a tooth that does not exist", "[\"molar\"]", "[\"tusk\"]"),
        ("a choice that there is not", "too_close = \"benefit\"", "too_close = \"generous\""),
        ("an id in capitals", "id = \"final\"", "id = \"FINAL\""),
        ("another layout", "kerfwright-exercise-1", "kerfwright-exercise-2"),
    ] {
        assert!(right.contains(from), "{what}: `{from}` is not there");
        assert!(!faults(&right.replacen(from, to, 1)).is_empty(), "{what} passes");
    }
}
