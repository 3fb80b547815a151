//! The accuracy page, as Markdown.

use std::collections::BTreeMap;
use std::fmt::Write;

use kerfwright_measure::document::Value;

use crate::batch::{CONDITIONS, Plan, Single, Trial};
use crate::preparations::PREPARATIONS;
use crate::statistics::{Summaries, Summary, summaries, tolerance_of};
use crate::tolerance::Tolerance;

/// The whole page of a trial.
pub fn page(plan: &Plan, trials: &[Trial]) -> String {
    let mut out = String::from("# Accuracy\n\n");
    intro(&mut out, plan, trials);
    let groups: Vec<(usize, Summaries)> = plan
        .conditions
        .iter()
        .map(|&c| (c, summaries(trials.iter().filter(|trial| trial.condition == c))))
        .collect();
    verdicts(&mut out, &groups);
    failures(&mut out, trials);
    not_read(&mut out, trials);
    furthest(&mut out, plan, trials);
    for (condition, summaries) in &groups {
        let condition = &CONDITIONS[*condition];
        let _ =
            write!(out, "\n## {}\n\n{}.\n\n{}", condition.name, capital(condition.what), table(summaries));
    }
    out
}

fn intro(out: &mut String, plan: &Plan, trials: &[Trial]) {
    let n = trials.len();
    let _ = writeln!(
        out,
        "Made by `cargo xtask accuracy`; every number below is computed, none is typed. {n} sets of scans of invented\n\
         preparations with exactly known geometry were measured as `kerf` measures: {} preparations, {} ways of\n\
         scanning, {} sets each, in random poses, with fixed seeds. The truth shares no code with the measuring. A point\n\
         on the mesial side was given with every set. Phantoms are no mouths: saliva, soft tissue, reflections and the\n\
         faults of a particular scanner are not in these figures.\n",
        plan.preparations.len(),
        plan.conditions.len(),
        plan.rescans
    );
    for &preparation in plan.preparations {
        let _ = writeln!(out, "- {}", PREPARATIONS[preparation].name);
    }
    out.push_str(
        "\nIn the tables *n* counts single readings (aspects count one by one). *Bias* is the mean error. *Repeats* is the\n\
         standard deviation over rescans of the same preparation, pooled. *95 %* is the size that 95 of 100 errors do not\n\
         exceed. *In u95* is the share of readings that lie within their own stated uncertainty of the truth; it should be\n\
         95 %. *Refused* counts readings that were not given though there is a truth. Errors are in the unit of the\n\
         tolerance: `%` means percent of the truth. For words the share of right ones stands under *95 %*. A `*` stands for\n\
         every aspect, plane or point. The tolerances hold for the first way of scanning; for the others they are only\n\
         printed beside what was found. Those of resistance are asked of bodies with closed forms, and whole measurements of\n\
         scanned round dies keep them (`crates/measure/tests/hold_die.rs`); on teeth they are an aim and counted apart.\n",
    );
}

/// Which tolerances are kept, in plain sentences.
fn verdicts(out: &mut String, groups: &[(usize, Summaries)]) {
    out.push_str("\n## What is met and what is not\n\n");
    for (condition, summaries) in groups {
        let judged: Vec<(&String, &Summary, Tolerance)> = summaries
            .iter()
            .filter_map(|(kind, summary)| Some((kind, summary, tolerance_of(kind)?)))
            .filter(|(_, summary, _)| summary.n > 0)
            .collect();
        let (aims, judged): (Vec<_>, Vec<_>) =
            judged.into_iter().partition(|(kind, ..)| Tolerance::is_of_closed_forms(kind));
        let (missed, missed_aims) = (missed(&judged), missed(&aims));
        let (covered, uncertain) =
            summaries.values().fold((0, 0), |sum, s| (sum.0 + s.n_covered, sum.1 + s.n_uncertain));
        let refused: usize = summaries.values().filter(|s| s.n > 0).map(|s| s.n_missing).sum();
        let _ = writeln!(
            out,
            "**{}**: {} of {} tolerances are met. {} {:.1} % of {uncertain} stated uncertainties hold the truth; \
             {refused} readings were refused.\n",
            CONDITIONS[*condition].name,
            judged.len() - missed.len(),
            judged.len(),
            told(&missed, &missed_aims),
            100.0 * covered as f64 / (uncertain.max(1)) as f64,
        );
    }
}

