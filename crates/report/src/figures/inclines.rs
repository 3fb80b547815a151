//! Cusp inclines in sections across the tooth.

use kerfwright_measure::scene::Placed;
use nalgebra::Point2;

use super::canvas::{Canvas, arc, line};
use super::cut::{Cut, Scan, main_plane};
use super::{Figure, Subject};
use crate::camera::View;

/// An incline as it is drawn.
struct Drawn {
    id: &'static str,
    name: &'static str,
    /// +1 where it rises towards the functional side.
    sense: f64,
    /// Half the length of its stroke, mm.
    half_mm: f64,
    /// How far below its middle the words stand, px.
    below: f64,
}

const OUTER: Drawn = Drawn {
    id: "occlusal.incline.functional_outer_deg",
    name: "functional outer",
    sense: -1.0,
    half_mm: 0.8,
    below: 64.0,
};
const INNER: Drawn = Drawn {
    id: "occlusal.incline.functional_inner_deg",
    name: "functional inner",
    sense: 1.0,
    half_mm: 0.9,
    below: 110.0,
};
const OTHER: Drawn = Drawn {
    id: "occlusal.incline.nonfunctional_inner_deg",
    name: "non-functional inner",
    sense: -1.0,
    half_mm: 1.4,
    below: 58.0,
};

/// Two sections: through the functional cusp, and through the middle of the non-functional incline.
pub fn draw(subject: &Subject<'_>) -> Figure {
    let mut canvas = Canvas::new(346.0);
    panel(subject, &[OUTER, INNER], [10.0, 12.0], "functional", &mut canvas);
    panel(subject, &[OTHER], [356.0, 12.0], "other", &mut canvas);
    canvas.say("start", [14.0, 300.0], "Between functional outer and non-functional inner:");
    canvas.say("start number", [380.0, 300.0], &subject.said("occlusal.incline.parallel_deg"));
    canvas.key(
        [14.0, 330.0],
        &[
            ("before", "before cutting", 150.0),
            ("after", "after cutting", 140.0),
            ("help", "square on the path", 175.0),
            ("measure", "slope of the incline", 160.0),
        ],
    );
    canvas.finish(
        "inclines",
        "Cusp inclines",
        "Two sections across a prepared upper molar. Thick strokes lie on the outer and the inner incline of the functional cusp and on the \
         inner incline of the non-functional cusp, each with its angle to the plane square on the path of placement.",
    )
}

fn panel(subject: &Subject<'_>, inclines: &[Drawn], corner: [f64; 2], id: &'static str, canvas: &mut Canvas) {
    let preparation = subject.preparation;
    let at = subject.place(inclines[0].id).unwrap_or(preparation.frame.origin);
    let (axes, mut cut) = main_plane(preparation, View::Mesial, at);
    cut.window = [-6.1, 6.1, -0.2, 8.6];
    cut.corner = corner;
    cut.scale = 27.5;
    cut.id = id;
    canvas.add(cut.scene(preparation, &[Scan::Before, Scan::After]));
    inclines.iter().for_each(|drawn| incline(subject, &cut, drawn, canvas));
    canvas.add(cut.ends(&axes)).add(cut.scale_bar(2.0));
}

fn incline(subject: &Subject<'_>, cut: &Cut, drawn: &Drawn, canvas: &mut Canvas) {
    let preparation = subject.preparation;
    let Some(place) = subject.place(drawn.id) else { return };
    // Towards the functional side, to the right in the figure or to the left.
    let functional = preparation.frame.facial * preparation.functional_sign().unwrap_or(1.0);
    let rise =
        subject.number(drawn.id).to_radians().tan() * drawn.sense * cut.across.dot(&functional).signum();
    let middle = on_surface(subject, cut, cut.flat(&place));
    let end = |x: f64| cut.px(middle.x + x, middle.y + rise * x);
    canvas.add(line("strong", end(-drawn.half_mm), end(drawn.half_mm)));
    let level = cut.at(&middle);
    let away = 44.0 * rise.signum();
    canvas.add(line("help", level, [level[0] + 1.3 * away, level[1]]));
    let turn_deg = rise.atan().to_degrees();
    let from_deg = if rise > 0.0 { 0.0 } else { 180.0 };
    canvas.add(arc("measure", level, 44.0, from_deg, from_deg + turn_deg));
    canvas.label("middle", [level[0], level[1] + drawn.below], drawn.name, &subject.said(drawn.id));
}

/// The incline's middle may lie beside the plane: it is shown on the surface of the section, where it would be.
fn on_surface(subject: &Subject<'_>, cut: &Cut, middle: Point2<f64>) -> Point2<f64> {
    let lines = cut.lines(&Placed::in_place(subject.preparation.scene.after));
    let points = lines.iter().flat_map(|(points, _)| points).filter(|point| point.y > 2.0);
    let nearest = points.min_by(|a, b| (a.x - middle.x).abs().total_cmp(&(b.x - middle.x).abs()));
    nearest.copied().unwrap_or(middle)
}
