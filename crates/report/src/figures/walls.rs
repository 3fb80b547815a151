//! Wall height with the ratio of height to width, and the area of the axial walls.

use kerfwright_measure::axial_walls::axial_walls;
use kerfwright_measure::frame::Aspect;
use kerfwright_measure::outline::Outline;

use super::canvas::{Canvas, length, line, marks};
use super::cut::{Scan, main_plane};
use super::{Figure, Subject};
use crate::camera::View;
use crate::text::fixed;

/// Heights of the facial and the lingual wall over the width at the finish line.
pub fn height(subject: &Subject<'_>) -> Figure {
    let preparation = subject.preparation;
    let (axes, mut cut) = main_plane(preparation, View::Mesial, preparation.frame.origin);
    cut.window = [-8.6, 8.6, -2.3, 6.9];
    cut.corner = [10.0, 10.0];
    cut.scale = 39.0;
    let mut canvas = Canvas::new(420.0);
    canvas.add(cut.scene(preparation, &[Scan::After]));
    let mut ends = Vec::new();
    for aspect in [Aspect::Facial, Aspect::Lingual] {
        let Some(station) = subject.station_at(aspect.centre_deg()) else { continue };
        let edge = cut.flat(&station.edge());
        let outward = edge.x.signum();
        let id = format!("wall.height.{}_mm", aspect.id());
        let (low, high) = (edge.y, edge.y + subject.number(&id));
        let x = edge.x + 0.5 * outward;
        canvas.add(length("measure", cut.px(x, low), cut.px(x, high)));
        canvas.add(line("help", cut.px(x + 0.2 * outward, low), cut.px(edge.x, low)));
        canvas.add(line("help", cut.px(x + 0.2 * outward, high), cut.px(edge.x - 1.6 * outward, high)));
        let anchor = if outward < 0.0 { "end" } else { "start" };
        let [x, y] = cut.px(x + 0.25 * outward, 0.5 * (low + high));
        let number = subject.said(&id);
        canvas.label(anchor, [x, y], "height", number.split(" ±").next().unwrap_or_default());
        canvas.say(
            &format!("{anchor} number"),
            [x, y + 33.0],
            &format!("±{} ", number.split('±').nth(1).unwrap_or_default()),
        );
        ends.push(edge);
    }
    if let [one, other] = ends[..] {
        let level = one.y.min(other.y) - 1.1;
        canvas.add(length("measure", cut.px(one.x, level), cut.px(other.x, level)));
        for edge in &ends {
            canvas.add(line("help", cut.at(edge), cut.px(edge.x, level - 0.15)));
        }
        let width = format!(
            "width at the finish line {} mm",
            fixed(subject.extra("ratio.oc_fl", "faciolingual_mm"), 2)
        );
        let [x, y] = cut.px(0.5 * (one.x + other.x), level);
        canvas.say("middle number", [x, y - 8.0], &width);
    }
    canvas.add(cut.ends(&axes)).add(cut.scale_bar(2.0));
    canvas.say("start", [14.0, 404.0], "Mean height over width, OC/FL:").say(
        "start number",
        [250.0, 404.0],
        &subject.said("ratio.oc_fl"),
    );
    canvas.finish(
        "wall-height",
        "Wall height and the ratio of height to width",
        "A section from facial to lingual: the height of each wall from the finish line to the occlusal line angle along the path, and the \
         faciolingual width at the finish line.",
    )
}

/// The triangles that count as axial wall, unrolled around the tooth.
pub fn area(subject: &Subject<'_>) -> Figure {
    const LEFT: f64 = 60.0;
    const WIDTH: f64 = 620.0;
    const BOTTOM: f64 = 290.0;
    const SCALE: f64 = 44.0;
    let preparation = subject.preparation;
    let walls = axial_walls(preparation.scene.after, &preparation.inside, &preparation.path);
    let outline = Outline::new(&preparation.ring, &preparation.path);
    let x = |angle_deg: f64| LEFT + (angle_deg + 45.0).rem_euclid(360.0) / 360.0 * WIDTH;
    let mut canvas = Canvas::new(400.0);
    canvas.say("start title", [LEFT, 26.0], "Height over the finish line, mm, around the tooth");
    for mm in 0..=5 {
        let y = BOTTOM - SCALE * f64::from(mm);
        canvas.add(line("grid", [LEFT, y], [LEFT + WIDTH, y])).say(
            "end small",
            [LEFT - 8.0, y + 4.0],
            &mm.to_string(),
        );
    }
    let place = |patch: &kerfwright_measure::axial_walls::WallPatch| {
        let (_, height_mm, edge) = outline.place(&patch.centre);
        [x(preparation.frame.angle_deg(&patch.centre)), BOTTOM - SCALE * (height_mm - edge.1)]
    };
    canvas.add(marks("mark-d", walls.iter().step_by(2).map(place), "h1.6"));
    for aspect in Aspect::SURFACES {
        let middle_deg = aspect.centre_deg();
        let within = |patch: &&kerfwright_measure::axial_walls::WallPatch| {
            let off =
                (preparation.frame.angle_deg(&patch.centre) - middle_deg + 180.0).rem_euclid(360.0) - 180.0;
            (-45.0..45.0).contains(&off)
        };
        let quarter_mm2: f64 = walls.iter().filter(within).map(|patch| patch.area_mm2).sum();
        let middle = x(middle_deg);
        canvas.say("middle side", [middle, BOTTOM + 22.0], aspect.id());
        canvas.say("middle number", [middle, BOTTOM + 40.0], &format!("{} mm²", fixed(quarter_mm2, 1)));
        canvas.add(line("help", [middle + WIDTH / 8.0, 40.0], [middle + WIDTH / 8.0, BOTTOM]));
    }
    canvas.label(
        "start",
        [14.0, 360.0],
        "Area of the axial walls, the four quarters together",
        &subject.said("retention.axial_area_mm2"),
    );
    canvas.finish(
        "axial-area",
        "Area of the axial walls",
        "A map of a molar's axial walls, unrolled around the tooth: each mark is a triangle that counts as axial wall; the floor of the \
         finish line below and the occlusal surface above stay out.",
    )
}