/// What is missed of some kinds.
fn missed(judged: &[(&String, &Summary, Tolerance)]) -> Vec<String> {
    judged
        .iter()
        .filter(|(_, summary, tolerance)| !summary.keeps(*tolerance))
        .map(|(kind, summary, tolerance)| miss(kind, summary, *tolerance))
        .collect()
}

fn told(missed: &[String], missed_aims: &[String]) -> String {
    let mut told =
        if missed.is_empty() { "None is missed.".into() } else { format!("Missed: {}.", missed.join("; ")) };
    if !missed_aims.is_empty() {
        let _ = write!(
            told,
            " Missed on teeth, where the contract asks for closed forms only: {}.",
            missed_aims.join("; ")
        );
    }
    told
}

fn miss(kind: &str, summary: &Summary, tolerance: Tolerance) -> String {
    match tolerance {
        Tolerance::Same => format!("`{kind}` ({} of {} words right)", summary.n_right, summary.n_words),
        Tolerance::Within(limit) | Tolerance::Percent(limit) => {
            let unit = unit(kind, Some(tolerance));
            format!("`{kind}` ({} {unit} instead of {} {unit})", figure(summary.error_95()), limit)
        }
    }
}

fn failures(out: &mut String, trials: &[Trial]) {
    let failed: Vec<String> = trials
        .iter()
        .filter_map(|trial| {
            let error = trial.outcome.as_ref().err()?;
            let (what, how) = (PREPARATIONS[trial.preparation].name, CONDITIONS[trial.condition].name);
            Some(format!("- {what}, {how}, seed {}: {}", trial.seed, error.replace('\n', " ")))
        })
        .collect();
    if failed.is_empty() {
        let _ = writeln!(out, "Every one of the {} sets could be measured.", trials.len());
    } else {
        let _ = writeln!(
            out,
            "{} of {} sets could not be measured at all:\n\n{}",
            failed.len(),
            trials.len(),
            failed.join("\n")
        );
    }
}

/// Readings that the phantoms know the truth of and this version does not take.
fn not_read(out: &mut String, trials: &[Trial]) {
    let all = summaries(trials);
    let missing: Vec<String> =
        all.iter().filter(|(_, summary)| summary.n == 0).map(|(kind, _)| format!("`{kind}`")).collect();
    if !missing.is_empty() {
        let _ = writeln!(out, "\nNever given, though the truth is known: {}.", missing.join(", "));
    }
}

/// How many readings of the first way of scanning are listed one by one.
const N_FURTHEST: usize = 25;

/// The readings that lie the most tolerances away from the truth, each preparation and id once, with its worst scan.
fn furthest(out: &mut String, plan: &Plan, trials: &[Trial]) {
    let Some(&first) = plan.conditions.first() else { return };
    let mut worst: BTreeMap<(usize, &str), (f64, String)> = BTreeMap::new();
    for trial in trials.iter().filter(|trial| trial.condition == first) {
        for single in trial.outcome.iter().flatten() {
            let Some((share, row)) = off(trial, single) else { continue };
            let entry = worst.entry((trial.preparation, &single.id)).or_default();
            if share > entry.0 {
                *entry = (share, row);
            }
        }
    }
    let mut rows: Vec<&(f64, String)> = worst.values().filter(|row| row.0 > 1.0).collect();
    rows.sort_by(|a, b| b.0.total_cmp(&a.0));
    let _ = writeln!(
        out,
        "\n## Furthest off\n\n{} places of {} preparations lie outside of their tolerance in at least one scan at {}; \
         the worst of them:\n\n| preparation | reading | truth | read | u95 | tolerances off | seed |\n\
         |---|---|--:|--:|--:|--:|--:|",
        rows.len(),
        plan.preparations.len(),
        CONDITIONS[first].name
    );
    rows.iter().take(N_FURTHEST).for_each(|row| out.push_str(&row.1));
}

/// How many tolerances a number is off, and its row; `None` for words and where there is no tolerance.
fn off(trial: &Trial, single: &Single) -> Option<(f64, String)> {
    let said = single.said.as_ref()?;
    let (Value::Number(truth), Value::Number(value)) = (&single.truth, &said.value) else { return None };
    let limit = Tolerance::find(&single.id)?.of(&single.id, *truth)?;
    let share = (value - truth).abs() / limit;
    let row = format!(
        "| {} | `{}` | {truth:.3} | {value:.3} | {} | {share:.1} | {} |\n",
        PREPARATIONS[trial.preparation].name,
        single.id,
        said.u95.map_or(String::new(), |u95| format!("{u95:.3}")),
        trial.seed
    );
    Some((share, row))
}

