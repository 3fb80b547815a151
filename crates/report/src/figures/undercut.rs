//! An undercut wall in its section.

use nalgebra::Point2;

use super::canvas::{Canvas, length, line};
use super::cut::{Cut, Scan};
use super::{Figure, Subject};

/// The section through the deepest undercut.
pub fn draw(subject: &Subject<'_>) -> Figure {
    const DEPTH: &str = "undercut.depth_mm";
    let mut canvas = Canvas::new(470.0);
    let angle_deg =
        subject.document.readings.get(DEPTH).and_then(|reading| Some(reading.place.as_ref()?.angle_deg));
    if let Some(station) = angle_deg.and_then(|angle_deg| subject.station_at(angle_deg)) {
        let mut cut = Cut::of_station(station);
        cut.window = [-2.1, 2.9, -1.1, 5.2];
        cut.corner = [12.0, 12.0];
        cut.scale = 68.0;
        canvas.add(cut.scene(subject.preparation, &[Scan::After]));
        shadow(station, &cut, &mut canvas, &subject.said(DEPTH));
        canvas.add(cut.scale_bar(1.0));
    }
    canvas.lines(
        "start",
        [370.0, 48.0],
        &[
            "Dashed: along the path, past the",
            "place of the wall that stands out",
            "farthest above.",
            "",
            "Red area: what cannot be seen",
            "along the path.",
        ],
    );
    let rows = [
        ("Depth", "undercut.depth_mm"),
        ("Area of hidden wall", "undercut.area_mm2"),
        ("Deepest", "undercut.where"),
    ];
    for (k, (name, id)) in rows.into_iter().enumerate() {
        canvas.label("start", [370.0, 200.0 + 48.0 * k as f64], name, &subject.said(id));
    }
    canvas.label("start", [370.0, 344.0], "Taper of the mesial wall", &subject.said("taper.mesial_deg"));
    canvas.finish(
        "undercut",
        "Undercut",
        "A section square on the finish line through a wall that leans outwards. A line along the path touches the wall where it stands \
         out farthest; what lies behind that line below is hidden, and the greatest distance to it is the depth.",
    )
}

/// The area behind the line along the path through the farthest-out place.
fn shadow(station: &kerfwright_measure::station::Station, cut: &Cut, canvas: &mut Canvas, depth: &str) {
    let Some(wall) = &station.wall else { return };
    let Some(top) = wall.top else { return };
    let begin = station.section.at_arc(wall.begin_mm).map_or(0.0, |point| point.y);
    let levels = (0..).map(|k| begin + 0.05 * f64::from(k)).take_while(|level| *level < top.y - 0.05);
    let places: Vec<Point2<f64>> = levels.filter_map(|level| station.section.at_height(level)).collect();
    let Some(out) = places.iter().copied().min_by(|a, b| a.x.total_cmp(&b.x)) else { return };
    let hidden: Vec<Point2<f64>> = places.iter().copied().filter(|place| place.y <= out.y).collect();
    let Some(deepest) = hidden.iter().copied().max_by(|a, b| a.x.total_cmp(&b.x)) else { return };
    let low = hidden.first().map_or(0.0, |place| place.y);
    let mut around = hidden.clone();
    around.push(Point2::new(out.x, low));
    canvas.add(cut.area("hidden-wall", &around));
    canvas.add(line("help", cut.px(out.x, -0.8), cut.px(out.x, out.y + 0.5)));
    canvas.add(length("measure", cut.px(out.x, deepest.y), cut.at(&deepest)));
    let [x, y] = cut.px(out.x, deepest.y);
    canvas.label("end", [x - 10.0, y - 14.0], "depth", depth);
}
