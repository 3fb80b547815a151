//! What a head leaves on walls, how deep it shows when it is sunk, and where it passes.

use crate::head::{Cuts, Head};
use crate::kind::HeadKind;

/// How far a head is sunk.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sunk {
    /// To half its diameter.
    Half,
    /// To its diameter: flush.
    Whole,
}

/// The depth that a groove or a dimple has once the head is sunk so far, in mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Depth {
    /// At the thinnest place that still marks: where the tip's arc ends. Equal to `greatest_mm` unless the head tapers.
    pub least_mm: f64,
    /// At the largest diameter.
    pub greatest_mm: f64,
}

/// A facial wall cut in two planes with one instrument: first parallel to the path, then tilted.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FacialPlanes {
    /// Taper of the gingival plane.
    pub gingival_deg: f64,
    /// Taper of the incisal or occlusal plane.
    pub incisal_deg: f64,
    /// Angle between them: the tilt.
    pub between_deg: f64,
    /// What the second plane takes off more than the first one would have, at the top of the wall.
    pub top_extra_mm: f64,
    /// Whether the sides reach over the gingival plane and, again, over the incisal one.
    pub reaches: bool,
}

/// The taper of a wall that was cut with the head held parallel to the path: its half-angle; none without straight cutting sides.
///
/// # Source
/// **derived**: the side is the wall.
pub fn taper_deg(head: &Head) -> Option<f64> {
    (head.kind.has_straight_sides() && head.cuts != Cuts::End).then(|| head.half_angle_deg())
}

/// Total occlusal convergence of two opposing walls cut with the head, tilted by the given angles towards the tooth (0:
/// parallel to the path): 2 α + δ₁ + δ₂. None without straight cutting sides.
///
/// # Source
/// Convergence is the sum of two opposing tapers: `docs/sources.md#nordlander-1988`.
pub fn convergence_deg(head: &Head, tilts_deg: [f64; 2]) -> Option<f64> {
    taper_deg(head).map(|taper_deg| 2.0 * taper_deg + tilts_deg[0] + tilts_deg[1])
}

/// Two facial planes: the head parallel to the path up to `break_mm` above the finish line, then tilted by `tilt_deg` up to
/// `wall_mm`. None without straight cutting sides: a curved head leaves a hollow.
///
/// # Source
/// **derived**: over the height *h* above the break the second plane gains *h* (tan(α + δ) − tan α).
pub fn facial_planes(head: &Head, tilt_deg: f64, break_mm: f64, wall_mm: f64) -> Option<FacialPlanes> {
    let gingival_deg = taper_deg(head)?;
    let incisal_deg = gingival_deg + tilt_deg;
    let above_mm = (wall_mm - break_mm).max(0.0);
    let tangents = incisal_deg.to_radians().tan() - gingival_deg.to_radians().tan();
    let second_run_mm = above_mm / incisal_deg.to_radians().cos();
    Some(FacialPlanes {
        gingival_deg,
        incisal_deg,
        between_deg: tilt_deg,
        top_extra_mm: above_mm * tangents,
        reaches: head.length_mm >= break_mm.max(second_run_mm),
    })
}

/// The depth that shows when the head is sunk into a surface: a ball upright, anything else laid on its side.
///
/// A taper laid on its side is deeper at its base than at its tip: both are given. Heads whose sides do not cut show none.
///
/// # Source
/// **derived**: sunk to half its diameter a cylinder of 1.4 mm is 0.7 mm deep.
pub fn depth_mm(head: &Head, sunk: Sunk) -> Option<Depth> {
    if head.cuts == Cuts::End {
        return None;
    }
    let share = if sunk == Sunk::Half { 0.5 } else { 1.0 };
    let greatest_mm = share * head.diameter_mm;
    let is_tapered = matches!(
        head.kind,
        HeadKind::FlatCone | HeadKind::RoundCone | HeadKind::PointedCone | HeadKind::Torpedo
    );
    let least_mm = if is_tapered { share * head.tip_diameter_mm } else { greatest_mm };
    Some(Depth { least_mm, greatest_mm })
}

/// How much room is left when the tip lies `height_mm` below the narrowest place of a gap of `gap_mm`: gap less the largest
/// diameter up to that height. Negative: it touches.
///
/// # Source
/// **derived**: everything below that height had to pass there.
pub fn room_in_gap_mm(head: &Head, gap_mm: f64, height_mm: f64) -> f64 {
    gap_mm - 2.0 * head.widest_up_to_mm(height_mm)
}

