//! Resistance to tilting, in a section.

use nalgebra::{Point2, Vector2};

use super::canvas::{Canvas, dot, line, stroke};
use super::cut::{Cut, Scan, main_plane};
use super::{Figure, Subject};
use crate::camera::View;
use kerfwright_measure::frame::Aspect;

/// The turn about the mesial finish line: which part of the distal wall resists.
pub fn draw(subject: &Subject<'_>) -> Figure {
    let preparation = subject.preparation;
    let (axes, mut cut) = main_plane(preparation, View::Facial, preparation.frame.origin);
    cut.window = [-5.6, 5.6, -1.5, 5.2];
    cut.corner = [12.0, 10.0];
    cut.scale = 60.0;
    let mut canvas = Canvas::new(560.0);
    canvas.add(cut.scene(preparation, &[Scan::After]));
    turn(subject, &cut, &mut canvas);
    canvas.add(cut.ends(&axes)).add(cut.scale_bar(2.0));
    canvas.label(
        "start",
        [14.0, 464.0],
        "Of the distal wall resists",
        &subject.said("resistance.resisting_pct.distal"),
    );
    let limit = |name: &str| subject.extra("resistance.resisting_pct.distal", name);
    // A wide one is left out beside its share, and both where the share is refused.
    let or_not = |value: f64, said: String| if value.is_finite() { said } else { "not taken".into() };
    canvas.label(
        "start",
        [220.0, 464.0],
        "Its limiting taper",
        &or_not(
            limit("limiting_taper_deg"),
            super::quantity(limit("limiting_taper_deg"), Some(limit("limiting_taper_deg_u95")), "deg"),
        ),
    );
    canvas.label(
        "start",
        [370.0, 464.0],
        "Its taper",
        &or_not(limit("taper_deg"), format!("{}°", crate::text::fixed(limit("taper_deg"), 1))),
    );
    canvas.label(
        "start",
        [480.0, 464.0],
        "Least limiting taper, all axes",
        &subject.said("resistance.limiting_taper_deg"),
    );
    canvas.lines(
        "start small",
        [14.0, 516.0],
        &[
            "The crown turns about the mesial finish line, its distal side upwards. Thick red: here its inner surface would",
            "have to move into the wall, which resists. Thick dashes: here it moves away. Arcs: how two points would go.",
        ],
    );
    canvas.finish(
        "resistance",
        "Resistance to tilting",
        "A section from mesial to distal. The crown would turn about the finish line on one side; on the opposite wall the stretch that \
         stands in the way is drawn thick, the one that does not is dashed.",
    )
}

fn turn(subject: &Subject<'_>, cut: &Cut, canvas: &mut Canvas) {
    let (Some(axis), Some(wall)) =
        (subject.station_at(Aspect::Mesial.centre_deg()), subject.station_at(Aspect::Distal.centre_deg()))
    else {
        return;
    };
    let Some(top) = wall.wall.as_ref().and_then(|wall| wall.top) else { return };
    let axis = cut.flat(&axis.edge());
    let frame = &wall.section.frame;
    let own = wall.section.between(0.1, 10.0);
    let up_to_top: Vec<Point2<f64>> = own.into_iter().take_while(|point| point.y < top.y - 0.1).collect();
    // Steeper than 60° over half a millimetre: axial wall.
    let is_steep = |k: usize| {
        let along = up_to_top[(k + 4).min(up_to_top.len() - 1)] - up_to_top[k.saturating_sub(4)];
        along.y > along.norm() * 60f64.to_radians().sin()
    };
    let first = (0..up_to_top.len()).find(|k| is_steep(*k)).unwrap_or(0);
    let points: Vec<Point2<f64>> =
        up_to_top[first..].iter().map(|point| cut.flat(&frame.solid(point))).collect();
    if points.len() < 10 {
        return;
    }
    // The wall's direction over half a millimetre: a single segment is noisy.
    let resists = |k: usize| {
        let (from, to) = (points[k.saturating_sub(4)], points[(k + 4).min(points.len() - 1)]);
        let along: Vector2<f64> = to - from;
        let outward = (points[k].x - axis.x).signum();
        let normal = Vector2::new(along.y * outward, -along.x * outward);
        let arm = points[k] - axis;
        // Turning lifts the far side: a point moves square on its arm, away from the axis's own side.
        let moves = Vector2::new(-arm.y * outward, arm.x * outward);
        moves.dot(&normal) < 0.0
    };
    let flags: Vec<bool> = (0..points.len()).map(resists).collect();
    let cells: Vec<usize> = (0..points.len()).collect();
    for run in cells.chunk_by(|a, b| flags[*a] == flags[*b]) {
        let class = if flags[run[0]] { "strong" } else { "give" };
        let next = (run[run.len() - 1] + 1).min(points.len() - 1);
        canvas.add(stroke(class, run.iter().chain([&next]).map(|k| cut.at(&points[*k]))));
    }
    for place in [points[points.len() - 1], points[points.len() / 12]] {
        let arm = place - axis;
        let (radius, start) = (arm.norm(), arm.y.atan2(arm.x));
        let turned = |k: i32| {
            let angle = start + 0.02 * f64::from(k) * (place.x - axis.x).signum();
            cut.px(axis.x + radius * angle.cos(), axis.y + radius * angle.sin())
        };
        canvas.add(line("help", cut.at(&axis), cut.at(&place)));
        canvas.add(stroke("axis", (0..=9).map(turned)));
        canvas.add(dot("open", cut.at(&place), 4.0));
    }
    let [x, y] = cut.at(&axis);
    canvas.add(dot("point", [x, y], 6.0)).say("middle title", [x - 30.0, y + 48.0], "tilting axis");
}
