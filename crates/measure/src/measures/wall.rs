//! `wall.height.*` and `ratio.oc_fl`: how tall the preparation is.

use super::Middle;
use crate::frame::Aspect;
use crate::preparation::Preparation;
use crate::sheet::{Sheet, expanded, number};
use crate::station::Station;

/// Height from the finish line to the occlusal line angle along the path; height over faciolingual width.
pub fn take(preparation: &Preparation<'_>, sheet: &mut Sheet) {
    let height = |station: &Station| Some(station.wall.as_ref()?.top?.y);
    let mut heights = Vec::new();
    for aspect in Aspect::ALL {
        let id = format!("wall.height.{}_mm", aspect.id());
        let middle = Middle::of(preparation, aspect, height);
        match middle.median() {
            Some(value) => {
                let u95 = expanded(&[middle.standard_error(), 0.06]);
                let place = middle.middle_place().map(|place| preparation.place_of_station(place));
                let reading = number(value, "mm", u95)
                    .with("least", middle.least())
                    .with("greatest", middle.greatest())
                    .at(place);
                sheet.write(id, reading);
                if matches!(aspect, Aspect::Facial | Aspect::Lingual) {
                    heights.push(value);
                }
            }
            None => sheet.refuse(id, "no occlusal line angle was found over the wall here"),
        }
    }
    ratio(preparation, sheet, &heights);
}

fn ratio(preparation: &Preparation<'_>, sheet: &mut Sheet, heights: &[f64]) {
    let facial = |aspect: Aspect| {
        Middle::of(preparation, aspect, |station| Some(preparation.frame.coordinates(&station.edge()).y))
            .median()
    };
    let (Some(facial_mm), Some(lingual_mm)) = (facial(Aspect::Facial), facial(Aspect::Lingual)) else {
        sheet.refuse("ratio.oc_fl", "the finish line was not seen facially and lingually");
        return;
    };
    if heights.len() < 2 {
        sheet.refuse("ratio.oc_fl", "needs the wall height facially and lingually");
        return;
    }
    let height_mm = heights.iter().sum::<f64>() / 2.0;
    let width_mm = facial_mm - lingual_mm;
    let value = height_mm / width_mm;
    let reading = number(value, "", value * expanded(&[0.06 / height_mm, 0.02 / width_mm]))
        .with("height_mm", height_mm)
        .with("faciolingual_mm", width_mm)
        .noted(
            "mean of the facial and lingual wall height over the faciolingual width, both at the finish line",
        );
    sheet.write("ratio.oc_fl", reading);
}
