//! Kinds of finish line side by side, and a lip.

use super::canvas::{Canvas, dot, length, line};
use super::cut::{Cut, Scan};
use super::{Figure, Subject};
use kerfwright_measure::frame::Aspect;

/// The four sides of one tooth, each with another finish line.
pub fn kinds(subject: &Subject<'_>) -> Figure {
    const IDS: [&str; 4] = ["kinds-a", "kinds-b", "kinds-c", "kinds-d"];
    let mut canvas = Canvas::new(400.0);
    for (k, aspect) in Aspect::SURFACES.into_iter().enumerate() {
        let Some(station) = subject.station_at(aspect.centre_deg()) else { continue };
        let mut cut = Cut::of_station(station);
        cut.window = [-0.8, 1.9, -0.9, 2.0];
        cut.scale = 60.0;
        cut.corner = [10.0 + 172.0 * k as f64, 30.0];
        cut.id = IDS[k];
        let middle = 0.5 * (cut.corner[0] + cut.right());
        canvas.add(cut.scene(subject.preparation, &[Scan::Before, Scan::After]));
        canvas.say(
            "middle title",
            [middle, 20.0],
            &subject.said(&format!("finish_line.kind.{}", aspect.id())),
        );
        canvas.add(dot("point", cut.px(0.0, 0.0), 5.0));
        if let Some(wall) = &station.wall {
            canvas.add(length("measure", cut.px(0.0, -0.45), cut.px(wall.width_mm.max(0.02), -0.45)));
            let lean = wall.taper_deg.to_radians().tan();
            canvas.add(line("measure", cut.px(wall.width_mm, 0.0), cut.px(wall.width_mm + 1.9 * lean, 1.9)));
        }
        canvas.say("middle side", [middle, 226.0], aspect.id());
        let rows = [
            ("width", "width", "_mm"),
            ("declination", "declination", "_deg"),
            ("internal radius", "internal_radius", "_mm"),
        ];
        for (row, (name, id, unit)) in rows.into_iter().enumerate() {
            let said = subject.said_or_dash(&format!("finish_line.{id}.{}{unit}", aspect.id()));
            let y = 252.0 + 42.0 * row as f64;
            canvas.say("middle small", [middle, y], name).say("middle number", [middle, y + 17.0], &said);
        }
    }
    canvas.key(
        [14.0, 386.0],
        &[
            ("before", "before cutting; striped: removed", 268.0),
            ("after", "after cutting", 140.0),
            ("measure", "width, and the wall line", 180.0),
        ],
    );
    canvas.finish(
        "finish-line-kinds",
        "Kinds of finish line",
        "Four sections of one tooth with four finish lines, each with its name by the table of kinds, its width, the slope of its floor \
         and its internal radius.",
    )
}

/// The section through the lip.
pub fn lip(subject: &Subject<'_>) -> Figure {
    const ID: &str = "finish_line.lip_mm";
    let mut canvas = Canvas::new(400.0);
    let angle_deg =
        subject.document.readings.get(ID).and_then(|reading| Some(reading.place.as_ref()?.angle_deg));
    if let Some(station) = angle_deg.and_then(|angle_deg| subject.station_at(angle_deg)) {
        let mut cut = Cut::of_station(station);
        cut.window = [-0.55, 1.3, -0.6, 1.1];
        cut.corner = [12.0, 12.0];
        cut.scale = 210.0;
        canvas.add(cut.scene(subject.preparation, &[Scan::Before, Scan::After]));
        let width_mm = station.wall.as_ref().map_or(0.5, |wall| wall.width_mm);
        let floor = station.section.between(0.02, width_mm.max(0.2));
        let deepest = floor.iter().filter(|point| point.x < width_mm).min_by(|a, b| a.y.total_cmp(&b.y));
        if let Some(deepest) = deepest {
            let (edge, x) = (cut.px(0.0, 0.0), deepest.x);
            canvas.add(line("help", edge, cut.px(x + 0.25, 0.0)));
            canvas.add(line("help", cut.px(x - 0.1, deepest.y), cut.px(x + 0.25, deepest.y)));
            canvas.add(length("measure", cut.px(x, 0.0), cut.px(x, deepest.y)));
            canvas.add(dot("point", edge, 6.0)).say("end title", [edge[0] - 10.0, edge[1] - 8.0], "E");
        }
        canvas.add(cut.scale_bar(0.2));
    }
    canvas.label("start", [430.0, 60.0], "Lip", &subject.said(ID));
    canvas.label("start", [430.0, 112.0], "Where", &subject.said("finish_line.lip_where"));
    canvas.lines(
        "start small",
        [430.0, 170.0],
        &[
            "The rim E stands over the deepest",
            "part of the floor. The figure shows",
            "one section; the reading pools the",
            "sections over half a millimetre.",
        ],
    );
    canvas.finish(
        "lip",
        "A lip at the finish line",
        "A section much enlarged: the outer edge of the finish line stands higher than the deepest part of the floor inside it; the height \
         between is the lip.",
    )
}
