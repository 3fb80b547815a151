//! The five pictures, laid out like the faces of an unfolded box, with legend and notes in its corners.

use kerfwright_measure::Preparation;

use crate::camera::{Axes, View};
use crate::colour::hex;
use crate::encode;
use crate::layer::{Kind, Layer};
use crate::marks::Mark;
use crate::picture::{Picture, pictures};
use crate::svg;
use crate::text::{escape, fixed, sentence};

/// Length of the scale bar in the pictures, mm.
const BAR_MM: f64 = 2.0;

/// The section of the page with pictures.
pub fn gallery(preparation: &Preparation<'_>, axes: &Axes, marks: &[Mark]) -> String {
    let layer = Layer::of(preparation);
    let points: Vec<_> = marks.iter().map(|mark| mark.point).collect();
    let pictures = pictures(preparation, &layer, axes, &points);
    let left = axes.word(&-axes.right(View::Occlusal));
    let figures = pictures.iter().map(|picture| {
        let cell = match picture.view {
            View::Mesial | View::Distal if picture.view.name() == left => "left",
            View::Mesial | View::Distal => "right",
            View::Facial => "top",
            View::Lingual => "bottom",
            View::Occlusal => "centre",
        };
        figure(picture, cell, axes, layer.kind, marks)
    });
    format!(
        "<div class=\"net\">{}{}{}{}</div>",
        legend(&layer),
        figures.collect::<String>(),
        mark_list(marks),
        notes(preparation, &layer)
    )
}

fn figure(picture: &Picture, cell: &str, axes: &Axes, kind: Kind, marks: &[Mark]) -> String {
    let (width, height) = (picture.camera.width as f64, picture.camera.height as f64);
    let mut drawn =
        format!("<image href=\"{}\" width=\"{width}\" height=\"{height}\"/>", encode::data_uri(&picture.png));
    for piece in &picture.finish_line {
        let points = || piece.points.iter().copied();
        if piece.is_seen {
            drawn += &svg::path("fl-case", points(), false);
            drawn += &svg::path("fl", points(), false);
        } else {
            drawn += &svg::path("fl-hidden", points(), false);
        }
    }
    for &(index, at) in &picture.marks {
        drawn += &svg::dot("mark", at, 9.5);
        drawn += &svg::text("mark-letter middle", [at[0], at[1] + 4.6], &marks[index].letter.to_string());
    }
    drawn += &directions(picture, axes);
    drawn += &bar(picture);
    format!(
        "<figure class=\"view {cell}\">{}<figcaption><strong>From {}</strong>{}</figcaption></figure>",
        svg::image("picture", "", [0.0, 0.0, width, height], &words(picture, kind, marks), &drawn),
        picture.view.name(),
        caption(picture, kind)
    )
}

/// What lies left, right and, seen from the occlusal, above and below.
fn directions(picture: &Picture, axes: &Axes) -> String {
    let camera = &picture.camera;
    let (width, height) = (camera.width as f64, camera.height as f64);
    let (left, right) = (axes.word(&-camera.right), axes.word(&camera.right));
    let middle = if picture.view == View::Occlusal { 0.5 * height } else { height - 12.0 };
    let mut drawn = svg::text("toward start", [8.0, middle], left);
    drawn += &svg::text("toward end", [width - 8.0, middle], right);
    if picture.view == View::Occlusal {
        drawn += &svg::text("toward middle", [0.5 * width, 20.0], axes.word(&camera.up));
        drawn += &svg::text("toward middle", [0.5 * width, height - 10.0], axes.word(&-camera.up));
    }
    drawn
}

fn bar(picture: &Picture) -> String {
    let camera = &picture.camera;
    let length = BAR_MM * camera.px_per_mm;
    let x = if picture.view == View::Occlusal { 14.0 } else { 0.5 * (camera.width as f64 - length) };
    let y = camera.height as f64 - 14.0;
    let ends = |x: f64| svg::path("bar", [[x, y - 4.0], [x, y + 4.0]], false);
    svg::line("bar", [x, y], [x + length, y])
        + &ends(x)
        + &ends(x + length)
        + &svg::text("toward start", [x + length + 7.0, y + 5.0], &format!("{BAR_MM} mm"))
}

