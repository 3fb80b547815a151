//! A grade as a table for the terminal: what was read, what was asked, how each point was won or lost.

use std::fmt::Write;

use kerfwright_grade::{CriterionGrade, Decision, Grade, Item, Level, Mend, Tally, amount};
use kerfwright_measure::document::Value;

use crate::columns::Columns;
use crate::exercise_table::limits;

/// The whole grade, with what the measurement warns of, since readings that it touches count all the same.
pub fn render(grade: &Grade, warnings: &[String]) -> String {
    let mut out = String::new();
    // Writing to a string cannot fail.
    let _ = writeln!(out, "Exercise {}: {}", grade.exercise.name, grade.exercise.title);
    let stage = &grade.stage;
    let _ = writeln!(
        out,
        "Stage {} of {}: {} ({}); tooth {}\n",
        stage.number, stage.of, stage.title, stage.id, grade.document.fdi
    );
    let mut columns = Columns::new(&[false, true, true, false, false, false, true]);
    columns.row(["criterion", "read", "± U95", "ideal", "acceptable", "standing", "points"]);
    for criterion in &grade.criteria {
        rows(&mut columns, criterion);
    }
    out.push_str(&columns.render());
    findings(&mut out, grade);
    ahead(&mut out, grade);
    not_measured(&mut out, grade);
    let warnings: Vec<String> = warnings.iter().map(|warning| format!("  {warning}")).collect();
    part(&mut out, "The measurement warns:", &warnings);
    result(&mut out, grade);
    out
}

fn rows(columns: &mut Columns, criterion: &CriterionGrade) {
    let points = format!("{}/{}", short(criterion.points), short(criterion.possible));
    let points = if criterion.weight == 0.0 { "–".to_owned() } else { points };
    match criterion.items.as_slice() {
        [item] if item.at.is_none() => row(columns, &criterion.title, item, &points),
        items => {
            let spread = match (&criterion.best, &criterion.worst) {
                (Some(best), Some(worst)) => format!("best {}, worst {}", at(items, best), at(items, worst)),
                _ => String::new(),
            };
            columns.row([&criterion.title, "", "", "", "", &spread, &points]);
            for item in items {
                row(columns, &format!("  {}", item.at.as_deref().unwrap_or("").replace('_', " ")), item, "");
            }
        }
    }
}

fn at(items: &[Item], reading: &str) -> String {
    let place = items.iter().find(|item| item.reading == reading).and_then(|item| item.at.clone());
    place.unwrap_or_default().replace('_', " ")
}

fn row(columns: &mut Columns, label: &str, item: &Item, points: &str) {
    let (ideal, acceptable) = limits(&item.wanted);
    let read = match &item.value {
        Some(Value::Number(value)) => amount(*value, &item.unit),
        Some(Value::Text(word)) => word.clone(),
        None => "–".into(),
    };
    let u95 = item.u95.map_or(String::new(), |u95| amount(u95, &item.unit));
    let part = item.part.as_ref().map_or(String::new(), |part| format!(" ({part})"));
    columns.row([&format!("{label}{part}"), &read, &u95, &ideal, &acceptable, &standing(item), points]);
}

fn standing(item: &Item) -> String {
    let critical = if item.critical_error { ", CRITICAL" } else { "" };
    match (item.level, item.ideal) {
        (Level::Acceptable, Some(Decision::TooClose)) => "acceptable, maybe ideal".into(),
        (level, _) => format!("{}{critical}", level.word()),
    }
}

/// What is off, by what can be done about it, what is proven first; then what is acceptable and could be better.
fn findings(out: &mut String, grade: &Grade) {
    let headings = [
        (Mend::MoreCutting, "Still to be cut:"),
        (Mend::CuttingElsewhere, "To be mended by cutting elsewhere or otherwise:"),
        (Mend::LastStageOpen, "More than this stage asks for:"),
        (Mend::BeyondRecall, "Beyond recall:"),
        (Mend::AnotherScan, "For another scan:"),
    ];
    for (mend, heading) in headings {
        let mut lines = lines_of(grade, &[Level::NotAcceptable], mend, "");
        lines.extend(lines_of(grade, &[Level::TooClose], mend, " [too close to call]"));
        part(out, heading, &lines);
    }
    let better: Vec<String> = headings
        .iter()
        .flat_map(|(mend, _)| lines_of(grade, &[Level::Acceptable, Level::Ideal], *mend, ""))
        .collect();
    part(out, "Acceptable, and could be better:", &better);
}

fn lines_of(grade: &Grade, levels: &[Level], mend: Mend, end: &str) -> Vec<String> {
    let mut lines = Vec::new();
    for (criterion, item) in grade.items().filter(|(_, item)| levels.contains(&item.level)) {
        if let Some(finding) = item.finding.as_ref().filter(|finding| finding.mend == mend) {
            let at = item.at.as_ref().map_or(String::new(), |at| format!(", {}", at.replace('_', " ")));
            lines.push(format!("  {}{at}: {}{end}", criterion.title, finding.text));
        }
    }
    lines
}

fn part(out: &mut String, heading: &str, lines: &[String]) {
    if !lines.is_empty() {
        let _ = writeln!(out, "\n{heading}\n{}", lines.join("\n"));
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
