//! `finish_line.kind`: the name of the finish line's form, by the table in `data/finish_line_kinds.toml`.

use serde::Deserialize;

use super::Middle;
use crate::frame::Aspect;
use crate::preparation::Preparation;
use crate::sheet::{Sheet, text};

/// The built-in table.
const TABLE: &str = include_str!("../../data/finish_line_kinds.toml");

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Table {
    kind: Vec<Rule>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Rule {
    name: String,
    width_below_mm: Option<f64>,
    width_from_mm: Option<f64>,
    declination_from_deg: Option<f64>,
    arc_share_from: Option<f64>,
}

/// What the rules look at.
struct Form {
    width_mm: f64,
    declination_deg: f64,
    arc_share: f64,
}

/// Names the finish line on each aspect.
pub fn take(preparation: &Preparation<'_>, sheet: &mut Sheet) {
    let table: Table = match toml::from_str(TABLE) {
        Ok(table) => table,
        Err(error) => {
            let reason = format!("the table of kinds cannot be read: {error}");
            Aspect::SURFACES.iter().for_each(|aspect| sheet.refuse(id(*aspect), reason.clone()));
            return;
        }
    };
    for aspect in Aspect::ALL {
        let width = Middle::of_seen(preparation, aspect, |station| Some(station.wall.as_ref()?.width_mm));
        let declination = Middle::of_seen(preparation, aspect, |station| station.declination_deg);
        let arc = Middle::of_seen(preparation, aspect, |station| {
            station.floor_is_arc.map(|is| f64::from(u8::from(is)))
        });
        let Some(width_mm) = width.median() else {
            sheet.refuse(id(aspect), "no axial wall was found in the middle of this aspect");
            continue;
        };
        let form = Form {
            width_mm,
            declination_deg: declination.median().unwrap_or(0.0),
            arc_share: arc.mean().unwrap_or(0.0),
        };
        let name = table.kind.iter().find(|rule| rule.fits(&form)).map_or("unnamed", |rule| &rule.name);
        let place = width.middle_place().map(|place| preparation.place_of_station(place));
        sheet.write(id(aspect), text(name).with("arc_share", form.arc_share).at(place));
    }
}

fn id(aspect: Aspect) -> String {
    format!("finish_line.kind.{}", aspect.id())
}

impl Rule {
    fn fits(&self, form: &Form) -> bool {
        self.width_below_mm.is_none_or(|bound| form.width_mm < bound)
            && self.width_from_mm.is_none_or(|bound| form.width_mm >= bound)
            && self.declination_from_deg.is_none_or(|bound| form.declination_deg >= bound)
            && self.arc_share_from.is_none_or(|bound| form.arc_share >= bound)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn name(width_mm: f64, declination_deg: f64, arc_share: f64) -> String {
        let table: Table = toml::from_str(TABLE).unwrap();
        let form = Form { width_mm, declination_deg, arc_share };
        table.kind.into_iter().find(|rule| rule.fits(&form)).unwrap().name
    }

    #[test]
    fn the_table_names_the_usual_forms() {
        assert_eq!(name(0.1, 70.0, 0.0), "knife edge");
        assert_eq!(name(0.5, 52.0, 0.0), "chamfer");
        assert_eq!(name(0.5, 10.0, 0.9), "chamfer");
        assert_eq!(name(1.0, 5.0, 0.9), "deep chamfer");
        assert_eq!(name(1.0, 25.0, 0.0), "sloped shoulder");
        assert_eq!(name(1.0, 2.0, 0.1), "shoulder");
    }
}
