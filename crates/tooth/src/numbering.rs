//! Tooth numbers as people type them.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

use crate::error::deciduous_name;
use crate::{Tooth, ToothError};

/// A system of tooth numbers.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum System {
    /// Quadrant 1 to 4, then position 1 to 8 (ISO 3950).
    Fdi,
    /// 1 to 32 round both arches, from the upper right third molar to the lower right one.
    Universal,
    /// Quadrant UR, UL, LL, LR, then position 1 to 8.
    Palmer,
}

/// A tooth as it was typed, with what it was taken for.
///
/// Displays as one line for the user to check:
/// `26: upper left first molar (FDI; Universal 14, Palmer UL6)`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Numbered {
    /// The number without the name of a system, for example `26` or `UL6`.
    pub text: String,
    /// The tooth that it means.
    pub tooth: Tooth,
    /// The system it was read in.
    pub system: System,
    /// Whether the system was named or shows in the number; `false` for a bare number, which is FDI.
    pub is_system_stated: bool,
}

/// Reads a tooth number.
///
/// A bare number is FDI unless `system` says otherwise. The system may also stand in the text (`14 universal`,
/// `FDI 26`), and a Palmer number (`UL6`) shows its system itself. Case and blanks around do not matter.
///
/// # Errors
/// One line that says why the number is impossible and what to write instead; deciduous teeth are refused by name;
/// text and `system` that contradict each other are refused.
pub fn parse(text: &str, system: Option<System>) -> Result<Numbered, ToothError> {
    let (number, written) = split_system(text)?;
    let written = written.or_else(|| is_palmer_shaped(&number).then_some(System::Palmer));
    let stated = match (written, system) {
        (Some(written), Some(asked)) if written != asked => {
            return Err(ToothError::Contradiction { text: shown(text), written, asked });
        }
        (written, asked) => written.or(asked),
    };
    let system = stated.unwrap_or(System::Fdi);
    let tooth = match system {
        System::Fdi => parse_fdi(&number)?,
        System::Universal => parse_universal(&number)?,
        System::Palmer => parse_palmer(&number)?,
    };
    Ok(Numbered { text: number, tooth, system, is_system_stated: stated.is_some() })
}

impl fmt::Display for Numbered {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        let fdi = format!("FDI {}", self.tooth.fdi());
        let universal = format!("Universal {}", self.tooth.universal());
        let palmer = format!("Palmer {}", self.tooth.palmer());
        let others = match self.system {
            System::Fdi => [universal, palmer],
            System::Universal => [fdi, palmer],
            System::Palmer => [fdi, universal],
        };
        let (name, system) = (self.tooth.name(), self.system);
        write!(formatter, "{}: {name} ({system}; {})", self.text, others.join(", "))
    }
}

impl fmt::Display for System {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        formatter.write_str(match self {
            Self::Fdi => "FDI",
            Self::Universal => "Universal",
            Self::Palmer => "Palmer",
        })
    }
}

impl FromStr for System {
    type Err = ToothError;

    /// `fdi`, `universal` or `palmer`, in any case.
    fn from_str(text: &str) -> Result<Self, ToothError> {
        match text.trim().to_ascii_lowercase().as_str() {
            "fdi" => Ok(Self::Fdi),
            "universal" => Ok(Self::Universal),
            "palmer" => Ok(Self::Palmer),
            _ => Err(ToothError::UnknownSystem { text: shown(text) }),
        }
    }
}

/// Takes the name of a system, first or last, off the number, which comes back in capitals.
fn split_system(text: &str) -> Result<(String, Option<System>), ToothError> {
    let words: Vec<&str> = text.split_whitespace().collect();
    match words[..] {
        [number] => Ok((number.to_ascii_uppercase(), None)),
        [first, last] => {
            let (number, system) = match (first.parse(), last.parse()) {
                (Ok(system), _) => (last, system),
                (_, Ok(system)) => (first, system),
                _ => return Err(ToothError::NotANumber { text: shown(text) }),
            };
            Ok((number.to_ascii_uppercase(), Some(system)))
        }
        _ => Err(ToothError::NotANumber { text: shown(text) }),
    }
}

fn is_palmer_shaped(number: &str) -> bool {
    let is_quadrant = number.get(..2).is_some_and(|quadrant| palmer_quadrant(quadrant).is_some());
    is_quadrant && number.len() > 2
}

