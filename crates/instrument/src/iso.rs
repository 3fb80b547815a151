//! The fifteen digits of an ISO 6360 code, and the three that may follow.

use std::collections::BTreeMap;
use std::fmt;

use serde::Deserialize;

use crate::kind::HeadKind;

/// What the groups mean.
const TABLE: &str = include_str!("../data/iso6360.toml");

/// A code by its groups: working part, shank and length, shape, characteristic (for diamonds the grit), largest diameter in
/// tenths of a millimetre, and, if given, the head's length likewise.
///
/// # Source
/// `docs/sources.md#iso-6360`; the meaning of digits 16 to 18 is from memory.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct IsoCode {
    groups: [u16; 5],
    head_length: Option<u16>,
}

/// Particle class of a diamond, the finest first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Grit {
    /// About 15 µm or less.
    UltraFine,
    /// About 30 µm.
    ExtraFine,
    /// About 50 µm.
    Fine,
    /// 100 to 120 µm.
    Medium,
    /// 135 to 140 µm.
    Coarse,
    /// About 180 µm.
    SuperCoarse,
}

/// Why digits are no code.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum IsoError {
    /// Something else than digits and blanks.
    #[error("`{0}` is no digit; a code is five groups of three digits, as 806 314 198 524 016")]
    NoDigit(char),
    /// Too few or too many digits.
    #[error("{0} digits; a code has 15, or 18 with the head's length")]
    Length(usize),
}

#[derive(Debug, Deserialize)]
struct Table {
    material: BTreeMap<String, String>,
    shank: BTreeMap<String, String>,
    length: BTreeMap<String, String>,
    grit: BTreeMap<String, String>,
    shape: Vec<Shape>,
}

#[derive(Debug, Deserialize)]
struct Shape {
    codes: [u16; 2],
    heads: Vec<String>,
}

impl IsoCode {
    /// Reads a code, blanks between its digits or not.
    ///
    /// # Errors
    /// [`IsoError`] for anything but 15 or 18 digits.
    pub fn parse(text: &str) -> Result<Self, IsoError> {
        let letters = || text.chars().filter(|letter| !letter.is_whitespace());
        if let Some(letter) = letters().find(|letter| !letter.is_ascii_digit()) {
            return Err(IsoError::NoDigit(letter));
        }
        let digits: Vec<u16> =
            letters().filter_map(|letter| letter.to_digit(10)).map(|digit| digit as u16).collect();
        let groups: Vec<u16> =
            digits.chunks(3).map(|group| group.iter().fold(0, |number, digit| 10 * number + digit)).collect();
        match groups[..] {
            [a, b, c, d, e] if digits.len() == 15 => Ok(Self { groups: [a, b, c, d, e], head_length: None }),
            [a, b, c, d, e, f] if digits.len() == 18 => {
                Ok(Self { groups: [a, b, c, d, e], head_length: Some(f) })
            }
            _ => Err(IsoError::Length(digits.len())),
        }
    }

    /// The largest diameter that it names, in mm.
    pub fn diameter_mm(self) -> f64 {
        f64::from(self.groups[4]) / 10.0
    }

    /// The head's length that it names, in mm.
    pub fn head_length_mm(self) -> Option<f64> {
        self.head_length.map(|tenths| f64::from(tenths) / 10.0)
    }

    /// The shape's three digits.
    pub fn shape(self) -> u16 {
        self.groups[2]
    }

    /// The heads that its shape may be; none if the shape is not in the table.
    pub fn heads(self) -> Option<Vec<HeadKind>> {
        let table = table();
        let shape =
            table.shape.iter().find(|shape| (shape.codes[0]..=shape.codes[1]).contains(&self.shape()))?;
        Some(
            HeadKind::ALL
                .into_iter()
                .filter(|kind| shape.heads.iter().any(|head| head == kind.key()))
                .collect(),
        )
    }

    /// The grit that it names; none for other instruments than diamonds and for other characteristics.
    pub fn grit(self) -> Option<Grit> {
        let grit = table().grit.get(&format!("{:03}", self.groups[3])).and_then(|word| Grit::parse(word));
        grit.filter(|_| matches!(self.groups[0], 806 | 807))
    }

