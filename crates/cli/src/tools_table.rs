//! Instruments stage by stage for the terminal.

use std::fmt::Write;

use kerfwright_exercise::Exercise;
use kerfwright_instrument::{Fit, Kit};
use kerfwright_plan::tools::{Cut, StageTools, Within};

/// The whole exercise.
pub fn render(exercise: &Exercise, kit: &Kit, stages: &[StageTools]) -> String {
    let mut out = format!("{}\nwith the kit {} ({})\n", exercise.title, kit.title, kit.name);
    for (k, stage) in stages.iter().enumerate() {
        // Writing to a string cannot fail.
        let _ = writeln!(out, "\n{}. {} ({})", k + 1, stage.title, stage.stage);
        for cut in &stage.cuts {
            one_cut(&mut out, kit, cut);
        }
        if stage.cuts.is_empty() {
            let _ = writeln!(out, "  nothing is asked for the first time: checked, not cut");
        }
        bar(&mut out, kit, stage);
        for lack in &stage.lacks {
            let _ = writeln!(out, "  note: {lack}");
        }
    }
    result(&mut out, stages);
    out
}

fn one_cut(out: &mut String, kit: &Kit, cut: &Cut) {
    let only = if cut.within == Within::Acceptable { " (acceptable; none suits what is ideal)" } else { "" };
    let _ = writeln!(out, "  {}: {}{only}", cut.name, cut.asked);
    match cut.best() {
        Some(best) => {
            let _ = writeln!(out, "    best  {}", called(kit, &best.instrument));
            for reason in &best.reasons {
                let _ = writeln!(out, "          {reason}");
            }
        }
        None => {
            let _ = writeln!(out, "    NONE of the kit suits");
        }
    }
    let others: Vec<&str> =
        cut.fits.iter().skip(1).filter(|fit| fit.suits).map(|fit| fit.instrument.as_str()).collect();
    if !others.is_empty() {
        let _ = writeln!(out, "    also  {}", others.join(", "));
    }
    for (names, reasons) in against(&cut.fits) {
        let _ = writeln!(out, "    not   {names}: {reasons}");
    }
}

/// What speaks against those that do not suit; those against which the same speaks together.
fn against(fits: &[Fit]) -> Vec<(String, String)> {
    let mut told: Vec<(String, String)> = Vec::new();
    for fit in fits.iter().filter(|fit| !fit.suits) {
        let reasons = fit.reasons.join("; ");
        match told.iter_mut().find(|(_, known)| *known == reasons) {
            Some((names, _)) => *names = format!("{names}, {}", fit.instrument),
            None => told.push((fit.instrument.clone(), reasons)),
        }
    }
    told
}

/// Title, name and code.
fn called(kit: &Kit, name: &str) -> String {
    let Some(instrument) = kit.instrument(name) else { return name.to_owned() };
    match instrument.iso {
        Some(iso) => format!("{name}: {}, ISO 6360 {iso}", instrument.title),
        None => format!("{name}: {}", instrument.title),
    }
}

fn bar(out: &mut String, kit: &Kit, stage: &StageTools) {
    let Some(bar_mm) = stage.bar_mm else { return };
    if let Some(bar) = kit.gauges.iter().find(|gauge| (gauge.width_mm - bar_mm).abs() < 0.02) {
        let _ = writeln!(out, "  check with {} ({})", bar.title, bar.name);
    }
}

fn result(out: &mut String, stages: &[StageTools]) {
    let lacking: Vec<String> = stages
        .iter()
        .flat_map(|stage| stage.cuts.iter().map(move |cut| (stage, cut)))
        .filter(|(_, cut)| cut.within == Within::Nothing)
        .map(|(stage, cut)| {
            let criteria = match &cut.criteria[..] {
                [] => String::new(),
                ids => format!(
                    ", criterion {}",
                    ids.iter().map(|id| format!("`{id}`")).collect::<Vec<_>>().join(", ")
                ),
            };
            format!("{} (stage `{}`{criteria}: {})", cut.name, stage.stage, cut.asked)
        })
        .collect();
    let _ = match lacking.is_empty() {
        true => writeln!(out, "\nThe kit has an instrument for every cut."),
        false => writeln!(
            out,
            "\nThe kit has no instrument for: {}. Add one that suits to a copy of the kit (kerf kit copy), or edit the criterion in a \
             copy of the exercise (kerf exercise copy).",
            lacking.join("; ")
        ),
    };
}
