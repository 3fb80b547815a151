//! The finish line in its section: floor, width, slope, corner, cavosurface angle and gingiva.

use super::canvas::{Canvas, arc, dot, length, line};
use super::cut::{Cut, Scan};
use super::{Figure, Subject};
use kerfwright_measure::frame::Aspect;
use kerfwright_measure::section::Section;
use kerfwright_measure::station::Station;

/// One section, much enlarged, with all that is read in it.
pub fn section(subject: &Subject<'_>) -> Figure {
    let mut canvas = Canvas::new(500.0);
    if let Some(station) = typical(subject) {
        let mut cut = Cut::of_station(station);
        cut.window = [-1.7, 2.2, -1.5, 2.5];
        cut.corner = [12.0, 12.0];
        cut.scale = 108.0;
        canvas.add(cut.scene(subject.preparation, &[Scan::Before, Scan::After]));
        width(station, &cut, &mut canvas);
        floor(subject, station, &cut, &mut canvas);
        gingiva(station, &cut, &mut canvas);
        canvas.add(cut.scale_bar(0.5));
        let edge = cut.px(0.0, 0.0);
        canvas.add(dot("point", edge, 6.0)).say("end title", [edge[0] - 12.0, edge[1] - 8.0], "E");
    }
    let rows = [
        ("a  Width", "finish_line.width.facial_mm"),
        ("b  Declination of the floor", "finish_line.declination.facial_deg"),
        ("c  Cavosurface angle", "finish_line.cavosurface.facial_deg"),
        ("d  Internal radius", "finish_line.internal_radius.facial_mm"),
        ("e  Height over the gingiva", "finish_line.above_gingiva.facial_mm"),
        ("Kind", "finish_line.kind.facial"),
    ];
    for (k, (name, id)) in rows.into_iter().enumerate() {
        canvas.label("start", [456.0, 44.0 + 52.0 * k as f64], name, &subject.said(id));
    }
    canvas.lines(
        "start small",
        [456.0, 372.0],
        &[
            "Values of the facial aspect,",
            "drawn into one of its sections.",
            "E: the finish line.",
            "Red line: the wall line,",
            "carried down to the level of E.",
        ],
    );
    canvas.key(
        [14.0, 482.0],
        &[("before", "before cutting; striped: removed", 268.0), ("after", "after cutting", 140.0)],
    );
    canvas.finish(
        "finish-line",
        "The finish line in its section",
        "A shoulder in a section square on the finish line, much enlarged: the outer edge E, the floor with its slope, the wall line \
         carried down to the level of E, the width between, the rounded inner corner with its circle, the cavosurface angle and the \
         height over the gingiva.",
    )
}

/// The facial section whose floor is most like the aspect's value: single sections scatter.
fn typical<'a>(subject: &Subject<'a>) -> Option<&'a Station> {
    let slope_deg = subject.number("finish_line.declination.facial_deg");
    let width_mm = subject.number("finish_line.width.facial_mm");
    let off = |station: &Station| {
        let width =
            station.wall.as_ref().map_or(f64::INFINITY, |wall| 50.0 * (wall.width_mm - width_mm).abs());
        width + station.declination_deg.map_or(f64::INFINITY, |own_deg| (own_deg - slope_deg).abs())
    };
    let facial = subject
        .preparation
        .stations
        .iter()
        .filter(|station| Aspect::Facial.holds_in_middle(station.angle_deg));
    facial.min_by(|a, b| off(a).total_cmp(&off(b)))
}

fn width(station: &Station, cut: &Cut, canvas: &mut Canvas) {
    let Some(wall) = &station.wall else { return };
    let lean = wall.taper_deg.to_radians().tan();
    let on_wall = |up_mm: f64| cut.px(wall.width_mm + up_mm * lean, up_mm);
    canvas.add(line("measure", on_wall(0.0), on_wall(2.4)));
    let level = -0.5;
    canvas.add(line("help", cut.px(0.0, 0.0), cut.px(0.0, level - 0.1)));
    canvas.add(line("help", cut.px(wall.width_mm, 0.0), cut.px(wall.width_mm, level - 0.1)));
    canvas.add(length("measure", cut.px(0.0, level), cut.px(wall.width_mm, level)));
    let [x, y] = cut.px(0.5 * wall.width_mm, level);
    canvas.say("middle number", [x, y + 20.0], "a");
}

