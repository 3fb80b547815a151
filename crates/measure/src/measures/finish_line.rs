//! `finish_line.width`, `.declination`, `.cavosurface`: the floor between edge and wall.

use super::Middle;
use crate::frame::Aspect;
use crate::preparation::Preparation;
use crate::sheet::{Sheet, expanded, number};
use crate::station::Station;

/// Medians over the middle of each aspect, with the extremes.
pub fn take(preparation: &Preparation<'_>, sheet: &mut Sheet) {
    for aspect in Aspect::ALL {
        let shown_mm = uncut_shown_mm(preparation, aspect);
        match &shown_mm {
            Ok(_) => width(preparation, sheet, aspect),
            Err(reason) => sheet.refuse(width_id(aspect), reason.clone()),
        }
        // One kind of floor an aspect: where a good part of the sections shows an arc, those that noise kept from showing
        // it would mix a second, steeper value in.
        let arc = floor_form(preparation, aspect);
        let of_one_form =
            |station: &Station, value: Option<f64>| value.filter(|_| station.floor_is_arc == Some(arc));
        let declination =
            Middle::of_seen(preparation, aspect, |station| of_one_form(station, station.declination_deg));
        let unsure_deg = form_sigma_deg(preparation, aspect, declination.median());
        angle(preparation, sheet, aspect, "declination", &declination, unsure_deg, 0.0);
        let cavosurface =
            Middle::of_seen(preparation, aspect, |station| of_one_form(station, station.cavosurface_deg));
        match shown_mm {
            Ok(shown_mm) => {
                let uncut_deg = uncut_sigma_deg(preparation, aspect, shown_mm);
                angle(preparation, sheet, aspect, "cavosurface", &cavosurface, unsure_deg, uncut_deg);
            }
            Err(reason) => sheet.refuse(angle_id("cavosurface", aspect), reason),
        }
    }
}

/// Whether the floor of an aspect counts as an arc.
pub(super) fn floor_form(preparation: &Preparation<'_>, aspect: Aspect) -> bool {
    const LEAST_SHARE: f64 = 0.3;
    let arcs = Middle::of_seen(preparation, aspect, |station| {
        station.floor_is_arc.map(|is_arc| f64::from(u8::from(is_arc)))
    });
    arcs.values.iter().filter(|&&value| value > 0.5).count() >= 4
        && arcs.mean().is_some_and(|share| share >= LEAST_SHARE)
}

fn width(preparation: &Preparation<'_>, sheet: &mut Sheet, aspect: Aspect) {
    // From phantom scans of a rim of 0.12 mm.
    const RIM_MM: f64 = 0.03;
    let id = width_id(aspect);
    let middle = Middle::of_seen(preparation, aspect, |station| Some(station.sound_wall()?.width_mm));
    let Some(value) = middle.median() else {
        sheet.refuse(id, super::NO_WALL);
        return;
    };
    // The pose shifts the edge along the floor by its error over the sine of the angle between cut and uncut.
    let angle = Middle::of_seen(preparation, aspect, |station: &Station| station.cavosurface_deg);
    let sine = angle.median().map_or(1.0, |deg| deg.to_radians().sin().abs().max(0.15));
    // Without a before scan the edge rests on what shows of the uncut surface below it, often two triangles.
    let pose_mm = if preparation.pose.is_some() {
        preparation.pose_sigma_mm() / sine
    } else {
        0.2 * preparation.edge_mm
    };
    // Where a low rim may stand, the edge is sought on its chopped top.
    let rim_mm = if other_declination_deg(preparation, aspect).is_some() { RIM_MM } else { 0.0 };
    let u95 = expanded(&[middle.standard_error(), pose_mm, rim_mm, 0.011]);
    let reading = number(value, "mm", u95)
        .with("least", middle.least())
        .with("greatest", middle.greatest())
        .at(middle.middle_place().map(|place| preparation.place_of_station(place)));
    sheet.write(id, reading);
}

/// Standard uncertainty that the floor's form leaves to its slope at the edge, degrees: where the aspect might be of the other
/// form, what lies between them counts.
fn form_sigma_deg(preparation: &Preparation<'_>, aspect: Aspect, taken_deg: Option<f64>) -> f64 {
    let other_deg = other_declination_deg(preparation, aspect);
    other_deg.zip(taken_deg).map_or(0.0, |(other_deg, taken_deg)| 0.5 * (other_deg - taken_deg).abs())
}