fn numbers(spread: &[f64; 3], kind: Kind) -> String {
    let (decimals, unit) = if kind == Kind::Taper { (0, "°") } else { (2, "\u{a0}mm") };
    let [low, median, high] = spread.map(|value| fixed(value, decimals));
    format!("median {median}{unit}, nine tenths of it between {low} and {high}{unit}")
}

fn subject(kind: Kind) -> &'static str {
    match kind {
        Kind::Reduction => "reduction",
        Kind::Taper => "angle of the walls to the path",
        Kind::Damage => "loss of height",
    }
}

fn caption(picture: &Picture, kind: Kind) -> String {
    let mut text = String::new();
    if let Some(spread) = &picture.spread {
        text += &format!("{} seen here: {}.", sentence(subject(kind)), numbers(spread, kind));
    }
    if picture.view.is_proximal() {
        text += &format!(" The {} neighbour is cut away so that the wall shows.", picture.view.name());
    }
    format!(" {}", escape(&text))
}

fn words(picture: &Picture, kind: Kind, marks: &[Mark]) -> String {
    let mut words = format!("The prepared tooth seen from {}.", picture.view.name());
    match &picture.spread {
        Some(spread) => words += &format!(" {}: {}.", sentence(subject(kind)), numbers(spread, kind)),
        None => words += " No numbers are painted on it.",
    }
    let n_points = |is_seen: bool| -> usize {
        picture
            .finish_line
            .iter()
            .filter(|piece| piece.is_seen == is_seen)
            .map(|piece| piece.points.len())
            .sum()
    };
    let share = 100 * n_points(true) / (n_points(true) + n_points(false)).max(1);
    words += &format!(" {share} percent of the finish line are on this side.");
    for (index, _) in &picture.marks {
        words += &format!(" {}: {}.", marks[*index].letter, marks[*index].words);
    }
    words
}

/// Colours with their numbers, and the other signs.
fn legend(layer: &Layer) -> String {
    let title = match layer.kind {
        Kind::Reduction => "Reduction, mm",
        Kind::Taper => "Angle of the wall to the path, degrees",
        Kind::Damage => "Lower than before, mm",
    };
    let mut signs = vec![("fl", "finish line; dotted where the tooth hides it")];
    signs.push(("neutral", "teeth and gingiva that were not prepared"));
    match layer.kind {
        Kind::Reduction => signs.push(("hatch", "prepared, but the before scan has nothing to compare with")),
        Kind::Taper => {
            signs.push(("plain", "prepared, but leaning more than 30°: floor or occlusal surface"));
            signs.push(("lean", "undercut: the wall leans over"));
        }
        Kind::Damage => {}
    }
    let items =
        signs.iter().map(|&(sign, words)| format!("<li>{}{}</li>", swatch(sign, layer), escape(words)));
    format!(
        "<div class=\"corner legend\"><h3>{title}</h3>{}<ul class=\"signs\">{}</ul></div>",
        scale(layer, title),
        items.collect::<String>()
    )
}

