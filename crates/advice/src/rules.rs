//! The table `data/rules.toml`: what is said of which reading, and which instrument is wanted.

use std::collections::BTreeMap;
use std::sync::OnceLock;

use kerfwright_grade::FindingKind;
use serde::Deserialize;

const TABLE: &str = include_str!("../data/rules.toml");

/// The whole table.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Rules {
    /// Single numbers.
    pub settings: Settings,
    /// Kinds of instruments.
    pub role: BTreeMap<String, Role>,
    /// In order: the first that fits counts.
    pub rule: Vec<Rule>,
    /// Why readings are missing; the first that fits counts.
    pub cause: Vec<Cause>,
}

/// Single numbers.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Settings {
    /// From this width on a finish line of no named kind is cut as a shoulder.
    pub shoulder_from_mm: f64,
    /// How far an instrument's own angle may lie from the wall's and still be held parallel.
    pub parallel_within_deg: f64,
}

/// A kind of instrument.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Role {
    /// Heads that do, best first: kinds of kits, and `disc`.
    pub heads: Vec<String>,
    /// Whether one for finishing is wanted; another does if there is none.
    #[serde(default)]
    pub fine: bool,
    /// The floor that it has to leave under the wall, where its width is known.
    #[serde(default)]
    pub floor: Option<Floor>,
    /// Whether a flat end must have a rounded corner.
    #[serde(default)]
    pub rounded_corner: bool,
    /// Which of those that suit.
    pub prefer: Prefer,
}

/// A floor that an instrument leaves.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Floor {
    /// Hollow, without a lip.
    Chamfer,
    /// Flat.
    Shoulder,
    /// Either.
    Either,
}

/// Which end is preferred.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Prefer {
    /// The thinnest.
    Smallest,
    /// The thickest.
    Largest,
}

/// What is said of some readings.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Rule {
    /// Patterns of ids; `*` stands for one place.
    pub readings: Vec<String>,
    /// How the reading is called inside a sentence.
    pub subject: String,
    /// What its place is told by; the aspect alone if left out.
    #[serde(default)]
    pub spot: SpotKind,
    /// How a value too close to call is settled.
    pub check: String,
    /// Cutting on leads to what is asked.
    #[serde(default)]
    pub too_little: Option<Step>,
    /// Cutting on leads farther away.
    #[serde(default)]
    pub too_much: Option<Step>,
    /// Below, where cutting may lead either way or not at all.
    #[serde(default)]
    pub below: Option<Step>,
    /// Above, likewise.
    #[serde(default)]
    pub above: Option<Step>,
    /// Instead of below, where the value is below zero as well.
    #[serde(default)]
    pub negative: Option<Step>,
    /// Another word.
    #[serde(default)]
    pub other: Option<Step>,
    /// Instead of too little, where all that is too little lies where the scan shows nothing: as many of what the reading counts as its
    /// part `lost` says.
    #[serde(default)]
    pub unseen: Option<Step>,
}

/// What a place is told by.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum SpotKind {
    /// The aspect.
    #[default]
    Side,
    /// The cusp, and millimetres from the tooth's centre.
    Cusp,
    /// Millimetres from the tooth's centre.
    Top,
    /// The aspect, and millimetres over the finish line.
    Wall,
    /// Millimetres along the finish line from the middle of the aspect.
    Line,
}

/// What is said one way, and what with.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Step {
    /// Key of the text.
    pub text: String,
    /// Kind of instrument.
    #[serde(default)]
    pub role: Option<String>,
    /// 1 a few strokes, 2 a few minutes, 3 takes other work with it.
    pub quick: u8,
    /// Whether it is told first if it is proven outside acceptable.
    #[serde(default)]
    pub endangers: bool,
    /// Whether it is told last, since nothing has to be done.
    #[serde(default)]
    pub harmless: bool,
}

/// Why a reading is missing.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Cause {
    /// Key of the text.
    pub text: String,
    /// Pieces of reasons.
    pub has: Vec<String>,
}

/// The shipped table. A test reads it; if it could not be read there would be no rule, and every text a general one.
pub fn rules() -> &'static Rules {
    static RULES: OnceLock<Rules> = OnceLock::new();
    RULES.get_or_init(|| read(TABLE).unwrap_or_default())
}

/// Reads a table.
///
/// # Errors
/// What is wrong and in which line.
pub fn read(text: &str) -> Result<Rules, String> {
    toml::from_str(text).map_err(|error| error.to_string())
}

impl Rules {
    /// The rule of a reading.
    pub fn find(&self, reading: &str) -> Option<&Rule> {
        self.rule.iter().find(|rule| rule.readings.iter().any(|pattern| fits(pattern, reading)))
    }

    /// The key of the cause behind a reason; `unknown` if no rule knows it.
    pub fn cause(&self, reason: &str) -> &str {
        let cause =
            self.cause.iter().find(|cause| cause.has.iter().any(|piece| reason.contains(piece.as_str())));
        cause.map_or("unknown", |cause| &cause.text)
    }
}

impl Rule {
    /// What is said one way, of this number.
    pub fn step(&self, kind: FindingKind, value: Option<f64>) -> Option<&Step> {
        match kind {
            FindingKind::Below if value.is_some_and(|value| value < 0.0) && self.negative.is_some() => {
                self.negative.as_ref()
            }
            FindingKind::TooLittle => self.too_little.as_ref(),
            FindingKind::TooMuch => self.too_much.as_ref(),
            FindingKind::Below => self.below.as_ref(),
            FindingKind::Above => self.above.as_ref(),
            FindingKind::Other => self.other.as_ref(),
        }
    }

    /// Every step that the rule has.
    pub fn steps(&self) -> impl Iterator<Item = &Step> {
        let ways = [&self.too_little, &self.too_much, &self.below, &self.above, &self.negative, &self.other];
        ways.into_iter().chain([&self.unseen]).flatten()
    }
}

/// Whether an id is one of a pattern's; `*` stands for letters, digits and `_`, and for itself.
fn fits(pattern: &str, id: &str) -> bool {
    let Some((front, back)) = pattern.split_once('*') else { return pattern == id };
    let place = id.strip_prefix(front).and_then(|rest| rest.strip_suffix(back));
    place.is_some_and(|place| !place.is_empty() && !place.contains('.'))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_table_is_read_and_its_roles_exist() {
        let rules = read(TABLE).expect("data/rules.toml");
        for rule in &rules.rule {
            for role in rule.steps().filter_map(|step| step.role.as_ref()) {
                assert!(
                    role == "finish_line" || rules.role.contains_key(role),
                    "{:?}: {role}",
                    rule.readings
                );
            }
        }
        for head in rules.role.values().flat_map(|role| &role.heads) {
            assert!(crate::tool::head_keys().contains(&head.as_str()), "{head} is no head");
        }
    }

    #[test]
    fn the_single_place_goes_before_the_pattern() {
        let subject =
            |id: &str| rules().find(id).and_then(|rule| rule.too_little.as_ref()).unwrap().text.clone();
        assert_eq!(subject("reduction.axial.facial.occlusal_mm"), "upper_plane_too_little");
        assert_eq!(subject("reduction.axial.lingual.occlusal_mm"), "axial_too_little");
        assert_eq!(subject("reduction.occlusal.groove_mm"), "groove_too_little");
        assert!(rules().find("reduction.axial.facial.somewhere_mm").is_none());
        assert!(rules().find("no.such_mm").is_none());
    }
}
