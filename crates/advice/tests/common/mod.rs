//! Hand-made exercises, measurements and kits. All numbers are invented for these tests.

#![allow(dead_code, reason = "each test file takes what it needs")]

use kerfwright_advice::{Advice, Concern};
use kerfwright_exercise::readings::{Places, Row};
use kerfwright_exercise::{Exercise, Shelf};
use kerfwright_grade::Grade;
use kerfwright_instrument::{Kit, read, shipped};
use kerfwright_measure::Document;
use serde_json::{Value, json};

/// An exercise for 26 and 35 with one criterion, written in its own lines.
pub fn exercise(criterion: &str) -> Exercise {
    let text = format!(
        r#"schema = "kerfwright-exercise-1"
name = "small"
title = "Small"
teeth = [26, 35, 21]
restoration = "complete crown"
material = "cast metal"

[[stage]]
id = "final"
title = "Final"

{criterion}
"#
    );
    kerfwright_exercise::read("small", &text, &Shelf::library())
        .unwrap_or_else(|faults| panic!("{faults}\n{text}"))
}

/// One criterion with these limits: `ideal_mm = [1, 2]` and the like.
pub fn criterion(reading: &str, limits: &str) -> String {
    format!(
        "[[stage.criterion]]\nid = \"one\"\ntitle = \"Title\"\nreading = \"{reading}\"\n{limits}\nsource = \"common practice, no source\"\n"
    )
}

/// A measurement of a tooth with a round finish line of 4 mm radius around the origin, frame as scanned, and these readings.
pub fn document(fdi: u8, readings: Value) -> Document {
    let line: Vec<[f64; 3]> = (0..360)
        .map(|degree| {
            let (sine, cosine) = f64::from(degree).to_radians().sin_cos();
            [4.0 * cosine, 4.0 * sine, 0.0]
        })
        .collect();
    let document = json!({
        "schema": "kerfwright-measurement-1",
        "tool": { "name": "kerf", "version": "0" },
        "inputs": {},
        "tooth": { "fdi": fdi, "taken_for": "", "mesial_because": "" },
        "frame": {
            "tooth_from_after": [[1.0, 0.0, 0.0, 0.0], [0.0, 1.0, 0.0, 0.0], [0.0, 0.0, 1.0, 0.0], [0.0, 0.0, 0.0, 1.0]],
            "axis_sigma_deg": 1.5, "axis_evidence": []
        },
        "path": { "direction": [0.0, 0.0, 1.0], "choice": "best" },
        "finish_line": { "length_mm": 25.1, "points": line, "stations": [] },
        "readings": readings,
        "refused": {}, "warnings": [], "cautions": []
    });
    serde_json::from_value(document).unwrap()
}

/// A number with its place.
pub fn number(value: f64, unit: &str, u95: f64, place: Option<([f64; 3], &str)>) -> Value {
    let mut reading = json!({ "value": value, "unit": unit, "u95": u95 });
    if let Some((point, aspect)) = place {
        let angle_deg = point[1].atan2(point[0]).to_degrees().rem_euclid(360.0);
        reading["where"] = json!({ "point": point, "aspect": aspect, "angle_deg": angle_deg });
    }
    reading
}

/// A word.
pub fn word(value: &str) -> Value {
    json!({ "value": value, "unit": "" })
}

/// The grade of one reading against one criterion.
pub fn graded(fdi: u8, reading: &str, value: Value, limits: &str) -> (Grade, Document) {
    let document = document(fdi, json!({ reading: value }));
    let exercise = exercise(&criterion(reading, limits));
    let grade = kerfwright_grade::grade(&document, &exercise, None).unwrap();
    (grade, document)
}

/// The first id that a row of the table of readings stands for.
pub fn first_id(row: &Row) -> String {
    let place = match row.places() {
        Places::None => return row.id.clone(),
        Places::These(names) => names.first().cloned().unwrap_or_default(),
        Places::Any if row.id.starts_with("space.") => "total".into(),
        Places::Any => "mb".into(),
    };
    row.id.replacen('*', &place, 1)
}

/// The kit that comes with the program.
pub fn kit() -> Kit {
    read(shipped()[0].1).unwrap()
}

/// What is said of one reading that is proven off.
pub fn on<'a>(advice: &'a [Advice], reading: &str) -> &'a Advice {
    let found = advice.iter().find(|one| one.concern == Concern::Amiss && one.readings == [reading]);
    found.unwrap_or_else(|| panic!("nothing on {reading} in {advice:#?}"))
}

/// The id of the instrument that is advised, empty if none is.
pub fn instrument(advice: &Advice) -> &str {
    advice.instrument.as_ref().map_or("", |tool| tool.id.as_str())
}

/// The aspect at which advice points, empty if it has no place.
pub fn aspect(advice: &Advice) -> &str {
    advice.place.as_ref().map_or("", |place| place.aspect.as_str())
}

/// Points of one criterion.
pub fn points(grade: &Grade, id: &str) -> f64 {
    grade.criteria.iter().find(|criterion| criterion.id == id).unwrap().points
}