fn palmer_quadrant(text: &str) -> Option<u8> {
    match text {
        "UR" => Some(1),
        "UL" => Some(2),
        "LL" => Some(3),
        "LR" => Some(4),
        _ => None,
    }
}

fn parse_fdi(number: &str) -> Result<Tooth, ToothError> {
    let value = parse_digits(number)?;
    match u8::try_from(value) {
        Ok(fdi) => Tooth::from_fdi(fdi),
        Err(_) => Err(ToothError::for_fdi(value)),
    }
}

fn parse_universal(number: &str) -> Result<Tooth, ToothError> {
    if let [letter @ b'A'..=b'T'] = *number.as_bytes() {
        let (quadrant, position) = deciduous_universal(letter);
        let name = deciduous_name(quadrant, position);
        return Err(ToothError::Deciduous { text: number.to_owned(), name, system: System::Universal });
    }
    let value = parse_digits(number)?;
    match u8::try_from(value) {
        Ok(universal) => Tooth::from_universal(universal),
        Err(_) => Err(ToothError::for_universal(value)),
    }
}

/// A to T run as the Universal numbers do, five teeth a quadrant: A is the upper right second molar.
fn deciduous_universal(letter: u8) -> (u32, u32) {
    let step = u32::from(letter - b'A');
    match step / 5 {
        0 => (1, 5 - step),
        1 => (2, step - 4),
        2 => (3, 15 - step),
        _ => (4, step - 14),
    }
}

fn parse_palmer(number: &str) -> Result<Tooth, ToothError> {
    let refused = || ToothError::NotPalmer { text: shown(number) };
    let quadrant = number.get(..2).and_then(palmer_quadrant).ok_or_else(refused)?;
    match number.as_bytes()[2..] {
        [digit @ b'1'..=b'8'] => Tooth::from_fdi(10 * quadrant + (digit - b'0')),
        [letter @ b'A'..=b'E'] => Err(ToothError::Deciduous {
            text: number.to_owned(),
            name: deciduous_name(u32::from(quadrant), u32::from(letter - b'A') + 1),
            system: System::Palmer,
        }),
        _ => Err(refused()),
    }
}

/// Plain digits only: no sign, no point. Numbers too large for `u32` are capped, since they are refused anyway.
fn parse_digits(number: &str) -> Result<u32, ToothError> {
    if number.is_empty() || !number.bytes().all(|byte| byte.is_ascii_digit()) {
        return Err(ToothError::NotANumber { text: shown(number) });
    }
    Ok(number.parse().unwrap_or(u32::MAX))
}

