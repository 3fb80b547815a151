//! Exercises as tables for the terminal.

use std::fmt::Write;

use anyhow::bail;
use kerfwright_exercise::{Criterion, Exercise, Source, Stage, Wanted, library};

use crate::columns::Columns;

/// All shipped exercises.
pub fn list() -> String {
    let mut columns = Columns::new(&[false, false, false]);
    columns.row(["name", "for", "title"]);
    for exercise in library::exercise_names().filter_map(library::exercise) {
        columns.row([&exercise.name, &exercise.teeth_text(), &exercise.title]);
    }
    let mut out = columns.render();
    out.push_str(
        "\nSee one with `kerf exercise show NAME`, make it your own with `kerf exercise copy NAME`.\n",
    );
    out
}

/// One exercise, or one stage of it.
pub fn show(exercise: &Exercise, stage: Option<&str>) -> anyhow::Result<String> {
    let stages: Vec<(usize, &Stage)> = exercise
        .stages
        .iter()
        .enumerate()
        .filter(|(_, own)| stage.is_none_or(|stage| stage == own.id))
        .collect();
    if let (true, Some(stage)) = (stages.is_empty(), stage) {
        let known: Vec<&str> = exercise.stages.iter().map(|stage| stage.id.as_str()).collect();
        bail!("--stage: exercise `{}` has no stage `{stage}`; it has {}", exercise.name, known.join(", "));
    }
    let mut out = head(exercise);
    for (place, stage) in stages {
        one_stage(&mut out, place + 1, stage);
    }
    out.push_str(
        "\nTeaching and decision support, not a diagnosis: the licensed clinician and local rules decide.\n",
    );
    Ok(out)
}

fn head(exercise: &Exercise) -> String {
    let mut out = format!(
        "{}: {}\nFor {}; {} ({}).\n",
        exercise.name,
        exercise.title,
        exercise.teeth_text(),
        exercise.restoration,
        exercise.material
    );
    // Writing to a string cannot fail.
    for text in exercise.summary.iter().chain(&exercise.notes) {
        let _ = writeln!(out, "{text}");
    }
    if let Some(onlay) = &exercise.onlay {
        let sources: Vec<String> = onlay.source.iter().map(Source::to_string).collect();
        let _ = writeln!(
            out,
            "As `kerf plan` lays it after `{}`: isthmus {} mm wide at its floor and {} mm deep, boxes {} mm wide and {} mm deep, walls that \
             lean outwards by {} deg each ({}).",
            onlay.stage,
            onlay.isthmus_width_mm,
            onlay.isthmus_depth_mm,
            onlay.box_width_mm,
            onlay.box_depth_mm,
            onlay.divergence_deg,
            sources.join("; "),
        );
        if let Some(note) = &onlay.note {
            let _ = writeln!(out, "{note}");
        }
    }
    let scoring = &exercise.scoring;
    let _ = writeln!(
        out,
        "Pass mark {} %; acceptable earns {} % ({}); too close to call: {}; not measured: {}; a critical error {}.",
        scoring.pass_pct,
        scoring.acceptable_credit_pct,
        scoring.credit.word(),
        scoring.too_close.word(),
        scoring.not_measured.word(),
        if scoring.critical_error_fails { "fails the whole" } else { "costs its points" },
    );
    out
}

fn one_stage(out: &mut String, number: usize, stage: &Stage) {
    let _ = writeln!(out, "\n{number}. {} ({})", stage.title, stage.id);
    if !stage.instruments.is_empty() {
        let _ = writeln!(out, "   instruments: {}", stage.instruments.join(", "));
    }
    if let Some(gauge) = &stage.gauge {
        let _ = writeln!(out, "   gauge, bar of {} mm: {}", gauge.bar_mm, gauge.check);
    }
    for note in &stage.notes {
        let _ = writeln!(out, "   {note}");
    }
    let mut columns = Columns::new(&[false, false, false, false, true, false]);
    columns.row(["   criterion", "ideal", "acceptable", "unit", "weight", "source"]);
    for criterion in &stage.criteria {
        one_criterion(&mut columns, criterion);
    }
    out.push_str(&columns.render());
    for criterion in &stage.criteria {
        for text in criterion.disagreement.iter().chain(&criterion.note) {
            let _ = writeln!(out, "   {}: {text}", criterion.title);
        }
    }
}

fn one_criterion(columns: &mut Columns, criterion: &Criterion) {
    let part = criterion.part.as_ref().map_or(String::new(), |part| format!(" ({part})"));
    let critical = criterion.critical.map_or(String::new(), |side| format!("critical {}; ", side.word()));
    let (ideal, acceptable) = limits(&criterion.wanted);
    columns.row([
        &format!("   {}{part}", criterion.title),
        &ideal,
        &acceptable,
        &criterion.unit,
        &criterion.weight.to_string(),
        &format!("{critical}{}", sources(&criterion.source)),
    ]);
    for (place, exception) in &criterion.at {
        let (ideal, acceptable) = limits(&exception.wanted);
        let label = format!("     at {}", place.replace('_', " "));
        columns.row([&label, &ideal, &acceptable, &criterion.unit, "", &sources(&exception.source)]);
    }
}

/// Ideal and acceptable as people say them.
pub fn limits(wanted: &Wanted) -> (String, String) {
    match wanted {
        Wanted::Number { ideal, acceptable } => (ideal.to_string(), acceptable.to_string()),
        Wanted::Words { ideal_words, acceptable_words } => {
            (ideal_words.join(" or "), acceptable_words.join(" or "))
        }
    }
}

fn sources(sources: &[Source]) -> String {
    sources.iter().map(Source::to_string).collect::<Vec<_>>().join("; ")
}
