//! The inner form of an onlay: isthmus and boxes in two sections.

use kerfwright_measure::channel::Channel;

use super::canvas::{Canvas, length, line};
use super::cut::{Cut, Scan, main_plane};
use super::{Figure, Subject};
use crate::camera::View;

/// Width and depth of the isthmus across it, height and depth of the boxes along it.
pub fn draw(subject: &Subject<'_>) -> Figure {
    let mut canvas = Canvas::new(430.0);
    if let Ok(channel) = Channel::find(subject.preparation) {
        across(subject, &channel, &mut canvas);
        along(subject, &channel, &mut canvas);
    }
    let rows = [
        [
            ("Isthmus, width at the floor", "isthmus.width_mm"),
            ("Isthmus, depth", "isthmus.depth_mm"),
            ("Isthmus, lean of its walls", "isthmus.divergence_deg"),
        ],
        [
            ("Mesial box, height", "box.mesial.height_mm"),
            ("Mesial box, depth", "box.mesial.depth_mm"),
            ("Mesial box, width", "box.mesial.width_mm"),
        ],
    ];
    for (k, row) in rows.iter().enumerate() {
        for (column, (name, id)) in row.iter().enumerate() {
            let at = [14.0 + 230.0 * column as f64, 300.0 + 50.0 * k as f64];
            canvas.label("start", at, name, &subject.said(id));
        }
    }
    canvas.key(
        [14.0, 400.0],
        &[("before", "before cutting; striped: removed", 268.0), ("after", "after cutting", 140.0)],
    );
    canvas.finish(
        "channel",
        "Isthmus and boxes of an onlay",
        "Two sections along the path through the channel of an onlay. Across it: the distance of the two walls, lengthened to the floor, \
         and the depth of the floor under the uncut surface. Along it: how high the axial wall of each box stands between its floor and \
         that of the isthmus, and how far the box reaches in from the finish line.",
    )
}

fn panel(
    subject: &Subject<'_>,
    view: View,
    at: nalgebra::Point3<f64>,
    left_px: f64,
    id: &'static str,
) -> Cut {
    let (_, mut cut) = main_plane(subject.preparation, view, at);
    cut.window = [-6.4, 6.4, -2.9, 7.2];
    cut.corner = [left_px, 10.0];
    cut.scale = 26.0;
    cut.id = id;
    cut
}

/// The section across the middle of the isthmus, as seen from mesial.
fn across(subject: &Subject<'_>, channel: &Channel<'_, '_>, canvas: &mut Canvas) {
    let sections = channel.isthmus();
    let Some(section) = sections.get(sections.len() / 2) else { return };
    let at = |across_mm: f64, up_mm: f64| channel.point([section.along_mm, across_mm, up_mm]);
    let cut = panel(subject, View::Mesial, at(0.0, section.floor_mm), 8.0, "across");
    canvas.add(cut.scene(subject.preparation, &[Scan::Before, Scan::After])).add(cut.scale_bar(2.0));
    let half_mm = 0.5 * section.width_mm;
    let [from, to] = [-half_mm, half_mm].map(|mm| cut.solid(&at(mm, section.floor_mm - 0.5)));
    canvas.add(length("measure", from, to));
    for mm in [-half_mm, half_mm] {
        canvas.add(line(
            "help",
            cut.solid(&at(mm, section.floor_mm - 0.7)),
            cut.solid(&at(mm, section.floor_mm)),
        ));
    }
    let Some(uncut_mm) = channel.uncut_mm(section.along_mm) else { return };
    canvas.add(length("measure", cut.solid(&at(0.0, section.floor_mm)), cut.solid(&at(0.0, uncut_mm))));
}

/// The section along the channel, as seen from facial.
fn along(subject: &Subject<'_>, channel: &Channel<'_, '_>, canvas: &mut Canvas) {
    let at = |along_mm: f64, up_mm: f64| channel.point([along_mm, 0.0, up_mm]);
    let [distal_mm, mesial_mm] = channel.isthmus_mm;
    let cut =
        panel(subject, View::Facial, at(0.5 * (distal_mm + mesial_mm), channel.floor_mm), 358.0, "along");
    canvas.add(cut.scene(subject.preparation, &[Scan::Before, Scan::After])).add(cut.scale_bar(2.0));
    for sense in [1.0, -1.0] {
        let Ok(end) = channel.end(sense) else { continue };
        let Some(depth_mm) = end.depth_mm else { continue };
        let (axial_mm, edge_mm) = (sense * end.axial_mm, sense * (end.axial_mm + depth_mm));
        let middle_mm = 0.5 * (axial_mm + edge_mm);
        canvas.add(line(
            "help",
            cut.solid(&at(axial_mm, channel.floor_mm)),
            cut.solid(&at(edge_mm, channel.floor_mm)),
        ));
        let [low, high] = [end.floor_mm, channel.floor_mm].map(|up_mm| cut.solid(&at(middle_mm, up_mm)));
        canvas.add(length("measure", low, high));
        let [from, to] = [axial_mm, edge_mm].map(|mm| cut.solid(&at(mm, end.floor_mm - 0.5)));
        canvas.add(length("measure", from, to));
        for mm in [axial_mm, edge_mm] {
            canvas.add(line(
                "help",
                cut.solid(&at(mm, end.floor_mm - 0.7)),
                cut.solid(&at(mm, end.floor_mm)),
            ));
        }
    }
}
