//! A grade as a table for the terminal: what was read, what was asked, how each point was won or lost.

use std::fmt::Write;

use kerfwright_grade::{CriterionGrade, Decision, Grade, Item, Level, Mend, Tally, amount};
use kerfwright_measure::document::Value;

use crate::exercise_table::limits;

/// The whole grade.
pub fn render(grade: &Grade) -> String {
    let mut out = String::new();
    // Writing to a string cannot fail.
    let _ = writeln!(out, "Exercise {}: {}", grade.exercise.name, grade.exercise.title);
    let stage = &grade.stage;
    let _ = writeln!(
        out,
        "Stage {} of {}: {} ({}); tooth {}\n",
        stage.number, stage.of, stage.title, stage.id, grade.document.fdi
    );
    let _ = writeln!(
        out,
        "{:40} {:>14} {:>9}  {:18} {:18} {:24} {:>9}",
        "criterion", "read", "± U95", "ideal", "acceptable", "standing", "points"
    );
    for criterion in &grade.criteria {
        rows(&mut out, criterion);
    }
    findings(&mut out, grade);
    ahead(&mut out, grade);
    not_measured(&mut out, grade);
    result(&mut out, grade);
    out
}

fn rows(out: &mut String, criterion: &CriterionGrade) {
    let points = format!("{}/{}", short(criterion.points), short(criterion.possible));
    let points = if criterion.weight == 0.0 { "–".to_owned() } else { points };
    match criterion.items.as_slice() {
        [item] if item.at.is_none() => row(out, &criterion.title, item, &points),
        items => {
            let spread = match (&criterion.best, &criterion.worst) {
                (Some(best), Some(worst)) => format!("best {}, worst {}", at(items, best), at(items, worst)),
                _ => String::new(),
            };
            let _ = writeln!(out, "{:40} {:86} {points:>9}", criterion.title, spread);
            for item in items {
                row(out, &format!("  {}", item.at.as_deref().unwrap_or("").replace('_', " ")), item, "");
            }
        }
    }
}

fn at(items: &[Item], reading: &str) -> String {
    let place = items.iter().find(|item| item.reading == reading).and_then(|item| item.at.clone());
    place.unwrap_or_default().replace('_', " ")
}

fn row(out: &mut String, label: &str, item: &Item, points: &str) {
    let (ideal, acceptable) = limits(&item.wanted);
    let read = match &item.value {
        Some(Value::Number(value)) => amount(*value, &item.unit),
        Some(Value::Text(word)) => word.clone(),
        None => "–".into(),
    };
    let u95 = item.u95.map_or(String::new(), |u95| amount(u95, &item.unit));
    let line = format!(
        "{label:40} {read:>14} {u95:>9}  {ideal:18} {acceptable:18} {:24} {points:>9}",
        standing(item)
    );
    let _ = writeln!(out, "{}", line.trim_end());
}

fn standing(item: &Item) -> String {
    let critical = if item.critical_error { ", CRITICAL" } else { "" };
    match (item.level, item.ideal) {
        (Level::Acceptable, Some(Decision::TooClose)) => "acceptable, maybe ideal".into(),
        (level, _) => format!("{}{critical}", level.word()),
    }
}

/// What is off, by what can be done about it; what is proven comes first.
fn findings(out: &mut String, grade: &Grade) {
    let headings = [
        (Mend::MoreCutting, "Still to be cut:"),
        (Mend::CuttingElsewhere, "To be mended by cutting elsewhere or otherwise:"),
        (Mend::BeyondRecall, "Beyond recall:"),
        (Mend::AnotherScan, "For another scan:"),
    ];
    for (mend, heading) in headings {
        let mut lines = Vec::new();
        for (criterion, item) in grade.items() {
            let Some(finding) = item.finding.as_ref().filter(|finding| finding.mend == mend) else {
                continue;
            };
            let at = item.at.as_ref().map_or(String::new(), |at| format!(", {}", at.replace('_', " ")));
            let sure = match item.level {
                Level::NotAcceptable => "",
                Level::TooClose => " [too close to call]",
                _ => " [acceptable]",
            };
            let rank = match item.level {
                Level::NotAcceptable => 0,
                Level::TooClose => 1,
                _ => 2,
            };
            lines.push((rank, format!("  {}{at}: {}{sure}", criterion.title, finding.text)));
        }
        // Stable: within a rank the order of the exercise.
        lines.sort_by_key(|line| line.0);
        if !lines.is_empty() {
            let _ = writeln!(out, "\n{heading}");
        }
        for (_, line) in lines {
            let _ = writeln!(out, "{line}");
        }
    }
}

fn ahead(out: &mut String, grade: &Grade) {
    if grade.lost_ahead.is_empty() {
        return;
    }
    let _ = writeln!(out, "\nThe last stage can no longer be met:");
    for lost in &grade.lost_ahead {
        let critical = if lost.critical { " [will be a critical error]" } else { "" };
        let _ = writeln!(out, "  {} ({}): {}{critical}", lost.title, lost.reading, lost.finding.text);
    }
}

fn not_measured(out: &mut String, grade: &Grade) {
    let mut heading = Some("\nNot measured:");
    for (criterion, item) in grade.items() {
        if let Some(reason) = &item.not_measured {
            if let Some(heading) = heading.take() {
                let _ = writeln!(out, "{heading}");
            }
            let _ = writeln!(out, "  {} ({}): {reason}", criterion.title, item.reading);
        }
    }
}

fn result(out: &mut String, grade: &Grade) {
    let told = |tally: &Tally| format!("{}: {}", tally.outcome.word(), tally.because.join("; "));
    if grade.overrides.is_empty() {
        let _ = writeln!(out, "\nResult, {}.", told(&grade.computed));
    } else {
        let _ = writeln!(out, "\nComputed, {}.", told(&grade.computed));
        let _ = writeln!(out, "What counts, {}.", told(&grade.standing));
    }
    for caution in &grade.cautions {
        let _ = writeln!(out, "{caution}");
    }
}

fn short(value: f64) -> String {
    format!("{}", (value * 100.0).round() / 100.0)
}
