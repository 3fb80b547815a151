//! The readings as a table for the terminal.

use std::collections::BTreeMap;
use std::fmt::Write;

use kerfwright_measure::document::{Input, Reading, Value};
use kerfwright_measure::{Document, JointDocument};

/// All readings, what was refused, warnings and cautions.
pub fn render(document: &Document) -> String {
    format!(
        "Tooth {}\n{}{}\n{}",
        document.tooth.taken_for,
        scans(&document.inputs),
        tooth(document),
        lines(&document.cautions)
    )
}

/// Several teeth, one after the other, then what they have in common.
pub fn render_joint(joint: &JointDocument) -> String {
    let teeth = joint
        .teeth
        .iter()
        .map(|document| format!("\nTooth {}\n{}", document.tooth.taken_for, tooth(document)));
    format!(
        "{} prepared teeth\n{}{}\nAll together\n{}{}\n{}",
        joint.teeth.len(),
        scans(&joint.inputs),
        teeth.collect::<String>(),
        readings(&joint.abutments.readings),
        refused(&joint.abutments.refused),
        lines(&joint.cautions)
    )
}

fn scans(inputs: &BTreeMap<String, Input>) -> String {
    let mut out = String::new();
    for (role, input) in inputs {
        // Writing to a string cannot fail.
        let _ = writeln!(
            out,
            "  {role:9} {} ({}, {} triangles, sha256 {})",
            input.file,
            input.format,
            input.n_triangles,
            &input.sha256[..12.min(input.sha256.len())]
        );
    }
    out
}

/// What was read on one tooth.
fn tooth(document: &Document) -> String {
    let mut out = format!("  mesial known because {}\n", document.tooth.mesial_because);
    out += &readings(&document.readings);
    out += &refused(&document.refused);
    for warning in &document.warnings {
        let _ = writeln!(out, "\nWarning: {warning}");
    }
    out
}

fn readings(readings: &BTreeMap<String, Reading>) -> String {
    let heading = format!("\n{:46} {:>12} {:>9} {:6} where\n", "reading", "value", "± U95", "unit");
    readings.iter().fold(heading, |out, (id, reading)| out + &row(id, reading) + "\n")
}

fn refused(refused: &BTreeMap<String, String>) -> String {
    if refused.is_empty() {
        return String::new();
    }
    refused.iter().fold("\nNot taken:\n".into(), |out, (id, reason)| format!("{out}  {id}: {reason}\n"))
}

fn lines(lines: &[String]) -> String {
    lines.iter().map(|line| format!("{line}\n")).collect()
}

fn row(id: &str, reading: &Reading) -> String {
    let value = match &reading.value {
        Value::Number(value) => format!("{value:.*}", decimals(&reading.unit)),
        Value::Text(text) => text.clone(),
    };
    let u95 = reading.u95.map_or(String::new(), |u95| format!("{u95:.*}", decimals(&reading.unit)));
    let place = reading
        .place
        .as_ref()
        .map_or(String::new(), |place| format!("{} ({:.0} deg)", place.aspect, place.angle_deg));
    format!("{id:46} {value:>12} {u95:>9} {:6} {place}", reading.unit).trim_end().to_owned()
}

fn decimals(unit: &str) -> usize {
    match unit {
        "mm" | "" => 3,
        "deg" | "mm2" | "mm3" => 2,
        _ => 1,
    }
}
