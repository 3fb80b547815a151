//! The finish line unrolled: height, radius, shoulder, jumps.

use super::canvas::{Canvas, area, dot, line, stroke};
use super::{Figure, Subject};
use kerfwright_measure::frame::Aspect;

const LEFT: f64 = 60.0;
const WIDTH: f64 = 620.0;
/// The chart begins at this angle, so that each side lies in one piece, degrees.
const FIRST_DEG: f64 = -45.0;

fn x(angle_deg: f64) -> f64 {
    LEFT + (angle_deg - FIRST_DEG).rem_euclid(360.0) / 360.0 * WIDTH
}

/// Three curves around the tooth.
pub fn draw(subject: &Subject<'_>) -> Figure {
    let preparation = subject.preparation;
    let mut canvas = Canvas::new(560.0);
    let mut stations: Vec<_> = preparation.stations.iter().collect();
    let turn = |angle_deg: f64| (angle_deg - FIRST_DEG).rem_euclid(360.0);
    stations.sort_by(|a, b| turn(a.angle_deg).total_cmp(&turn(b.angle_deg)));
    let height = |station: &kerfwright_measure::station::Station| {
        Some((station.edge() - preparation.frame.origin).dot(&preparation.path))
    };
    let radius = |station: &kerfwright_measure::station::Station| {
        let from = station.edge() - preparation.frame.origin;
        Some((from.norm_squared() - from.dot(&preparation.path).powi(2)).sqrt())
    };
    let width =
        |station: &kerfwright_measure::station::Station| station.wall.as_ref().map(|wall| wall.width_mm);
    type Value<'a> = &'a dyn Fn(&kerfwright_measure::station::Station) -> Option<f64>;
    let panels: [(&str, Value<'_>); 3] = [
        ("Height of E along the path, mm", &height),
        ("Distance of E from the middle, mm", &radius),
        ("Width, mm", &width),
    ];
    shoulder(subject, &mut canvas);
    for (k, (title, value)) in panels.into_iter().enumerate() {
        let places: Vec<[f64; 2]> =
            stations.iter().filter_map(|station| Some([x(station.angle_deg), value(station)?])).collect();
        panel(&mut canvas, title, 46.0 + 136.0 * k as f64, &places);
    }
    for aspect in Aspect::SURFACES {
        canvas.say("middle side", [x(aspect.centre_deg()), 456.0], aspect.id());
    }
    if let Some(reading) = subject.document.readings.get("finish_line.steps")
        && let Some(place) = &reading.place
    {
        let at = x(place.angle_deg);
        canvas.add(line("measure", [at, 24.0], [at, 430.0])).say("start number", [at + 6.0, 422.0], "jump");
    }
    if let Some(reading) = subject.document.readings.get("finish_line.lip_mm")
        && let Some(place) = &reading.place
    {
        canvas.add(dot("point", [x(place.angle_deg), 424.0], 5.0));
        canvas.say("middle number", [x(place.angle_deg), 408.0], "lip");
    }
    canvas.label(
        "start",
        [14.0, 490.0],
        "Shoulder (wide bar) from",
        &subject.said("finish_line.shoulder_from_deg"),
    );
    canvas.label("start", [214.0, 490.0], "to", &subject.said("finish_line.shoulder_to_deg"));
    canvas.label("start", [330.0, 490.0], "Roughness", &subject.said("finish_line.roughness_um"));
    canvas.label(
        "start",
        [470.0, 490.0],
        "Jumps",
        &crate::text::fixed(subject.number("finish_line.steps"), 0),
    );
    let step = match subject
        .document
        .readings
        .get("finish_line.steps")
        .and_then(|reading| reading.extras.get("step_1"))
    {
        Some(kerfwright_measure::document::Value::Text(words)) => {
            words.replace(" um", " µm").replace(" deg", "°")
        }
        _ => String::new(),
    };
    canvas.say("start small", [14.0, 530.0], &step);
    canvas.say(
        "start small",
        [14.0, 550.0],
        "Angles around the tooth: 0° mesial, 90° facial, 180° distal, 270° lingual.",
    );
    canvas.finish(
        "finish-line-unrolled",
        "The finish line around the tooth",
        "Three charts around a tooth: height, distance from the middle and width of the finish line. A bar marks the stretch that is a \
         shoulder, a vertical line the jump of the finish line, a dot the lip.",
    )
}

fn shoulder(subject: &Subject<'_>, canvas: &mut Canvas) {
    let [from, to] = ["from", "to"].map(|end| subject.number(&format!("finish_line.shoulder_{end}_deg")));
    if from.is_nan() || to.is_nan() {
        return;
    }
    let (left, right) = (x(from), x(to));
    canvas.add(area("band", [[left, 24.0], [right, 24.0], [right, 430.0], [left, 430.0]]));
    canvas.add(line("strong", [left, 436.0], [right, 436.0]));
}

fn panel(canvas: &mut Canvas, title: &str, top: f64, places: &[[f64; 2]]) {
    const HIGH: f64 = 96.0;
    let (low, high) = places
        .iter()
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), place| (a.min(place[1]), b.max(place[1])));
    let step = [0.1, 0.2, 0.5, 1.0, 2.0].into_iter().find(|step| (high - low) / step < 4.0).unwrap_or(5.0);
    let (first, last) = ((low / step).floor(), (high / step).ceil());
    let y = |value: f64| top + HIGH * (1.0 - (value / step - first) / (last - first));
    canvas.say("start title", [LEFT, top - 4.0], title);
    for k in first as i32..=last as i32 {
        let value = f64::from(k) * step;
        canvas.add(line("grid", [LEFT, y(value)], [LEFT + WIDTH, y(value)]));
        canvas.say(
            "end small",
            [LEFT - 8.0, y(value) + 4.0],
            &crate::text::fixed(value, usize::from(step < 1.0)),
        );
    }
    canvas.add(stroke("after", places.iter().map(|place| [place[0], y(place[1])])));
}
