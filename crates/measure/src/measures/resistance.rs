//! `resistance.*`: what keeps a crown from tilting off.

use rayon::prelude::*;

use super::{Middle, opposite};
use crate::frame::Aspect;
use crate::preparation::Preparation;
use crate::sheet::{Sheet, expanded, number};
use crate::stats::{median, smooth_ring};
use crate::tilting::{Tilt, footed, tilt};
use crate::wall_lean::leaning;

/// Stations to each side over which values are smoothed along the finish line, about half a millimetre.
const SMOOTHING: usize = 4;
/// The share of a wall lower than this follows from one row of triangles, mm.
const LEAST_HEIGHT_MM: f64 = 1.0;
/// How far the height or the distance of a wall is misjudged, mm (1 sigma, from phantom scans).
const WALL_MM: f64 = 0.06;
/// How far the lean of a wall is misjudged where it begins to resist, degrees (1 sigma, from phantom scans): the end of a
/// broad fillet still shows in the smooth normals 0.2 mm above it.
const LEAN_DEG: f64 = 0.35;
/// What the wall's ends and its nearest finish line leave to a limiting taper, degrees (1 sigma, from phantom scans).
const LIMIT_DEG: f64 = 0.35;

/// What a front tooth adds to both, points and degrees (1 sigma, from phantom scans): its walls pass into a second plane and
/// into the fossa.
const FRONT_PCT: f64 = 2.0;
const FRONT_DEG: f64 = 1.1;
/// A share known worse than this says neither that a wall holds nor that it does not, points: a sixth of the wall to each
/// side is a third of it (engineering judgement, no source).
const MOST_SHARE_U95_PCT: f64 = 100.0 / 6.0;
/// A limiting taper known worse than this tells no wall of a learner from a good one, degrees (engineering judgement, no
/// source).
const MOST_LIMIT_U95_DEG: f64 = 3.0;
/// Where the path may lean by more than this, that is what makes a reading wide, degrees (1 sigma).
const OPEN_PATH_DEG: f64 = 0.5;

/// Limiting taper and resisting share, as [`crate::tilting`] defines them.
///
/// `resistance.limiting_taper_deg` is the least over all tilting axes, at the place of its axis. `resisting_pct.ASPECT` is
/// the median over the axes opposite to the aspect: the aspect names the wall that resists.
pub fn take(preparation: &Preparation<'_>, sheet: &mut Sheet) {
    let patches =
        leaning(&preparation.axial_walls, &preparation.stations, &preparation.path, preparation.noise_mm);
    let walls = footed(&patches, &preparation.ring, &preparation.path);
    let tilts: Vec<Option<Tilt>> = preparation
        .stations
        .par_iter()
        .map(|station| tilt(&walls, &preparation.ring, &station.section.frame))
        .collect();
    limiting(preparation, sheet, &tilts);
    for aspect in Aspect::ALL {
        share(preparation, sheet, aspect, &tilts);
    }
}

fn limiting(preparation: &Preparation<'_>, sheet: &mut Sheet, tilts: &[Option<Tilt>]) {
    let id = "resistance.limiting_taper_deg";
    let front_deg = if preparation.tooth.is_front() { FRONT_DEG } else { 0.0 };
    if 2 * tilts.iter().flatten().count() < tilts.len() {
        sheet.refuse(id, "no axial wall stands opposite to more than half of the finish line");
        return;
    }
    let smooth = |value: fn(&Tilt) -> f64| {
        let values: Vec<Option<f64>> = tilts.iter().map(|tilt| tilt.as_ref().map(value)).collect();
        smooth_ring(&values, SMOOTHING)
    };
    let limits = smooth(|tilt| tilt.limiting_taper_deg);
    let margins = smooth(|tilt| tilt.limiting_taper_deg - tilt.taper_deg);
    let (Some((place, value)), Some((weakest, margin_deg))) = (least(&limits), least(&margins)) else {
        sheet.refuse(id, "the walls opposite to the finish line were seen in too few places");
        return;
    };
    let known = margins.iter().flatten().count().max(1);
    let holding = margins.iter().flatten().filter(|&&margin| margin > 0.0).count();
    let path_deg = preparation.path_sigma_deg(preparation.stations[place].angle_deg);
    let u95 = tilts[place]
        .or(tilts[weakest])
        .map_or(f64::NAN, |tilt| limit_u95(&tilt, path_deg).hypot(2.0 * front_deg));
    if u95 > MOST_LIMIT_U95_DEG {
        sheet.refuse(
            id,
            format!("it would be known to ±{u95:.1} deg, which decides nothing: {}", why_wide(path_deg)),
        );
        return;
    }
    let reading = number(value, "deg", u95)
        .with("taper", tilts[place].map_or(f64::NAN, |tilt| tilt.taper_deg))
        .with("least_margin", margin_deg)
        .with("least_margin_at_deg", preparation.stations[weakest].angle_deg)
        .with("holding_pct", 100.0 * holding as f64 / known as f64)
        .at(Some(preparation.place_of_station(place)))
        .noted("least over all tilting axes; where is the axis, the wall stands opposite");
    sheet.write(id, reading);
}

