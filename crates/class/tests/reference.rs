//! Against reference libraries: `cargo xtask reference class` makes the values again.

use kerfwright_class::Settings;
use kerfwright_class::agreement::{CrossTable, Model, Scale, Unit, Weights, alpha, fleiss_kappa, icc, kappa};
use kerfwright_class::items::{Item, items};
use serde_json::Value;

fn reference() -> Value {
    serde_json::from_str(include_str!("reference/reference.json")).unwrap()
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap()
}

fn row(value: &Value) -> Vec<f64> {
    value.as_array().unwrap().iter().map(number).collect()
}

fn rows(value: &Value) -> Vec<Vec<f64>> {
    value.as_array().unwrap().iter().map(row).collect()
}

fn assert_close(value: f64, expected: f64, tolerance: f64, what: &str) {
    assert!((value - expected).abs() <= tolerance, "{what}: {value}, reference {expected}");
}

/// The library rounds its intervals to two digits.
#[test]
fn intraclass_correlations_and_their_intervals() {
    let reference = reference();
    let targets = rows(&reference["icc"]["rows"]);
    let answers = reference["icc"]["answers"].as_array().unwrap();
    let models = [Unit::Single, Unit::Average]
        .into_iter()
        .flat_map(|unit| [Model::OneWay, Model::TwoWayRandom, Model::TwoWayMixed].map(|model| (model, unit)));
    for ((model, unit), answer) in models.zip(answers) {
        let estimate = icc(&targets, model, unit, &Settings::default()).unwrap();
        assert_close(estimate.value, number(&answer["value"]), 1e-10, estimate.method);
        let interval = estimate.interval.unwrap();
        let expected = row(&answer["interval"]);
        assert_close(interval.low, expected[0], 0.005, estimate.method);
        assert_close(interval.high, expected[1], 0.005, estimate.method);
    }
}

#[test]
fn kappas_and_their_errors() {
    let reference = reference();
    let sets = reference["kappa"].as_array().unwrap();
    assert_eq!(sets.len(), 7);
    for set in sets {
        let counts: Vec<Vec<u32>> = serde_json::from_value(set["counts"].clone()).unwrap();
        let ninths = |values: [u32; 3]| values.map(|value| f64::from(value) / 9.0).to_vec();
        let weights = match set["weights"].as_str() {
            None => Weights::Nominal,
            Some("linear") => Weights::Linear,
            Some("quadratic") => Weights::Quadratic,
            Some(_) => Weights::Similarity([[9, 0, 4], [0, 9, 6], [4, 6, 9]].map(ninths).to_vec()),
        };
        let table = CrossTable::from_counts(counts).unwrap();
        let result = kappa(&table, &weights, &Settings::default()).unwrap();
        assert_close(result.kappa.value, number(&set["kappa"]), 1e-10, result.kappa.method);
        assert_close(result.standard_error.unwrap(), number(&set["error"]), 1e-10, result.kappa.method);
    }
}

#[test]
fn fleiss_kappa_of_small_counts() {
    let counts = [[3, 0, 2], [1, 4, 0], [0, 5, 0], [2, 2, 1], [5, 0, 0], [1, 1, 3]];
    let counts: Vec<Vec<u32>> = counts.iter().map(|row| row.to_vec()).collect();
    let result = fleiss_kappa(&counts, &Settings::default()).unwrap();
    assert_close(result.kappa.value, number(&reference()["fleiss"]), 1e-10, "Fleiss' kappa");
}

#[test]
fn alphas_with_and_without_gaps() {
    let reference = reference();
    for set in reference["alpha"].as_array().unwrap() {
        let of = |row: &Value| row.as_array().unwrap().iter().map(Value::as_f64).collect();
        let rows: Vec<Vec<Option<f64>>> = set["rows"].as_array().unwrap().iter().map(of).collect();
        for (scale, name) in [
            (Scale::Nominal, "nominal"),
            (Scale::Ordinal, "ordinal"),
            (Scale::Interval, "interval"),
            (Scale::Ratio, "ratio"),
        ] {
            let estimate = alpha(&rows, scale, &Settings::default()).unwrap();
            assert_close(estimate.value, number(&set[name]), 1e-10, estimate.method);
        }
    }
}

#[test]
fn items_and_the_reliability_of_the_grade() {
    let reference = &reference()["items"];
    let some = |value: &Value| -> Vec<Vec<Option<f64>>> {
        rows(value).into_iter().map(|row| row.into_iter().map(Some).collect()).collect()
    };
    let scale =
        |most: f64| -> Vec<Item> { (0..5).map(|index| Item { name: format!("C{index}"), most }).collect() };
    let report = items(&some(&reference["rows"]), &scale(4.0), &Settings::default()).unwrap();
    let reliability = report.reliability.given().unwrap();
    assert_eq!((reliability.method, reliability.n), ("Cronbach's alpha", 20));
    assert_close(reliability.value, number(&reference["alpha"]), 1e-10, "alpha");
    let (interval, expected) = (reliability.interval.unwrap(), row(&reference["interval"]));
    // The library prints three digits.
    assert_close(interval.low, expected[0], 0.0005, "low");
    assert_close(interval.high, expected[1], 0.0005, "high");
    for (item, rest) in report.items.iter().zip(row(&reference["rest"])) {
        assert_close(item.discrimination.given().unwrap().value, rest, 1e-10, &item.name);
    }
    let passed = items(&some(&reference["passed"]), &scale(1.0), &Settings::default()).unwrap();
    let kr20 = passed.reliability.given().unwrap();
    assert_eq!(kr20.method, "KR-20");
    assert_close(kr20.value, number(&reference["kr20"]), 1e-10, "KR-20");
}
