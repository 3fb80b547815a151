//! A permanent tooth and what its place in the mouth says about it.

use std::fmt;

use serde::{Deserialize, Serialize};

use crate::ToothError;

/// A permanent tooth.
///
/// Written in JSON and TOML as its FDI number, for example `26`.
/// Ordered by FDI number: 11 to 18, 21 to 28, 31 to 38, 41 to 48.
///
/// # Source
/// Numbers: `docs/sources.md#iso-3950`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(try_from = "u8", into = "u8")]
pub struct Tooth {
    quadrant: u8,
    position: u8,
}

/// The four forms of permanent teeth.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Kind {
    /// Positions 1 and 2: an incisal edge.
    Incisor,
    /// Position 3: one cusp.
    Canine,
    /// Positions 4 and 5: a facial and a lingual cusp row.
    Premolar,
    /// Positions 6 to 8: the same with several cusps in a row.
    Molar,
}

/// One of the two sides on which a back tooth carries a row of cusps.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Side {
    /// Towards cheek and lip.
    Facial,
    /// Towards tongue and palate.
    Lingual,
}

impl Tooth {
    /// The tooth with an FDI number: quadrant 1 to 4, then position 1 to 8 counted from the midline.
    ///
    /// # Errors
    /// [`ToothError::Deciduous`] for 51 to 85, [`ToothError::NotFdi`] for every other number.
    pub fn from_fdi(fdi: u8) -> Result<Self, ToothError> {
        Self::at_fdi(fdi).ok_or_else(|| ToothError::for_fdi(u32::from(fdi)))
    }

    /// The tooth with a Universal number: 1 is the upper right third molar, 16 the upper left one,
    /// 17 the lower left one, 32 the lower right one.
    ///
    /// # Errors
    /// [`ToothError::NotUniversal`] outside 1 to 32.
    pub fn from_universal(universal: u8) -> Result<Self, ToothError> {
        Self::at_universal(universal).ok_or_else(|| ToothError::for_universal(u32::from(universal)))
    }

    /// All 32 permanent teeth in the order of their FDI numbers.
    pub fn all() -> impl Iterator<Item = Self> {
        (1..=4).flat_map(|quadrant| (1..=8).map(move |position| Self { quadrant, position }))
    }

    /// The FDI number, for example 26.
    pub fn fdi(self) -> u8 {
        10 * self.quadrant + self.position
    }

    /// The Universal number, 1 to 32.
    pub fn universal(self) -> u8 {
        match self.quadrant {
            1 => 9 - self.position,
            2 => 8 + self.position,
            3 => 25 - self.position,
            _ => 24 + self.position,
        }
    }

    /// The Palmer number as text, for example `UL6`: jaw, the patient's side, position from the midline.
    pub fn palmer(self) -> String {
        let jaw = if self.is_upper() { 'U' } else { 'L' };
        let side = if self.is_left() { 'L' } else { 'R' };
        format!("{jaw}{side}{}", self.position)
    }

    /// 1 upper right, 2 upper left, 3 lower left, 4 lower right, as the patient sees it.
    pub fn quadrant(self) -> u8 {
        self.quadrant
    }

    /// Place in the quadrant: 1 at the midline to 8, the third molar.
    pub fn position(self) -> u8 {
        self.position
    }

    /// Whether the tooth stands in the upper jaw.
    pub fn is_upper(self) -> bool {
        self.quadrant <= 2
    }

    /// Whether the tooth stands on the patient's left.
    pub fn is_left(self) -> bool {
        matches!(self.quadrant, 2 | 3)
    }

    /// Incisors and canines, which have an incisal edge or a single cusp instead of an occlusal table.
    pub fn is_front(self) -> bool {
        self.position <= 3
    }

    /// The form of the tooth.
    pub fn kind(self) -> Kind {
        match self.position {
            1 | 2 => Kind::Incisor,
            3 => Kind::Canine,
            4 | 5 => Kind::Premolar,
            _ => Kind::Molar,
        }
    }

