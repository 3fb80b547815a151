//! What examiners gave is held against what is known of the same criteria of the same attempts, and only on one scale.

use std::collections::BTreeMap;

use kerfwright_class::{Answer, Measured, Rating, Refusal, Settings};
use kerfwright_exercise::library;
use kerfwright_grade::{Grade, Level, grade};
use kerfwright_measure::Document;
use kerfwright_overview::{Agreement, FigureOf, Known, Mark, Way, calibration, known_level, sheet};
use serde_json::json;

const READING: &str = "reduction.axial.distal.middle_mm";

fn graded(reduction_mm: f64) -> Grade {
    let rows =
        json!([[1.0, 0.0, 0.0, 0.0], [0.0, 1.0, 0.0, 0.0], [0.0, 0.0, 1.0, 0.0], [0.0, 0.0, 0.0, 1.0]]);
    let document: Document = serde_json::from_value(json!({
        "schema": "kerfwright-measurement-1",
        "tool": {"name": "kerf", "version": "0.1.0"},
        "inputs": {},
        "tooth": {"fdi": 26, "taken_for": "26", "mesial_because": "given"},
        "frame": {"tooth_from_after": rows, "axis_sigma_deg": 0.1, "axis_evidence": []},
        "path": {"direction": [0.0, 0.0, 1.0], "choice": "best"},
        "finish_line": {"length_mm": 30.0, "points": [], "stations": []},
        "readings": {READING: {"value": reduction_mm, "unit": "mm", "u95": 0.04}},
        "refused": {},
        "warnings": [],
        "cautions": []
    }))
    .unwrap();
    grade(&document, &library::exercise("cast-crown-molar").unwrap(), None).unwrap()
}

/// A criterion of one reading, from one of several.
fn alone(grade: &Grade) -> Grade {
    let mut grade = grade.clone();
    grade.criteria.retain(|criterion| criterion.items.iter().any(|item| item.reading == READING));
    grade.criteria[0].items.retain(|item| item.reading == READING);
    grade
}

fn rating(examiner: &str, attempt: usize, criterion: &str, value: f64) -> Rating {
    Rating {
        examiner: examiner.into(),
        attempt: format!("Q{attempt}"),
        criterion: criterion.into(),
        occasion: 0,
        value,
    }
}

#[test]
fn levels_are_known_where_no_reading_leaves_them_open() {
    let whole = graded(0.2);
    let mut criterion = alone(&whole).criteria.remove(0);
    let item = criterion.items[0].clone();
    let mut of = |score: &str, levels: &[Level]| {
        criterion.places_score = serde_json::from_value(json!(score)).unwrap();
        criterion.items =
            levels.iter().map(|&level| kerfwright_grade::Item { level, ..item.clone() }).collect();
        known_level(&criterion)
    };
    use Level::{Acceptable, Ideal, NotAcceptable, NotMeasured, TooClose};
    assert_eq!(of("mean", &[Ideal, NotAcceptable, Acceptable]), Some(1.0));
    assert_eq!(of("mean", &[Ideal, TooClose]), None);
    assert_eq!(of("worst", &[Ideal, Acceptable]), Some(1.0));
    assert_eq!(of("worst", &[NotMeasured, NotAcceptable]), Some(0.0), "nothing is worse");
    assert_eq!(of("worst", &[NotMeasured, Acceptable]), None);
    assert_eq!(of("best", &[TooClose, Ideal]), Some(2.0), "nothing is better");
    assert_eq!(of("mean", &[]), None);
}

/// Distal axial reduction: acceptable from 0.4, ideal from 0.5 mm on.
#[test]
fn examiners_are_held_against_the_levels_of_the_same_attempts() {
    let mut known = Known::default();
    let mut ratings = Vec::new();
    for (attempt, (reduction_mm, level)) in
        [(0.1, 0.0), (0.2, 0.0), (0.41, f64::NAN), (0.7, 2.0), (0.8, 2.0)].into_iter().enumerate()
    {
        let grade = alone(&graded(reduction_mm));
        known.add(&format!("Q{attempt}"), &grade);
        let criterion = &grade.criteria[0].id;
        let given = if level.is_nan() { 1.0 } else { level };
        ratings.push(rating("E1", attempt, criterion, given));
        ratings.push(rating("E2", attempt, criterion, (given + 1.0).min(2.0)));
    }
    assert_eq!(known.levels.len(), 4, "0.41 ± 0.04 mm is too close to call: {known:?}");
    let criterion = ratings[0].criterion.clone();
    let of = |ratings: &[Rating], known: &Known| {
        Agreement::of(ratings, known, &criterion, &Settings::default()).unwrap()
    };
    let agreement = of(&ratings, &known);
    let against = agreement.against_measured.given().unwrap();
    assert_eq!(against[0].result.given().unwrap().bias.value, 0.0);
    let lenient = &against[1].result.given().unwrap().bias;
    assert_eq!((lenient.value, lenient.n), (0.5, 4));
    let severity = agreement.severity[1].to_measured.given().unwrap();
    assert_eq!(
        (severity.value, severity.interval),
        (lenient.value, lenient.interval),
        "one question, one answer"
    );
    let figures = agreement.figures();
    let shown = figures.iter().filter(|figure| figure.of == FigureOf::Measured).count();
    assert_eq!(shown, 2 * 3);

    ratings[0].value = 7.0;
    let stray = of(&ratings, &known);
    let refused = Refusal::OutOfRange {
        value: 7.0,
        expected: "one of the levels 0, 1 and 2, as which criteria are known",
    };
    assert_eq!(stray.against_measured, Answer::Refused(refused), "points are not held against levels");
    assert!(stray.severity[0].to_measured.given().is_none());
}

