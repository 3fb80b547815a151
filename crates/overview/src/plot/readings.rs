//! Readings of a class against their bands.

use kerfwright_class::Answer;
use kerfwright_class::cohort::Standing;

use super::draw::{Scale, band, ends, part, put, sheet};
use crate::criterion::{CriterionReport, Dot};
use crate::report::Report;

/// Height of a part.
const HEIGHT: f64 = 52.0;
/// Where its middle lies.
const MIDDLE: f64 = 20.0;
/// Radius of a dot.
const DOT: f64 = 3.6;

/// One reading on its own scale: the acceptable band, the ideal one in it, a sign a learner, the median as a bar. A dot lies within
/// or is not decided; a ring is proven outside, a diamond too close to call. Equal values stand over each other.
pub fn distribution(criterion: &CriterionReport) -> String {
    part(HEIGHT, &inside(criterion))
}

/// Every reading of the class, one below the other.
pub fn distributions(report: &Report) -> String {
    let drawn = report.criteria.iter().filter(|criterion| !criterion.dots.is_empty());
    let lines: Vec<_> = drawn
        .map(|criterion| {
            let more = match &criterion.distribution {
                Answer::Given(distribution) => {
                    format!("n = {}, median {:.2} {}", distribution.n, distribution.five[2], criterion.unit)
                }
                Answer::Refused(refusal) => refusal.to_string(),
            };
            (criterion.name.clone(), more, inside(criterion))
        })
        .collect();
    let title = format!(
        "{}, {}: the latest attempt of each of {} learners",
        report.title, report.stage, report.n_learners
    );
    let signs = "shaded: acceptable, darker: ideal; dot: within, ring: proven outside, diamond: too close to call; bar: median";
    sheet(&title, signs, &lines, HEIGHT)
}

fn inside(criterion: &CriterionReport) -> String {
    let mut out = String::new();
    if criterion.dots.is_empty() {
        return out;
    }
    let scale =
        Scale::of(criterion.dots.iter().map(|dot| dot.value), &[criterion.acceptable, criterion.ideal]);
    band(&mut out, &scale, criterion.acceptable, MIDDLE, "band");
    band(&mut out, &scale, criterion.ideal, MIDDLE, "ideal");
    if let Answer::Given(distribution) = &criterion.distribution {
        let x = scale.at(distribution.five[2]);
        put(&mut out, format_args!(r#"<path class="bar" d="M{x:.1} {:.1}v28"/>"#, MIDDLE - 14.0));
    }
    let mut sorted: Vec<&Dot> = criterion.dots.iter().collect();
    sorted.sort_by(|a, b| a.value.total_cmp(&b.value).then_with(|| a.learner.cmp(&b.learner)));
    // Where the last sign of each row ends.
    let mut rows = [f64::NEG_INFINITY; 5];
    for dot in sorted {
        let x = scale.at(dot.value);
        let row = rows.iter().position(|end| *end <= x - 2.0 * DOT).unwrap_or(0);
        rows[row] = x;
        // 0, up, down, further up, further down.
        let step = row.div_ceil(2) as f64 * if row % 2 == 1 { -1.0 } else { 1.0 };
        sign(&mut out, (x, MIDDLE + 5.0 * step), dot.standing);
    }
    ends(&mut out, &scale, HEIGHT - 6.0);
    out
}

/// The sign of one value, told apart by form.
pub fn sign(out: &mut String, (x, y): (f64, f64), standing: Standing) {
    match standing {
        Standing::Within => {
            put(out, format_args!(r#"<circle class="dot" cx="{x:.1}" cy="{y:.1}" r="{DOT}"/>"#));
        }
        Standing::Under | Standing::Over => {
            put(out, format_args!(r#"<circle class="miss" cx="{x:.1}" cy="{y:.1}" r="{DOT}"/>"#));
        }
        Standing::TooClose => put(
            out,
            format_args!(r#"<path class="doubt" d="M{:.1} {y:.1}l4.2 -4.2l4.2 4.2l-4.2 4.2z"/>"#, x - 4.2),
        ),
    }
}
