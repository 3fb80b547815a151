//! A line angle with its radius, and a ledge in a wall.

use nalgebra::Point2;

use super::canvas::{Canvas, dot, line, stroke};
use super::cut::{Cut, Scan};
use super::{Figure, Subject};
use crate::text::fixed;

/// The section through the line angle over the station with the least radius.
pub fn line_angle(subject: &Subject<'_>) -> Figure {
    const ID: &str = "edge.least_radius_mm";
    let mut canvas = Canvas::new(420.0);
    let angle_deg =
        subject.document.readings.get(ID).and_then(|reading| Some(reading.place.as_ref()?.angle_deg));
    let station = angle_deg.and_then(|angle_deg| subject.station_at(angle_deg));
    if let Some(station) = station
        && let Some(wall) = &station.wall
        && let Some(top) = wall.top
    {
        let mut cut = Cut::of_station(station);
        cut.window = [top.x - 0.8, top.x + 1.1, top.y - 1.3, top.y + 0.5];
        cut.corner = [12.0, 12.0];
        cut.scale = 205.0;
        canvas.add(cut.scene(subject.preparation, &[Scan::After]));
        circles(subject, station, &cut, top, &mut canvas);
        canvas.add(cut.scale_bar(0.2));
    }
    let rows = [("Least radius", ID), ("Sharper than the target", "edge.sharp_pct"), ("Where", "edge.where")];
    for (k, (name, id)) in rows.into_iter().enumerate() {
        canvas.label("start", [430.0, 50.0 + 50.0 * k as f64], name, &subject.said(id));
    }
    let target = format!("{} mm", fixed(subject.extra("edge.sharp_pct", "target_mm"), 2));
    canvas.label("start", [430.0, 200.0], "Target (dashed circle)", &target);
    canvas.label(
        "start",
        [430.0, 250.0],
        "Median of all around",
        &format!("{} mm", fixed(subject.extra(ID, "median"), 2)),
    );
    canvas.lines(
        "start small",
        [430.0, 310.0],
        &["Red circle: the least radius, laid", "against wall and occlusal surface."],
    );
    canvas.finish(
        "line-angle",
        "Radius of an occlusal line angle",
        "A section through the edge between axial wall and occlusal surface, much enlarged, with the circle of the radius read there and a \
         dashed circle of the target radius.",
    )
}

/// Circles that touch the wall and the occlusal surface beyond the edge.
fn circles(
    subject: &Subject<'_>,
    station: &kerfwright_measure::station::Station,
    cut: &Cut,
    top: Point2<f64>,
    canvas: &mut Canvas,
) {
    let section = &station.section;
    let near = (0..section.points.len())
        .filter(|&k| section.arc_mm[k] > 0.0)
        .min_by(|&a, &b| (section.points[a] - top).norm().total_cmp(&(section.points[b] - top).norm()));
    let Some(at_mm) = near.map(|k| section.arc_mm[k]) else { return };
    let fit =
        |from: f64, to: f64| kerfwright_geometry::fit::line2(&section.between(at_mm + from, at_mm + to));
    let (Some(below), Some(above)) = (fit(-0.8, -0.25), fit(0.25, 0.8)) else { return };
    let Some(apex) = kerfwright_measure::station::meeting(&below, &above, 0.1) else { return };
    let down = if below.direction.y > 0.0 { -below.direction } else { below.direction };
    let inward = if above.direction.x < 0.0 { -above.direction } else { above.direction };
    for (class, direction) in [("thin", down), ("thin", inward)] {
        canvas.add(line(class, cut.at(&apex), cut.at(&(apex + direction * 1.0))));
    }
    let half_rad = 0.5 * down.angle(&inward);
    let bisector = (down + inward).normalize();
    let radii = [
        ("help", subject.extra("edge.sharp_pct", "target_mm")),
        ("measure", subject.number("edge.least_radius_mm")),
    ];
    for (class, radius_mm) in radii {
        let centre = apex + bisector * (radius_mm / half_rad.sin());
        canvas.add(dot(class, cut.at(&centre), (radius_mm * cut.scale).max(2.0)));
    }
}

