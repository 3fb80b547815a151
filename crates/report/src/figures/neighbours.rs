//! The adjacent tooth: its distance from the finish line, and what the instrument took from it.

use nalgebra::{Point3, Vector3};

use super::canvas::{Canvas, dot, line};
use super::cut::{Scan, main_plane};
use super::{Figure, Subject};
use crate::camera::View;

/// The section along the arch through the mesial gap.
pub fn draw(subject: &Subject<'_>) -> Figure {
    const DISTANCE: &str = "finish_line.neighbour.mesial_mm";
    const DEPTH: &str = "neighbour.mesial.depth_mm";
    let preparation = subject.preparation;
    let at = subject.place(DEPTH).or(subject.place(DISTANCE)).unwrap_or(preparation.frame.origin);
    let (axes, mut cut) = main_plane(preparation, View::Facial, at);
    let towards = cut.across.dot(&preparation.frame.mesial).signum();
    let gap = subject.place(DISTANCE).map_or(towards * 5.0, |place| cut.flat(&place).x);
    let middle = gap - 0.6 * towards;
    cut.window = [middle - 3.3, middle + 3.3, -1.9, 4.4];
    cut.corner = [12.0, 12.0];
    cut.scale = 66.0;
    let mut canvas = Canvas::new(490.0);
    canvas.add(cut.scene(preparation, &[Scan::Before, Scan::After]));
    if let Some(place) = subject.place(DISTANCE)
        && let Some(to) = nearest_neighbour(subject, &place, &(preparation.frame.mesial))
    {
        canvas.add(line("strong", cut.solid(&place), cut.solid(&to)));
        let [x, y] = cut.solid(&place);
        canvas.add(dot("point", [x, y], 5.0)).say("middle number", [x, y + 24.0], "a");
    }
    if let Some(place) = subject.place(DEPTH) {
        let [x, y] = cut.solid(&place);
        canvas.add(dot("point", [x, y], 4.0)).say("middle number", [x - towards * 18.0, y - 8.0], "b");
    }
    canvas.add(cut.ends(&axes)).add(cut.scale_bar(1.0));
    let rows = [
        ("a  Finish line to the neighbour", DISTANCE),
        ("b  Depth of the damage", DEPTH),
        ("Area of the damage", "neighbour.mesial.area_mm2"),
        ("Distal: finish line to neighbour", "finish_line.neighbour.distal_mm"),
        ("Distal: depth of damage", "neighbour.distal.depth_mm"),
    ];
    for (k, (name, id)) in rows.into_iter().enumerate() {
        canvas.label("start", [462.0, 44.0 + 50.0 * k as f64], name, &subject.said(id));
    }
    canvas.lines(
        "start small",
        [462.0, 310.0],
        &[
            "The section goes through the",
            "deepest place of the damage; the",
            "least distance (a) lies elsewhere",
            "and is shown in projection.",
        ],
    );
    canvas.key(
        [14.0, 470.0],
        &[("before", "before cutting; striped: removed", 268.0), ("after", "after cutting", 140.0)],
    );
    canvas.finish(
        "neighbours",
        "Adjacent tooth",
        "A section along the arch through the gap between a prepared molar and its mesial neighbour, which was nicked: the least distance \
         from the finish line to the neighbour, and the depth of the nick between the surfaces before and after.",
    )
}

/// The nearest surface on the mesial side that faces the tooth.
fn nearest_neighbour(
    subject: &Subject<'_>,
    from: &Point3<f64>,
    mesial: &Vector3<f64>,
) -> Option<Point3<f64>> {
    let preparation = subject.preparation;
    let after = preparation.scene.after;
    let faces = (0..after.mesh.vertices.len()).filter(|&vertex| {
        let normal = after.vertex_normals[vertex];
        let point = &after.mesh.vertices[vertex];
        !preparation.inside[vertex]
            && normal.dot(mesial) < -0.25
            && normal.dot(&preparation.path) < 0.6
            && (point - from).dot(mesial) > 0.0
            && (point - from).norm() < 3.0
    });
    let nearest = faces.min_by(|&a, &b| {
        let off = |vertex: usize| (after.mesh.vertices[vertex] - from).norm_squared();
        off(a).total_cmp(&off(b))
    })?;
    Some(after.mesh.vertices[nearest])
}
