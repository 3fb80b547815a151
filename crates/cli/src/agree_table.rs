//! Agreement of examiners for the eye.

use std::fmt::Write;

use kerfwright_class::severity::Disagreements;
use kerfwright_class::{Answer, Settings};
use kerfwright_overview::{AGREEMENT_CAUTION, Agreement, Figure};

/// Places that are named where examiners differ most.
const PLACES: usize = 5;

/// Width of the column of names.
const NAMES: usize = 62;

/// All criteria, one under the other.
pub fn render(agreements: &[Agreement], settings: &Settings) -> String {
    let mut out = String::new();
    for agreement in agreements {
        out += &heading(agreement, settings);
        let figures = agreement.figures();
        for (k, figure) in figures.iter().enumerate() {
            if k > 0 && figures[k - 1].of != figure.of {
                out.push('\n');
            }
            out += &line(figure);
        }
        out += &agreement.disagreements.given().map(places).unwrap_or_default();
        out.push('\n');
    }
    out + AGREEMENT_CAUTION + "\n"
}

fn heading(agreement: &Agreement, settings: &Settings) -> String {
    let overview = &agreement.overview;
    format!(
        "{}: {} attempts, {} of them rated by all examiners ({})\n\n  {:NAMES$} {:>8}  {:>16}  {:>4}\n",
        overview.criterion,
        overview.n_attempts,
        overview.n_complete,
        overview.examiners.join(", "),
        "",
        "value",
        format!("{} % interval", settings.confidence * 100.0),
        "n"
    )
}

fn places(disagreements: &Disagreements) -> String {
    let mut out = String::new();
    for place in disagreements.places.iter().take(PLACES) {
        let ((least, low), (most, high)) = (&place.least, &place.most);
        // Writing to a string cannot fail.
        let _ = writeln!(out, "  {}: {least} gave {low}, {most} gave {high}", place.attempt);
    }
    if out.is_empty() { out } else { format!("\n  farthest apart\n{out}") }
}

fn line(figure: &Figure) -> String {
    let name = &figure.name;
    match &figure.answer {
        Answer::Refused(refusal) => format!("  {name:NAMES$} {:>8}  {refusal}\n", "–"),
        Answer::Given(estimate) => {
            let why = estimate.without_interval.map(|why| format!("  {why}")).unwrap_or_default();
            let interval = estimate.interval.map_or_else(
                || "–".to_owned(),
                |interval| format!("{:.2} to {:.2}", interval.low, interval.high),
            );
            // Adding zero takes the sign from what rounds to nothing.
            let value = (estimate.value * 1000.0).round() / 1000.0 + 0.0;
            format!("  {name:NAMES$} {value:>8.3}  {interval:>16}  {:>4}{why}\n", estimate.n)
        }
    }
}
