//! A section drawn true to scale, its view box in millimetres.

use nalgebra::Point2;

use crate::area::{Window, areas, at, outlines};
use crate::profile::{Profile, Side};
use crate::svg;
use crate::text::{coordinate, fixed};

/// Strip for the scale bar, mm.
const STRIP_MM: f64 = 1.0;
/// The wall line is drawn this far past the occlusal line angle, mm.
const PAST_WALL_MM: f64 = 1.0;
/// The widest drawing that fits across an A4 page within its margins, mm.
const PAGE_MM: f64 = 178.0;

/// A drawing and the scale at which it prints.
#[derive(Debug)]
pub struct Plot {
    /// Inline SVG.
    pub svg: String,
    /// Millimetres on paper for one millimetre of tooth.
    pub print_scale: f64,
}

/// Draws a profile. `words` describe it to those who cannot see it.
pub fn plot(profile: &Profile, words: &str) -> Plot {
    let window = Window::of(profile);
    let (width, height) = (window.right - window.left, window.top - window.bottom);
    let print_scale = [10.0, 8.0, 5.0].into_iter().find(|scale| width * scale <= PAGE_MM).unwrap_or(2.0);
    let mut drawn = String::new();
    drawn += &window.clips(profile);
    drawn += &areas(profile, &window);
    drawn += &outlines(profile, &window);
    for side in &profile.sides {
        drawn += &taper(side);
        drawn += &finish_line_width(side);
        drawn += &gingiva(side, &window);
    }
    drawn += &clearance(profile);
    drawn += &convergence(profile);
    drawn += &ends(profile, &window);
    let view_box = [window.left, -window.top, width, height + STRIP_MM];
    let style = format!(
        "--mm-wide:{};--mm-high:{};--scale:{}",
        coordinate(width),
        coordinate(height + STRIP_MM),
        coordinate(print_scale)
    );
    Plot { svg: svg::image("section", &style, view_box, words, &drawn), print_scale }
}

/// The wall line, the path beside it, and the angle between.
fn taper(side: &Side) -> String {
    let Some(wall) = &side.station.wall else { return String::new() };
    let tangent = wall.taper_deg.to_radians().tan();
    let on_wall = |up_mm: f64| side.place(&Point2::new(wall.width_mm + up_mm * tangent, up_mm));
    let wall_mm = wall.top.map_or(wall.fitted_mm[1], |top| top.y);
    let end_mm = wall_mm + PAST_WALL_MM;
    let foot = on_wall(0.0);
    let arc_mm = end_mm - 0.25;
    let turn = |share: f64| {
        let angle_rad = wall.taper_deg.to_radians() * share;
        Point2::new(foot.x + side.inward * arc_mm * angle_rad.sin(), foot.y + arc_mm * angle_rad.cos())
    };
    let arc = svg::path("measure", (0..=8).map(|k| at(turn(f64::from(k) / 8.0))), false);
    // The number stands over the arc, where the tooth was before.
    let over = Point2::new(0.5 * (foot.x + on_wall(end_mm).x), foot.y + end_mm + 0.16);
    [
        svg::line("help", at(foot), at(foot + nalgebra::Vector2::new(0.0, end_mm))),
        svg::line("measure", at(foot), at(on_wall(end_mm))),
        arc,
        svg::text("number middle", at(over), &format!("{}°", fixed(wall.taper_deg, 1))),
    ]
    .concat()
}

/// The width with dimension lines below the level of the edge.
fn finish_line_width(side: &Side) -> String {
    const DOWN_MM: f64 = 0.95;
    let Some(wall) = &side.station.wall else { return String::new() };
    let down = |h_mm: f64, mm: f64| at(side.place(&Point2::new(h_mm, -mm)));
    let width_mm = wall.width_mm;
    let label = side.place(&Point2::new(0.5 * width_mm, -DOWN_MM - 0.55));
    [
        svg::line("help", down(0.0, 0.0), down(0.0, DOWN_MM + 0.15)),
        svg::line("help", down(width_mm, 0.0), down(width_mm, DOWN_MM + 0.15)),
        svg::line("measure", down(0.0, DOWN_MM), down(width_mm, DOWN_MM)),
        svg::line("measure", down(-0.08, DOWN_MM + 0.08), down(0.08, DOWN_MM - 0.08)),
        svg::line("measure", down(width_mm - 0.08, DOWN_MM + 0.08), down(width_mm + 0.08, DOWN_MM - 0.08)),
        svg::text("number middle", at(label), &format!("{} mm", fixed(width_mm, 2))),
        svg::dot("edge", at(side.edge), 0.1),
    ]
    .concat()
}