/// A ledge: the wall in its section, and its departure from its line much enlarged.
pub fn surface(subject: &Subject<'_>) -> Figure {
    const ID: &str = "surface.roughness_um";
    let mut canvas = Canvas::new(430.0);
    let id = if subject.place("surface.steps").is_some() { "surface.steps" } else { ID };
    let angle_deg =
        subject.document.readings.get(id).and_then(|reading| Some(reading.place.as_ref()?.angle_deg));
    if let Some(station) = angle_deg.and_then(|angle_deg| subject.station_at(angle_deg))
        && let Some(wall) = &station.wall
        && let Some(top) = wall.top
    {
        let mut cut = Cut::of_station(station);
        cut.window = [-0.6, 2.4, -0.6, 5.0];
        cut.corner = [12.0, 12.0];
        cut.scale = 68.0;
        canvas.add(cut.scene(subject.preparation, &[Scan::After]));
        canvas.add(cut.scale_bar(1.0));
        let lean = wall.taper_deg.to_radians().tan();
        let on_wall = |up: f64| cut.px(wall.width_mm + up * lean, up);
        canvas.add(line("measure", on_wall(0.0), on_wall(top.y)));
        departure(station, wall.width_mm, lean, top.y, &cut, &mut canvas);
    }
    canvas.label("start", [480.0, 60.0], "Roughness of the walls", &subject.said(ID));
    canvas.label("start", [480.0, 112.0], "Ledges", &fixed(subject.number("surface.steps"), 0));
    let step =
        match subject.document.readings.get("surface.steps").and_then(|reading| reading.extras.get("step_1"))
        {
            Some(kerfwright_measure::document::Value::Text(words)) => {
                words.replace(" um", " µm").replace(" deg", "°")
            }
            _ => String::new(),
        };
    for (k, part) in step.split(", ").enumerate() {
        canvas.say("start small", [480.0, 156.0 + 18.0 * k as f64], part);
    }
    canvas.lines(
        "start small",
        [480.0, 240.0],
        &[
            "Right: how far the wall lies",
            "outside (left) or inside (right)",
            "of its line, enlarged five times",
            "sideways. The readings hold",
            "it against a curved surface.",
        ],
    );
    canvas.finish(
        "surface",
        "Smoothness of a wall",
        "A section through an axial wall with a ledge, and beside it the wall's departure from its line, enlarged five times sideways.",
    )
}

fn departure(
    station: &kerfwright_measure::station::Station,
    width_mm: f64,
    lean: f64,
    top_mm: f64,
    cut: &Cut,
    canvas: &mut Canvas,
) {
    const MIDDLE: f64 = 370.0;
    let y = |height_mm: f64| cut.px(0.0, height_mm)[1];
    canvas.add(line("thin", [MIDDLE, y(0.0)], [MIDDLE, y(top_mm)]));
    for um in [-200.0, 200.0] {
        let x = MIDDLE + 5.0 * cut.scale * um / 1000.0;
        canvas.add(line("grid", [x, y(0.0)], [x, y(top_mm)]));
        canvas.say("middle small", [x, y(0.0) + 18.0], &format!("{um:.0} µm").replace('-', "\u{2212}"));
    }
    let levels = (0..).map(|k| 0.3 + 0.04 * f64::from(k)).take_while(|level| *level < top_mm - 0.2);
    let places = levels.filter_map(|level| {
        let off_mm = station.section.at_height(level)?.x - (width_mm + level * lean);
        (off_mm.abs() < 0.35).then(|| [MIDDLE + 5.0 * cut.scale * off_mm, y(level)])
    });
    canvas.add(stroke("measure", places.collect::<Vec<_>>()));
}
