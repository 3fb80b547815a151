//! The two section drawings with their numbers beside the readings.

use kerfwright_measure::{Document, Preparation};

use crate::camera::Axes;
use crate::glance::figure;
use crate::profile::{MainPlane, Profile, Side};
use crate::section_plot;
use crate::text::{coordinate, escape, fixed, sentence, with_unit};

/// Both sections.
pub fn sections(preparation: &Preparation<'_>, axes: &Axes, document: &Document) -> String {
    let figures = MainPlane::ALL.map(|plane| figure_of(&Profile::cut(preparation, axes, plane), document));
    format!("{}<div class=\"sections\">{}</div>", key(preparation), figures.concat())
}

fn figure_of(profile: &Profile, document: &Document) -> String {
    let plane = profile.plane.name();
    let drawing = section_plot::plot(profile, &words(profile));
    format!(
        "<figure class=\"cut\"><h3>{} plane</h3>{}<figcaption>Prints at {}:1 on A4 at 100 %; the bar is true at any size. \
         Seen from {}.</figcaption>{}</figure>",
        sentence(plane),
        drawing.svg,
        coordinate(drawing.print_scale),
        profile.plane.seen_from().name(),
        numbers(profile, document)
    )
}

/// Line styles in words and strokes.
fn key(preparation: &Preparation<'_>) -> String {
    let mut lines = vec![("outline after", "after cutting")];
    if preparation.scene.before.is_some() {
        lines.push(("outline before", "before cutting; striped: taken away"));
    }
    if preparation.scene.opposing.is_some() {
        lines.push(("outline opposing", "opposing teeth, jaws closed"));
    }
    lines.push(("measure", "measured in the plane"));
    lines.push(("help", "the path, and levels"));
    let items = lines.iter().map(|(class, words)| {
        format!(
            "<li><svg class=\"stroke\" viewBox=\"0 0 44 12\" aria-hidden=\"true\"><path class=\"{class}\" d=\"M1 6H43\"/></svg>{words}</li>"
        )
    });
    let dots = "<li><svg class=\"stroke\" viewBox=\"0 0 44 12\" aria-hidden=\"true\"><circle class=\"edge\" cx=\"12\" cy=\"6\" r=\"4\"/>\
                <circle class=\"gum\" cx=\"32\" cy=\"6\" r=\"4\"/></svg>finish line (full), gingiva at the tooth (ring)</li>";
    format!("<ul class=\"key\">{}{dots}</ul>", items.collect::<String>())
}

/// A number of this plane beside the reading it belongs to.
fn numbers(profile: &Profile, document: &Document) -> String {
    let mut rows = String::new();
    let mut row = |title: String, here: Option<f64>, unit: &str, id: &str| {
        let here = here.map(|value| with_unit(&fixed(value, if unit == "deg" { 1 } else { 2 }), unit));
        let reading = match (document.readings.get(id), document.refused.contains_key(id)) {
            (Some(reading), _) => figure(reading),
            (None, true) => "not taken".into(),
            (None, false) => "–".into(),
        };
        if here.is_some() || document.readings.contains_key(id) {
            rows += &format!(
                "<tr><th scope=\"row\">{}</th><td class=\"number\">{}</td><td class=\"number\">{reading}</td></tr>",
                escape(&title),
                here.unwrap_or_else(|| "–".into())
            );
        }
    };
    for side in &profile.sides {
        let aspect = side.aspect;
        let wall = side.station.wall.as_ref();
        row(
            format!("Taper, {aspect}"),
            wall.map(|wall| wall.taper_deg),
            "deg",
            &format!("taper.{aspect}_deg"),
        );
        let width = wall.map(|wall| wall.width_mm);
        row(format!("Finish-line width, {aspect}"), width, "mm", &format!("finish_line.width.{aspect}_mm"));
        let id = format!("finish_line.above_gingiva.{aspect}_mm");
        row(format!("Above the gingiva, {aspect}"), side.above_gingiva_mm, "mm", &id);
    }
    let toc_id = format!("toc.{}_deg", profile.plane.name());
    row("Total occlusal convergence".into(), profile.toc_deg(), "deg", &toc_id);
    row("Least clearance".into(), profile.clearance_mm(), "mm", "clearance.mip_mm");
    format!(
        "<table class=\"compare\"><caption>In this one plane, as drawn, and the reading: the median over the middle of the aspect, \
         for the clearance the least anywhere. A single plane also carries the noise of single triangles.</caption><thead><tr><th scope=\"col\">Quantity</th>\
         <th scope=\"col\" class=\"number\">In this plane</th><th scope=\"col\" class=\"number\">Reading ± U<sub>95</sub></th></tr></thead>\
         <tbody>{rows}</tbody></table>"
    )
}

fn words(profile: &Profile) -> String {
    let mut words = format!(
        "{} section through the centre of the finish line, {} at the left, {} at the right.",
        sentence(profile.plane.name()),
        profile.ends[0],
        profile.ends[1]
    );
    words += &profile.sides.iter().map(side_words).collect::<String>();
    if let Some(toc_deg) = profile.toc_deg() {
        words += &format!(" Total occlusal convergence in this plane {}°.", fixed(toc_deg, 1));
    }
    if let Some(clearance_mm) = profile.clearance_mm() {
        words += &format!(" Least clearance in this plane {} mm.", fixed(clearance_mm, 2));
    }
    words
}

fn side_words(side: &Side) -> String {
    let Some(wall) = &side.station.wall else { return format!(" No {} wall was found.", side.aspect) };
    let gingiva =
        side.above_gingiva_mm.map(|mm| format!(", finish line {} mm above the gingiva", fixed(mm, 2)));
    format!(
        " {} wall: taper {}°, finish-line width {} mm{}.",
        sentence(side.aspect.id()),
        fixed(wall.taper_deg, 1),
        fixed(wall.width_mm, 2),
        gingiva.unwrap_or_default()
    )
}