    /// What its groups say, in words; unknown ones by number.
    pub fn words(self) -> String {
        let table = table();
        let [material, shank, _, _, _] = self.groups.map(|group| format!("{group:03}"));
        let known = |map: &BTreeMap<String, String>, key: &str| {
            map.get(key).cloned().unwrap_or_else(|| format!("{key} (not in our table)"))
        };
        let length = table.length.get(&shank).map_or(String::new(), |length| format!(", {length}"));
        format!("{}; {}{length}", known(&table.material, &material), known(&table.shank, &shank[..2]))
    }
}

impl fmt::Display for IsoCode {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        let groups = self.groups.iter().chain(&self.head_length);
        let words: Vec<String> = groups.map(|group| format!("{group:03}")).collect();
        formatter.write_str(&words.join(" "))
    }
}

impl Grit {
    /// All, the finest first.
    pub const ALL: [Self; 6] =
        [Self::UltraFine, Self::ExtraFine, Self::Fine, Self::Medium, Self::Coarse, Self::SuperCoarse];

    /// Its word.
    pub fn word(self) -> &'static str {
        match self {
            Self::UltraFine => "ultra-fine",
            Self::ExtraFine => "extra-fine",
            Self::Fine => "fine",
            Self::Medium => "medium",
            Self::Coarse => "coarse",
            Self::SuperCoarse => "super-coarse",
        }
    }

    /// The grit of a word.
    pub fn parse(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|grit| grit.word() == word)
    }
}

fn table() -> Table {
    // The file is part of the program and read by a test; an empty table would only mean that nothing is known.
    toml::from_str(TABLE).unwrap_or(Table {
        material: BTreeMap::new(),
        shank: BTreeMap::new(),
        length: BTreeMap::new(),
        grit: BTreeMap::new(),
        shape: Vec::new(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The worked example: galvanic diamond, friction grip, standard 19 mm, tapered with rounded end, medium, 1.6 mm
    /// (docs/sources.md#iso-6360).
    #[test]
    fn the_worked_example_is_read() {
        let code = IsoCode::parse("806 314 198 524 016").unwrap();
        assert_eq!(code, IsoCode::parse("806314198524016").unwrap());
        assert_eq!(code.to_string(), "806 314 198 524 016");
        assert_eq!(code.words(), "diamond, galvanic bond; friction grip, 1.60 mm, standard, 19 mm");
        assert_eq!(code.heads(), Some(vec![HeadKind::RoundCone]));
        assert_eq!((code.grit(), code.diameter_mm(), code.head_length_mm()), (Some(Grit::Medium), 1.6, None));
        assert_eq!(IsoCode::parse("806 314 198 524 016 080").unwrap().head_length_mm(), Some(8.0));
    }

    #[test]
    fn what_is_no_code_is_said() {
        assert_eq!(IsoCode::parse("806 314 198 524 01"), Err(IsoError::Length(14)));
        assert_eq!(IsoCode::parse(""), Err(IsoError::Length(0)));
        assert_eq!(IsoCode::parse("806 314 198 524 0l6"), Err(IsoError::NoDigit('l')));
    }

    #[test]
    fn every_shape_of_the_table_is_a_head_of_ours() {
        let table: Table = toml::from_str(TABLE).unwrap();
        assert!(table.shape.len() > 10 && table.grit.len() == Grit::ALL.len());
        for shape in &table.shape {
            assert!(shape.codes[0] <= shape.codes[1], "{shape:?}");
            for head in &shape.heads {
                assert!(HeadKind::ALL.iter().any(|kind| kind.key() == head), "{head}");
            }
        }
        assert!(table.grit.values().all(|word| Grit::parse(word).is_some()));
        assert_eq!(IsoCode::parse("806 314 999 524 016").unwrap().heads(), None);
        assert_eq!(IsoCode::parse("500 314 198 524 016").unwrap().grit(), None, "bladed: no grit");
    }
}
