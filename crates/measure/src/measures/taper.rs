//! `taper.*` and `toc.*`: how far the walls lean, each alone and opposing ones together.

use super::profile::whole_wall_deg;
use super::{Middle, opposite};
use crate::frame::Aspect;
use crate::preparation::Preparation;
use crate::sheet::{Sheet, expanded, number};
use crate::station::Station;

/// The four planes of total occlusal convergence.
const PLANES: [(&str, Aspect, Aspect); 4] = [
    ("toc.mesiodistal_deg", Aspect::Mesial, Aspect::Distal),
    ("toc.faciolingual_deg", Aspect::Facial, Aspect::Lingual),
    ("toc.mesiofacial_distolingual_deg", Aspect::Mesiofacial, Aspect::Distolingual),
    ("toc.distofacial_mesiolingual_deg", Aspect::Distofacial, Aspect::Mesiolingual),
];
/// What chopped fillets and the choice of the wall's ends leave, degrees (from phantom scans).
const FLOOR_DEG: f64 = 0.12;

/// Median angle of the wall line to the path in the middle of each aspect; the sum of two opposing ones.
///
/// The value is that of the gingival 2 mm of the wall. `whole_wall` is that of the line over the whole wall, up to
/// 0.25 mm below the occlusal line angle: the other convention in use.
pub fn take(preparation: &Preparation<'_>, sheet: &mut Sheet) {
    let taper = |station: &Station| station.sound_wall().map(|wall| wall.taper_deg);
    let axis = preparation.frame.occlusal;
    let along_axis = |station: &Station| {
        station.sound_wall().map(|wall| wall.normal.dot(&axis).clamp(-1.0, 1.0).asin().to_degrees())
    };
    for aspect in Aspect::ALL {
        let id = format!("taper.{}_deg", aspect.id());
        let middle = Middle::of(preparation, aspect, taper);
        let Some(value) = middle.median() else {
            sheet.refuse(id, super::NO_WALL);
            continue;
        };
        let own = Middle::of(preparation, aspect, along_axis);
        let line_deg = line_sigma_deg(preparation, aspect);
        let axis_u95 = expanded(&[middle.standard_error(), line_deg, preparation.axis.sigma_deg]);
        // The best path shares the draft evenly, so each wall carries half of what is uncertain about the other.
        let across = Middle::of(preparation, opposite(aspect), taper);
        let own_part = match across.median() {
            Some(_) => 0.5 * middle.standard_error().hypot(across.standard_error()),
            None => middle.standard_error(),
        };
        let path_deg = preparation.path_sigma_deg(aspect.centre_deg());
        let (whole, whole_u95) = whole_wall(preparation, &[aspect]);
        let reading = number(value, "deg", expanded(&[own_part, line_deg, path_deg]))
            .with("whole_wall", whole)
            .with("whole_wall_u95", whole_u95)
            .with("along_axis", own.median().unwrap_or(f64::NAN))
            .with("along_axis_u95", axis_u95)
            .with("least", middle.least())
            .with("greatest", middle.greatest())
            .at(middle.middle_place().map(|place| preparation.place_of_station(place)));
        sheet.write(id, reading);
    }
    convergence(preparation, sheet, &taper);
}

fn convergence(preparation: &Preparation<'_>, sheet: &mut Sheet, taper: &dyn Fn(&Station) -> Option<f64>) {
    for (id, one, other) in PLANES {
        let (first, second) = (Middle::of(preparation, one, taper), Middle::of(preparation, other, taper));
        match (first.median(), second.median()) {
            (Some(a), Some(b)) => {
                let lines_deg = [one, other].map(|aspect| line_sigma_deg(preparation, aspect));
                let u95 =
                    expanded(&[first.standard_error(), second.standard_error(), lines_deg[0], lines_deg[1]]);
                let (whole, whole_u95) = whole_wall(preparation, &[one, other]);
                let reading =
                    number(a + b, "deg", u95).with("whole_wall", whole).with("whole_wall_u95", whole_u95);
                sheet.write(id, reading);
            }
            _ => sheet.refuse(id, "one of the two opposing walls was not found"),
        }
    }
}

/// What all wall lines of an aspect may have in common, degrees: a short one leans with what is left of the fillet below it
/// and of the rounding above.
fn line_sigma_deg(preparation: &Preparation<'_>, aspect: Aspect) -> f64 {
    // Of a line over one millimetre (from phantom scans); the ends' part and their pull both shrink with the length.
    const SHORT_DEG: f64 = 0.3;
    let length = |station: &Station| station.sound_wall().map(|wall| wall.fitted_mm[1] - wall.fitted_mm[0]);
    let length_mm = Middle::of(preparation, aspect, length).median().unwrap_or(f64::INFINITY);
    FLOOR_DEG.hypot(SHORT_DEG / length_mm.powi(2))
}

/// The sum of the aspects' tapers over the whole wall and its expanded uncertainty; NaN where one was not seen.
fn whole_wall(preparation: &Preparation<'_>, aspects: &[Aspect]) -> (f64, f64) {
    let middles: Vec<Middle> =
        aspects.iter().map(|&aspect| Middle::of(preparation, aspect, whole_wall_deg)).collect();
    let sum: f64 = middles.iter().map(|middle| middle.median().unwrap_or(f64::NAN)).sum();
    let sigmas: Vec<f64> = middles.iter().flat_map(|middle| [middle.standard_error(), FLOOR_DEG]).collect();
    (sum, if sum.is_finite() { expanded(&sigmas) } else { f64::NAN })
}
