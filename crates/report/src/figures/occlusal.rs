//! The occlusal surface seen along the tooth's axis: zones, customary points, cusp line.

use kerfwright_measure::measures::cusp_line::FacialRow;
use kerfwright_measure::scene::Placed;
use kerfwright_measure::zones::Zone;
use nalgebra::Vector3;

use super::canvas::{Canvas, dot, line, marks, stroke};
use super::plan::Plan;
use super::{Figure, Subject};

/// Marks of the zones: what `Zone`, class, mark around the place, and name.
const ZONES: [(Zone, &str, &str, &str); 3] = [
    (Zone::Functional, "mark-a", "m-2 0h4m-2 -2v4", "functional: crosses"),
    (Zone::Groove, "mark-c", "h0.1", "groove: dots"),
    (Zone::Nonfunctional, "mark-b", "m-2 1.5l4 -3", "non-functional: slanted strokes"),
];

/// The vertices of each zone as they were used, the groove line and the customary points.
pub fn zones(subject: &Subject<'_>) -> Figure {
    let preparation = subject.preparation;
    let plan = Plan::of(preparation, [-6.6, 6.6, -7.6, 7.6], [14.0, 10.0], 30.0);
    let mut canvas = Canvas::new(492.0);
    canvas.add(plan.relief(&Placed::in_place(preparation.scene.after)));
    let sign = preparation.functional_sign().unwrap_or(1.0);
    let at = |place: &Vector3<f64>| plan.px(place.x, place.y);
    for (zone, class, mark, _) in ZONES {
        let vertices = preparation.occlusal.zone(zone, sign);
        canvas.add(marks(class, vertices.iter().step_by(2).map(|vertex| at(&vertex.place)), mark));
    }
    let ridge = preparation.occlusal.zone(Zone::MarginalRidge, sign);
    for side in [1.0, -1.0] {
        let inner = ridge
            .iter()
            .map(|vertex| side * vertex.place.x)
            .filter(|x| *x > 0.0)
            .fold(f64::INFINITY, f64::min);
        let across = ridge.iter().filter(|vertex| vertex.place.x * side > 0.0).map(|vertex| vertex.place.y);
        let (low, high) = across.fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), y| (a.min(y), b.max(y)));
        canvas.add(line("axis", plan.px(side * inner, low), plan.px(side * inner, high)));
    }
    canvas.add(plan.finish_line(preparation));
    if let Some(groove) = preparation.occlusal.groove {
        let end = |x: f64| plan.px(x, groove.at_mm + groove.slope * x);
        canvas.add(line("line-case", end(-4.0), end(4.0))).add(line("measure", end(-4.0), end(4.0)));
    }
    let mut y = 250.0;
    canvas.say("start title", [426.0, y - 22.0], "Reduction at the points");
    for (k, (name, place)) in
        preparation.occlusal.landmarks.customary(preparation.tooth).into_iter().enumerate()
    {
        let id = format!("reduction.points.{name}_mm");
        if let Some(place) = place {
            canvas.add(dot("open", at(&place), 9.0));
            let [x, y] = at(&place);
            canvas.say("middle title", [x, y + 5.0], &(k + 1).to_string());
        }
        let words = format!("{} {}: ", k + 1, crate::titles::title(&id));
        canvas.say("start", [426.0, y], &words);
        canvas.say("end number", [680.0, y + 17.0], &subject.said(&id));
        y += 38.0;
    }
    canvas.add(plan.sides());
    canvas.lines(
        "start",
        [426.0, 34.0],
        &[
            "Zones of the occlusal surface",
            "",
            "crosses: functional",
            "dots: groove, 0.8 mm to each side",
            "slanted strokes: non-functional",
        ],
    );
    canvas.lines(
        "start",
        [426.0, 134.0],
        &[
            "red line: through the fossae",
            "green lines: where the marginal",
            "ridges begin, 1.5 mm from the ends",
        ],
    );
    canvas.finish(
        "occlusal-zones",
        "Occlusal zones and customary points",
        "A prepared molar seen from the occlusal. Marks of three kinds show the points of the functional zone, the groove band and the \
         non-functional zone; a line runs through the fossae; numbered circles are the cusp tips and fossae of the uncut tooth.",
    )
}

/// The curve through the neighbours' facial cusp tips and how far the prepared ones lie from it.
pub fn cusp_line(subject: &Subject<'_>) -> Figure {
    const ID: &str = "occlusal.cusp_line_mm";
    let preparation = subject.preparation;
    let plan = Plan::of(preparation, [-17.2, 17.2, -7.0, 8.6], [12.0, 10.0], 19.6);
    let mut canvas = Canvas::new(412.0);
    canvas.add(plan.relief(&Placed::in_place(preparation.scene.after)));
    canvas.add(plan.finish_line(preparation));
    if let Ok(row) = FacialRow::of(preparation) {
        let on_curve = (-160..=160).map(|k| 0.1 * f64::from(k)).map(|x| plan.px(x, row.facial_mm(x)));
        let on_curve: Vec<[f64; 2]> = on_curve.collect();
        canvas
            .add(stroke("line-case", on_curve.iter().copied()))
            .add(stroke("other", on_curve.iter().copied()));
        for tip in &row.neighbours {
            canvas.add(dot("open", plan.px(tip.x, tip.y), 5.5));
        }
        for (name, tip) in &row.own {
            let [x, y] = plan.px(tip.x, tip.y);
            canvas.add(dot("point", [x, y], 5.5));
            let words = crate::text::fixed(subject.extra(ID, name), 2) + " mm";
            canvas.say("middle number", [x, y + 24.0], &words);
        }
    }
    canvas.add(plan.sides());
    canvas.label("start", [14.0, 344.0], "Prepared facial tips off the curve, mean", &subject.said(ID));
    let uncut = crate::text::fixed(subject.extra(ID, "uncut"), 2) + " mm";
    canvas.label("start", [330.0, 344.0], "The uncut tooth's", &uncut);
    canvas.say("start small", [14.0, 392.0], "Open circles: facial cusp tips of the neighbours, which carry the curve. Full circles: the prepared tips.");
    canvas.finish(
        "cusp-line",
        "The facial cusp line",
        "A prepared molar between its neighbours, seen from the occlusal. A curve runs through the facial cusp tips of the neighbours; \
         numbers say how far the prepared facial tips lie beside it.",
    )
}
