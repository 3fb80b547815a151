//! Reduction: from the prepared surface to the closest uncut surface.

use kerfwright_measure::scene::Placed;
use nalgebra::{Point2, Point3};

use super::canvas::{Canvas, arrow, length};
use super::cut::{Cut, Scan, main_plane};
use super::{Figure, Subject};
use crate::camera::View;
use crate::text::fixed;

/// A faciolingual section with arrows, and the thirds of the wall.
pub fn draw(subject: &Subject<'_>) -> Figure {
    let preparation = subject.preparation;
    let (axes, mut cut) = main_plane(preparation, View::Mesial, preparation.frame.origin);
    cut.window = [-7.6, 7.6, -1.6, 7.9];
    cut.corner = [96.0, 10.0];
    cut.scale = 33.0;
    let mut canvas = Canvas::new(430.0);
    canvas.add(cut.scene(preparation, &[Scan::Before, Scan::After]));
    arrows(subject, &cut, &mut canvas);
    let is_facial_left = axes.word(&-cut.across) == "facial";
    for (name, is_left) in [("facial", is_facial_left), ("lingual", !is_facial_left)] {
        thirds(subject, &cut, name, is_left, &mut canvas);
    }
    canvas.add(cut.ends(&axes)).add(cut.scale_bar(2.0));
    let top = 348.0;
    canvas.label("start", [14.0, top], "Functional cusps", &subject.said("reduction.occlusal.functional_mm"));
    canvas.label("start", [190.0, top], "Groove", &subject.said("reduction.occlusal.groove_mm"));
    canvas.label("start", [340.0, top], "Other cusps", &subject.said("reduction.occlusal.nonfunctional_mm"));
    canvas.label(
        "start",
        [500.0, top],
        "Marginal ridges",
        &subject.said("reduction.occlusal.marginal_ridge_mm"),
    );
    let volume = format!(
        "{} removed, {} of the crown",
        subject.said("reduction.volume_mm3"),
        subject.said("reduction.crown_pct")
    );
    canvas.say("start number", [14.0, top + 40.0], &volume);
    canvas.key(
        [14.0, top + 66.0],
        &[
            ("before", "before cutting; striped: removed", 268.0),
            ("after", "after cutting", 140.0),
            ("measure", "to the closest uncut surface", 200.0),
        ],
    );
    canvas.finish(
        "reduction",
        "Reduction",
        "A section from facial to lingual through a molar before and after cutting. Arrows lead from the prepared surface to the closest \
         point of the uncut surface. Brackets beside the walls mark their gingival, middle and occlusal thirds with the reduction there.",
    )
}

/// Arrows to the closest uncut surface, each 0.8 mm of the prepared line.
fn arrows(subject: &Subject<'_>, cut: &Cut, canvas: &mut Canvas) {
    const EACH_MM: f64 = 0.8;
    let preparation = subject.preparation;
    let Some(before) = preparation.scene.before else { return };
    let edges: Vec<f64> = preparation.ring.points.iter().map(|point| cut.flat(point).x).collect();
    let (low, high) = edges.iter().fold((0.0f64, 0.0f64), |(low, high), x| (low.min(*x), high.max(*x)));
    let lines = cut.lines(&Placed::in_place(preparation.scene.after));
    let mut way_mm = 0.0;
    let mut from: Vec<Point3<f64>> = Vec::new();
    for pair in lines.iter().flat_map(|(points, _)| points.windows(2)) {
        way_mm += (pair[1] - pair[0]).norm();
        let is_prepared = pair[0].x > low + 0.7 && pair[0].x < high - 0.7 && pair[0].y > 0.2;
        if is_prepared && way_mm > EACH_MM {
            way_mm = 0.0;
            from.push(cut.origin + cut.across * pair[0].x + cut.up * pair[0].y);
        }
    }
    for (from, near) in from.iter().zip(before.nearest(&from, 4.0)) {
        if let Some(near) = near {
            canvas.add(arrow("measure", cut.solid(from), cut.solid(&near.point)));
        }
    }
}

/// Brackets over the thirds between finish line and occlusal line angle.
fn thirds(subject: &Subject<'_>, cut: &Cut, aspect: &str, is_left: bool, canvas: &mut Canvas) {
    let angle_deg = if aspect == "facial" { 90.0 } else { 270.0 };
    let Some(station) = subject.station_at(angle_deg) else { return };
    let Some(top) = station.wall.as_ref().and_then(|wall| wall.top) else { return };
    let foot: Point2<f64> = cut.flat(&station.edge());
    let x = if is_left { cut.corner[0] - 8.0 } else { cut.right() + 8.0 };
    for (k, third) in ["gingival", "middle", "occlusal"].into_iter().enumerate() {
        let height = |share: usize| foot.y + top.y * share as f64 / 3.0;
        let level = |share: usize| cut.px(0.0, height(share))[1];
        canvas.add(length("thin", [x, level(k)], [x, level(k + 1)]));
        let value_mm = subject.number(&format!("reduction.axial.{aspect}.{third}_mm"));
        let (anchor, text_x) = if is_left { ("end", x - 8.0) } else { ("start", x + 8.0) };
        let middle = 0.5 * (level(k) + level(k + 1));
        canvas.say(&format!("{anchor} small"), [text_x, middle - 3.0], third);
        canvas.say(
            &format!("{anchor} number"),
            [text_x, middle + 14.0],
            &format!("{} mm", fixed(value_mm, 2)),
        );
    }
}
