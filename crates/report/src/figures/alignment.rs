//! Alignment and noise: what is left between the scans where nothing was cut, and one wall against its line.

use nalgebra::Vector3;

use super::canvas::{Canvas, area, dot, line, marks, stroke};
use super::{Figure, Subject};
use crate::text::fixed;

const LEFT: f64 = 60.0;
const RIGHT: f64 = 680.0;
const TOP: f64 = 46.0;
const ZERO: f64 = 130.0;
/// px a µm.
const SCALE: f64 = 1.3;

/// Both charts.
pub fn draw(subject: &Subject<'_>) -> Figure {
    let mut canvas = Canvas::new(480.0);
    change(subject, &mut canvas);
    wall(subject, &mut canvas);
    canvas.finish(
        "alignment",
        "Alignment and noise",
        "Above: the change between the scans before and after, in micrometres, at places along the arch; it scatters about zero where \
         nothing was cut. Below: the points of one axial wall against the line fitted to them.",
    )
}

/// The change along the arch.
fn change(subject: &Subject<'_>, canvas: &mut Canvas) {
    let preparation = subject.preparation;
    let Some(change) = &preparation.change else { return };
    let vertices = &preparation.scene.after.mesh.vertices;
    let places: Vec<(Vector3<f64>, f64, bool)> = vertices
        .iter()
        .zip(&change.reduction_mm)
        .zip(&preparation.inside)
        .map(|((point, mm), inside)| (preparation.frame.coordinates(point), 1000.0 * mm, *inside))
        // A strip along the arch over the teeth, above the gingiva.
        .filter(|(place, um, _)| place.y.abs() < 1.2 && place.z > 1.0 && um.is_finite())
        .collect();
    let ends = places
        .iter()
        .fold((0.0f64, 0.0f64), |(low, high), (place, ..)| (low.min(place.x), high.max(place.x)));
    let x = |mm: f64| LEFT + (mm - ends.0) / (ends.1 - ends.0) * (RIGHT - LEFT);
    let y = |um: f64| ZERO - SCALE * um;
    canvas.say("start title", [LEFT, 22.0], "Change between the scans along the arch, µm");
    for um in [-50.0, 0.0, 50.0] {
        canvas.add(line(if um == 0.0 { "thin" } else { "grid" }, [LEFT, y(um)], [RIGHT, y(um)]));
        canvas.say("end small", [LEFT - 8.0, y(um) + 4.0], &fixed(um, 0));
    }
    let residual_um = subject.number("registration.residual_um");
    let shown = places.iter().step_by(3).filter(|(_, um, inside)| !inside && um.abs() < 60.0);
    canvas.add(marks("mark-b", shown.map(|(place, um, _)| [x(place.x), y(*um)]), "h1"));
    for um in [residual_um, -residual_um] {
        canvas.add(line("measure", [LEFT, y(um)], [RIGHT, y(um)]));
    }
    let cut = preparation.ring.points.iter().map(|point| preparation.frame.coordinates(point).x);
    let (low, high) = cut.fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), mm| (a.min(mm), b.max(mm)));
    let box_ = [[x(low), TOP], [x(high), TOP], [x(high), 214.0], [x(low), 214.0]];
    canvas.add(area("band", box_));
    canvas.say("middle", [x(0.5 * (low + high)), 118.0], "prepared tooth:").say(
        "middle",
        [x(0.5 * (low + high)), 136.0],
        "kept out",
    );
    let pose = format!(
        "{} µm and {}°",
        fixed(subject.number("registration.error"), 1),
        fixed(subject.extra("registration.error", "deg"), 3)
    );
    canvas.label(
        "start",
        [LEFT, 236.0],
        "Residual (red lines: plus and minus)",
        &subject.said("registration.residual_um"),
    );
    canvas.label("start", [410.0, 236.0], "Standard uncertainty of the pose", &pose);
}

/// The points of one wall, each beside the line through them.
fn wall(subject: &Subject<'_>, canvas: &mut Canvas) {
    const BASE: f64 = 370.0;
    let Some(station) = subject.station_at(90.0) else { return };
    let Some(wall) = &station.wall else { return };
    let [from_mm, to_mm] = wall.fitted_mm;
    let x = |arc_mm: f64| LEFT + (arc_mm - from_mm) / (to_mm - from_mm) * (RIGHT - LEFT);
    let y = |um: f64| BASE - SCALE * um;
    canvas.say("start title", [LEFT, 300.0], "One wall, 2 mm of it: its points against their line, µm");
    for um in [-25.0, 0.0, 25.0] {
        canvas.add(line(if um == 0.0 { "thin" } else { "grid" }, [LEFT, y(um)], [RIGHT, y(um)]));
        canvas.say("end small", [LEFT - 8.0, y(um) + 4.0], &fixed(um, 0));
    }
    let noise_um = subject.number("scan.noise_um");
    let band = [[LEFT, y(noise_um)], [RIGHT, y(noise_um)], [RIGHT, y(-noise_um)], [LEFT, y(-noise_um)]];
    canvas.add(area("bar-c", band));
    let section = &station.section;
    let places: Vec<[f64; 2]> = section
        .points
        .iter()
        .zip(&section.arc_mm)
        .filter(|(_, arc_mm)| (from_mm..=to_mm).contains(*arc_mm))
        .map(|(point, arc_mm)| [x(*arc_mm), y(1000.0 * wall.line.signed_distance(point))])
        .collect();
    canvas.add(stroke("thin", places.iter().copied()));
    for place in places {
        canvas.add(dot("point", place, 4.0));
    }
    canvas.label(
        "start",
        [LEFT, 434.0],
        "Noise of the scan (red band: 1 sigma)",
        &subject.said("scan.noise_um"),
    );
    canvas.label("start", [340.0, 434.0], "Median edge", &subject.said("scan.edge_mm"));
    canvas.label("start", [500.0, 434.0], "Missing surface", &subject.said("scan.void_pct"));
}
