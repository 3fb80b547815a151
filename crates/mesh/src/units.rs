//! Files carry no units: a length tells whether they are millimetres.

use std::fmt;

use crate::Mesh;

/// The shortest and the longest quadrant or arch that is plausible, mm (`docs/measures.md`).
pub const PLAUSIBLE_MM: [f64; 2] = [15.0, 150.0];

/// The shortest and the longest single die, mm, with as much stump as is trimmed in practice; common practice, no source.
pub const DIE_MM: [f64; 2] = [4.0, 40.0];

/// Below this a scan that nobody explained is neither arch nor die, mm.
const UNTOLD_DIE_MM: f64 = 5.0;

/// How much of the mouth a scan shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Extent {
    /// An arch, a quadrant, or a few teeth of one.
    #[default]
    Arch,
    /// One tooth alone, without neighbours and gingiva.
    Die,
}

impl fmt::Display for Extent {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str(match self {
            Self::Arch => "an arch or a part of one",
            Self::Die => "a single die",
        })
    }
}

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

/// A scan whose length does not fit what it shows.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("the scan is {} mm long{}", shown(*longest_mm), self.next_step())]
pub struct UnitError {
    /// The longest side of the box around the scan, as if the file were in millimetres.
    pub longest_mm: f64,
    /// The units in which it would be a plausible length.
    pub likely: Vec<Unit>,
    /// What the user said that it shows.
    pub stated: Option<Extent>,
}

/// About three digits, so that a length just outside does not read as one inside.
fn shown(length_mm: f64) -> String {
    if length_mm < 1.0 { format!("{length_mm:.3}") } else { format!("{length_mm:.1}") }
}

impl UnitError {
    fn next_step(&self) -> String {
        let units: Vec<_> = self.likely.iter().map(Unit::to_string).collect();
        let units = units.join(" or ");
        let is_die = (UNTOLD_DIE_MM..PLAUSIBLE_MM[0]).contains(&self.longest_mm);
        match (self.stated, units.is_empty()) {
            (None, false) if is_die => format!(
                ": it may be a single die in millimetres, or an arch in {units}; say --extent die for the one, export the \
                 other in millimetres"
            ),
            (Some(Extent::Die), true) => {
                " where a single die has 4 to 40 mm: leave out --extent die if it shows more than one tooth".into()
            }
            (Some(Extent::Die), false) => format!(
                " where a single die has 4 to 40 mm, probably it is in {units}: export it in millimetres, or leave out \
                 --extent die if it shows more than one tooth"
            ),
            (_, true) => " where 15 to 150 mm are expected, which is no quadrant or arch in any usual unit: export it in \
                          millimetres, with the neighbouring teeth"
                .into(),
            (_, false) => format!(
                " where 15 to 150 mm are expected, probably it is in {units}: export it in millimetres, with the \
                 neighbouring teeth"
            ),
        }
    }
}

/// Checks that a scan is as long as a quadrant or an arch in millimetres.
///
/// # Errors
/// As for [`check_extent`] with nothing stated.
pub fn check_units(mesh: &Mesh) -> Result<(), UnitError> {
    check_extent(mesh, None).map(|_| ())
}

/// What a scan shows by its length, held against what the user says that it shows.
///
/// # Errors
/// [`UnitError`] names the units that would fit. Between 5 and 15 mm a die in millimetres cannot be told from an arch in
/// centimetres: without a word from the user both are named.
pub fn check_extent(mesh: &Mesh, stated: Option<Extent>) -> Result<Extent, UnitError> {
    let longest_mm = mesh.bounds().map_or(0.0, |(low, high)| (high - low).max());
    let extent = stated.unwrap_or_default();
    let [shortest_mm, most_mm] = match extent {
        Extent::Arch => PLAUSIBLE_MM,
        Extent::Die => DIE_MM,
    };
    let is_plausible = |length_mm: f64| (shortest_mm..=most_mm).contains(&length_mm);
    if is_plausible(longest_mm) {
        return Ok(extent);
    }
    let likely = Unit::ALL.into_iter().filter(|unit| is_plausible(longest_mm * unit.in_mm())).collect();
    Err(UnitError { longest_mm, likely, stated })
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

    fn mesh_of(longest: f64) -> Mesh {
        let corner = |x: f64, y: f64| Point3::new(x, y, 0.0);
        Mesh {
            vertices: vec![Point3::origin(), corner(longest, 0.0), corner(0.0, longest / 2.0)],
            triangles: vec![[0, 1, 2]],
        }
    }

    #[test]
    fn a_die_is_asked_for_and_taken_when_it_is_said() {
        let error = check_extent(&mesh_of(9.8), None).unwrap_err().to_string();
        assert!(error.contains("9.8 mm") && error.contains("--extent die"), "{error}");
        assert!(error.contains("arch in centimetres"), "{error}");
        assert_eq!(check_extent(&mesh_of(9.8), Some(Extent::Die)), Ok(Extent::Die));
        // A die on a long stump is no arch because someone says so.
        assert_eq!(check_extent(&mesh_of(22.0), Some(Extent::Die)), Ok(Extent::Die));
        assert_eq!(check_extent(&mesh_of(22.0), None), Ok(Extent::Arch));
    }

    #[test]
    fn what_was_said_must_fit_the_length() {
        let error = check_extent(&mesh_of(62.0), Some(Extent::Die)).unwrap_err().to_string();
        assert!(error.contains("leave out --extent die"), "{error}");
        let error = check_extent(&mesh_of(0.98), Some(Extent::Die)).unwrap_err();
        assert_eq!(error.likely, [Unit::Centimetre, Unit::Inch]);
        let error = check_extent(&mesh_of(9.8), Some(Extent::Arch)).unwrap_err().to_string();
        assert!(error.contains("centimetres") && !error.contains("die"), "{error}");
    }
}
