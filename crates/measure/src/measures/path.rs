//! `path.*`: the path of placement against the tooth's axis and against the neighbours.

use crate::frame::Aspect;
use crate::preparation::Preparation;
use crate::sheet::{Sheet, expanded, number, text};

/// Less overlap than this is not told from the finish line's own uncertainty, mm.
const LEAST_OVERLAP_MM: f64 = 0.09;

/// Tilt, its direction, and whether a neighbour stands in the way.
pub fn take(preparation: &Preparation<'_>, sheet: &mut Sheet) {
    let frame = &preparation.frame;
    let tilt_deg = preparation.path.angle(&frame.occlusal).to_degrees();
    let toward = frame.components(&preparation.path);
    let angle_deg = toward.y.atan2(toward.x).to_degrees();
    let open_deg = preparation.path_sigma_deg(angle_deg);
    let u95 = expanded(&[preparation.axis.sigma_deg, open_deg, 0.15]);
    let tilt = number(tilt_deg, "deg", u95).noted("against the tooth's axis");
    sheet.write("path.tilt_deg", tilt);
    let word = if tilt_deg < 0.5 * u95 { "none".to_owned() } else { Aspect::at(angle_deg).to_string() };
    sheet.write("path.tilt_toward", text(word).with("angle_deg", angle_deg.rem_euclid(360.0)));
    sheet.write("path.blocked_by", blocked(preparation));
}

/// Whether something of the same scan stands over the finish line, seen along the path, and by how much.
fn blocked(preparation: &Preparation<'_>) -> crate::document::Reading {
    let after = preparation.scene.after;
    let mut worst: Option<(f64, usize)> = None;
    for (place, station) in preparation.stations.iter().enumerate() {
        let frame = &station.section.frame;
        let overlap = (1..=20).map(|step| 0.05 * f64::from(step)).take_while(|inset_mm| {
            // Just inside the finish line and above its own floor, looking up: the tooth itself leans away.
            let from = frame.origin + frame.inward * *inset_mm - frame.inward * 0.05 + frame.up * 0.3;
            let hit = after.tree.ray(&from, &frame.up, 12.0);
            hit.is_some_and(|hit| {
                let own = preparation.inside[after.mesh.triangles[hit.triangle as usize][0] as usize];
                !own && after.triangle_normals[hit.triangle as usize].dot(&frame.up) < 0.0
            })
        });
        if let Some(overlap_mm) =
            overlap.last().filter(|mm| *mm > LEAST_OVERLAP_MM && worst.is_none_or(|(most, _)| *mm > most))
        {
            worst = Some((overlap_mm, place));
        }
    }
    match worst {
        None => text("none").with("overlap_mm", 0.0),
        Some((overlap_mm, place)) => {
            let angle_deg = preparation.stations[place].angle_deg;
            let side = if (90.0..270.0).contains(&angle_deg) { "distal" } else { "mesial" };
            text(format!("{side} neighbour"))
                .with("overlap_mm", overlap_mm)
                .at(Some(preparation.place_of_station(place)))
                .noted("its contour stands over the finish line seen along the path")
        }
    }
}