/// The given text made fit for one line of a message.
fn shown(text: &str) -> String {
    const MAX_CHARS: usize = 24;
    let start: String = text.trim().chars().take(MAX_CHARS).collect();
    let ellipsis = if text.trim().chars().count() > MAX_CHARS { "…" } else { "" };
    format!("{}{ellipsis}", start.escape_debug())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(text: &str, system: Option<System>, expected: &str) {
        match parse(text, system) {
            Ok(numbered) => assert_eq!(numbered.to_string(), expected, "{text}"),
            Err(error) => assert_eq!(error.to_string(), expected, "{text}"),
        }
    }

    #[test]
    fn a_bare_number_is_fdi_and_says_so() {
        check("26", None, "26: upper left first molar (FDI; Universal 14, Palmer UL6)");
        check(" 14 ", None, "14: upper right first premolar (FDI; Universal 5, Palmer UR4)");
        assert!(!parse("26", None).unwrap().is_system_stated);
        assert!(parse("26", Some(System::Fdi)).unwrap().is_system_stated);
    }

    #[test]
    fn the_named_system_decides() {
        let universal = Some(System::Universal);
        check("14", universal, "14: upper left first molar (Universal; FDI 26, Palmer UL6)");
        check("14 universal", None, "14: upper left first molar (Universal; FDI 26, Palmer UL6)");
        check("fdi 26", None, "26: upper left first molar (FDI; Universal 14, Palmer UL6)");
        check("ul6", None, "UL6: upper left first molar (Palmer; FDI 26, Universal 14)");
        check("Palmer LR1", None, "LR1: lower right central incisor (Palmer; FDI 41, Universal 25)");
        assert!(parse("UL6", None).unwrap().is_system_stated);
    }

    #[test]
    fn every_tooth_comes_back_from_each_of_its_three_numbers() {
        for tooth in Tooth::all() {
            let fdi = tooth.fdi().to_string();
            let universal = tooth.universal().to_string();
            assert_eq!(parse(&fdi, None).unwrap().tooth, tooth);
            assert_eq!(parse(&universal, Some(System::Universal)).unwrap().tooth, tooth);
            assert_eq!(parse(&tooth.palmer(), None).unwrap().tooth, tooth);
        }
    }

    #[test]
    fn impossible_numbers_give_reason_and_next_step() {
        check(
            "19",
            None,
            "19 is no FDI number (the second digit runs from 1 at the midline to 8); in the Universal system it \
             is the lower left first molar, FDI 36: if that is meant, give 36 or say --system universal",
        );
        check(
            "49",
            None,
            "49 is no FDI number (the second digit runs from 1 at the midline to 8): \
             give two digits such as 26, the upper left first molar",
        );
        check(
            "0",
            None,
            "0 is no FDI number (it takes two digits, quadrant 1 to 4 and position 1 to 8): \
             give two digits such as 26, the upper left first molar",
        );
        check(
            "33",
            Some(System::Universal),
            "33 is no Universal number (permanent teeth have 1 to 32); in FDI it is the lower left canine: \
             if that is meant, say --system fdi",
        );
        check(
            "0",
            Some(System::Universal),
            "0 is no Universal number (permanent teeth have 1 to 32): \
             1 is the upper right third molar, 32 the lower right one",
        );
        check(
            "6",
            Some(System::Palmer),
            "\"6\" is no Palmer number: give quadrant and position, \
             UR1 to UR8, UL1 to UL8, LL1 to LL8 or LR1 to LR8",
        );
    }

    #[test]
    fn deciduous_teeth_are_refused_by_name() {
        let refusal = |text: &str, name: &str, system: &str| {
            format!(
                "{text} is the deciduous {name} ({system}): only permanent teeth are measured, check the number"
            )
        };
        check("55", None, &refusal("55", "upper right second molar", "FDI"));
        check("61", None, &refusal("61", "upper left central incisor", "FDI"));
        check("74", None, &refusal("74", "lower left first molar", "FDI"));
        check("83", None, &refusal("83", "lower right canine", "FDI"));
        let universal = Some(System::Universal);
        check("a", universal, &refusal("A", "upper right second molar", "Universal"));
        check("F", universal, &refusal("F", "upper left central incisor", "Universal"));
        check("K", universal, &refusal("K", "lower left second molar", "Universal"));
        check("P", universal, &refusal("P", "lower right central incisor", "Universal"));
        check("T", universal, &refusal("T", "lower right second molar", "Universal"));
        check("ULE", None, &refusal("ULE", "upper left second molar", "Palmer"));
    }

    #[test]
    fn contradictions_are_refused() {
        check(
            "UL6",
            Some(System::Fdi),
            "\"UL6\" is written as Palmer, but the system was given as FDI: leave out one of the two",
        );
        check(
            "26 fdi",
            Some(System::Universal),
            "\"26 fdi\" is written as FDI, but the system was given as Universal: leave out one of the two",
        );
    }

    #[test]
    fn every_refusal_is_one_short_line() {
        let long = "9".repeat(400);
        let texts = [
            "",
            " ",
            "-26",
            "+26",
            "2.6",
            "#14",
            "26\n27",
            "二六",
            "é6",
            "ULé",
            "UL",
            "UL9",
            "UL66",
            "26 26 fdi",
        ];
        for text in texts.into_iter().chain([long.as_str()]) {
            for system in [None, Some(System::Fdi), Some(System::Universal), Some(System::Palmer)] {
                let error = parse(text, system).unwrap_err().to_string();
                assert!(!error.contains('\n') && error.len() < 220, "{text:?} gives {error:?}");
            }
        }
    }

    #[test]
    fn systems_are_named_in_any_case() {
        assert_eq!("Universal".parse(), Ok(System::Universal));
        let error = "iso".parse::<System>().unwrap_err();
        assert_eq!(error.to_string(), "\"iso\" is no numbering system: say fdi, universal or palmer");
    }
}