/// The radius of the hollow that the head's side leaves lengthwise, none for straight sides and for a wheel's rim: ellipsoid *a*²/*b*
/// with half the length *a* and half the diameter *b*; a flame's arch; the radius of a ball or of a pear's end.
///
/// # Source
/// **derived**: curvature at the widest place.
pub fn hollow_radius_mm(head: &Head) -> Option<f64> {
    let radius_mm = 0.5 * head.diameter_mm;
    match head.kind {
        HeadKind::Ball | HeadKind::Pear => Some(radius_mm),
        HeadKind::Football => Some((0.5 * head.length_mm).powi(2) / radius_mm),
        HeadKind::Flame => Some((radius_mm * radius_mm + head.nose_mm * head.nose_mm) / (2.0 * radius_mm)),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::head::Dimensions;

    fn cone(tip_mm: f64, diameter_mm: f64, length_mm: f64, kind: HeadKind) -> Head {
        let given = Dimensions {
            diameter_mm,
            length_mm: Some(length_mm),
            tip_diameter_mm: Some(tip_mm),
            ..Dimensions::default()
        };
        Head::new(kind, &given).unwrap()
    }

    fn ball(diameter_mm: f64) -> Head {
        Head::new(HeadKind::Ball, &Dimensions { diameter_mm, ..Dimensions::default() }).unwrap()
    }

    /// A 3° taper held parallel leaves 6° (docs/sources.md#instrument-taper); tilting one side adds the tilt.
    #[test]
    fn convergence_is_twice_the_half_angle() {
        let given = Dimensions {
            diameter_mm: 1.6,
            length_mm: Some(8.0),
            half_angle_deg: Some(3.0),
            ..Dimensions::default()
        };
        let head = Head::new(HeadKind::FlatCone, &given).unwrap();
        assert!((convergence_deg(&head, [0.0, 0.0]).unwrap() - 6.0).abs() < 1e-9);
        assert!((convergence_deg(&head, [4.0, 0.0]).unwrap() - 10.0).abs() < 1e-9);
        assert_eq!(convergence_deg(&ball(1.0), [0.0; 2]), None);
    }

    #[test]
    fn half_a_cylinder_or_a_ball_shows_half_its_diameter() {
        for (diameter_mm, half_mm) in [(1.0, 0.5), (1.4, 0.7), (2.0, 1.0)] {
            let given = Dimensions { diameter_mm, length_mm: Some(6.0), ..Dimensions::default() };
            let cylinder = Head::new(HeadKind::RoundCylinder, &given).unwrap();
            let half = Depth { least_mm: half_mm, greatest_mm: half_mm };
            assert_eq!(depth_mm(&cylinder, Sunk::Half), Some(half));
            assert_eq!(depth_mm(&ball(diameter_mm), Sunk::Half), Some(half));
            let whole = Depth { least_mm: diameter_mm, greatest_mm: diameter_mm };
            assert_eq!(depth_mm(&ball(diameter_mm), Sunk::Whole), Some(whole));
        }
        let tapered = depth_mm(&cone(1.0, 1.6, 8.0, HeadKind::FlatCone), Sunk::Half).unwrap();
        assert_eq!((tapered.least_mm, tapered.greatest_mm), (0.5, 0.8));
    }

    #[test]
    fn a_gap_is_passed_by_what_has_to_go_through() {
        // Flat cone from 0.6 to 1.0 over 8 mm: 0.8 at half its length.
        let needle = cone(0.6, 1.0, 8.0, HeadKind::FlatCone);
        assert!((room_in_gap_mm(&needle, 0.9, 4.0) - 0.1).abs() < 1e-12);
        assert!((room_in_gap_mm(&needle, 0.7, 4.0) + 0.1).abs() < 1e-12);
        // A ball has to pass whole, though its outline closes again above the middle.
        assert!((room_in_gap_mm(&ball(1.0), 0.9, 0.95) + 0.1).abs() < 1e-12);
        assert!((room_in_gap_mm(&ball(1.0), 0.9, 0.5) + 0.1).abs() < 1e-12);
    }

    /// 3 mm above the break, from 3° to 13°: 3 (tan 13° − tan 3°) = 0.5354 mm.
    #[test]
    fn a_tilt_gives_the_second_plane() {
        let given = Dimensions {
            diameter_mm: 1.6,
            length_mm: Some(6.0),
            half_angle_deg: Some(3.0),
            ..Dimensions::default()
        };
        let head = Head::new(HeadKind::FlatCone, &given).unwrap();
        let planes = facial_planes(&head, 10.0, 3.0, 6.0).unwrap();
        assert!((planes.incisal_deg - 13.0).abs() < 1e-9 && planes.between_deg == 10.0);
        assert!((planes.top_extra_mm - 0.5354).abs() < 5e-5, "{planes:?}");
        assert!(planes.reaches && !facial_planes(&head, 10.0, 7.0, 9.0).unwrap().reaches);
    }

    /// The radius from three points of the outline about the widest place.
    #[test]
    fn hollows_have_the_curvature_of_the_outline() {
        let given = Dimensions { diameter_mm: 2.3, length_mm: Some(4.2), ..Dimensions::default() };
        for kind in [HeadKind::Football, HeadKind::Flame] {
            let head = Head::new(kind, &given).unwrap();
            let (half_mm, step_mm) = (2.1, 0.01);
            let sag_mm = head.radius_at_mm(half_mm) - head.radius_at_mm(half_mm + step_mm);
            let expected_mm = step_mm * step_mm / (2.0 * sag_mm);
            let found_mm = hollow_radius_mm(&head).unwrap();
            assert!((found_mm / expected_mm - 1.0).abs() < 1e-4, "{kind:?}: {found_mm} {expected_mm}");
        }
    }
}