    /// The tooth in words, for example "upper left first molar".
    pub fn name(self) -> String {
        let jaw = if self.is_upper() { "upper" } else { "lower" };
        let side = if self.is_left() { "left" } else { "right" };
        let form = match self.position {
            1 => "central incisor",
            2 => "lateral incisor",
            3 => "canine",
            4 => "first premolar",
            5 => "second premolar",
            6 => "first molar",
            7 => "second molar",
            _ => "third molar",
        };
        format!("{jaw} {side} {form}")
    }

    /// The next tooth towards the midline and, at the midline, the one across it: 11 has 21.
    ///
    /// Never `None` for a permanent tooth; an option so that both neighbours are handled alike.
    pub fn mesial_neighbour(self) -> Option<Self> {
        if self.position > 1 {
            return Some(Self { position: self.position - 1, ..self });
        }
        let quadrant = match self.quadrant {
            1 => 2,
            2 => 1,
            3 => 4,
            _ => 3,
        };
        Some(Self { quadrant, position: 1 })
    }

    /// The next tooth away from the midline; a third molar has none.
    pub fn distal_neighbour(self) -> Option<Self> {
        (self.position < 8).then(|| Self { position: self.position + 1, ..self })
    }

    /// The side whose cusps hold the bite: facial in the lower jaw, lingual in the upper. Front teeth have none.
    ///
    /// # Source
    /// Common practice, no source.
    pub fn functional_side(self) -> Option<Side> {
        match (self.is_front(), self.is_upper()) {
            (true, _) => None,
            (false, true) => Some(Side::Lingual),
            (false, false) => Some(Side::Facial),
        }
    }

    /// The sign of the tooth frame: mesial × facial = `handedness` · occlusal.
    ///
    /// +1 in quadrants 1 and 3, −1 in 2 and 4, so that with the occlusal direction known,
    /// mesial decides facial.
    pub fn handedness(self) -> f64 {
        if self.quadrant % 2 == 1 { 1.0 } else { -1.0 }
    }

    pub(crate) fn at_fdi(fdi: u8) -> Option<Self> {
        let (quadrant, position) = (fdi / 10, fdi % 10);
        let exists = (1..=4).contains(&quadrant) && (1..=8).contains(&position);
        exists.then_some(Self { quadrant, position })
    }

    pub(crate) fn at_universal(universal: u8) -> Option<Self> {
        let (quadrant, position) = match universal {
            1..=8 => (1, 9 - universal),
            9..=16 => (2, universal - 8),
            17..=24 => (3, 25 - universal),
            25..=32 => (4, universal - 24),
            _ => return None,
        };
        Some(Self { quadrant, position })
    }
}

impl Side {
    /// The other side.
    pub fn opposite(self) -> Self {
        match self {
            Self::Facial => Self::Lingual,
            Self::Lingual => Self::Facial,
        }
    }
}

impl fmt::Display for Tooth {
    /// The FDI number.
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(formatter, "{}", self.fdi())
    }
}

impl TryFrom<u8> for Tooth {
    type Error = ToothError;

    fn try_from(fdi: u8) -> Result<Self, ToothError> {
        Self::from_fdi(fdi)
    }
}

