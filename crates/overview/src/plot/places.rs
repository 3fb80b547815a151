//! Where round the tooth the class takes too little or too much.

use kerfwright_class::Answer;
use kerfwright_class::place::{Bin, Fault, Third};

use super::draw::{aligned, put, text, whole};
use crate::places::PlacesReport;
use crate::report::Report;

/// Room for the names round the rings.
const NAMES: f64 = 56.0;

/// The share of the class with one fault, by aspect and third: rings from inside are the occlusal, middle and gingival third; in
/// each place the count stands.
pub fn ring(places: &PlacesReport, fault: Fault) -> Option<String> {
    let Answer::Given(bins) = &places.bins else { return None };
    let half = reach(bins) + NAMES;
    Some(format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" class=\"plot\" viewBox=\"0 0 {0} {0}\">{1}</svg>",
        2.0 * half,
        inside(bins, fault, half)
    ))
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
    let half = reach(bins) + NAMES;
    for (middle, name, fault) in
        [(200.0, "too little cut", Fault::Under), (560.0, "too much cut", Fault::Over)]
    {
        aligned(&mut out, middle, 72.0, "", "middle", name);
        let left = middle - half;
        put(
            &mut out,
            format_args!(r#"<g transform="translate({left} 72)">{}</g>"#, inside(bins, fault, half)),
        );
    }
    let title = format!("{}, {}: axial reduction proven outside its band", report.title, report.stage);
    Some(whole(&title, 80.0 + 2.0 * half, &out))
}

/// Radius of the outermost ring.
fn reach(bins: &[Bin]) -> f64 {
    bins.iter().map(|bin| radii(bin.third).1).fold(0.0, f64::max)
}

/// Inner and outer radius of a third's ring.
fn radii(third: Third) -> (f64, f64) {
    match third {
        Third::Occlusal => (26.0, 64.0),
        Third::Middle => (66.0, 104.0),
        Third::Gingival => (106.0, 144.0),
    }
}

fn inside(bins: &[Bin], fault: Fault, middle: f64) -> String {
    let mut out = String::new();
    for bin in bins {
        let share = match fault {
            Fault::Under => bin.under.value,
            Fault::Over => bin.over.value,
        };
        sector(&mut out, bin, share, middle);
    }
    let beside = reach(bins) + 8.0;
    for (x, y, anchor, aspect) in [
        (middle + beside, middle + 4.0, "start", "mesial"),
        (middle, middle - beside - 2.0, "middle", "facial"),
        (middle - beside, middle + 4.0, "end", "distal"),
        (middle, middle + beside + 10.0, "middle", "lingual"),
    ] {
        aligned(&mut out, x, y, "s", anchor, aspect);
    }
    out
}

fn sector(out: &mut String, bin: &Bin, share: f64, middle: f64) {
    let (inner, outer) = radii(bin.third);
    let at = |radius: f64, angle_deg: f64| {
        let (sin, cos) = angle_deg.to_radians().sin_cos();
        format!("{:.1} {:.1}", middle + radius * cos, middle - radius * sin)
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
    let (x, y) = (middle + radius * cos, middle - radius * sin + 4.0);
    aligned(out, x, y, "", "middle", &format!("{hits}/{}", bin.n));
}
