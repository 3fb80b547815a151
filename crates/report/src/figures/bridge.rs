//! Two abutments: the path of one against its axis, and the common path.

use kerfwright_measure::{JointDocument, Preparation};
use nalgebra::{Point3, Vector3};

use super::canvas::{Canvas, arc, arrow, line};
use super::cut::{Cut, Scan, main_plane};
use super::{Figure, Subject, quantity};
use crate::camera::View;

/// The path of the second abutment against its axis.
pub fn path(bridge: &[Preparation<'_>], joint: &JointDocument) -> Figure {
    let mut canvas = Canvas::new(500.0);
    if let (Some(preparation), Some(document)) = (bridge.last(), joint.teeth.last()) {
        let subject = Subject { preparation, document };
        let (axes, mut cut) = main_plane(preparation, View::Facial, preparation.frame.origin);
        // Upright is the axis here: what leans is the path.
        cut.up = preparation.frame.occlusal;
        let mesial = preparation.frame.mesial;
        cut.across = mesial * cut.across.dot(&mesial).signum();
        cut.window = [-6.8, 6.8, -2.3, 8.6];
        cut.corner = [10.0, 10.0];
        cut.scale = 36.0;
        canvas.add(cut.scene(preparation, &[Scan::Before, Scan::After]));
        let origin = cut.px(0.0, 0.0);
        let end = |direction: &Vector3<f64>, mm: f64| cut.solid(&(preparation.frame.origin + direction * mm));
        canvas.add(arrow("other", origin, end(&preparation.frame.occlusal, 8.2)));
        canvas.add(arrow("measure", origin, end(&preparation.path, 8.2)));
        let seen = end(&preparation.path, 1.0);
        let turn_deg = (origin[1] - seen[1]).atan2(seen[0] - origin[0]).to_degrees();
        canvas.add(arc("measure", origin, 6.8 * cut.scale, 90.0, turn_deg));
        canvas.add(cut.ends(&axes)).add(cut.scale_bar(2.0));
        let rows = [
            ("Tilt of the path (red)", "path.tilt_deg"),
            ("towards", "path.tilt_toward"),
            ("Blocked by", "path.blocked_by"),
        ];
        for (k, (name, id)) in rows.into_iter().enumerate() {
            canvas.label("start", [516.0, 60.0 + 50.0 * k as f64], name, &subject.said(id));
        }
        canvas.lines(
            "start small",
            [516.0, 226.0],
            &[
                "Dashes: the tooth's axis.",
                "It is known less well than",
                "the path; the uncertainty",
                "is that of the axis.",
            ],
        );
    }
    canvas.key(
        [14.0, 440.0],
        &[
            ("before", "before cutting; striped: removed", 268.0),
            ("after", "after cutting", 140.0),
            ("measure", "path of placement", 160.0),
            ("other", "axis", 100.0),
        ],
    );
    canvas.lines(
        "start small",
        [14.0, 466.0],
        &[
            "The path leaves the least undercut, then has the largest smallest draft, then shares the draft",
            "evenly between opposing walls.",
        ],
    );
    canvas.finish(
        "path",
        "Path of placement and axis",
        "A section from mesial to distal through a molar whose preparation leans mesially: the path of placement and the axis of the uncut \
         tooth as arrows, with the angle between.",
    )
}

/// The paths of both abutments and their common one, in a section along the arch.
pub fn common_path(bridge: &[Preparation<'_>], joint: &JointDocument) -> Figure {
    let mut canvas = Canvas::new(440.0);
    if let ([first, .., last], Some(common)) = (bridge, joint.abutments.common_path) {
        let common = Vector3::from(common);
        let middle = nalgebra::center(&first.frame.origin, &last.frame.origin);
        let along = last.frame.origin - first.frame.origin;
        let across = (along - common * along.dot(&common)).normalize();
        // As seen from facial: the first tooth, which stands mesially, on the side where it is.
        let seen_from = common.cross(&across).dot(&first.frame.facial);
        let across = if seen_from > 0.0 { -across } else { across };
        let cut = Cut {
            origin: middle,
            across,
            up: common,
            window: [-17.0, 17.0, -4.0, 10.6],
            corner: [10.0, 10.0],
            scale: 20.0,
            id: "window",
        };
        canvas.add(cut.scene(first, &[Scan::After]));
        for preparation in [first, last] {
            paths(preparation, &common, &cut, &mut canvas);
        }
        canvas.add(cut.scale_bar(5.0));
        let ends = if (first.frame.origin - middle).dot(&across) < 0.0 {
            ["mesial", "distal"]
        } else {
            ["distal", "mesial"]
        };
        canvas.say("start side", [16.0, 26.0], ends[0]).say("end side", [cut.right() - 6.0, 26.0], ends[1]);
    }
    let said = |id: &str| {
        let reading = joint.abutments.readings.get(id)?;
        Some(quantity(reading.number()?, reading.u95, &reading.unit))
    };
    let rows = [
        ("Angle between the best paths", "abutments.parallel_deg"),
        ("Undercut left along the common path", "abutments.common_path_undercut_mm2"),
    ];
    for (k, (name, id)) in rows.into_iter().enumerate() {
        canvas.label(
            "start",
            [14.0 + 260.0 * k as f64, 352.0],
            name,
            &said(id).unwrap_or_else(|| "not taken".into()),
        );
    }
    canvas.key(
        [14.0, 412.0],
        &[
            ("after", "after cutting", 140.0),
            ("measure", "best path of each tooth", 200.0),
            ("other", "best common path", 170.0),
        ],
    );
    canvas.finish(
        "abutments",
        "Two abutments and their common path",
        "A section along the arch through two prepared teeth with a gap between them. On each stand two arrows: its own best path of \
         placement, and the common path.",
    )
}

fn paths(preparation: &Preparation<'_>, common: &Vector3<f64>, cut: &Cut, canvas: &mut Canvas) {
    let origin: Point3<f64> = preparation.frame.origin;
    let (own, shared) = (origin + preparation.path * 9.6, origin + common * 9.6);
    canvas.add(line("help", cut.solid(&origin), cut.solid(&(origin + common * 2.0))));
    canvas.add(arrow("other", cut.solid(&origin), cut.solid(&shared)));
    canvas.add(arrow("measure", cut.solid(&origin), cut.solid(&own)));
}
