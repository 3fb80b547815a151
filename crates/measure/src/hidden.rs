//! What hangs on stretches of the finish line that were not seen: under gingiva, in a hole of the scan, at a ragged edge.
//! The ring bridges them for orientation; readings there are refused.

use kerfwright_geometry::fit;
use nalgebra::Point2;

use crate::document::Value;
use crate::finish_line::Ring;
use crate::frame::Aspect;
use crate::preparation::Preparation;
use crate::sheet::Sheet;
use crate::station::Station;

/// Least share of an aspect's middle stations at which the finish line must be seen.
const LEAST_SEEN: f64 = 0.5;
/// With less than this share seen all round, the volume inside the line is no reading.
const LEAST_SEEN_FOR_VOLUME: f64 = 0.85;

/// Takes back the flag of places where the surface runs on level outside the finish line. Below a finish line the uncut
/// tooth falls away; where gingiva closed over it, the gingiva's edge lies where the uncut tooth was, and looks like one.
pub fn mark_level(ring: &mut Ring, stations: &mut [Station]) {
    const SIDE: usize = 3;
    const MOST: usize = 5;
    let n = stations.len();
    let level: Vec<bool> = stations.iter().map(runs_on_level).collect();
    let is_level = |place: usize| {
        let near = (0..=2 * SIDE).filter(|step| level[(place + n + step - SIDE) % n]);
        n > 2 * SIDE && near.count() >= MOST
    };
    let mut rest = ring.points.iter().zip(&mut ring.seen);
    for (place, station) in stations.iter_mut().enumerate() {
        // Stations are the ring's points in order, but for those without a section.
        let Some((_, seen)) = rest.by_ref().find(|(point, _)| **point == station.section.frame.origin) else {
            return;
        };
        if is_level(place) {
            *seen = false;
            station.seen = false;
        }
    }
}

/// Whether the surface outside the edge falls away no more than gingiva does: nowhere by 45° from the horizontal, nor by 32°
/// from the floor. A steep floor says nothing.
fn runs_on_level(station: &Station) -> bool {
    const STEP_MM: f64 = 0.05;
    const WINDOW: usize = 4;
    const REACH_MM: f64 = 0.6;
    const FLOOR_MM: std::ops::RangeInclusive<f64> = 0.09..=0.4;
    const STEEPEST_FLOOR_DEG: f64 = 55.0;
    const FALL_DEG: f64 = 45.0;
    const TURN_DEG: f64 = 32.0;
    const NEAR_MM: f64 = 0.35;
    const NEAR_TURN_DEG: f64 = 40.0;
    let floor = station.section.between(*FLOOR_MM.start(), *FLOOR_MM.end());
    let Some(line) = fit::line2(&floor).filter(|_| floor.len() >= 3) else { return false };
    let inward = if line.direction.x < 0.0 { -line.direction } else { line.direction };
    let floor_deg = inward.y.atan2(inward.x).to_degrees();
    if floor_deg.abs() > STEEPEST_FLOOR_DEG {
        return false;
    }
    let outside = station.section.resampled(-REACH_MM, 0.0, STEP_MM);
    let steepest_deg = |outside: &[Point2<f64>]| {
        let falls = outside.windows(WINDOW + 1).map(|window| {
            let along = window[WINDOW] - window[0];
            along.y.atan2(along.x).to_degrees()
        });
        falls.fold(f64::NEG_INFINITY, f64::max)
    };
    let is_level = |steepest_deg: f64, turn_deg: f64| {
        steepest_deg.is_finite() && steepest_deg < FALL_DEG && steepest_deg - floor_deg < turn_deg
    };
    // A papilla is so narrow that it falls off to the adjacent tooth: next to the edge it runs on level all the same,
    // while uncut tooth falls away at once.
    let near = outside.len().saturating_sub((NEAR_MM / STEP_MM) as usize + 1);
    is_level(steepest_deg(&outside), TURN_DEG) || is_level(steepest_deg(&outside[near..]), NEAR_TURN_DEG)
}

/// Refuses what hangs on unseen finish line; readings and refusals of measures that know nothing of it come before.
pub fn refuse_hidden(preparation: &Preparation<'_>, sheet: &mut Sheet) {
    let hidden: Vec<Aspect> =
        Aspect::ALL.into_iter().filter(|aspect| !is_seen(preparation, *aspect)).collect();
    let reason = |aspect: Aspect| {
        format!(
            "the finish line was not seen on the {aspect} aspect (hidden under gingiva, or missing in the scan): expose it \
             and scan again"
        )
    };
    // Refusals of measures that found nothing there get the reason behind it.
    let refused = sheet.refused.keys().filter(|id| id.starts_with("finish_line.")).cloned();
    let ids: Vec<String> = sheet.readings.keys().cloned().chain(refused).collect();
    for id in ids {
        if let Some(&aspect) = hidden.iter().find(|aspect| hangs_on(&id, **aspect)) {
            sheet.readings.remove(&id);
            sheet.refuse(id, reason(aspect));
        }
    }
    say_how_much_was_seen(preparation, sheet);
    let seen = seen_share(&preparation.ring.seen);
    if seen < LEAST_SEEN_FOR_VOLUME {
        let whole = [
            "reduction.volume_mm3",
            "reduction.crown_pct",
            "retention.axial_area_mm2",
            "resistance.limiting_taper_deg",
            "finish_line.lip_mm",
            "finish_line.lip_where",
        ];
        for id in whole {
            if sheet.readings.remove(id).is_some() {
                sheet.refuse(
                    id,
                    format!("the finish line was seen only {:.0} % of the way round", 100.0 * seen),
                );
            }
        }
    }
}

