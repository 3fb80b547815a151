//! Tooth frame, aspects and finish line.

use kerfwright_measure::frame::Aspect;
use kerfwright_measure::scene::Placed;

use super::canvas::{Canvas, arrow, dot, line, marks, stroke};
use super::plan::Plan;
use super::{Figure, Subject};

/// The prepared tooth from the occlusal with its axes, the eight aspects and the stations.
pub fn draw(subject: &Subject<'_>) -> Figure {
    let preparation = subject.preparation;
    let plan = Plan::of(preparation, [-8.4, 8.4, -8.2, 8.2], [28.0, 14.0], 25.0);
    let mut canvas = Canvas::new(438.0);
    canvas.add(plan.relief(&Placed::in_place(preparation.scene.after)));
    let outward = |angle_deg: f64, radius_mm: f64| {
        let (sine, cosine) = angle_deg.to_radians().sin_cos();
        plan.px(radius_mm * cosine, radius_mm * sine)
    };
    for aspect in Aspect::ALL {
        let middle_deg = aspect.centre_deg();
        canvas.add(line("help", outward(middle_deg + 22.5, 2.6), outward(middle_deg + 22.5, 7.2)));
        let half = (0..=9).map(|k| outward(middle_deg - 11.25 + 2.5 * f64::from(k), 6.6));
        canvas.add(stroke("strong", half));
        let [x, y] = outward(middle_deg, 6.9);
        let (anchor, shift) = match x - plan.px(0.0, 0.0)[0] {
            off if off < -20.0 => ("end", [-4.0, 5.0]),
            off if off > 20.0 => ("start", [4.0, 5.0]),
            _ if middle_deg < 180.0 => ("middle", [0.0, -4.0]),
            _ => ("middle", [0.0, 16.0]),
        };
        canvas.say(anchor, add([x, y], shift), aspect.id());
    }
    canvas.add(plan.finish_line(preparation));
    let every_tenth = preparation.stations.iter().step_by(10).map(|station| plan.solid(&station.edge()));
    canvas.add(marks("mark-a", every_tenth.map(|[x, y]| [x - 2.0, y]), "h4m-2 -2v4"));
    let centre = plan.px(0.0, 0.0);
    for (to, word, shift) in [([3.6, 0.0], "mesial", [0.0, -8.0]), ([0.0, 3.4], "facial", [26.0, 8.0])] {
        let end = plan.px(to[0], to[1]);
        canvas.add(arrow("axis", centre, end)).say("middle title", add(end, shift), word);
    }
    canvas.add(dot("open", centre, 6.0)).add(dot("point", centre, 2.5));
    canvas.say("start small", add(centre, [10.0, 18.0]), "occlusal, towards the eye");
    let n = preparation.ring.points.len();
    canvas.lines(
        "start",
        [484.0, 60.0],
        &[
            "Black: the finish line.",
            &format!("{n} stations, each {:.2} mm;", preparation.ring.length_mm() / n as f64),
            "a cross marks every tenth.",
            "",
            "Arrows: the tooth frame,",
            "its origin in the centre",
            "of the finish line.",
            "",
            "Dashed: the borders of",
            "the eight aspects.",
            "",
            "Thick arcs: the middle half",
            "of each, over which its",
            "value is the median.",
        ],
    );
    canvas.finish(
        "frame",
        "The tooth frame and the eight aspects",
        "An upper left first molar prepared for a crown, seen from the occlusal: arrows mesial and facial from the centre of the \
         finish line, the finish line with its stations, and eight sectors around the tooth with their middle halves marked.",
    )
}

fn add(a: [f64; 2], b: [f64; 2]) -> [f64; 2] {
    [a[0] + b[0], a[1] + b[1]]
}
