//! `finish_line.kind`: the name of the finish line's form, by the table in `data/finish_line_kinds.toml`.

use serde::Deserialize;

use super::Middle;
use super::finish_line::other_declination_deg;
use crate::frame::Aspect;
use crate::preparation::Preparation;
use crate::sheet::{Sheet, text};

/// The built-in table.
const TABLE: &str = include_str!("../../data/finish_line_kinds.toml");

/// The rules in the order in which they are tried.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Table {
    /// A floor that rises towards the edge by at least this leaves a lip there.
    pub lip_rise_from_deg: f64,
    kind: Vec<Rule>,
}

/// One form's bounds; a missing bound does not bind.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Rule {
    /// What the form is called.
    pub name: String,
    /// Whether it counts as a shoulder where the shoulder's extent is read.
    #[serde(default)]
    pub is_shoulder: bool,
    width_below_mm: Option<f64>,
    width_from_mm: Option<f64>,
    declination_from_deg: Option<f64>,
    arc_share_from: Option<f64>,
}

/// What the rules look at.
pub(super) struct Form {
    /// From edge to wall line.
    pub width_mm: f64,
    /// Slope of the floor next to the edge.
    pub declination_deg: f64,
    /// Share of the sections in which the floor is one arc.
    pub arc_share: f64,
}

impl Table {
    /// The built-in table, or why it cannot be read.
    pub(super) fn read() -> Result<Self, String> {
        toml::from_str(TABLE).map_err(|error| format!("the table of kinds cannot be read: {error}"))
    }

    /// The first rule that fits.
    pub(super) fn rule(&self, form: &Form) -> Option<&Rule> {
        self.kind.iter().find(|rule| rule.fits(form))
    }
}

/// Names the finish line on each aspect.
pub fn take(preparation: &Preparation<'_>, sheet: &mut Sheet) {
    let table = match Table::read() {
        Ok(table) => table,
        Err(reason) => {
            Aspect::SURFACES.iter().for_each(|aspect| sheet.refuse(id(*aspect), reason.clone()));
            return;
        }
    };
    for aspect in Aspect::ALL {
        let width = Middle::of_seen(preparation, aspect, |station| Some(station.sound_wall()?.width_mm));
        let declination = Middle::of_seen(preparation, aspect, |station| station.declination_deg);
        let arc = Middle::of_seen(preparation, aspect, |station| {
            station.floor_is_arc.map(|is| f64::from(u8::from(is)))
        });
        let Some(width_mm) = width.median() else {
            sheet.refuse(id(aspect), super::NO_WALL);
            continue;
        };
        let form = Form {
            width_mm,
            declination_deg: declination.median().unwrap_or(0.0),
            arc_share: arc.mean().unwrap_or(0.0),
        };
        let name = table.rule(&form).map_or("unnamed", |rule| &rule.name);
        if let Some(other) = other_form(preparation, aspect, &form)
            .and_then(|other| table.rule(&other))
            .filter(|other| other.name != name)
        {
            sheet.refuse(
                id(aspect),
                format!(
                    "a {name} and a {} explain the scan alike, one with a rim that rises: look at the rim, or scan it finer",
                    other.name
                ),
            );
            continue;
        }
        let place = width.middle_place().map(|place| preparation.place_of_station(place));
        sheet.write(id(aspect), text(name).with("arc_share", form.arc_share).at(place));
    }
}

/// The form in which the floor was not taken, where the sections might as well have shown it.
fn other_form(preparation: &Preparation<'_>, aspect: Aspect, taken: &Form) -> Option<Form> {
    Some(Form {
        width_mm: taken.width_mm,
        declination_deg: other_declination_deg(preparation, aspect)?,
        arc_share: 1.0 - taken.arc_share,
    })
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
        let form = Form { width_mm, declination_deg, arc_share };
        Table::read().unwrap().rule(&form).unwrap().name.clone()
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
