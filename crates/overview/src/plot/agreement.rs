//! Figures of agreement with their intervals.

use kerfwright_class::{Answer, Estimate};

use super::draw::{FROM, Scale, TO, aligned, ends, part, put, sheet};
use crate::agreement::{Agreement, Figure, FigureOf};

/// Height of a part.
const HEIGHT: f64 = 40.0;
/// Where its middle lies.
const MIDDLE: f64 = 12.0;

/// One figure with its interval, beside the others of its kind; nothing where it was refused.
pub fn interval(figure: &Figure, all: &[Figure]) -> Option<String> {
    let Answer::Given(estimate) = &figure.answer else { return None };
    Some(part(HEIGHT, &inside(estimate, &scale_of(figure, all))))
}

/// All figures of a criterion, one below the other; what was refused says why.
pub fn agreement(agreement: &Agreement) -> String {
    let figures = agreement.figures();
    let line = |figure: &Figure| match &figure.answer {
        Answer::Given(estimate) => {
            let reach = match (estimate.interval, estimate.without_interval) {
                (Some(interval), _) => format!(" ({:.2} to {:.2})", interval.low, interval.high),
                (None, why) => why.map_or(String::new(), |why| format!(" ({why})")),
            };
            let more = format!("{:.2}{reach}, n = {}", estimate.value, estimate.n);
            (figure.name.clone(), more, inside(estimate, &scale_of(figure, &figures)))
        }
        Answer::Refused(refusal) => (figure.name.clone(), refusal.to_string(), String::new()),
    };
    let lines: Vec<_> = figures.iter().map(line).collect();
    let overview = &agreement.overview;
    let title = format!(
        "{}: {} attempts, examiners {}",
        overview.criterion,
        overview.n_attempts,
        overview.examiners.join(", ")
    );
    sheet(
        &title,
        "dot: the statistic; line: its interval; bar: nothing but chance, or no difference",
        &lines,
        HEIGHT,
    )
}

/// Coefficients run from −1 to 1, as far as they reach; differences between examiners, and their spread, have a scale of their own.
fn scale_of(figure: &Figure, all: &[Figure]) -> Scale {
    let is_difference = |figure: &Figure| {
        matches!(figure.of, FigureOf::Severity | FigureOf::Measured)
            || figure.name.ends_with("standard deviation")
    };
    if !is_difference(figure) {
        return Scale { low: -1.0, high: 1.0 };
    }
    let given = all.iter().filter(|figure| is_difference(figure)).filter_map(|figure| figure.answer.given());
    let reach = given.flat_map(|estimate| {
        let interval = estimate.interval.map_or([0.0; 2], |interval| [interval.low, interval.high]);
        [estimate.value, interval[0], interval[1]]
    });
    let most = reach.fold(0.0_f64, |most, value| most.max(value.abs()));
    let most = if most > 0.0 { most } else { 1.0 };
    Scale { low: -most, high: most }
}

fn inside(estimate: &Estimate, scale: &Scale) -> String {
    let mut out = String::new();
    let at = |value: f64| scale.at(value.clamp(scale.low, scale.high));
    put(&mut out, format_args!(r#"<path class="axis" d="M{FROM} {MIDDLE}H{TO}"/>"#));
    put(&mut out, format_args!(r#"<path class="bar" d="M{:.1} {:.1}v14"/>"#, at(0.0), MIDDLE - 7.0));
    if let Some(interval) = estimate.interval {
        let (low, high) = (at(interval.low), at(interval.high));
        put(
            &mut out,
            format_args!(
                r#"<path class="reach" d="M{low:.1} {MIDDLE}H{high:.1}M{low:.1} {0:.1}v8M{high:.1} {0:.1}v8"/>"#,
                MIDDLE - 4.0
            ),
        );
    }
    put(
        &mut out,
        format_args!(r#"<circle class="dot" cx="{:.1}" cy="{MIDDLE}" r="4.5"/>"#, at(estimate.value)),
    );
    ends(&mut out, scale, HEIGHT - 4.0);
    aligned(&mut out, at(0.0), HEIGHT - 4.0, "s", "middle", "0");
    out
}