#[test]
fn readings_are_held_against_readings() {
    let value =
        |attempt: usize, value| Measured { attempt: format!("Q{attempt}"), criterion: READING.into(), value };
    let known = Known { values: vec![value(0, 0.5), value(1, 0.6), value(2, 0.9)], ..Known::default() };
    let ratings: Vec<Rating> =
        [0.6, 0.8, 1.2].into_iter().enumerate().map(|(k, value)| rating("E1", k, READING, value)).collect();
    let agreement = Agreement::of(&ratings, &known, READING, &Settings::default()).unwrap();
    let bias = agreement.against_measured.given().unwrap()[0].result.given().unwrap().bias.clone();
    assert!((bias.value - 0.2).abs() < 1e-12 && bias.n == 3);
}

/// Eight attempts, half of them proven ideal, half not acceptable. E1 gives one level more wherever there is one, and grades the first two again.
#[test]
fn a_calibration_says_where_who_differs_and_which_way() {
    let mut grades = BTreeMap::new();
    let mut marks = Vec::new();
    for attempt in 0..8 {
        let grade = alone(&graded(if attempt % 2 == 0 { 0.2 } else { 0.7 }));
        marks.push(mark(attempt, attempt, &grade, if attempt % 2 == 0 { 1.0 } else { 2.0 }));
        grades.insert(format!("Q{attempt}"), grade);
    }
    let open = alone(&graded(0.41));
    marks.push(mark(8, 8, &open, 0.0));
    grades.insert("Q8".into(), open);
    for (place, again) in [(9, 0), (10, 1)] {
        marks.push(mark(place, again, &grades[&format!("Q{again}")], 2.0));
    }
    let criterion = &grades["Q0"].criteria[0];
    let criteria = [(criterion.id.clone(), criterion.title.clone())];
    let of = |marks: &[Mark]| calibration("E1", &criteria, marks, &grades, &Settings::default()).unwrap();
    let found = of(&marks);
    let leaning = found.all.severity.given().unwrap();
    assert_eq!((leaning.value, leaning.n), (0.5, 8), "the first sight of each known attempt");
    // Four differences of 1, four of 0: standard deviation √(2/7); Student's t at 97.5 % with seven degrees of freedom is 2.3646.
    let reach = 2.3646 * (2.0_f64 / 7.0 / 8.0).sqrt();
    assert!((leaning.interval.unwrap().low - (0.5 - reach)).abs() < 0.5e-4);
    assert_eq!(found.all.way, Way::Lenient);
    assert_eq!((found.repeats.len(), found.n_repeats_same), (2, 1));
    assert_eq!(
        (found.repeats[0].codes.clone(), found.repeats[0].given),
        (["G00".into(), "G09".into()], [1.0, 2.0])
    );
    let one = &found.criteria[0];
    assert_eq!((one.codes.len(), one.n_known, one.n_same), (11, 10, 5));
    assert_eq!((one.codes[0].known, one.codes[0].differs, one.codes[1].differs), (Some(0.0), true, false));
    let reading = &one.codes[0].readings[0];
    assert_eq!(
        (reading.name.as_str(), reading.level),
        ("axial reduction, middle third, distal", Level::NotAcceptable)
    );
    assert_eq!((one.codes[8].known, one.codes[8].differs), (None, false), "too close to call");
    assert_eq!(one.codes[0].attempt.as_deref(), Some("Q0"));
    let csv = sheet::calibrations(std::slice::from_ref(&found));
    assert_eq!(csv.lines().nth(1), Some(format!("E1,{},G00,Q0,1,0,yes", criterion.id).as_str()));
    let hidden = serde_json::to_string(&found.without_attempts()).unwrap();
    assert!(!hidden.contains("Q0"), "{hidden}");

    // Three differences of the same size may be chance; six are none.
    let few = |n: usize| {
        let ideal: Vec<Mark> = marks.iter().filter(|mark| mark.given == 1.0).cloned().collect();
        let mut grades = grades.clone();
        let many: Vec<Mark> = (0..n)
            .map(|place| {
                grades.insert(format!("R{place}"), grades["Q0"].clone());
                Mark { attempt: format!("R{place}"), code: format!("G{place}"), ..ideal[0].clone() }
            })
            .collect();
        calibration("E1", &criteria, &many, &grades, &Settings::default()).unwrap().all.way
    };
    assert_eq!([few(2), few(5), few(6)], [Way::Open, Way::Open, Way::Lenient]);
}

fn mark(place: usize, attempt: usize, grade: &Grade, given: f64) -> Mark {
    Mark {
        code: format!("G{place:02}"),
        attempt: format!("Q{attempt}"),
        criterion: grade.criteria[0].id.clone(),
        given,
    }
}
