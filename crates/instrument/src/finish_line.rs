//! What a head leaves at the finish line when it is held parallel to the path against an axial wall.
//!
//! Width is what `docs/measures.md` calls so: the horizontal distance from the outer edge to the line of the wall extended to
//! the level of the edge. The uncut surface outside is taken to be parallel to the path.

use crate::head::{Cuts, Head};
use crate::profile::Stem;

/// The form that the floor of a finish line takes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Floor {
    /// One hollow arc from edge to wall.
    Hollow,
    /// Flat next to the edge, with the corner's radius at the wall.
    Flat,
}

/// The finish line that a head leaves at one width.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FinishLine {
    /// Its form.
    pub floor: Floor,
    /// Slope of the floor at the edge against the plane square on the path: positive falls outward, negative rises to a lip.
    pub declination_deg: f64,
    /// Angle through the tooth between floor and uncut surface: 90° plus the declination.
    pub cavosurface_deg: f64,
    /// Radius between floor and wall.
    pub internal_radius_mm: f64,
    /// Height of the unsupported rim outside the deepest part of the floor, 0 without one.
    pub lip_mm: f64,
}

/// The shoulder that a flat end leaves.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Shoulder {
    /// Least width with a flat floor at the edge: narrower ones lie on the rounded corner alone.
    pub least_mm: f64,
    /// Greatest width in one pass, before the outer corner leaves a lip.
    pub full_mm: f64,
    /// Radius between floor and wall.
    pub internal_radius_mm: f64,
}

/// The deepest chamfer that a head can leave before the rim outside loses its support, in mm; none for heads that leave no chamfer:
/// flat ends and shapes without straight sides.
///
/// The edge then lies on the instrument's axis. For parallel sides that is half the tip's diameter; sides of half-angle α lean
/// over the floor, and the wall's line comes down inside the ball: *r* tan(45° − α/2) for a ball of radius *r*. A torpedo's
/// sides meet the level of its tip at the same place as they do without the nose.
///
/// # Source
/// The rule is `docs/sources.md#rounded-instrument`; with a half-angle it is **derived**.
pub fn deepest_chamfer_mm(head: &Head) -> Option<f64> {
    Stem::of(head)
        .filter(|stem| stem.arc_mm > 0.0 && stem.centre_out_mm <= 0.0 && head.cuts != Cuts::Side)
        .map(|stem| stem.side_mm)
}

/// The shoulder that a head leaves, none if its end is not flat.
///
/// A corner of radius *k* meets the flat end *k* tan(45° − α/2) inside the side: that is the least width. The same is lost at
/// the outer corner, so that the full width is the tip's diameter less that. **derived**.
pub fn shoulder(head: &Head) -> Option<Shoulder> {
    let stem = Stem::of(head).filter(|stem| stem.centre_out_mm > 0.0 && head.cuts != Cuts::Side)?;
    Some(Shoulder {
        least_mm: stem.side_mm - stem.centre_out_mm,
        full_mm: stem.side_mm + stem.centre_out_mm,
        internal_radius_mm: stem.arc_mm,
    })
}

/// What a head leaves at a given width, none if it leaves no finish line at all or is thinner than that width.
///
/// On an arc of radius ρ that touches a side of half-angle α, a floor of slope φ lies (ρ − ρ sin(φ + α))/cos α from the side's
/// line, so φ = asin(1 − *c* cos α/ρ) − α at the width *c*. With α = 0 that is asin((*r* − *c*)/*r*). Beyond the axis the same holds
/// on the mirrored arc, and the lip is the height of the edge over the tip.
///
/// # Source
/// `docs/sources.md#rounded-instrument` for parallel sides; with a half-angle **derived**.
pub fn finish_line(head: &Head, width_mm: f64) -> Option<FinishLine> {
    let stem = Stem::of(head).filter(|_| width_mm > 0.0 && head.cuts != Cuts::Side)?;
    let reach_mm = stem.side_mm + stem.centre_out_mm.max(0.0);
    let arc_ends_mm = stem.side_mm - stem.centre_out_mm.max(0.0);
    let (slope_rad, lip_mm) = if width_mm <= arc_ends_mm {
        (slope_on_arc_rad(&stem, width_mm).max(0.0), 0.0)
    } else if width_mm <= reach_mm {
        (0.0, 0.0)
    } else {
        beyond_reach(&stem, width_mm)?
    };
    let floor = if stem.centre_out_mm > 0.0 && width_mm > arc_ends_mm { Floor::Flat } else { Floor::Hollow };
    let declination_deg = slope_rad.to_degrees();
    let cavosurface_deg = 90.0 + declination_deg;
    Some(FinishLine { floor, declination_deg, cavosurface_deg, internal_radius_mm: stem.arc_mm, lip_mm })
}

