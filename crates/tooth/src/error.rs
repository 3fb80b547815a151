//! Why a tooth number is refused.

use crate::{System, Tooth};

/// Why a tooth number is refused, and what to write instead. Every message is one line.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ToothError {
    /// Not a number in any of the three systems.
    #[error("\"{text}\" is no tooth number: give two FDI digits such as 26, or a Palmer number such as UL6")]
    NotANumber {
        /// What was given, shortened and without control characters.
        text: String,
    },
    /// A number that the FDI system does not have.
    #[error("{number} is no FDI number ({why}){}", hint_universal(*.universal))]
    NotFdi {
        /// What was given.
        number: u32,
        /// Which digit is wrong.
        why: &'static str,
        /// What the number would be in the Universal system.
        universal: Option<Tooth>,
    },
    /// A number that the Universal system does not have.
    #[error("{number} is no Universal number (permanent teeth have 1 to 32){}", hint_fdi(*.fdi))]
    NotUniversal {
        /// What was given.
        number: u32,
        /// What the number would be in the FDI system.
        fdi: Option<Tooth>,
    },
    /// A Palmer number without its quadrant, or with a position that does not exist.
    #[error(
        "\"{text}\" is no Palmer number: give quadrant and position, UR1 to UR8, UL1 to UL8, LL1 to LL8 or LR1 to LR8"
    )]
    NotPalmer {
        /// What was given, shortened and without control characters.
        text: String,
    },
    /// A milk tooth.
    #[error("{text} is the deciduous {name} ({system}): only permanent teeth are measured, check the number")]
    Deciduous {
        /// What was given.
        text: String,
        /// The tooth in words.
        name: String,
        /// The system that gives this number to a deciduous tooth.
        system: System,
    },
    /// The text names one system, the caller another.
    #[error(
        "\"{text}\" is written as {written}, but the system was given as {asked}: leave out one of the two"
    )]
    Contradiction {
        /// What was given.
        text: String,
        /// The system that the text names.
        written: System,
        /// The system that was asked for.
        asked: System,
    },
    /// A system that is not known.
    #[error("\"{text}\" is no numbering system: say fdi, universal or palmer")]
    UnknownSystem {
        /// What was given, shortened and without control characters.
        text: String,
    },
}

impl ToothError {
    /// The fault of a number that is no permanent tooth in the FDI system.
    pub(crate) fn for_fdi(number: u32) -> Self {
        let (quadrant, position) = (number / 10, number % 10);
        if let (5..=8, 1..=5) = (quadrant, position) {
            // Deciduous quadrants 5 to 8 lie where the permanent 1 to 4 do.
            let name = deciduous_name(quadrant - 4, position);
            return Self::Deciduous { text: number.to_string(), name, system: System::Fdi };
        }
        let why = match (quadrant, position) {
            (1..=4, 0 | 9) => "the second digit runs from 1 at the midline to 8",
            (5..=8, _) => "deciduous quadrants, 5 to 8, have positions 1 to 5",
            (0, _) => "it takes two digits, quadrant 1 to 4 and position 1 to 8",
            _ => "the first digit is the quadrant, 1 to 4",
        };
        let universal = u8::try_from(number).ok().and_then(Tooth::at_universal);
        Self::NotFdi { number, why, universal }
    }

    /// The fault of a number that is no permanent tooth in the Universal system.
    pub(crate) fn for_universal(number: u32) -> Self {
        let fdi = u8::try_from(number).ok().and_then(Tooth::at_fdi);
        Self::NotUniversal { number, fdi }
    }
}

/// A deciduous tooth in words; `quadrant` 1 to 4 and `position` 1 to 5 as in the permanent dentition.
pub(crate) fn deciduous_name(quadrant: u32, position: u32) -> String {
    let jaw = if quadrant <= 2 { "upper" } else { "lower" };
    let side = if matches!(quadrant, 2 | 3) { "left" } else { "right" };
    let form = match position {
        1 => "central incisor",
        2 => "lateral incisor",
        3 => "canine",
        4 => "first molar",
        _ => "second molar",
    };
    format!("{jaw} {side} {form}")
}

fn hint_universal(tooth: Option<Tooth>) -> String {
    match tooth {
        Some(tooth) => format!(
            "; in the Universal system it is the {}, FDI {tooth}: if that is meant, give {tooth} or say --system universal",
            tooth.name()
        ),
        None => ": give two digits such as 26, the upper left first molar".to_owned(),
    }
}

fn hint_fdi(tooth: Option<Tooth>) -> String {
    match tooth {
        Some(tooth) => {
            format!("; in FDI it is the {}: if that is meant, say --system fdi", tooth.name())
        }
        None => ": 1 is the upper right third molar, 32 the lower right one".to_owned(),
    }
}
