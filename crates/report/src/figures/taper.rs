//! Taper of each wall, and the convergence of two.

use nalgebra::Point2;

use super::canvas::{Canvas, arc, line};
use super::cut::{Cut, Scan, main_plane};
use super::{Figure, Subject};
use crate::camera::View;
use kerfwright_measure::frame::Aspect;
use kerfwright_measure::station::Station;

/// A faciolingual section with both wall lines carried on above the tooth.
pub fn draw(subject: &Subject<'_>) -> Figure {
    let preparation = subject.preparation;
    let (axes, mut cut) = main_plane(preparation, View::Mesial, preparation.frame.origin);
    cut.window = [-6.4, 6.4, -1.9, 9.6];
    cut.corner = [12.0, 10.0];
    cut.scale = 38.5;
    let mut canvas = Canvas::new(536.0);
    canvas.add(cut.scene(preparation, &[Scan::After]));
    let mut convergence = String::new();
    for aspect in [Aspect::Facial, Aspect::Lingual] {
        if let Some(station) = subject.station_at(aspect.centre_deg()) {
            convergence += &wall(subject, &cut, aspect, station, &mut canvas);
        }
    }
    canvas.add(convergence);
    canvas.add(cut.ends(&axes)).add(cut.scale_bar(2.0));
    let [x, y] = cut.px(0.0, 1.2);
    canvas.label("middle", [x, y], "convergence", &subject.said("toc.faciolingual_deg"));
    canvas.say("start small", [520.0, 60.0], "Thick: the gingival 2 mm,").lines(
        "start small",
        [520.0, 78.0],
        &[
            "which the reading is of.",
            "Blue dashes: line over the",
            "whole wall, which here",
            "has a second plane.",
            "Thin dashes: the path.",
        ],
    );
    let whole = format!(
        "whole wall: facial {}°, convergence {}°",
        crate::text::fixed(subject.extra("taper.facial_deg", "whole_wall"), 1),
        crate::text::fixed(subject.extra("toc.faciolingual_deg", "whole_wall"), 1)
    );
    canvas.say("start number", [14.0, 484.0], &whole);
    canvas.key(
        [14.0, 518.0],
        &[
            ("after", "after cutting", 140.0),
            ("measure", "wall line, gingival 2 mm", 210.0),
            ("other", "whole wall", 130.0),
            ("help", "path of placement", 130.0),
        ],
    );
    canvas.finish(
        "taper",
        "Taper and total occlusal convergence",
        "A section from facial to lingual through a premolar with two facial planes. Lines through the gingival 2 mm of both walls are \
         carried on above the tooth; each makes its taper with the path, and both together the convergence.",
    )
}

fn wall(subject: &Subject<'_>, cut: &Cut, aspect: Aspect, station: &Station, canvas: &mut Canvas) -> String {
    let id = format!("taper.{}_deg", aspect.id());
    let Some(wall) = &station.wall else { return String::new() };
    let edge = cut.flat(&station.edge());
    let inward = -edge.x.signum();
    let on_line = |taper_deg: f64, up_mm: f64| {
        let lean_mm = up_mm * taper_deg.to_radians().tan();
        Point2::new(edge.x + inward * (wall.width_mm + lean_mm), edge.y + up_mm)
    };
    let [taper_deg, whole_deg] = [subject.number(&id), subject.extra(&id, "whole_wall")];
    let end_mm = 8.4 - edge.y;
    canvas.add(cut.along_section("strong", station, wall.fitted_mm[0], wall.fitted_mm[1]));
    canvas.add(line("help", cut.at(&on_line(0.0, 0.0)), cut.at(&on_line(0.0, end_mm))));
    canvas.add(line("measure", cut.at(&on_line(taper_deg, 0.0)), cut.at(&on_line(taper_deg, end_mm))));
    if let Some(middle) = whole_middle(station) {
        let middle = cut.flat(&station.section.frame.solid(&middle));
        let lean = inward * whole_deg.to_radians().tan();
        let whole = |height_mm: f64| cut.px(middle.x + lean * (height_mm - middle.y), height_mm);
        canvas.add(line("other", whole(edge.y + 0.6), whole(edge.y + end_mm - 0.8)));
    }
    let foot = cut.at(&on_line(0.0, 0.0));
    let radius = (end_mm - 0.5) * cut.scale;
    let lean = if inward > 0.0 { 90.0 - taper_deg } else { 90.0 + taper_deg };
    let [x, y] = cut.at(&on_line(taper_deg, end_mm));
    canvas.label("middle", [x - inward * 18.0, y - 28.0], &format!("taper, {aspect}"), &subject.said(&id));
    arc("measure", foot, radius, 90.0, lean)
}

/// The middle of the stretch that the line over the whole wall is fitted to: up to 0.25 mm below the line angle.
fn whole_middle(station: &Station) -> Option<Point2<f64>> {
    let wall = station.wall.as_ref()?;
    let top = wall.top?;
    let points = station.section.between(wall.fitted_mm[0], 10.0);
    let own: Vec<Point2<f64>> = points.into_iter().take_while(|point| point.y < top.y - 0.25).collect();
    Some(kerfwright_geometry::fit::line2(&own)?.point)
}
