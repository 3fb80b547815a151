//! A report as tables of text.

use kerfwright_class::{Answer, Estimate, table};

use crate::agreement::Agreement;
use crate::calibration::Calibration;
use crate::report::Report;

/// Columns of the criteria.
const HEADING: [&str; 23] = [
    "exercise",
    "stage",
    "criterion",
    "reading",
    "part",
    "unit",
    "from",
    "to",
    "learners",
    "not_measured",
    "least",
    "lower_quartile",
    "median",
    "upper_quartile",
    "greatest",
    "under",
    "under_low",
    "under_high",
    "within",
    "over",
    "over_low",
    "over_high",
    "too_close",
];

/// The criteria of all reports, a line each. Shares run from 0 to 1; `_low` and `_high` are the ends of their intervals.
pub fn csv(reports: &[Report]) -> String {
    let mut rows = Vec::new();
    for report in reports {
        for criterion in &report.criteria {
            let band = criterion.acceptable;
            let number = |value: Option<f64>| value.map_or_else(String::new, |value| value.to_string());
            let mut row = vec![
                report.exercise.clone(),
                report.stage.clone(),
                criterion.key.criterion.clone(),
                criterion.key.reading.clone(),
                criterion.key.part.clone().unwrap_or_default(),
                criterion.unit.clone(),
                number(band.from),
                number(band.to),
                criterion.dots.len().to_string(),
                criterion.n_not_measured.to_string(),
            ];
            if let Answer::Given(distribution) = &criterion.distribution {
                row.extend(distribution.five.iter().map(ToString::to_string));
                let ends = |share: &Estimate| {
                    let interval = share.interval;
                    [
                        share.value.to_string(),
                        number(interval.map(|interval| interval.low)),
                        number(interval.map(|interval| interval.high)),
                    ]
                };
                row.extend(ends(&distribution.under));
                row.push(distribution.within.value.to_string());
                row.extend(ends(&distribution.over));
                row.push(distribution.too_close.value.to_string());
            }
            row.resize(HEADING.len(), String::new());
            rows.push(row);
        }
    }
    table::write(&HEADING, &rows)
}

/// The readings of each report's learner, a line an attempt and reading.
pub fn courses(reports: &[Report]) -> String {
    const HEADING: [&str; 12] = [
        "learner", "exercise", "stage", "attempt", "date", "reading", "unit", "value", "from", "to",
        "standing", "trend",
    ];
    let mut rows = Vec::new();
    for report in reports {
        let Some(learner) = &report.learner else { continue };
        for course in learner.courses.given().into_iter().flatten() {
            for point in &course.points {
                let attempt = learner.attempts.get(point.attempt as usize - 1);
                let number = |value: Option<f64>| value.map_or_else(String::new, |value| value.to_string());
                let unit = learner.readings.get(&course.criterion).map(|reading| reading.unit.clone());
                rows.push(vec![
                    learner.learner.clone(),
                    report.exercise.clone(),
                    report.stage.clone(),
                    point.attempt.to_string(),
                    attempt.map(|attempt| attempt.1.clone()).unwrap_or_default(),
                    course.criterion.clone(),
                    unit.unwrap_or_default(),
                    point.value.to_string(),
                    number(course.band.from),
                    number(course.band.to),
                    point.standing.words().into(),
                    course.trend.words().into(),
                ]);
            }
        }
    }
    table::write(&HEADING, &rows)
}

/// Every statistic of agreement, a line each; what was refused has its reason and no value.
pub fn agreements(agreements: &[Agreement]) -> String {
    const HEADING: [&str; 9] =
        ["criterion", "examiners", "statistic", "value", "low", "high", "confidence", "n", "why_not"];
    let mut rows = Vec::new();
    for agreement in agreements {
        for figure in agreement.figures() {
            let mut row = vec![
                agreement.overview.criterion.clone(),
                agreement.overview.examiners.join(" "),
                figure.name.clone(),
            ];
            match &figure.answer {
                Answer::Given(Estimate { value, interval, without_interval, n, .. }) => {
                    row.push(value.to_string());
                    match interval {
                        Some(interval) => {
                            row.extend(
                                [interval.low, interval.high, interval.confidence].map(|end| end.to_string()),
                            );
                        }
                        None => row.extend([String::new(), String::new(), String::new()]),
                    }
                    row.extend([n.to_string(), without_interval.unwrap_or_default().to_owned()]);
                }
                Answer::Refused(refusal) => {
                    row.resize(HEADING.len() - 1, String::new());
                    row.push(refusal.to_string());
                }
            }
            rows.push(row);
        }
    }
    table::write(&HEADING, &rows)
}

/// What examiners gave beside what is known, a line a code and criterion. Levels run from 0, not acceptable, to 2, ideal; `attempt` is empty while
/// somebody still grades.
pub fn calibrations(calibrations: &[Calibration]) -> String {
    const HEADING: [&str; 7] = ["examiner", "criterion", "code", "attempt", "given", "known", "differs"];
    let mut rows = Vec::new();
    for calibration in calibrations {
        for criterion in &calibration.criteria {
            for code in &criterion.codes {
                rows.push(vec![
                    calibration.examiner.clone(),
                    criterion.id.clone(),
                    code.code.clone(),
                    code.attempt.clone().unwrap_or_default(),
                    code.given.to_string(),
                    code.known.map_or_else(String::new, |known| known.to_string()),
                    if code.differs { "yes" } else { "no" }.into(),
                ]);
            }
        }
    }
    table::write(&HEADING, &rows)
}