/// One row a kind of reading that was given at least once.
pub fn table(summaries: &Summaries) -> String {
    let mut out = String::from(
        "| reading | unit | n | bias | repeats | 95 % | tolerance | met | in u95 | refused |\n\
         |---|---|--:|--:|--:|--:|--:|---|--:|--:|\n",
    );
    for (kind, summary) in summaries.iter().filter(|(_, summary)| summary.n > 0) {
        let tolerance = tolerance_of(kind);
        let met = match tolerance {
            Some(tolerance) if summary.keeps(tolerance) => "yes",
            Some(_) => "**no**",
            None => "",
        };
        let (bias, repeats, error_95) = if summary.errors.is_empty() {
            let right = 100.0 * summary.n_right as f64 / summary.n_words.max(1) as f64;
            (String::new(), String::new(), format!("{right:.0} % right"))
        } else {
            let repeats = summary.repeatability().map_or(String::new(), figure);
            (signed(summary.bias()), repeats, figure(summary.error_95()))
        };
        let covered = if summary.n_uncertain == 0 {
            String::new()
        } else {
            format!("{:.0} %", 100.0 * summary.n_covered as f64 / summary.n_uncertain as f64)
        };
        let limit = match tolerance {
            Some(Tolerance::Within(limit) | Tolerance::Percent(limit)) => format!("{limit}"),
            Some(Tolerance::Same) => "same word".into(),
            None => String::new(),
        };
        let _ = writeln!(
            out,
            "| `{kind}` | {} | {} | {bias} | {repeats} | {error_95} | {limit} | {met} | {covered} | {} |",
            unit(kind, tolerance),
            summary.n,
            summary.n_missing
        );
    }
    out
}

/// The unit that errors of a kind are in.
fn unit(kind: &str, tolerance: Option<Tolerance>) -> &'static str {
    if matches!(tolerance, Some(Tolerance::Percent(_))) {
        return "%";
    }
    // An extra has the unit of its reading.
    let id = kind.split('#').next().unwrap_or(kind);
    let units =
        [("_mm2", "mm²"), ("_mm3", "mm³"), ("_mm", "mm"), ("_um", "µm"), ("_deg", "°"), ("_pct", "%")];
    units.iter().find(|(end, _)| id.ends_with(end)).map_or("", |(_, unit)| unit)
}

/// Three digits are what a few hundred readings can tell.
fn figure(value: f64) -> String {
    let digits = if value.abs() >= 10.0 {
        1
    } else if value.abs() >= 1.0 {
        2
    } else {
        3
    };
    format!("{value:.digits$}")
}

fn signed(value: f64) -> String {
    let text = figure(value);
    if value > 0.0 { format!("+{text}") } else { text }
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or(String::new(), |first| first.to_uppercase().collect::<String>() + letters.as_str())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::batch::FEW;
    use crate::common::Said;

    #[test]
    fn a_miss_and_a_failure_are_said_plainly() {
        let single = Single {
            id: "taper.mesial_deg".into(),
            truth: Value::Number(6.0),
            said: Some(Said { value: Value::Number(7.0), u95: Some(0.5) }),
        };
        let trials = [
            Trial { preparation: 0, condition: 0, seed: 7, outcome: Ok(vec![single]) },
            Trial { preparation: 1, condition: 0, seed: 8, outcome: Err("no teeth".into()) },
        ];
        let page = page(&FEW, &trials);
        assert!(
            page.contains("0 of 1 tolerances are met. Missed: `taper.*_deg` (1.00 ° instead of 0.6 °)."),
            "{page}"
        );
        assert!(
            page.contains("| 26 chamfer | `taper.mesial_deg` | 6.000 | 7.000 | 0.500 | 1.7 | 7 |"),
            "{page}"
        );
        assert!(page.contains("1 of 2 sets could not be measured"), "{page}");
        assert!(
            page.contains("| `taper.*_deg` | ° | 1 | +1.00 |  | 1.00 | 0.6 | **no** | 0 % | 0 |"),
            "{page}"
        );
    }
}
