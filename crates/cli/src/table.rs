//! The readings as a table for the terminal.

use std::fmt::Write;

use kerfwright_measure::Document;
use kerfwright_measure::document::{Reading, Value};

/// All readings, what was refused, warnings and cautions.
pub fn render(document: &Document) -> String {
    let mut out = String::new();
    // Writing to a string cannot fail.
    let _ = writeln!(out, "Tooth {}", document.tooth.taken_for);
    for (role, input) in &document.inputs {
        let _ = writeln!(
            out,
            "  {role:9} {} ({}, {} triangles, sha256 {})",
            input.file,
            input.format,
            input.n_triangles,
            &input.sha256[..12.min(input.sha256.len())]
        );
    }
    let _ = writeln!(out, "  mesial known because {}", document.tooth.mesial_because);
    let _ = writeln!(out, "\n{:46} {:>12} {:>9} {:6} where", "reading", "value", "± U95", "unit");
    for (id, reading) in &document.readings {
        let _ = writeln!(out, "{}", row(id, reading));
    }
    if !document.refused.is_empty() {
        let _ = writeln!(out, "\nNot taken:");
        for (id, reason) in &document.refused {
            let _ = writeln!(out, "  {id}: {reason}");
        }
    }
    for warning in &document.warnings {
        let _ = writeln!(out, "\nWarning: {warning}");
    }
    let _ = writeln!(out);
    for caution in &document.cautions {
        let _ = writeln!(out, "{caution}");
    }
    out
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