/// The colours of a layer over their numbers.
pub fn scale(layer: &Layer, title: &str) -> String {
    const LENGTH: f64 = 300.0;
    let scale = &layer.scale;
    let (low, high) = (scale.low, scale.high);
    let x = |value: f64| 10.0 + LENGTH * (value - low) / (high - low);
    let n_slices = 100;
    let mut drawn = String::new();
    for slice in 0..n_slices {
        let from = low + (high - low) * f64::from(slice) / f64::from(n_slices);
        let middle = from + 0.5 * (high - low) / f64::from(n_slices);
        drawn += &format!(
            "<rect x=\"{}\" y=\"4\" width=\"3.2\" height=\"22\" fill=\"{}\"/>",
            crate::text::coordinate(x(from)),
            hex(scale.colour(middle))
        );
    }
    let levels = scale.levels();
    for (index, &level) in levels.iter().enumerate() {
        let is_named = index % 2 == 0;
        drawn += &svg::line("tick-line", [x(level), 26.0], [x(level), if is_named { 33.0 } else { 30.0 }]);
        if is_named {
            let decimals = match layer.kind {
                Kind::Taper => 0,
                Kind::Reduction => 1,
                Kind::Damage => 2,
            };
            drawn += &svg::text("tick middle", [x(level), 47.0], &fixed(level, decimals));
        }
    }
    let unit = if layer.kind == Kind::Taper { "degrees" } else { "mm" };
    let words = format!(
        "Colour scale for {title}: from dark blue at {low} {unit} over green and ochre to pale pink at {high} {unit} and more; \
         lines every {} {unit}",
        scale.step
    );
    svg::image("scale", "", [-4.0, 0.0, LENGTH + 28.0, 52.0], &words, &drawn)
}

/// A small drawing of a sign, without words of its own.
fn swatch(sign: &str, layer: &Layer) -> String {
    let dark = hex(layer.scale.colour(layer.scale.low));
    let stripes = |ground: &str, stripe: &str| {
        let lines = (0..4).map(|k| {
            format!("<path stroke=\"{stripe}\" stroke-width=\"3\" d=\"M{0} 16L{1} 0\"/>", 8 * k, 8 * k + 16)
        });
        format!("<rect width=\"28\" height=\"14\" fill=\"{ground}\"/>{}", lines.collect::<String>())
    };
    let drawn = match sign {
        "fl" => "<path class=\"fl-case\" d=\"M1 7H16\"/><path class=\"fl\" d=\"M1 7H16\"/><path class=\"fl-hidden\" d=\"M17 7H28\"/>".into(),
        "neutral" => "<rect width=\"28\" height=\"14\" fill=\"#babcba\"/>".into(),
        "plain" => "<rect width=\"28\" height=\"14\" fill=\"#e2ded4\"/>".into(),
        "lean" => stripes(&dark, "#ccd1de"),
        _ => stripes("#d6d7d6", "#5c5e60"),
    };
    format!("<svg class=\"swatch\" viewBox=\"0 0 28 14\" aria-hidden=\"true\">{drawn}</svg>")
}

fn mark_list(marks: &[Mark]) -> String {
    let items = marks
        .iter()
        .map(|mark| format!("<li><span class=\"letter\">{}</span>{}</li>", mark.letter, escape(&mark.words)));
    let list = if marks.is_empty() {
        "<p>No place stands out.</p>".into()
    } else {
        format!("<ul class=\"marks\">{}</ul>", items.collect::<String>())
    };
    format!("<div class=\"corner places\"><h3>Places to look at</h3>{list}</div>")
}

fn notes(preparation: &Preparation<'_>, layer: &Layer) -> String {
    let mut notes = vec![
        "All five pictures have one scale. In the side views the path of placement points up, in upper and in lower \
         teeth; nothing is mirrored.",
    ];
    match layer.kind {
        Kind::Reduction => notes.push(
            "The colours run from 0 to 2.5 mm in every report, so that one colour always means one number. Lines are \
             drawn every 0.25 mm. Light changes a colour's brightness by a quarter at most.",
        ),
        Kind::Taper => notes.push(
            "There is no scan from before cutting, so reduction cannot be shown. The colours show how far the walls \
             lean instead: 0° is parallel to the path. Lines are drawn every 5°.",
        ),
        Kind::Damage => {}
    }
    if preparation.change.is_some() {
        notes.push(
            "For the lines, the numbers are averaged over about half a millimetre; the readings are not.",
        );
    }
    let paragraphs = notes.iter().map(|note| format!("<p>{}</p>", escape(note)));
    format!("<div class=\"corner notes\"><h3>How to read them</h3>{}</div>", paragraphs.collect::<String>())
}
