//! The teeth an exercise is for.

use std::fmt;

use kerfwright_tooth::{Kind, Tooth};
use serde::{Deserialize, Serialize};

/// One tooth or a group: `26`, `molar`, `upper premolar`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS), ts(as = "String"))]
#[serde(try_from = "String", into = "String")]
pub enum Teeth {
    /// One tooth.
    One(Tooth),
    /// All of a kind, of one jaw if it is named.
    Group {
        /// Upper (`true`), lower, or both.
        upper: Option<bool>,
        /// The kind.
        kind: Kind,
    },
}

const KINDS: [(&str, Kind); 4] = [
    ("incisor", Kind::Incisor),
    ("canine", Kind::Canine),
    ("premolar", Kind::Premolar),
    ("molar", Kind::Molar),
];

impl Teeth {
    /// Reads an FDI number or a kind of tooth with or without `upper` or `lower`.
    pub fn parse(text: &str) -> Option<Self> {
        if let Ok(fdi) = text.parse::<u8>() {
            return Tooth::from_fdi(fdi).ok().map(Self::One);
        }
        let (upper, name) = match text.split_once(' ') {
            Some(("upper", name)) => (Some(true), name),
            Some(("lower", name)) => (Some(false), name),
            Some(_) => return None,
            None => (None, text),
        };
        let kind = KINDS.iter().find(|kind| kind.0 == name)?.1;
        Some(Self::Group { upper, kind })
    }

    /// Whether the tooth is one of them.
    pub fn includes(self, tooth: Tooth) -> bool {
        match self {
            Self::One(own) => own == tooth,
            Self::Group { upper, kind } => {
                kind == tooth.kind() && upper.is_none_or(|upper| upper == tooth.is_upper())
            }
        }
    }
}

impl fmt::Display for Teeth {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::One(tooth) => write!(formatter, "{}", tooth.fdi()),
            Self::Group { upper, kind } => {
                let jaw = match upper {
                    Some(true) => "upper ",
                    Some(false) => "lower ",
                    None => "",
                };
                let name = KINDS.iter().find(|entry| entry.1 == *kind).map_or("", |entry| entry.0);
                write!(formatter, "{jaw}{name}")
            }
        }
    }
}

impl From<Teeth> for String {
    fn from(teeth: Teeth) -> Self {
        teeth.to_string()
    }
}

impl TryFrom<String> for Teeth {
    type Error = String;

    fn try_from(text: String) -> Result<Self, String> {
        Self::parse(&text).ok_or_else(|| format!("`{text}` is no tooth; write 26, molar or upper premolar"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn groups_include_their_teeth() {
        let tooth = |fdi| Tooth::from_fdi(fdi).unwrap();
        assert!(Teeth::parse("molar").unwrap().includes(tooth(37)));
        assert!(!Teeth::parse("upper molar").unwrap().includes(tooth(37)));
        assert!(Teeth::parse("26").unwrap().includes(tooth(26)));
        assert!(!Teeth::parse("26").unwrap().includes(tooth(27)));
        for wrong in ["19", "left molar", "tooth", "molar upper"] {
            assert_eq!(Teeth::parse(wrong), None, "{wrong}");
        }
        for text in ["26", "molar", "lower incisor"] {
            assert_eq!(Teeth::parse(text).unwrap().to_string(), text);
        }
    }
}