/// Gives every reading of a finish line of which parts were not seen the share that was, `seen_pct`: of the aspect's middle
/// half where the reading is an aspect's, else of the whole way round.
fn say_how_much_was_seen(preparation: &Preparation<'_>, sheet: &mut Sheet) {
    let whole = seen_share(&preparation.ring.seen);
    if whole >= 1.0 {
        return;
    }
    for (id, reading) in &mut sheet.readings {
        let aspect = Aspect::ALL.into_iter().find(|aspect| hangs_on(id, *aspect));
        let share = aspect.map_or(whole, |aspect| seen_share(&seen_flags(preparation, aspect)));
        if id.starts_with("finish_line.") && share < 1.0 {
            reading.extras.insert("seen_pct".into(), Value::Number((1000.0 * share).round() / 10.0));
        }
    }
}

/// What the user should know about the parts that were not seen.
pub fn warning(preparation: &Preparation<'_>) -> Option<String> {
    let hidden: Vec<&str> =
        Aspect::ALL.into_iter().filter(|aspect| !is_seen(preparation, *aspect)).map(Aspect::id).collect();
    let unseen_pct = 100.0 * (1.0 - seen_share(&preparation.ring.seen));
    (!hidden.is_empty()).then(|| {
        format!(
            "the finish line was not seen on {unseen_pct:.0} % of the way round ({}): what hangs on it there is refused",
            hidden.join(", ")
        )
    })
}

fn seen_share(seen: &[bool]) -> f64 {
    seen.iter().filter(|seen| **seen).count() as f64 / seen.len().max(1) as f64
}

/// Whether enough of the finish line was seen in the middle half of an aspect.
fn is_seen(preparation: &Preparation<'_>, aspect: Aspect) -> bool {
    seen_share(&seen_flags(preparation, aspect)) >= LEAST_SEEN
}

fn seen_flags(preparation: &Preparation<'_>, aspect: Aspect) -> Vec<bool> {
    let places = preparation.ring.points.iter().zip(&preparation.ring.seen);
    let near = places.filter(|(point, _)| aspect.holds_in_middle(preparation.frame.angle_deg(point)));
    near.map(|(_, seen)| *seen).collect()
}

/// Whether a reading hangs on the finish line of an aspect.
fn hangs_on(id: &str, aspect: Aspect) -> bool {
    let ends_in = |id: &str| {
        let last = id.rsplit('.').next().unwrap_or(id);
        last.strip_prefix(aspect.id()).is_some_and(|rest| rest.is_empty() || rest.starts_with('_'))
    };
    // A crown turns about the finish line opposite to the wall that resists.
    let across = Aspect::at(aspect.centre_deg() + 180.0);
    let resists = [aspect, across].iter().any(|one| id == format!("resistance.resisting_pct.{}", one.id()));
    let is_gingival_third = id == format!("reduction.axial.{}.gingival_mm", aspect.id());
    let is_ratio = id == "ratio.oc_fl" && matches!(aspect, Aspect::Facial | Aspect::Lingual);
    ((id.starts_with("finish_line.") || id.starts_with("wall.height.")) && ends_in(id))
        || resists
        || is_gingival_third
        || is_ratio
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_what_hangs_on_the_finish_line_of_the_aspect_is_meant() {
        for id in
            ["finish_line.width.facial_mm", "finish_line.kind.facial", "wall.height.facial_mm", "ratio.oc_fl"]
        {
            assert!(hangs_on(id, Aspect::Facial), "{id}");
        }
        for id in [
            "finish_line.width.lingual_mm",
            "taper.facial_deg",
            "reduction.axial.facial.middle_mm",
            "finish_line.steps",
        ] {
            assert!(!hangs_on(id, Aspect::Facial), "{id}");
        }
        assert!(hangs_on("reduction.axial.facial.gingival_mm", Aspect::Facial));
        assert!(!hangs_on("finish_line.width.mesiofacial_mm", Aspect::Facial));
        assert!(hangs_on("finish_line.neighbour.mesial_mm", Aspect::Mesial));
    }
}
