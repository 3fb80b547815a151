//! Which tooth: its number, its jaw and side, and its average size.

/// Average crown dimensions of one kind of tooth, mm.
///
/// # Source
/// Ash & Nelson, *Wheeler's Dental Anatomy*, table 1-1; from memory, widely reproduced.
/// Averages for drawing and carving: real teeth differ by 15 to 20 %.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ToothSize {
    /// Length of the anatomic crown, cusp tip to cervical line.
    pub crown_mm: f64,
    /// Mesiodistal diameter of the crown.
    pub md_mm: f64,
    /// Mesiodistal diameter at the cervix.
    pub md_cervix_mm: f64,
    /// Faciolingual diameter of the crown.
    pub fl_mm: f64,
    /// Faciolingual diameter at the cervix.
    pub fl_cervix_mm: f64,
    /// Rise of the cervical line on the mesial side.
    pub curvature_mesial_mm: f64,
    /// Rise of the cervical line on the distal side.
    pub curvature_distal_mm: f64,
}

const fn size(v: [f64; 7]) -> ToothSize {
    ToothSize {
        crown_mm: v[0],
        md_mm: v[1],
        md_cervix_mm: v[2],
        fl_mm: v[3],
        fl_cervix_mm: v[4],
        curvature_mesial_mm: v[5],
        curvature_distal_mm: v[6],
    }
}

const UPPER: [ToothSize; 8] = [
    size([10.5, 8.5, 7.0, 7.0, 6.0, 3.5, 2.5]),
    size([9.0, 6.5, 5.0, 6.0, 5.0, 3.0, 2.0]),
    size([10.0, 7.5, 5.5, 8.0, 7.0, 2.5, 1.5]),
    size([8.5, 7.0, 5.0, 9.0, 8.0, 1.0, 0.0]),
    size([8.5, 7.0, 5.0, 9.0, 8.0, 1.0, 0.0]),
    size([7.5, 10.0, 8.0, 11.0, 10.0, 1.0, 0.0]),
    size([7.0, 9.0, 7.0, 11.0, 10.0, 1.0, 0.0]),
    size([6.5, 8.5, 6.5, 10.0, 9.5, 1.0, 0.0]),
];

const LOWER: [ToothSize; 8] = [
    size([9.0, 5.0, 3.5, 6.0, 5.3, 3.0, 2.0]),
    size([9.5, 5.5, 4.0, 6.5, 5.8, 3.0, 2.0]),
    size([11.0, 7.0, 5.5, 7.5, 7.0, 2.5, 1.0]),
    size([8.5, 7.0, 5.0, 7.5, 6.5, 1.0, 0.0]),
    size([8.0, 7.0, 5.0, 8.0, 7.0, 1.0, 0.0]),
    size([7.5, 11.0, 9.0, 10.5, 9.0, 1.0, 0.0]),
    size([7.0, 10.5, 8.0, 10.0, 9.0, 1.0, 0.0]),
    size([7.0, 10.0, 7.5, 9.5, 9.0, 1.0, 0.0]),
];

/// A permanent tooth by its FDI (ISO 3950) number.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Fdi {
    quadrant: u8,
    position: u8,
}

impl Fdi {
    /// The tooth with this two-digit number; `None` unless it is 11–18, 21–28, 31–38 or 41–48.
    pub fn new(number: u8) -> Option<Self> {
        let (quadrant, position) = (number / 10, number % 10);
        ((1..=4).contains(&quadrant) && (1..=8).contains(&position)).then_some(Self { quadrant, position })
    }

    /// The two-digit number.
    pub fn number(self) -> u8 {
        self.quadrant * 10 + self.position
    }

    /// Place from the mid-line, 1 to 8.
    pub fn position(self) -> u8 {
        self.position
    }

    /// Whether the tooth stands in the upper jaw.
    pub fn is_upper(self) -> bool {
        self.quadrant <= 2
    }

    /// Whether mesial × facial points away from occlusal: quadrants 2 and 4.
    pub fn is_left_handed(self) -> bool {
        self.quadrant.is_multiple_of(2)
    }

    /// The tooth `steps` further distally on the same side, if there is one.
    pub fn distally(self, steps: i8) -> Option<Self> {
        let position = u8::try_from(self.position as i8 + steps).ok()?;
        Self::new(self.quadrant * 10 + position).filter(|_| position <= 8)
    }

    /// The tooth `steps` further distally along the arch; negative steps lead on across the mid-line.
    pub fn along_arch(self, steps: i8) -> Option<Self> {
        let position = self.position as i8 + steps;
        if position >= 1 {
            return self.distally(steps);
        }
        let quadrant = [2, 1, 4, 3][self.quadrant as usize - 1];
        Self { quadrant, position: 1 }.distally(-position)
    }

    /// The tooth of the same place in the other jaw, on the same side.
    pub fn opposing(self) -> Self {
        Self { quadrant: [4, 3, 2, 1][self.quadrant as usize - 1], ..self }
    }

    /// Its average size.
    pub fn size(self) -> ToothSize {
        let table = if self.is_upper() { &UPPER } else { &LOWER };
        table[self.position as usize - 1]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_follow_iso_3950() {
        assert_eq!((10..50).filter_map(Fdi::new).count(), 32);
        assert!(Fdi::new(19).is_none() && Fdi::new(20).is_none() && Fdi::new(55).is_none());
        let t26 = Fdi::new(26).unwrap();
        assert!(t26.is_upper() && t26.is_left_handed());
        assert_eq!(t26.opposing().number(), 36);
        assert_eq!(t26.distally(1).unwrap().number(), 27);
        assert_eq!(t26.distally(3), None);
        assert_eq!(t26.distally(-6), None);
        assert_eq!(t26.along_arch(-5).unwrap().number(), 21);
        assert_eq!(t26.along_arch(-6).unwrap().number(), 11);
        assert_eq!(t26.along_arch(-13).unwrap().number(), 18);
        assert_eq!(t26.along_arch(-14), None);
    }
}