/// The point where gingiva and tooth meet, and how far the finish line lies above it.
fn gingiva(side: &Side, window: &Window) -> String {
    const OUT_MM: f64 = 0.75;
    const LABEL_MM: f64 = 2.0;
    let (Some(point), Some(above_mm)) = (side.station.gingiva, side.above_gingiva_mm) else {
        return String::new();
    };
    let place = side.place(&point);
    if !(window.left..window.right).contains(&place.x) || place.y < window.bottom {
        return String::new();
    }
    let out_x = side.edge.x.min(place.x) * (0.5 + 0.5 * side.inward)
        + side.edge.x.max(place.x) * (0.5 - 0.5 * side.inward)
        - side.inward * OUT_MM;
    let beside = |y: f64, past_mm: f64| at(Point2::new(out_x - side.inward * past_mm, y));
    let room_mm = if side.inward > 0.0 { out_x - window.left } else { window.right - out_x };
    let outward = if room_mm > LABEL_MM { -side.inward } else { side.inward };
    let anchor = if outward < 0.0 { "end" } else { "start" };
    let label = Point2::new(out_x + outward * 0.2, 0.5 * (side.edge.y + place.y) - 0.14);
    [
        svg::line("help", at(side.edge), beside(side.edge.y, 0.15)),
        svg::line("help", at(place), beside(place.y, 0.15)),
        svg::line("measure", beside(side.edge.y, 0.0), beside(place.y, 0.0)),
        svg::dot("gum", at(place), 0.11),
        svg::text(&format!("number {anchor}"), at(label), &format!("{} mm", fixed(above_mm, 2))),
    ]
    .concat()
}

/// The shortest way to the opposing teeth in this plane.
fn clearance(profile: &Profile) -> String {
    let (Some([from, to]), Some(least_mm)) = (profile.clearance, profile.clearance_mm()) else {
        return String::new();
    };
    let middle = nalgebra::center(&from, &to);
    // Towards the middle of the tooth: the tapers stand outside.
    let (anchor, aside_mm) = if middle.x > 0.0 { ("end", -0.25) } else { ("start", 0.25) };
    let label = Point2::new(middle.x + aside_mm, middle.y - 0.14);
    [
        svg::line("measure", at(from), at(to)),
        svg::dot("tip", at(from), 0.07),
        svg::dot("tip", at(to), 0.07),
        svg::text(&format!("number {anchor}"), at(label), &format!("{} mm", fixed(least_mm, 2))),
    ]
    .concat()
}

fn convergence(profile: &Profile) -> String {
    let Some(toc_deg) = profile.toc_deg() else { return String::new() };
    let heights: f64 = profile.sides.iter().map(|side| side.edge.y).sum();
    let middle = Point2::new(0.0, heights / profile.sides.len().max(1) as f64 + 0.9);
    [
        svg::text("number middle", at(middle), &format!("TOC {}°", fixed(toc_deg, 1))),
        svg::text("aside middle", at(middle - nalgebra::Vector2::new(0.0, 0.55)), "in this plane"),
    ]
    .concat()
}

/// What lies to the left and to the right, and the scale bar.
fn ends(profile: &Profile, window: &Window) -> String {
    const BAR_MM: f64 = 2.0;
    let y = -window.bottom + STRIP_MM - 0.35;
    let x = window.left + 0.3;
    let middle = 0.5 * (window.left + window.right);
    [
        svg::text("end-name start", [window.left + 0.25, -window.top + 0.6], profile.ends[0]),
        svg::text("end-name end", [window.right - 0.25, -window.top + 0.6], profile.ends[1]),
        svg::line("bar", [x, y], [x + BAR_MM, y]),
        svg::line("bar", [x, y - 0.12], [x, y + 0.12]),
        svg::line("bar", [x + BAR_MM, y - 0.12], [x + BAR_MM, y + 0.12]),
        svg::text("aside start", [x + BAR_MM + 0.25, y + 0.14], "2 mm"),
        svg::text("aside middle", [middle, -window.top + 0.6], "\u{2191} path of placement"),
    ]
    .concat()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::profile::{Line, MainPlane};

    /// A frustum of 4 mm below and 3.25 mm above, 5 mm tall, and the same 1 mm larger before.
    fn frustum() -> Profile {
        let outline = |wider_mm: f64| {
            let corners = [(-4.0 - wider_mm, -9.0), (-4.0, 0.0), (-3.25 - wider_mm, 5.0 + wider_mm)];
            let left = corners.map(|(x, y)| Point2::new(x, y));
            let right = corners.map(|(x, y)| Point2::new(-x, y));
            vec![Line::open(left.into_iter().chain(right.into_iter().rev()).collect())]
        };
        Profile {
            plane: MainPlane::Mesiodistal,
            ends: ["mesial", "distal"],
            after: outline(0.0),
            before: outline(1.0),
            opposing: Vec::new(),
            sides: Vec::new(),
            top_mm: 5.0,
            clearance: None,
        }
    }

    #[test]
    fn a_millimetre_of_tooth_is_a_unit_of_the_drawing() {
        let plot = plot(&frustum(), "a frustum");
        let outline = "<path class=\"outline after\" d=\"M-4 9L-4 0L-3.25 -5L3.25 -5L4 0L4 9\"/>";
        assert!(plot.svg.contains(outline), "{}", plot.svg);
        // Window: 3 mm and what is shown beside it each way; 0.5 and 2.3 mm below, 5 and 2.6 mm above, the strip.
        assert!(plot.svg.contains("viewBox=\"-6.3 -7.6 12.6 11.4\""), "{}", plot.svg);
        assert!(plot.svg.contains("--mm-wide:12.6;--mm-high:11.4;--scale:10"));
        assert_eq!(plot.print_scale, 10.0);
        // The scale bar is as long as it says.
        assert!(plot.svg.contains("d=\"M-6 3.45L-4 3.45\"") && plot.svg.contains(">2 mm<"));
    }
}