fn share(preparation: &Preparation<'_>, sheet: &mut Sheet, aspect: Aspect, tilts: &[Option<Tilt>]) {
    let id = format!("resistance.resisting_pct.{}", aspect.id());
    let axes: Vec<(usize, Tilt)> = (0..tilts.len())
        .filter(|&place| opposite(aspect).holds_in_middle(preparation.stations[place].angle_deg))
        .filter_map(|place| Some((place, tilts[place]?)))
        .collect();
    let middle = Middle {
        values: axes.iter().map(|(_, tilt)| tilt.resisting_pct()).collect(),
        places: axes.iter().map(|(place, _)| *place).collect(),
    };
    let Some(value) = middle.median() else {
        sheet.refuse(id, "no axial wall was found here, or no finish line opposite to it");
        return;
    };
    let of = |value: fn(&Tilt) -> f64| {
        median(&axes.iter().map(|(_, tilt)| value(tilt)).collect::<Vec<_>>()).unwrap_or(f64::NAN)
    };
    let (base_mm, taper_deg) = (of(|tilt| tilt.base_mm), of(|tilt| tilt.taper_deg));
    // The border of the resisting part lies at B sin T cos T: an error of the lean moves it by B cos 2T. The strip is a
    // fifth of the finish line's reach wide, which is little more than B.
    let height_mm = of(|tilt| tilt.wall_mm2) / (0.2 * base_mm);
    let path_deg = preparation.path_sigma_deg(aspect.centre_deg());
    let lean_rad = LEAN_DEG.hypot(path_deg).to_radians();
    let border_mm = base_mm * (2.0 * taper_deg.to_radians()).cos() * lean_rad;
    if height_mm < LEAST_HEIGHT_MM {
        sheet.refuse(
            id,
            format!("the wall here is {height_mm:.1} mm high, too low to tell which part of it resists"),
        );
        return;
    }
    let pct_a_mm = 100.0 / height_mm;
    let (front_pct, front_deg) =
        if preparation.tooth.is_front() { (FRONT_PCT, FRONT_DEG) } else { (0.0, 0.0) };
    let u95 = expanded(&[middle.standard_error(), pct_a_mm * border_mm, pct_a_mm * WALL_MM, front_pct]);
    if u95 > MOST_SHARE_U95_PCT {
        sheet.refuse(
            id,
            format!(
                "it would be known to ±{u95:.0} of 100 points, which decides nothing: {}",
                why_wide(path_deg)
            ),
        );
        return;
    }
    let limits: Vec<f64> = axes.iter().map(|(_, tilt)| limit_u95(tilt, path_deg)).collect();
    let limit_u95 = median(&limits).unwrap_or(f64::NAN).hypot(2.0 * front_deg);
    let mut reading = number(value, "pct", u95).with("resisting_mm2", of(|tilt| tilt.resisting_mm2));
    if limit_u95 <= MOST_LIMIT_U95_DEG {
        reading = reading
            .with("limiting_taper_deg", of(|tilt| tilt.limiting_taper_deg))
            .with("limiting_taper_deg_u95", limit_u95);
    }
    let reading = reading
        .with("taper_deg", taper_deg)
        .with("least", middle.least())
        .with("greatest", middle.greatest())
        .at(middle.middle_place().map(|place| preparation.place_of_station(place)))
        .noted("of the wall named, in tilting about the finish line opposite to it; where is that axis");
    sheet.write(id, reading);
}

/// Where the path leans by an angle, the axis rises by `B` times that angle, which takes as much of 2`h`, and the wall turns
/// against the path by half of it. `h` itself is misjudged by half of what the whole height is.
fn limit_u95(tilt: &Tilt, path_sigma_deg: f64) -> f64 {
    let by_path_mm = tilt.middle.base_mm * path_sigma_deg.to_radians();
    let by_path_deg = tilt.middle.swing_deg(by_path_mm) + path_sigma_deg;
    tilt.middle.swing_deg(WALL_MM).hypot(by_path_deg).hypot(2.0 * LIMIT_DEG)
}

fn why_wide(path_sigma_deg: f64) -> &'static str {
    if path_sigma_deg > OPEN_PATH_DEG {
        "low walls leave the path of placement open; name it (--path), or scan walls that show it"
    } else {
        "at this height and distance little more or less of the wall turns the answer"
    }
}

fn least(values: &[Option<f64>]) -> Option<(usize, f64)> {
    let seen = values.iter().enumerate().filter_map(|(place, value)| Some((place, (*value)?)));
    seen.min_by(|a, b| a.1.total_cmp(&b.1))
}
