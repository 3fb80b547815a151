//! Files carry no units: a length tells whether they are millimetres.

use std::fmt;

use crate::Mesh;

/// The shortest and the longest quadrant or arch that is plausible, mm (`docs/measures.md`).
pub const PLAUSIBLE_MM: [f64; 2] = [15.0, 150.0];

/// The shortest single die, mm; common practice, no source.
const DIE_MM: f64 = 5.0;

/// A unit of length that programs write by mistake.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unit {
    /// 0.001 mm.
    Micrometre,
    /// 10 mm.
    Centimetre,
    /// 25.4 mm.
    Inch,
    /// 1000 mm.
    Metre,
}

impl Unit {
    const ALL: [Self; 4] = [Self::Micrometre, Self::Centimetre, Self::Inch, Self::Metre];

    /// Millimetres in one unit.
    pub fn in_mm(self) -> f64 {
        match self {
            Self::Micrometre => 0.001,
            Self::Centimetre => 10.0,
            Self::Inch => 25.4,
            Self::Metre => 1000.0,
        }
    }
}

impl fmt::Display for Unit {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str(match self {
            Self::Micrometre => "micrometres",
            Self::Centimetre => "centimetres",
            Self::Inch => "inches",
            Self::Metre => "metres",
        })
    }
}

/// A scan too small or too large to be a quadrant or an arch in millimetres.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error(
    "the scan is {} mm long where 15 to 150 mm are expected, {}: export it in millimetres, with the neighbouring teeth",
    shown(*longest_mm),
    guess(*longest_mm, likely)
)]
pub struct UnitError {
    /// The longest side of the box around the scan, as if the file were in millimetres.
    pub longest_mm: f64,
    /// The units in which it would be a plausible length.
    pub likely: Vec<Unit>,
}

/// About three digits, so that a length just outside does not read as one inside.
fn shown(length_mm: f64) -> String {
    if length_mm < 1.0 { format!("{length_mm:.3}") } else { format!("{length_mm:.1}") }
}

fn guess(longest_mm: f64, likely: &[Unit]) -> String {
    let units: Vec<_> = likely.iter().map(Unit::to_string).collect();
    let single =
        if (DIE_MM..PLAUSIBLE_MM[0]).contains(&longest_mm) { ", or it shows a single die" } else { "" };
    match likely {
        [] => "which is no quadrant or arch in any usual unit".into(),
        _ => format!("probably it is in {}{single}", units.join(" or ")),
    }
}

/// Checks that a scan is as long as a quadrant or an arch in millimetres.
///
/// # Errors
/// [`UnitError`] names the units that would fit. A single die (5 to 15 mm) is refused too: it cannot be told
/// from an arch in centimetres, and without its neighbours little can be measured.
pub fn check_units(mesh: &Mesh) -> Result<(), UnitError> {
    let longest_mm = mesh.bounds().map_or(0.0, |(low, high)| (high - low).max());
    let is_plausible = |length_mm: f64| (PLAUSIBLE_MM[0]..=PLAUSIBLE_MM[1]).contains(&length_mm);
    if is_plausible(longest_mm) {
        return Ok(());
    }
    let likely = Unit::ALL.into_iter().filter(|unit| is_plausible(longest_mm * unit.in_mm())).collect();
    Err(UnitError { longest_mm, likely })
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::Point3;

    fn error_of(longest: f64) -> Option<UnitError> {
        let mesh = Mesh {
            vertices: vec![
                Point3::origin(),
                Point3::new(longest, 0.0, 0.0),
                Point3::new(0.0, longest / 2.0, 0.0),
            ],
            triangles: vec![[0, 1, 2]],
        };
        check_units(&mesh).err()
    }

    #[test]
    fn names_the_unit_a_quadrant_of_42_mm_was_written_in() {
        let cases: [(f64, &[Unit]); 5] = [
            (42_000.0, &[Unit::Micrometre]),
            (4.2, &[Unit::Centimetre, Unit::Inch]),
            (42.0 / 25.4, &[Unit::Centimetre, Unit::Inch]),
            (0.042, &[Unit::Metre]),
            (420.0, &[]),
        ];
        for (longest, likely) in cases {
            assert_eq!(error_of(longest).unwrap().likely, likely, "{longest}");
        }
        assert_eq!(error_of(42.0), None);
    }

    #[test]
    fn says_so_in_one_line() {
        let error = error_of(0.042).unwrap().to_string();
        assert!(
            error.contains("0.042 mm") && error.contains("in metres") && !error.contains('\n'),
            "{error}"
        );
    }
}