/// Slope of the arc that the wall side is cut with.
fn slope_on_arc_rad(stem: &Stem, width_mm: f64) -> f64 {
    (1.0 - width_mm * stem.half_angle_rad.cos() / stem.arc_mm).clamp(-1.0, 1.0).asin() - stem.half_angle_rad
}

/// Slope and lip where the edge lies on the far arc; none beyond the head itself.
fn beyond_reach(stem: &Stem, width_mm: f64) -> Option<(f64, f64)> {
    let cos = stem.half_angle_rad.cos();
    if stem.arc_mm <= 0.0 {
        return None;
    }
    let sine = (width_mm - 2.0 * stem.centre_out_mm) * cos / stem.arc_mm - 1.0;
    if sine > 1.0 {
        return None;
    }
    let rise_rad = sine.asin() + stem.half_angle_rad;
    Some((-rise_rad, stem.centre_height_mm - stem.arc_mm * rise_rad.cos()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::head::Dimensions;
    use crate::kind::HeadKind;

    fn head(kind: HeadKind, diameter_mm: f64, length_mm: f64, rest: Dimensions) -> Head {
        Head::new(kind, &Dimensions { diameter_mm, length_mm: Some(length_mm), ..rest }).unwrap()
    }

    fn round(radius_mm: f64) -> Head {
        head(HeadKind::RoundCylinder, 2.0 * radius_mm, 8.0, Dimensions::default())
    }

    /// Slope and cavosurface angle of a round end, radius and depth in mm: calculated apart from this code in the table
    /// of rounded instruments (docs/sources.md#rounded-instrument), printed to 0.01°.
    #[test]
    fn a_round_end_leaves_the_slopes_of_the_table() {
        let table = [
            (0.6, 0.3, 30.0, 120.0),
            (0.6, 0.5, 9.59, 99.59),
            (0.5, 0.3, 23.58, 113.58),
            (0.7, 0.5, 16.60, 106.60),
            (0.8, 0.5, 22.02, 112.02),
            (0.5, 0.5, 0.0, 90.0),
        ];
        for (radius_mm, depth_mm, slope_deg, cavosurface_deg) in table {
            let left = finish_line(&round(radius_mm), depth_mm).unwrap();
            assert!(
                (left.declination_deg - slope_deg).abs() <= 0.005,
                "r {radius_mm} c {depth_mm}: {left:?}"
            );
            assert!(
                (left.cavosurface_deg - cavosurface_deg).abs() <= 0.005,
                "r {radius_mm} c {depth_mm}: {left:?}"
            );
            assert_eq!((left.floor, left.lip_mm), (Floor::Hollow, 0.0));
        }
    }

    /// Lips of the same table, printed to 0.001 mm.
    #[test]
    fn a_round_end_sunk_too_deep_leaves_the_lips_of_the_table() {
        let table = [
            (0.5, 0.6, 0.010),
            (0.5, 0.7, 0.042),
            (0.5, 0.8, 0.100),
            (0.7, 1.0, 0.068),
            (0.8, 1.0, 0.025),
            (0.9, 1.0, 0.006),
        ];
        for (radius_mm, depth_mm, lip_mm) in table {
            let left = finish_line(&round(radius_mm), depth_mm).unwrap();
            assert!((left.lip_mm - lip_mm).abs() <= 0.0005, "r {radius_mm} c {depth_mm}: {left:?}");
            assert!(left.declination_deg < 0.0);
        }
        assert_eq!(finish_line(&round(0.5), 1.01), None, "wider than the instrument");
    }

    #[test]
    fn half_the_tip_is_the_deepest_chamfer_of_parallel_sides() {
        for (iso_size, depth_mm) in [(10, 0.5), (14, 0.7), (20, 1.0)] {
            let deepest_mm = deepest_chamfer_mm(&round(f64::from(iso_size) / 20.0)).unwrap();
            assert!((deepest_mm - depth_mm).abs() < 1e-12, "{iso_size}: {deepest_mm}");
        }
    }

    /// Every head with straight sides, taken as an outline only: the edge is sought along the outline by bisection, the
    /// slope by a difference quotient.
    #[test]
    fn slopes_and_lips_are_those_of_the_outline() {
        let cone = Dimensions { half_angle_deg: Some(3.0), ..Dimensions::default() };
        let heads = [
            round(0.5),
            head(HeadKind::RoundCone, 1.6, 8.0, cone),
            head(HeadKind::FlatCone, 1.6, 7.0, Dimensions { corner_radius_mm: Some(0.25), ..cone }),
            head(HeadKind::Torpedo, 1.4, 8.0, Dimensions { nose_mm: Some(1.5), ..Dimensions::default() }),
            head(HeadKind::Torpedo, 1.8, 8.0, Dimensions { nose_mm: Some(1.3), ..cone }),
        ];
        for head in &heads {
            let reach_mm =
                deepest_chamfer_mm(head).or(shoulder(head).map(|shoulder| shoulder.full_mm)).unwrap();
            for step in 1..30 {
                let width_mm = 0.05 * f64::from(step);
                if (width_mm - reach_mm).abs() < 0.01 || width_mm > reach_mm * 1.4 {
                    continue;
                }
                let left = finish_line(head, width_mm).unwrap();
                let (slope_deg, lip_mm) = outline_edge(head, width_mm, width_mm < reach_mm);
                assert!(
                    (left.declination_deg - slope_deg).abs() < 0.05,
                    "{head:?} {width_mm}: {left:?} {slope_deg}"
                );
                assert!((left.lip_mm - lip_mm).abs() < 1e-6, "{head:?} {width_mm}: {left:?} {lip_mm}");
            }
        }
    }

    /// Where the wall's line lies at a height.
    fn side_mm(head: &Head, height_mm: f64) -> f64 {
        let slope = head.half_angle_deg().to_radians().tan();
        head.radius_at_mm(head.length_mm()) - (head.length_mm() - height_mm) * slope
    }

    /// Slope and lip at the place of the outline whose horizontal distance from the wall's line is the width.
    fn outline_edge(head: &Head, width_mm: f64, is_near_side: bool) -> (f64, f64) {
        let sign = if is_near_side { 1.0 } else { -1.0 };
        let beyond =
            |height_mm: f64| side_mm(head, height_mm) - sign * head.radius_at_mm(height_mm) - width_mm;
        if is_near_side && beyond(0.0) < 0.0 {
            return (0.0, 0.0);
        }
        let (mut low_mm, mut high_mm) = (0.0, 0.3 * head.length_mm());
        for _ in 0..80 {
            let middle_mm = 0.5 * (low_mm + high_mm);
            if (beyond(middle_mm) > 0.0) == is_near_side { low_mm = middle_mm } else { high_mm = middle_mm }
        }
        let step_mm = 1e-6_f64.min(0.5 * low_mm);
        let run_mm = head.radius_at_mm(low_mm + step_mm) - head.radius_at_mm(low_mm - step_mm);
        let slope_deg = sign * (2.0 * step_mm / run_mm).atan().to_degrees();
        (slope_deg, if is_near_side { 0.0 } else { low_mm })
    }

    #[test]
    fn a_flat_end_leaves_a_shoulder_with_its_corner() {
        let corner = Dimensions { corner_radius_mm: Some(0.3), ..Dimensions::default() };
        let flat = head(HeadKind::FlatCylinder, 1.2, 8.0, corner);
        let left = shoulder(&flat).unwrap();
        assert!((left.least_mm - 0.3).abs() < 1e-12 && (left.full_mm - 0.9).abs() < 1e-12, "{left:?}");
        assert_eq!(left.internal_radius_mm, 0.3);
        let wide = finish_line(&flat, 0.8).unwrap();
        assert_eq!((wide.floor, wide.declination_deg, wide.lip_mm), (Floor::Flat, 0.0, 0.0));
        // As a round end of the corner's radius: asin((0.3 − 0.15)/0.3) = 30°.
        let narrow = finish_line(&flat, 0.15).unwrap();
        assert!(narrow.floor == Floor::Hollow && (narrow.declination_deg - 30.0).abs() < 1e-9, "{narrow:?}");
        assert_eq!(deepest_chamfer_mm(&flat), None);
        assert_eq!(shoulder(&round(0.5)), None);
        let sharp = head(HeadKind::FlatCylinder, 1.0, 6.0, Dimensions::default());
        assert_eq!(shoulder(&sharp), Some(Shoulder { least_mm: 0.0, full_mm: 1.0, internal_radius_mm: 0.0 }));
        assert_eq!(finish_line(&sharp, 1.1), None);
    }

    #[test]
    fn what_has_no_straight_sides_or_no_cutting_end_leaves_no_finish_line() {
        let football = head(HeadKind::Football, 2.3, 4.0, Dimensions::default());
        assert_eq!(
            (finish_line(&football, 0.5), deepest_chamfer_mm(&football), shoulder(&football)),
            (None, None, None)
        );
        let smooth_end =
            head(HeadKind::RoundCylinder, 1.0, 8.0, Dimensions { cuts: Cuts::Side, ..Dimensions::default() });
        assert_eq!((finish_line(&smooth_end, 0.3), deepest_chamfer_mm(&smooth_end)), (None, None));
    }
}
