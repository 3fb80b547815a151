//! A report as tables of text.

use kerfwright_class::{Answer, Estimate, table};

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
