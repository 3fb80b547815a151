//! Typical sizes of permanent teeth.

use serde::Serialize;

use crate::Tooth;

/// Average sizes of a tooth, for plausibility (within some 15 to 20 %) and for phantoms, not for tolerances.
///
/// # Units
/// All in mm.
///
/// # Source
/// Ash & Nelson, Wheeler's Dental Anatomy, Table 1-1; from memory, widely reproduced:
/// `docs/sources.md#ash-and-nelson`.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Dimensions {
    /// Length of the anatomic crown, cusp or edge to cervical line.
    pub crown_length_mm: f64,
    /// Greatest mesiodistal width of the crown.
    pub mesiodistal_mm: f64,
    /// Mesiodistal width at the cervix.
    pub mesiodistal_cervix_mm: f64,
    /// Greatest faciolingual width of the crown.
    pub faciolingual_mm: f64,
    /// Faciolingual width at the cervix.
    pub faciolingual_cervix_mm: f64,
    /// How far the cervical line rises towards the edge on the mesial side.
    pub curvature_mesial_mm: f64,
    /// The same on the distal side.
    pub curvature_distal_mm: f64,
}

impl Tooth {
    /// Average sizes of this tooth in adults.
    pub fn typical_dimensions(self) -> Dimensions {
        let table = if self.is_upper() { &UPPER } else { &LOWER };
        let row = table[usize::from(self.position() - 1)];
        Dimensions {
            crown_length_mm: row[0],
            mesiodistal_mm: row[1],
            mesiodistal_cervix_mm: row[2],
            faciolingual_mm: row[3],
            faciolingual_cervix_mm: row[4],
            curvature_mesial_mm: row[5],
            curvature_distal_mm: row[6],
        }
    }
}

/// Positions 1 to 8 of the upper jaw, in the order of the fields of [`Dimensions`].
const UPPER: [[f64; 7]; 8] = [
    [10.5, 8.5, 7.0, 7.0, 6.0, 3.5, 2.5],
    [9.0, 6.5, 5.0, 6.0, 5.0, 3.0, 2.0],
    [10.0, 7.5, 5.5, 8.0, 7.0, 2.5, 1.5],
    [8.5, 7.0, 5.0, 9.0, 8.0, 1.0, 0.0],
    [8.5, 7.0, 5.0, 9.0, 8.0, 1.0, 0.0],
    [7.5, 10.0, 8.0, 11.0, 10.0, 1.0, 0.0],
    [7.0, 9.0, 7.0, 11.0, 10.0, 1.0, 0.0],
    [6.5, 8.5, 6.5, 10.0, 9.5, 1.0, 0.0],
];

/// Positions 1 to 8 of the lower jaw.
///
/// One secondary source gives 11.5 mm for the faciolingual width of the first molar; the table prints 10.5.
const LOWER: [[f64; 7]; 8] = [
    [9.0, 5.0, 3.5, 6.0, 5.3, 3.0, 2.0],
    [9.5, 5.5, 4.0, 6.5, 5.8, 3.0, 2.0],
    [11.0, 7.0, 5.5, 7.5, 7.0, 2.5, 1.0],
    [8.5, 7.0, 5.0, 7.5, 6.5, 1.0, 0.0],
    [8.0, 7.0, 5.0, 8.0, 7.0, 1.0, 0.0],
    [7.5, 11.0, 9.0, 10.5, 9.0, 1.0, 0.0],
    [7.0, 10.5, 8.0, 10.0, 9.0, 1.0, 0.0],
    [7.0, 10.0, 7.5, 9.5, 9.0, 1.0, 0.0],
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_belong_to_their_teeth() {
        let of = |fdi| Tooth::from_fdi(fdi).unwrap().typical_dimensions();
        assert_eq!(of(16), of(26));
        assert_eq!(
            (of(26).crown_length_mm, of(26).mesiodistal_mm, of(26).faciolingual_mm),
            (7.5, 10.0, 11.0)
        );
        assert_eq!((of(36).mesiodistal_mm, of(36).faciolingual_cervix_mm), (11.0, 9.0));
        assert_eq!((of(21).crown_length_mm, of(21).curvature_mesial_mm), (10.5, 3.5));
    }

    /// Catches a cell typed into the wrong column: what holds for every human tooth of the table.
    #[test]
    fn a_crown_is_narrower_at_its_neck_and_curves_more_on_the_mesial() {
        for tooth in Tooth::all() {
            let size = tooth.typical_dimensions();
            assert!(size.mesiodistal_cervix_mm < size.mesiodistal_mm, "{tooth}");
            assert!(size.faciolingual_cervix_mm < size.faciolingual_mm, "{tooth}");
            assert!(size.curvature_distal_mm < size.curvature_mesial_mm, "{tooth}");
            assert!(size.crown_length_mm > 2.0 * size.curvature_mesial_mm, "{tooth}");
        }
    }

    /// The lower jaw's row from incisor to third molar, summed: the arch length that the widths imply.
    #[test]
    fn widths_sum_to_a_plausible_arch() {
        let arch_mm = |upper: bool| -> f64 {
            let jaw = Tooth::all().filter(|tooth| tooth.is_upper() == upper);
            jaw.map(|tooth| tooth.typical_dimensions().mesiodistal_mm).sum()
        };
        assert_eq!(arch_mm(true), 128.0);
        assert_eq!(arch_mm(false), 126.0);
    }
}
