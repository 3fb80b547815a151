//! The two planes of a facial wall.

use super::canvas::{Canvas, length, line};
use super::cut::{Cut, Scan};
use super::{Figure, Subject};
use crate::text::fixed;

/// The facial section with both planes and their break.
pub fn draw(subject: &Subject<'_>) -> Figure {
    const ID: &str = "facial.second_plane_deg";
    let mut canvas = Canvas::new(470.0);
    let [first, second, break_mm] =
        ["first_taper", "second_taper", "break_mm"].map(|name| subject.extra(ID, name));
    if let Some(station) = subject.station_at(90.0)
        && let Some(wall) = &station.wall
    {
        let mut cut = Cut::of_station(station);
        cut.window = [-1.6, 4.2, -0.9, 5.7];
        cut.corner = [12.0, 12.0];
        cut.scale = 66.0;
        canvas.add(cut.scene(subject.preparation, &[Scan::Before, Scan::After]));
        let at_break = wall.width_mm + break_mm * first.to_radians().tan();
        let on = |taper_deg: f64, height_mm: f64| {
            cut.px(at_break + (height_mm - break_mm) * taper_deg.to_radians().tan(), height_mm)
        };
        canvas.add(line("measure", on(first, 0.0), on(first, 5.3)));
        canvas.add(line("other", on(second, 1.4), on(second, 5.3)));
        let x = -0.4;
        canvas.add(length("measure", cut.px(x, 0.0), cut.px(x, break_mm)));
        canvas.add(line("help", cut.px(x - 0.2, break_mm), on(first, break_mm)));
        canvas.add(line("help", cut.px(x - 0.2, 0.0), cut.px(0.0, 0.0)));
        let [px, py] = cut.px(x, 0.5 * break_mm);
        canvas.say("end", [px - 8.0, py - 4.0], "break").say(
            "end number",
            [px - 8.0, py + 14.0],
            &format!("{} mm", fixed(break_mm, 1)),
        );
        canvas.add(cut.scale_bar(1.0));
    }
    canvas.label("start", [430.0, 60.0], "Planes", &fixed(subject.number("facial.planes"), 0));
    canvas.label("start", [430.0, 110.0], "Angle between them", &subject.said(ID));
    canvas.label("start", [430.0, 160.0], "Taper of the first (red)", &format!("{}°", fixed(first, 1)));
    canvas.label("start", [430.0, 210.0], "Taper of the second (dashed)", &format!("{}°", fixed(second, 1)));
    canvas.lines(
        "start small",
        [430.0, 270.0],
        &["Medians over the sections of the", "facial aspect's middle half, drawn", "into one of them."],
    );
    canvas.finish(
        "facial-planes",
        "Two planes of the facial wall",
        "A section through the facial wall of a premolar: one line along its lower plane and one along its upper plane, which meet at the \
         break; its height over the finish line and the angle between the lines are marked.",
    )
}
