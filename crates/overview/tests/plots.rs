//! Plots and figures of made-up ratings and values: the parts are those of the whole, and form tells apart what colour does.

use kerfwright_class::cohort::{Band, Standing, distribution};
use kerfwright_class::{Answer, Rating, Settings};
use kerfwright_overview::{Agreement, CriterionReport, Dot, Key, Known, plot, sheet};

fn rating(examiner: &str, attempt: u32, occasion: u32, value: u32) -> Rating {
    Rating {
        examiner: examiner.into(),
        attempt: format!("Q{attempt:02}"),
        criterion: "taper".into(),
        occasion,
        value: f64::from(value),
    }
}

/// Three examiners on eight attempts; QS-E3 gives one less on every second.
fn ratings() -> Vec<Rating> {
    let mut ratings = Vec::new();
    for attempt in 1..=8 {
        for examiner in ["QS-E1", "QS-E2", "QS-E3"] {
            let value = 1 + attempt % 3 - u32::from(examiner == "QS-E3" && attempt % 2 == 0);
            ratings.push(rating(examiner, attempt, 0, value));
            if attempt <= 4 {
                ratings.push(rating(examiner, attempt, 1, value));
            }
        }
    }
    ratings
}

/// What stands inside a drawing.
fn inside(svg: &str) -> &str {
    let from = svg.find('>').unwrap() + 1;
    svg[from..].strip_suffix("</svg>").unwrap()
}

#[test]
fn every_figure_stands_in_the_table_and_the_given_ones_in_the_plot() {
    let agreement = Agreement::of(&ratings(), &Known::default(), "taper", &Settings::default()).unwrap();
    let figures = agreement.figures();
    // 12 of all, 4 of each pair, 3 of each who graded again, 1 of each against the others, 3 of each against what was measured.
    assert_eq!(figures.len(), 12 + 3 * 4 + 3 * 3 + 3 + 3 * 3);
    let (csv, whole) = (sheet::agreements(std::slice::from_ref(&agreement)), plot::agreement(&agreement));
    assert_eq!(csv.lines().count(), 1 + figures.len());
    for figure in &figures {
        assert!(csv.contains(&figure.name.replace('"', "\"\"")), "{}", figure.name);
        match (&figure.answer, plot::interval(figure, &figures)) {
            (Answer::Given(estimate), Some(part)) => {
                assert!(whole.contains(inside(&part)), "{}", figure.name);
                assert!(csv.contains(&estimate.value.to_string()));
            }
            (Answer::Refused(refusal), None) => {
                assert!(whole.contains(&refusal.to_string()) && csv.contains(&refusal.to_string()))
            }
            other => panic!("{}: {other:?}", figure.name),
        }
    }
    let severe = figures.iter().find(|figure| figure.name.starts_with("QS-E3 less")).unwrap();
    assert!(severe.answer.given().unwrap().value < 0.0);
}

#[test]
fn outcomes_differ_in_form_and_equal_values_stand_over_each_other() {
    let acceptable = Band { from: Some(1.0), to: Some(2.0) };
    let dot = |value, standing| Dot { learner: None, value, guard: 0.05, standing };
    let criterion = CriterionReport {
        key: Key { criterion: "walls".into(), reading: "taper.distal_deg".into(), part: None },
        title: "Taper".into(),
        name: "taper, distal".into(),
        unit: "deg".into(),
        ideal: acceptable,
        acceptable,
        distribution: distribution(&[], &acceptable, &Settings::default()).into(),
        n_not_measured: 0,
        dots: vec![
            dot(1.5, Standing::Within),
            dot(1.5, Standing::Within),
            dot(3.0, Standing::Over),
            dot(2.01, Standing::TooClose),
        ],
    };
    let drawn = plot::distribution(&criterion);
    let n = |what: &str| drawn.matches(what).count();
    assert_eq!(
        [n("<circle class=\"dot\""), n("<circle class=\"miss\""), n("<path class=\"doubt\"")],
        [2, 1, 1]
    );
    let heights: std::collections::BTreeSet<&str> = drawn
        .split("<circle class=\"dot\"")
        .skip(1)
        .map(|rest| rest.split("cy=\"").nth(1).unwrap().split('"').next().unwrap())
        .collect();
    assert_eq!(heights.len(), 2, "{drawn}");
}
