//! Clearance with the jaws closed, and while the lower jaw moves.

use kerfwright_measure::scene::Placed;
use kerfwright_measure::zones::Zone;
use kerfwright_measure::{JawMotion, jaw_motion};
use nalgebra::Point3;

use super::canvas::{Canvas, dot, length, line, stroke};
use super::cut::{Cut, Scan, main_plane};
use super::{Figure, Subject};
use crate::camera::View;
use crate::text::fixed;

const ID: &str = "clearance.mip_mm";

fn closed_cut(subject: &Subject<'_>, canvas: &mut Canvas, shown: &[Scan]) -> Option<(Cut, Point3<f64>)> {
    let preparation = subject.preparation;
    let at = subject.place(ID)?;
    let (axes, mut cut) = main_plane(preparation, View::Mesial, at);
    cut.window = [-7.0, 7.0, 1.0, 9.4];
    cut.corner = [12.0, 12.0];
    cut.scale = 46.0;
    canvas.add(cut.scene(preparation, shown));
    canvas.add(cut.ends(&axes)).add(cut.scale_bar(2.0));
    Some((cut, at))
}

/// The section through the place of the least distance.
pub fn closed(subject: &Subject<'_>) -> Figure {
    let mut canvas = Canvas::new(476.0);
    let shown = [Scan::Opposing, Scan::Before, Scan::After];
    if let Some((cut, at)) = closed_cut(subject, &mut canvas, &shown)
        && let Some(opposing) = subject.preparation.scene.opposing
        && let Some(near) = opposing.nearest(&[at], 6.0)[0]
    {
        let (from, to) = (cut.solid(&at), cut.solid(&near.point));
        canvas.add(line("strong", from, to)).add(dot("point", from, 4.0)).add(dot("point", to, 4.0));
        let beside = 0.5 * (from[0] + to[0]) + if from[0] > 350.0 { -150.0 } else { 24.0 };
        canvas.label("start", [beside, 0.5 * (from[1] + to[1]) - 26.0], "least", &subject.said(ID));
    }
    let others = format!(
        "5th percentile {} mm, median {} mm over the whole occlusal surface",
        fixed(subject.extra(ID, "p05"), 2),
        fixed(subject.extra(ID, "median"), 2)
    );
    canvas.say("start number", [14.0, 424.0], &others);
    canvas.key(
        [14.0, 456.0],
        &[
            ("opposing", "opposing teeth, jaws closed", 220.0),
            ("before", "before cutting", 150.0),
            ("after", "after cutting", 140.0),
            ("measure", "least distance", 120.0),
        ],
    );
    canvas.finish(
        "clearance",
        "Clearance, jaws closed",
        "A section from facial to lingual through the place where the prepared occlusal surface comes nearest to the opposing teeth, with \
         the line of the least distance.",
    )
}

/// The opposing teeth at five moments of a movement, and the least distance over its way.
pub fn excursion(subject: &Subject<'_>) -> Figure {
    let mut canvas = Canvas::new(666.0);
    let name = "laterotrusion_left";
    if let Ok(motion) = jaw_motion(subject.preparation, name)
        && let Some((cut, _)) = closed_cut(subject, &mut canvas, &[Scan::After])
    {
        moments(subject, &motion, &cut, &mut canvas);
        course(subject, &motion, &mut canvas);
    }
    canvas.finish(
        "excursion",
        "Clearance while the jaw moves",
        "Above: a section with the opposing teeth where they are at five moments of laterotrusion to the left. Below: the least distance \
         between prepared and opposing surface over the way of the lower incisal point; its lowest value is the reading.",
    )
}

fn at_moment<'a>(opposing: &Placed<'a>, motion: &JawMotion, share: f64) -> Placed<'a> {
    // The motion moves the prepared arch against the opposing teeth; seen from the prepared arch these move back.
    let moved = motion.relative.pose(share).inverse();
    Placed { surface: opposing.surface, after_from_scan: moved * opposing.after_from_scan }
}

fn moments(subject: &Subject<'_>, motion: &JawMotion, cut: &Cut, canvas: &mut Canvas) {
    let Some(opposing) = subject.preparation.scene.opposing else { return };
    let mut drawn = String::new();
    for k in (0..=4).rev() {
        let placed = at_moment(&opposing, motion, f64::from(k) / 4.0);
        let class = if k == 0 { "opposing" } else { "moved" };
        for (points, _) in cut.lines(&placed) {
            drawn += &stroke(class, points.iter().map(|point| cut.at(point)));
        }
    }
    canvas.add(cut.clipped(&drawn).replace("\"window\"", "\"moments\"").replace("#window", "#moments"));
}

/// The least distance at each moment, over the prepared occlusal vertices.
fn course(subject: &Subject<'_>, motion: &JawMotion, canvas: &mut Canvas) {
    const LEFT: f64 = 60.0;
    const BOTTOM: f64 = 596.0;
    let preparation = subject.preparation;
    let Some(opposing) = preparation.scene.opposing else { return };
    let sign = preparation.functional_sign().unwrap_or(1.0);
    let points: Vec<Point3<f64>> = preparation
        .occlusal
        .zone(Zone::All, sign)
        .iter()
        .map(|vertex| preparation.scene.after.mesh.vertices[vertex.vertex as usize])
        .collect();
    let least = |share: f64| {
        let near = at_moment(&opposing, motion, share).nearest(&points, 8.0);
        near.into_iter().flatten().map(|near| near.signed_mm).fold(f64::INFINITY, f64::min)
    };
    let course: Vec<[f64; 2]> =
        (0..=16).map(|k| f64::from(k) / 16.0).map(|share| [motion.travel_mm(share), least(share)]).collect();
    let end_mm = motion.travel_mm(1.0);
    let high_mm = course.iter().map(|place| place[1]).fold(1.0, f64::max).ceil();
    let px = |travel: f64, mm: f64| [LEFT + travel / end_mm * 400.0, BOTTOM - mm / high_mm * 130.0];
    canvas.say(
        "start title",
        [LEFT - 46.0, 446.0],
        "Least distance, mm, over the way of the lower incisal point, mm",
    );
    for k in 0..=high_mm as u32 {
        let mm = f64::from(k);
        canvas.add(line("grid", px(0.0, mm), px(end_mm, mm)));
        canvas.say("end small", [LEFT - 8.0, px(0.0, mm)[1] + 4.0], &k.to_string());
    }
    for k in 0..=end_mm as u32 {
        canvas.say("middle small", [px(f64::from(k), 0.0)[0], BOTTOM + 20.0], &k.to_string());
    }
    canvas.add(stroke("measure", course.iter().map(|place| px(place[0], place[1]))));
    let id = "clearance.excursion.laterotrusion_left_mm";
    let at = px(subject.extra(id, "travel_mm"), subject.number(id));
    canvas.add(dot("point", at, 5.0));
    canvas.add(length("measure", [at[0], BOTTOM], at));
    canvas.label("start", [486.0, 478.0], "Laterotrusion to the left,", &subject.said(id));
    canvas.say("start", [486.0, 518.0], "Laterotrusion to the right,").say(
        "start number",
        [486.0, 535.0],
        &subject.said("clearance.excursion.laterotrusion_right_mm"),
    );
    canvas.label("start", [486.0, 558.0], "Protrusion", &subject.said("clearance.excursion.protrusion_mm"));
    canvas.lines(
        "start small",
        [14.0, 636.0],
        &[
            "Dash and dot: the opposing teeth in the closed bite. Thin: after a quarter, half, three quarters and all",
            "of the movement, as seen from the prepared tooth.",
        ],
    );
}
