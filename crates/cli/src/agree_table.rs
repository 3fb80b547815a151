//! Agreement of examiners for the eye.

use std::fmt::Write;

use kerfwright_class::agreement::{Overview, Pair, Repeats};
use kerfwright_class::severity::{Disagreements, Severity};
use kerfwright_class::{Answer, Estimate, Refusal, Settings};

use crate::commands::class::agree::Agreement;

/// Places that are named where examiners differ most.
const PLACES: usize = 5;

/// Width of the column of names.
const NAMES: usize = 62;

/// All criteria, one under the other.
pub fn render(agreements: &[Agreement], settings: &Settings) -> String {
    let mut out = String::new();
    for agreement in agreements {
        out += &heading(&agreement.overview, settings);
        out += &coefficients(&agreement.overview);
        out += &pairs(&agreement.overview.pairs);
        out += &repeats(&agreement.overview.repeats);
        out += &severities(&agreement.severity);
        out += &agreement.disagreements.given().map(places).unwrap_or_default();
        out.push('\n');
    }
    out + "No coefficient says who is right: two examiners may agree and both be wrong. Ratings are personal data: keep them private.\n"
}

fn heading(overview: &Overview, settings: &Settings) -> String {
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

fn coefficients(overview: &Overview) -> String {
    let mut out = line("mean share of agreeing pairs of examiners", estimate(&overview.percent));
    let fleiss = match &overview.fleiss_kappa {
        Answer::Given(kappa) => Ok(&kappa.kappa),
        Answer::Refused(refusal) => Err(refusal),
    };
    out += &line("Fleiss' kappa", fleiss);
    let scales = ["nominal", "ordinal", "interval", "ratio"];
    for (scale, alpha) in scales.iter().zip(&overview.alphas) {
        out += &line(&format!("Krippendorff's alpha, {scale}"), estimate(alpha));
    }
    let models = [
        "ICC(1,1), one-way random, single rating",
        "ICC(2,1), two-way random, absolute agreement, single rating",
        "ICC(3,1), two-way mixed, consistency, single rating",
        "ICC(1,k), one-way random, mean of k ratings",
        "ICC(2,k), two-way random, absolute agreement, mean of k",
        "ICC(3,k), two-way mixed, consistency, mean of k ratings",
    ];
    for (model, icc) in models.iter().zip(&overview.iccs) {
        out += &line(model, estimate(icc));
    }
    out
}

fn pairs(pairs: &[Pair]) -> String {
    let mut out = String::new();
    for pair in pairs {
        let both = pair.examiners.join(" and ");
        out += &line(&format!("{both}, share of attempts with agreement"), estimate(&pair.percent));
        for (kind, kappa) in ["", ", linear weights", ", quadratic weights"].iter().zip(&pair.kappas) {
            let kappa = match kappa {
                Answer::Given(kappa) => Ok(&kappa.kappa),
                Answer::Refused(refusal) => Err(refusal),
            };
            out += &line(&format!("{both}, Cohen's kappa{kind}"), kappa);
        }
    }
    block(&out)
}

fn repeats(repeats: &[Repeats]) -> String {
    let mut out = String::new();
    for again in repeats {
        let own = format!("{} and own earlier grade", again.examiner);
        out += &line(&format!("{own}, share of attempts with agreement"), estimate(&again.percent));
        let kappa = match &again.kappa {
            Answer::Given(kappa) => Ok(&kappa.kappa),
            Answer::Refused(refusal) => Err(refusal),
        };
        out += &line(&format!("{own}, kappa, quadratic weights"), kappa);
        let within = match &again.spread {
            Answer::Given(spread) => Ok(&spread.within),
            Answer::Refused(refusal) => Err(refusal),
        };
        out += &line(&format!("{own}, standard deviation"), within);
    }
    block(&out)
}

fn severities(severities: &[Severity]) -> String {
    let each = severities.iter().map(|severity| {
        line(&format!("{} less the others, mean", severity.examiner), estimate(&severity.to_others))
    });
    block(&each.collect::<String>())
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

fn block(lines: &str) -> String {
    if lines.is_empty() { String::new() } else { format!("\n{lines}") }
}

fn estimate(answer: &Answer<Estimate>) -> Result<&Estimate, &Refusal> {
    match answer {
        Answer::Given(estimate) => Ok(estimate),
        Answer::Refused(refusal) => Err(refusal),
    }
}

fn line(name: &str, answer: Result<&Estimate, &Refusal>) -> String {
    match answer {
        Err(refusal) => format!("  {name:NAMES$} {:>8}  {refusal}\n", "–"),
        Ok(estimate) => {
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
