//! Where round the tooth the class takes too little or too much.

use kerfwright_class::Answer;
use kerfwright_class::place::{Bin, Fault, Third};

use super::draw::{aligned, part, put, text, whole};
use crate::places::PlacesReport;
use crate::report::Report;

/// Height of a part.
const HEIGHT: f64 = 340.0;
/// Middle of the rings.
const MIDDLE: f64 = 170.0;

/// The share of the class with one fault, by aspect and third: rings from inside are the occlusal, middle and gingival third; in
/// each place the count stands.
pub fn ring(places: &PlacesReport, fault: Fault) -> Option<String> {
    let Answer::Given(bins) = &places.bins else { return None };
    Some(part(HEIGHT, &inside(bins, fault)))
}

/// Both faults side by side.
pub fn places(report: &Report) -> Option<String> {
    let Answer::Given(bins) = &report.places.bins else { return None };
    let mut out = String::new();
    text(
        &mut out,
        12.0,
        42.0,
        "s",
        "rings from inside: occlusal, middle, gingival third; proven misses of learners seen there",
    );
    for (x, name, fault) in [(20.0, "too little cut", Fault::Under), (400.0, "too much cut", Fault::Over)] {
        aligned(&mut out, x + MIDDLE, 72.0, "", "middle", name);
        put(&mut out, format_args!(r#"<g transform="translate({x} 80)">{}</g>"#, inside(bins, fault)));
    }
    let title = format!("{}, {}: axial reduction proven outside its band", report.title, report.stage);
    Some(whole(&title, 430.0, &out))
}

fn inside(bins: &[Bin], fault: Fault) -> String {
    let mut out = String::new();
    for bin in bins {
        let share = match fault {
            Fault::Under => bin.under.value,
            Fault::Over => bin.over.value,
        };
        sector(&mut out, bin, share);
    }
    for (x, y, anchor, aspect) in [
        (MIDDLE + 145.0, MIDDLE + 16.0, "end", "mesial"),
        (MIDDLE, MIDDLE - 154.0, "middle", "facial"),
        (MIDDLE - 145.0, MIDDLE + 16.0, "start", "distal"),
        (MIDDLE, MIDDLE + 164.0, "middle", "lingual"),
    ] {
        aligned(&mut out, x, y, "s", anchor, aspect);
    }
    out
}

fn sector(out: &mut String, bin: &Bin, share: f64) {
    let inner = match bin.third {
        Third::Occlusal => 26.0,
        Third::Middle => 66.0,
        Third::Gingival => 106.0,
    };
    let outer = inner + 38.0;
    let at = |radius: f64, angle_deg: f64| {
        let (sin, cos) = angle_deg.to_radians().sin_cos();
        format!("{:.1} {:.1}", MIDDLE + radius * cos, MIDDLE - radius * sin)
    };
    let (from, to) = (bin.centre_deg - 21.5, bin.centre_deg + 21.5);
    put(
        out,
        format_args!(
            r#"<path class="share" d="M{}A{outer} {outer} 0 0 0 {}L{}A{inner} {inner} 0 0 1 {}Z" fill-opacity="{:.2}"/>"#,
            at(outer, from),
            at(outer, to),
            at(inner, to),
            at(inner, from),
            0.05 + 0.4 * share
        ),
    );
    let hits = (share * f64::from(bin.n)).round();
    let (sin, cos) = bin.centre_deg.to_radians().sin_cos();
    let radius = inner + 19.0;
    let (x, y) = (MIDDLE + radius * cos, MIDDLE - radius * sin + 4.0);
    aligned(out, x, y, "", "middle", &format!("{hits}/{}", bin.n));
}
