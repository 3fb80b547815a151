//! The room of the restoration, and what its layers need of it.

use super::canvas::{Canvas, area, length, line};
use super::{Figure, Subject};
use crate::text::fixed;

const TOTAL: &str = "space.total_mm";
const ZONES: [(&str, &str); 5] = [
    ("functional", "functional cusps"),
    ("nonfunctional", "other cusps"),
    ("groove", "groove"),
    ("facial", "facial wall"),
    ("lingual", "lingual wall"),
];

/// Bars of the room in each zone over the layers of one stack.
pub fn draw(subject: &Subject<'_>) -> Figure {
    const LEFT: f64 = 150.0;
    const SCALE: f64 = 210.0;
    const BAR: f64 = 34.0;
    let mut canvas = Canvas::new(420.0);
    let x = |mm: f64| LEFT + SCALE * mm;
    canvas.say(
        "start title",
        [14.0, 24.0],
        "Room at the prepared points of each zone: least, 5th percentile, median, mm",
    );
    let bottom = 70.0 + 5.0 * (BAR + 8.0);
    for k in 0..=5 {
        let mm = 0.5 * f64::from(k);
        canvas.add(line("grid", [x(mm), 46.0], [x(mm), bottom]));
        canvas.say("middle small", [x(mm), bottom + 18.0], &fixed(mm, 1));
    }
    for (k, (zone, name)) in ZONES.into_iter().enumerate() {
        let top = 58.0 + (BAR + 8.0) * k as f64;
        let least = subject.extra(TOTAL, zone);
        let [p05, median] = ["p05", "median"].map(|what| subject.extra(TOTAL, &format!("{zone}_{what}")));
        let corners =
            |from: f64, to: f64| [[x(from), top], [x(to), top], [x(to), top + BAR], [x(from), top + BAR]];
        canvas.say("end", [LEFT - 10.0, top + 22.0], name);
        canvas.add(area("bar-a", corners(0.0, least)));
        canvas.add(length("thin", [x(least), top + 0.5 * BAR], [x(median), top + 0.5 * BAR]));
        canvas.add(line("thin", [x(p05), top + 9.0], [x(p05), top + BAR - 9.0]));
        canvas.say("end number", [x(least) - 8.0, top + 22.0], &fixed(least, 2));
    }
    stack(subject, &mut canvas, x, bottom + 40.0);
    canvas.say("start", [14.0, 400.0], "Least room in all:").say(
        "start number",
        [150.0, 400.0],
        &subject.said(TOTAL),
    );
    let body = format!("left for the body ceramic: {}", subject.said("space.body_ceramic_mm"));
    canvas.say("start number", [310.0, 400.0], &body);
    canvas.finish(
        "space",
        "Room for the restoration",
        "Bars show the least room in each zone of a prepared molar, with 5th percentile and median. Below, the least thicknesses of the \
         layers of a metal-ceramic crown are laid end to end on the same scale.",
    )
}

/// The layers of a metal-ceramic crown, end to end.
fn stack(subject: &Subject<'_>, canvas: &mut Canvas, x: impl Fn(f64) -> f64, top: f64) {
    const LAYERS: [(&str, &str, &str); 3] = [
        ("space.metal_coping_mm", "coping", "bar-b"),
        ("space.opaque_mm", "opaque", "bar-c"),
        ("space.body_ceramic_mm", "body ceramic", "bar-a"),
    ];
    let mut at_mm = 0.0;
    canvas.say("end", [x(0.0) - 10.0, top + 16.0], "layers, as for").say(
        "end",
        [x(0.0) - 10.0, top + 33.0],
        "metal-ceramic",
    );
    for (id, name, class) in LAYERS {
        let needs_mm = subject.extra(id, "minimum");
        let end_mm = at_mm + needs_mm;
        let corners = [[x(at_mm), top], [x(end_mm), top], [x(end_mm), top + 24.0], [x(at_mm), top + 24.0]];
        canvas.add(area(class, corners));
        let middle = x(0.5 * (at_mm + end_mm));
        canvas.say("middle small", [middle, top + 40.0], name).say(
            "middle",
            [middle, top + 17.0],
            &fixed(needs_mm, 1),
        );
        at_mm = end_mm;
    }
    canvas.add(line("help", [x(at_mm), top + 24.0], [x(at_mm), 46.0]));
}