/// Slope at the edge in the form that was not taken for an aspect: where a lipped arc and a flat floor with a wide fillet
/// explain most sections about as well, or where a flat floor was taken and some sections show a rim for sure.
pub(super) fn other_declination_deg(preparation: &Preparation<'_>, aspect: Aspect) -> Option<f64> {
    // Of a flat floor next to no section shows a rim (phantom scans); of a low rim that the mesh chops, one in five does.
    const LEAST_SHARE: f64 = 0.15;
    let n_seen = Middle::of_seen(preparation, aspect, |station| station.declination_deg).values.len();
    let other = Middle::of_seen(preparation, aspect, |station| station.other_declination_deg);
    if 2 * other.values.len() > n_seen {
        return other.median();
    }
    if floor_form(preparation, aspect) {
        return None;
    }
    let rims = Middle::of_seen(preparation, aspect, |station| {
        station.declination_deg.filter(|&deg| deg < 0.0 && station.floor_is_arc == Some(true))
    });
    let some = rims.values.len() > 1 && rims.values.len() as f64 >= LEAST_SHARE * n_seen as f64;
    crate::stats::median(&rims.values).filter(|_| some)
}

/// How much of the uncut surface below the edge is seen, mm, or why it is too little to tell where the edge lies and which way
/// that surface runs.
///
/// Without a before scan it shows between edge and gingiva alone, where the mesh cuts both corners short.
fn uncut_shown_mm(preparation: &Preparation<'_>, aspect: Aspect) -> Result<f64, String> {
    // Two triangles: less holds no point that is clear of both corners.
    const LEAST_MM: f64 = 0.35;
    // As far down as the uncut surface is looked at.
    const REACH_MM: f64 = 0.5;
    if preparation.scene.before.is_some() {
        return Ok(REACH_MM);
    }
    let shown = Middle::of_seen(preparation, aspect, |station| {
        Some(station.gingiva.map_or(REACH_MM, |corner| corner.coords.norm()))
    });
    let shown_mm = shown.median().unwrap_or(0.0).min(REACH_MM);
    if shown_mm < LEAST_MM {
        return Err(format!(
            "only {shown_mm:.1} mm of uncut surface shows between edge and gingiva, too little to tell where it begins and how \
             it runs: give the scan before cutting with --before"
        ));
    }
    Ok(shown_mm)
}

/// Standard uncertainty of the uncut surface's direction beyond what a floor has, degrees.
fn uncut_sigma_deg(preparation: &Preparation<'_>, aspect: Aspect, shown_mm: f64) -> f64 {
    // What the chopped corners move a point by, as a share of a triangle's edge (from phantom scans).
    const CHOPPED: f64 = 0.12;
    // Towards a contact the uncut surface bends the most and shows the least (from phantom scans).
    const BENT_DEG: f64 = 3.0;
    let bent_deg = if matches!(aspect, Aspect::Mesial | Aspect::Distal) { BENT_DEG } else { 0.0 };
    if preparation.scene.before.is_some() {
        return bent_deg;
    }
    (CHOPPED * preparation.edge_mm / shown_mm).to_degrees().hypot(bent_deg)
}

fn width_id(aspect: Aspect) -> String {
    format!("finish_line.width.{}_mm", aspect.id())
}

fn angle_id(name: &str, aspect: Aspect) -> String {
    format!("finish_line.{name}.{}_deg", aspect.id())
}

fn angle(
    preparation: &Preparation<'_>,
    sheet: &mut Sheet,
    aspect: Aspect,
    name: &str,
    middle: &Middle,
    form_sigma_deg: f64,
    uncut_sigma_deg: f64,
) {
    // A flat floor and a lip: the mean of the two is neither.
    const FORMS_APART_DEG: f64 = 8.0;
    // Known worse than this, an angle tells no chamfer from a bevel.
    const WORST_U95_DEG: f64 = 16.0;
    let id = angle_id(name, aspect);
    if form_sigma_deg > FORMS_APART_DEG {
        let apart_deg = 2.0 * form_sigma_deg;
        sheet.refuse(
            id,
            format!(
                "a flat floor with a wide fillet and a round floor whose rim rises explain the scan alike, {apart_deg:.0} deg \
                 apart at the edge: look at the rim, or scan it finer"
            ),
        );
        return;
    }
    match middle.median() {
        Some(value) => {
            // A floor of half a millimetre holds few triangles; the chopped edge tilts it by a degree or two.
            let u95 = expanded(&[middle.standard_error(), 2.0, form_sigma_deg, uncut_sigma_deg]);
            if u95 > WORST_U95_DEG {
                sheet.refuse(
                    id,
                    format!("the sections here disagree, it would be known to ±{u95:.0}° only: look at the edge, or scan it finer"),
                );
                return;
            }
            let place = middle.middle_place().map(|place| preparation.place_of_station(place));
            sheet.write(id, number(value, "deg", u95).at(place));
        }
        None => sheet.refuse(id, "the floor or the uncut surface next to the edge is too narrow to fit"),
    }
}
