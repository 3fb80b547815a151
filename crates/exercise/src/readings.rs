//! What an exercise may ask of a reading: the table `data/readings.toml`.

use std::sync::OnceLock;

use serde::{Deserialize, Serialize};

const TABLE: &str = include_str!("../data/readings.toml");

/// The eight directions around the tooth.
pub const ASPECTS: [&str; 8] =
    ["mesial", "mesiofacial", "facial", "distofacial", "distal", "distolingual", "lingual", "mesiolingual"];

const UNITS: [&str; 6] = ["mm", "deg", "um", "mm2", "mm3", "pct"];

/// What cutting on does to a reading.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum MoreCutting {
    /// The value grows.
    Raises,
    /// The value falls.
    Lowers,
    /// It depends on where one cuts.
    Either,
    /// Only another scan changes it.
    Nothing,
}

/// One row of the table: a reading, or readings that differ in their place.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Row {
    /// Id; `*` stands for one place.
    pub id: String,
    /// What people call it.
    pub title: String,
    /// What `*` may be.
    #[serde(default)]
    places: Option<PlacesEntry>,
    /// What cutting on does.
    pub more_cutting: MoreCutting,
    /// No later cut brings the value back.
    #[serde(default)]
    pub lasting: bool,
    /// Further numbers of the reading.
    #[serde(default)]
    pub parts: Vec<String>,
    /// What a reading in words may say, least cut first.
    #[serde(default)]
    pub words: Vec<String>,
    #[serde(default)]
    unit: Option<String>,
}

#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(untagged)]
enum PlacesEntry {
    Named(String),
    Listed(Vec<String>),
}

/// What the `*` of an id may be.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Places {
    /// The id has no `*`.
    None,
    /// One of these.
    These(Vec<String>),
    /// It depends on the tooth or the material: an exercise that writes `*` must list them.
    Any,
}

#[derive(Deserialize)]
struct Table {
    reading: Vec<Row>,
}

/// All rows, in the order of the file.
pub fn table() -> &'static [Row] {
    static ROWS: OnceLock<Vec<Row>> = OnceLock::new();
    ROWS.get_or_init(|| toml::from_str::<Table>(TABLE).map(|table| table.reading).unwrap_or_default())
}

/// The row of an id, which may itself have a `*`, and the place that the id names.
pub fn find(id: &str) -> Option<(&'static Row, Option<&str>)> {
    table().iter().find_map(|row| row.place_in(id).map(|place| (row, place)))
}

/// The unit in which a name ends, if it does.
pub fn unit_of(name: &str) -> Option<&'static str> {
    let end = name.rsplit_once('_')?.1;
    UNITS.into_iter().find(|unit| *unit == end)
}

impl Row {
    /// What `*` may be.
    pub fn places(&self) -> Places {
        let owned = |names: &[&str]| Places::These(names.iter().map(|name| (*name).to_owned()).collect());
        match &self.places {
            None => Places::None,
            Some(PlacesEntry::Listed(names)) => Places::These(names.clone()),
            Some(PlacesEntry::Named(name)) if name == "aspects" => owned(&ASPECTS),
            Some(PlacesEntry::Named(name)) if name == "sides" => owned(&["mesial", "distal"]),
            Some(PlacesEntry::Named(_)) => Places::Any,
        }
    }

    /// Whether the reading says a word.
    pub fn is_words(&self) -> bool {
        !self.words.is_empty()
    }

    /// Unit of the value, empty for ratios, counts and words.
    pub fn unit(&self) -> &str {
        self.unit.as_deref().or_else(|| unit_of(&self.id)).unwrap_or("")
    }

    /// Unit of a part: the one in which its name ends, else the reading's.
    pub fn unit_of_part<'a>(&'a self, part: Option<&'a str>) -> &'a str {
        part.and_then(unit_of).unwrap_or_else(|| self.unit())
    }

    /// `Some(place)` if the id is one of this row's; the place is `None` where the row has no `*`.
    fn place_in<'a>(&self, id: &'a str) -> Option<Option<&'a str>> {
        let Some((front, back)) = self.id.split_once('*') else {
            return (self.id == id).then_some(None);
        };
        let place = id.strip_prefix(front)?.strip_suffix(back)?;
        let known = match self.places() {
            Places::These(names) => place == "*" || names.iter().any(|name| name == place),
            Places::Any => !place.is_empty() && !place.contains('.'),
            Places::None => false,
        };
        known.then_some(Some(place))
    }
}

/// An id with its `*` filled in.
pub fn filled(pattern: &str, place: &str) -> String {
    pattern.replacen('*', place, 1)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_table_is_read_whole() {
        let written = TABLE.lines().filter(|line| *line == "[[reading]]").count();
        assert_eq!(table().len(), written);
        toml::from_str::<Table>(TABLE).expect("data/readings.toml");
    }

    #[test]
    fn ids_find_their_row_and_place() {
        let (row, place) = find("finish_line.width.facial_mm").unwrap();
        assert_eq!((row.unit(), place), ("mm", Some("facial")));
        assert_eq!(find("neighbour.mesial.depth_mm").unwrap().1, Some("mesial"));
        assert_eq!(find("finish_line.width.*_mm").unwrap().1, Some("*"));
        assert_eq!(find("clearance.mip_mm").unwrap().1, None);
        assert!(find("finish_line.width.buccal_mm").is_none());
        assert!(find("taper.facial").is_none());
    }

    #[test]
    fn units_come_from_names() {
        assert_eq!(find("ratio.oc_fl").unwrap().0.unit(), "");
        assert_eq!(find("registration.error").unwrap().0.unit(), "um");
        let row = find("ratio.oc_fl").unwrap().0;
        assert_eq!(row.unit_of_part(Some("height_mm")), "mm");
        assert_eq!(find("taper.facial_deg").unwrap().0.unit_of_part(Some("least")), "deg");
        assert_eq!(unit_of("reduction.volume_mm3"), Some("mm3"));
    }

    #[test]
    fn no_id_has_two_rows_and_every_number_says_its_unit() {
        for (k, row) in table().iter().enumerate() {
            assert!(table()[..k].iter().all(|other| other.id != row.id), "{} twice", row.id);
            let has_unit = row.unit.is_some() || unit_of(&row.id).is_some();
            assert!(has_unit != row.is_words(), "{}: a unit or words, not both", row.id);
            assert_eq!(row.id.contains('*'), row.places() != Places::None, "{}", row.id);
        }
    }
}
