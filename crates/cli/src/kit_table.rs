//! A kit for the eye.

use std::fmt::Write;

use kerfwright_instrument::{
    Head, Instrument, Kit, LogEntry, Measured, Sunk, convergence_deg, deepest_chamfer_mm, depth_mm,
    finish_line, hollow_radius_mm, shoulder, state, strangers, taper_deg,
};

/// What a kit holds, counted.
pub fn contents(kit: &Kit) -> String {
    let count = |n: usize, one: &str| format!("{n} {one}{}", if n == 1 { "" } else { "s" });
    format!(
        "{}, {}, {}",
        count(kit.instruments.len(), "instrument"),
        count(kit.gauges.len(), "bar"),
        count(kit.probes.len(), "probe")
    )
}

/// The whole kit, an instrument a line.
pub fn kit(kit: &Kit, log: Option<&[LogEntry]>) -> String {
    let width = kit.instruments.iter().map(|instrument| instrument.name.chars().count()).max().unwrap_or(0);
    let mut out = format!("{} ({})\n\n", kit.title, kit.name);
    // Writing to a string cannot fail.
    let _ = writeln!(
        out,
        "{:width$}  {:20} {:11} {:>5} {:>5} {:>6} {:>6} {:>8} {:>6}",
        "instrument", "shape", "grit", "mm", "tip", "length", "taper", "leaves", "up to"
    );
    for instrument in &kit.instruments {
        let head = &instrument.head;
        let (leaves, reach) = leaves(head);
        let _ = writeln!(
            out,
            "{:width$}  {:20} {:11} {:>5.1} {:>5} {:>6.1} {:>6} {leaves:>8} {reach:>6}",
            instrument.name,
            head.kind().title(),
            instrument.grit.map_or("", |grit| grit.word()),
            head.diameter_mm(),
            dash(Some(head.tip_diameter_mm()).filter(|tip_mm| *tip_mm > 0.0), 2),
            head.length_mm(),
            taper_deg(head).map_or("–".into(), |taper_deg| format!("{taper_deg:.1}°")),
        );
        out.push_str(&worn(instrument, log, "  "));
    }
    let widths: Vec<String> = kit.gauges.iter().map(|gauge| format!("{:.1}", gauge.width_mm)).collect();
    if !widths.is_empty() {
        let _ = writeln!(out, "\nbars of {} mm", widths.join(", "));
    }
    for probe in &kit.probes {
        let marks: Vec<String> = probe.marks_mm.iter().map(f64::to_string).collect();
        let _ = writeln!(
            out,
            "{}: tip {} mm, marks at {} mm",
            probe.name,
            probe.tip_diameter_mm,
            marks.join(", ")
        );
    }
    for stranger in log.map(|log| strangers(kit, log)).unwrap_or_default() {
        let _ = writeln!(out, "\nThe log names `{stranger}`, which this kit has not.");
    }
    out.push_str(
        "\nTaper of one wall, held parallel to the path. Chamfer or shoulder in mm, before a lip is left.\n",
    );
    for note in &kit.notes {
        let _ = writeln!(out, "{note}");
    }
    out
}

