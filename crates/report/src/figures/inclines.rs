//! Cusp inclines in a section across the tooth.

use nalgebra::Point2;

use super::canvas::{Canvas, arc, line};
use super::cut::{Scan, main_plane};
use super::{Figure, Subject};
use crate::camera::View;

/// The section through the functional outer incline, with the slopes read on the three inclines.
pub fn draw(subject: &Subject<'_>) -> Figure {
    const IDS: [(&str, &str); 3] = [
        ("occlusal.incline.functional_outer_deg", "functional outer"),
        ("occlusal.incline.functional_inner_deg", "functional inner"),
        ("occlusal.incline.nonfunctional_inner_deg", "non-functional inner"),
    ];
    let preparation = subject.preparation;
    let at = subject.place(IDS[0].0).unwrap_or(preparation.frame.origin);
    let (axes, mut cut) = main_plane(preparation, View::Mesial, at);
    cut.window = [-6.2, 6.2, 0.6, 7.4];
    cut.corner = [12.0, 14.0];
    cut.scale = 54.0;
    let mut canvas = Canvas::new(458.0);
    canvas.add(cut.scene(preparation, &[Scan::Before, Scan::After]));
    // Towards the functional side, to the right in the figure or to the left.
    let functional = preparation.frame.facial * preparation.functional_sign().unwrap_or(1.0);
    let side = cut.across.dot(&functional).signum();
    for (k, (id, name)) in IDS.into_iter().enumerate() {
        let Some(place) = subject.place(id) else { continue };
        // Outer falls outward; inner ones rise away from the valley.
        let rise = subject.number(id).to_radians().tan() * [-1.0, 1.0, -1.0][k] * side;
        let middle = cut.flat(&place);
        let half = [0.7, 0.9, 1.3][k];
        let end = |x: f64| cut.at(&Point2::new(middle.x + x, middle.y + rise * x));
        canvas.add(line("strong", end(-half), end(half)));
        let level = |x: f64| cut.at(&Point2::new(middle.x + x, middle.y));
        canvas.add(line("help", level(0.0), level(1.6 * rise.signum())));
        let turn_deg = rise.atan().to_degrees();
        let (from, to) = if rise > 0.0 { (0.0, turn_deg) } else { (180.0, 180.0 + turn_deg) };
        canvas.add(arc("measure", level(0.0), 62.0, from, to));
        let [x, y] = end(0.0);
        let below = [72.0, 118.0, 72.0][k];
        canvas.label("middle", [x, y + below], name, &subject.said(id));
    }
    canvas.add(cut.ends(&axes)).add(cut.scale_bar(2.0));
    canvas.say("start", [14.0, 410.0], "Between the functional outer and the non-functional inner incline:");
    canvas.say("start number", [452.0, 410.0], &subject.said("occlusal.incline.parallel_deg"));
    canvas.key(
        [14.0, 440.0],
        &[
            ("before", "before cutting", 150.0),
            ("after", "after cutting", 140.0),
            ("help", "square on the path", 165.0),
            ("measure", "slope read, at the middle of each incline", 190.0),
        ],
    );
    canvas.finish(
        "inclines",
        "Cusp inclines",
        "A section across a prepared upper molar. Thick strokes lie on the outer and the inner incline of the functional cusp and on the \
         inner incline of the non-functional cusp, each with its angle to the plane square on the path of placement.",
    )
}