fn floor(subject: &Subject<'_>, station: &Station, cut: &Cut, canvas: &mut Canvas) {
    let edge = cut.px(0.0, 0.0);
    let slope_deg = station.declination_deg.unwrap_or(0.0);
    let rise = slope_deg.to_radians().tan();
    canvas.add(line("other", edge, cut.px(0.95, 0.95 * rise)));
    canvas.add(line("help", edge, cut.px(1.5, 0.0)));
    canvas.add(arc("measure", edge, 78.0, 0.0, slope_deg));
    let [x, y] = cut.px(0.72, 0.0);
    canvas.say("middle number", [x, y + 18.0], "b");
    if let Some(down) = uncut_direction(subject, station) {
        let down_deg = down[1].atan2(down[0]).to_degrees();
        canvas.add(line("other", edge, cut.px(0.9 * down[0], 0.9 * down[1])));
        canvas.add(arc("measure", edge, 46.0, slope_deg, down_deg));
        let middle = (0.5 * (slope_deg + down_deg)).to_radians();
        canvas.say(
            "middle number",
            [edge[0] + 62.0 * middle.cos(), edge[1] - 62.0 * middle.sin() + 5.0],
            "c",
        );
    }
    let Some(wall) = &station.wall else { return };
    let radius_mm = subject.number("finish_line.internal_radius.facial_mm");
    // The circle that touches floor and wall: its centre lies at the radius from both lines.
    let (wall_rad, floor_rad) = ((90.0 - wall.taper_deg).to_radians(), slope_deg.to_radians());
    let corner_x = wall.width_mm / (1.0 - rise * wall.taper_deg.to_radians().tan());
    let corner = [corner_x, corner_x * rise];
    let half_rad = 0.5 * (std::f64::consts::PI - wall_rad + floor_rad);
    let middle_rad = floor_rad + std::f64::consts::PI - half_rad;
    let away_mm = radius_mm / half_rad.sin();
    let centre = [corner[0] + away_mm * middle_rad.cos(), corner[1] + away_mm * middle_rad.sin()];
    let px = cut.px(centre[0], centre[1]);
    canvas.add(dot("measure", px, radius_mm * cut.scale)).add(dot("point", px, 2.5));
    canvas.say("middle number", [px[0] - 6.0, px[1] - radius_mm * cut.scale - 8.0], "d");
}

/// The direction of the uncut surface below the edge: through E and its place 0.5 mm down.
fn uncut_direction(subject: &Subject<'_>, station: &Station) -> Option<[f64; 2]> {
    let before = subject.preparation.scene.before?;
    let own = station.section.frame.moved(&before.after_from_scan.inverse());
    let section = Section::cut_within(before.surface, own, 4.0, 1.5)?;
    let low = section.at_arc(-0.45)?;
    let norm = low.coords.norm();
    Some([low.x / norm, low.y / norm])
}

fn gingiva(station: &Station, cut: &Cut, canvas: &mut Canvas) {
    let Some(gingiva) = station.gingiva else { return };
    let frame = &station.section.frame;
    let foot = cut.flat(&frame.solid(&gingiva));
    let x = -0.75;
    canvas.add(line("help", cut.px(x - 0.1, 0.0), cut.px(0.0, 0.0)));
    canvas.add(line("help", cut.px(x - 0.1, foot.y), cut.at(&foot)));
    canvas.add(length("measure", cut.px(x, 0.0), cut.px(x, foot.y))).add(dot("open", cut.at(&foot), 5.0));
    let [x, y] = cut.px(x, 0.5 * foot.y);
    canvas.say("end number", [x - 10.0, y + 5.0], "e");
}