/// One instrument, with all its numbers.
pub fn instrument(instrument: &Instrument, log: Option<&[LogEntry]>) -> String {
    let head = &instrument.head;
    let mut out = format!("{} ({})\n", instrument.title, instrument.name);
    let mut line = |label: &str, text: String| {
        if !text.is_empty() {
            let _ = writeln!(out, "  {label:22} {text}");
        }
    };
    line("ISO 6360", instrument.iso.map_or(String::new(), |iso| format!("{iso} ({})", iso.words())));
    line("shape", head.kind().title().into());
    line("grit", instrument.grit.map_or(String::new(), |grit| grit.word().into()));
    let mm = |value: f64| if value > 0.0 { format!("{value:.2} mm") } else { String::new() };
    line("largest diameter", mm(head.diameter_mm()));
    line("tip", mm(head.tip_diameter_mm()));
    line("corner", mm(head.corner_radius_mm()));
    line("nose", mm(head.nose_mm()));
    line("neck", mm(head.neck_diameter_mm()));
    line("length", mm(head.length_mm()));
    if let (Some(taper), Some(both)) = (taper_deg(head), convergence_deg(head, [0.0; 2])) {
        line("taper, parallel to path", format!("{taper:.1}°, opposing walls {both:.1}°"));
    }
    line("finish line", floors(head));
    for (sunk, label) in [(Sunk::Half, "sunk to half"), (Sunk::Whole, "sunk to its diameter")] {
        let depth = depth_mm(head, sunk).map(|depth| {
            if depth.least_mm == depth.greatest_mm {
                format!("{:.2} mm deep", depth.greatest_mm)
            } else {
                format!("{:.2} mm deep at its tip, {:.2} at its base", depth.least_mm, depth.greatest_mm)
            }
        });
        line(label, depth.unwrap_or_default());
    }
    line(
        "hollow it leaves",
        hollow_radius_mm(head).map_or(String::new(), |hollow_mm| format!("{hollow_mm:.2} mm radius")),
    );
    line("note", instrument.note.clone().unwrap_or_default());
    line("retired", retired(instrument));
    for (key, source) in &instrument.sources {
        line("source", format!("{key}: {source}"));
    }
    out + &worn(instrument, log, "  ")
}

/// What kind of finish line a head leaves, and up to which width.
fn leaves(head: &Head) -> (&'static str, String) {
    match (deepest_chamfer_mm(head), shoulder(head)) {
        (Some(reach_mm), _) => ("chamfer", format!("{reach_mm:.2}")),
        (_, Some(shoulder)) => ("shoulder", format!("{:.2}", shoulder.full_mm)),
        _ => ("–", "–".into()),
    }
}

fn floors(head: &Head) -> String {
    if let Some(reach_mm) = deepest_chamfer_mm(head) {
        let at_half = finish_line(head, 0.5 * reach_mm).map(|left| left.declination_deg);
        return format!(
            "chamfer up to {reach_mm:.2} mm before it leaves a lip; at {:.2} mm it falls by {:.0}°",
            0.5 * reach_mm,
            at_half.unwrap_or(0.0)
        );
    }
    shoulder(head).map_or(String::new(), |left| {
        format!(
            "shoulder of {:.2} to {:.2} mm in one pass, internal radius {:.2} mm",
            left.least_mm, left.full_mm, left.internal_radius_mm
        )
    })
}

fn retired(instrument: &Instrument) -> String {
    let uses = instrument.retire.after_uses.map(|uses| format!("after {uses} uses"));
    let loss = instrument
        .retire
        .loss_of_diameter_mm
        .map(|loss_mm| format!("after losing {loss_mm} mm of its diameter"));
    uses.into_iter().chain(loss).collect::<Vec<_>>().join(", or ")
}

/// Uses and wear by the log; nothing where it says nothing.
fn worn(instrument: &Instrument, log: Option<&[LogEntry]>, indent: &str) -> String {
    let Some(log) = log.filter(|log| log.iter().any(|entry| entry.instrument == instrument.name)) else {
        return String::new();
    };
    let now = state(instrument, log);
    let mut out = format!("{indent}used {} times", now.uses);
    if let Some(lost_mm) = now.lost_mm {
        let measured = Measured { diameter_mm: now.diameter_mm, tip_diameter_mm: now.tip_diameter_mm };
        let assumed = measured.assumed().map_or(String::new(), |words| format!("; {words}"));
        let _ = write!(out, ", measures {measured} (lost {lost_mm:.2}{assumed})");
    }
    for doubt in &now.doubts {
        let _ = write!(out, "; {doubt}");
    }
    match (now.retired.is_empty(), now.uses_left) {
        (false, _) => {
            let _ = write!(out, "; RETIRE: {}", now.retired.join("; "));
        }
        (true, Some(left)) => {
            let _ = write!(out, "; {left} left");
        }
        (true, None) => {}
    }
    out + "\n"
}

fn dash(value: Option<f64>, n_digits: usize) -> String {
    value.map_or("–".into(), |value| format!("{value:.n_digits$}"))
}