impl From<Tooth> for u8 {
    fn from(tooth: Tooth) -> Self {
        tooth.fdi()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tooth(fdi: u8) -> Tooth {
        Tooth::from_fdi(fdi).unwrap()
    }

    /// The rows of the table at `docs/sources.md#iso-3950`: FDI numbers in the order of the Universal system.
    #[rustfmt::skip]
    const FDI_BY_UNIVERSAL: [u8; 32] = [
        18, 17, 16, 15, 14, 13, 12, 11, 21, 22, 23, 24, 25, 26, 27, 28,
        38, 37, 36, 35, 34, 33, 32, 31, 41, 42, 43, 44, 45, 46, 47, 48,
    ];

    #[test]
    fn all_32_numbers_agree_with_the_table() {
        for (universal, fdi) in (1..).zip(FDI_BY_UNIVERSAL) {
            assert_eq!(tooth(fdi).universal(), universal, "FDI {fdi}");
            assert_eq!(Tooth::from_universal(universal), Ok(tooth(fdi)));
            assert_eq!(tooth(fdi).fdi(), fdi);
        }
        let mut sorted = FDI_BY_UNIVERSAL;
        sorted.sort_unstable();
        assert!(Tooth::all().map(Tooth::fdi).eq(sorted));
    }

    #[test]
    fn pairs_read_in_other_texts_hold() {
        for (fdi, universal) in [(26, 14), (25, 13), (28, 16), (46, 30), (36, 19), (11, 8), (21, 9)] {
            assert_eq!(tooth(fdi).universal(), universal, "FDI {fdi}");
        }
    }

    #[test]
    fn palmer_names_jaw_and_side() {
        for (fdi, palmer) in [(18, "UR8"), (11, "UR1"), (21, "UL1"), (26, "UL6"), (38, "LL8"), (41, "LR1")] {
            assert_eq!(tooth(fdi).palmer(), palmer);
        }
    }

    #[test]
    fn no_other_number_is_a_permanent_tooth() {
        let accepted: Vec<u8> = (0..=u8::MAX).filter(|&fdi| Tooth::from_fdi(fdi).is_ok()).collect();
        assert_eq!(accepted.len(), 32);
        let accepted = (0..=u8::MAX).filter(|&number| Tooth::from_universal(number).is_ok());
        assert!(accepted.eq(1..=32));
    }

    #[test]
    fn neighbours_are_mutual_and_cross_the_midline() {
        for this in Tooth::all() {
            let mesial = this.mesial_neighbour().unwrap();
            assert_eq!(mesial.is_upper(), this.is_upper());
            if this.position() == 1 {
                assert_eq!(mesial.mesial_neighbour(), Some(this));
                assert_ne!(mesial.is_left(), this.is_left());
            } else {
                assert_eq!(mesial.distal_neighbour(), Some(this));
            }
        }
        assert_eq!(tooth(11).mesial_neighbour(), Some(tooth(21)));
        assert_eq!(tooth(41).mesial_neighbour(), Some(tooth(31)));
        assert_eq!(tooth(26).mesial_neighbour(), Some(tooth(25)));
        assert_eq!(tooth(26).distal_neighbour(), Some(tooth(27)));
        assert_eq!(tooth(38).distal_neighbour(), None);
    }

    /// Directions in the head, x to the patient's right, y forwards, z up, for a molar whose row runs along y.
    #[test]
    fn handedness_follows_from_the_place_in_the_head() {
        for this in Tooth::all() {
            let facial_x = if this.is_left() { -1.0 } else { 1.0 };
            let occlusal_z = if this.is_upper() { -1.0 } else { 1.0 };
            let mesial_cross_facial_z = -facial_x; // y × x = −z
            assert_eq!(mesial_cross_facial_z, this.handedness() * occlusal_z, "FDI {this}");
        }
    }

    #[test]
    fn anatomy_follows_from_jaw_and_position() {
        assert_eq!(tooth(26).name(), "upper left first molar");
        assert_eq!(tooth(43).name(), "lower right canine");
        assert_eq!(tooth(26).functional_side(), Some(Side::Lingual));
        assert_eq!(tooth(35).functional_side(), Some(Side::Facial));
        assert_eq!(tooth(21).functional_side(), None);
        let kinds = [Kind::Incisor, Kind::Canine, Kind::Premolar, Kind::Molar];
        assert_eq!([tooth(12), tooth(33), tooth(45), tooth(18)].map(Tooth::kind), kinds);
    }

    #[test]
    fn json_is_the_fdi_number_and_refuses_others() {
        assert_eq!(serde_json::to_string(&tooth(26)).unwrap(), "26");
        assert_eq!(serde_json::from_str::<Tooth>("26").unwrap(), tooth(26));
        let error = serde_json::from_str::<Tooth>("55").unwrap_err().to_string();
        assert!(error.contains("deciduous upper right second molar"), "{error}");
    }
}
