//! The outline of a head with straight sides: an end, an arc, a side.

use crate::head::Head;
use crate::kind::HeadKind;

/// The outline of a head with straight sides, seen from the side: `height` from the tip along the axis, `out` from the axis.
///
/// The side is the line `out` = `side_mm` + `height` tan α. An arc touches it and runs down to the end: the rounded corner of a flat
/// end (its centre lies off the axis on the same side), the ball of a round end (centre on the axis) or the arch of a torpedo's
/// nose (centre beyond the axis).
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Stem {
    /// Where the side would meet the level of the tip.
    pub side_mm: f64,
    /// The half-angle.
    pub half_angle_rad: f64,
    /// Radius of the arc, 0 for a sharp corner.
    pub arc_mm: f64,
    /// Height of the arc's centre.
    pub centre_height_mm: f64,
    /// How far out the arc's centre lies.
    pub centre_out_mm: f64,
}

impl Stem {
    /// The outline of a head, none if its sides are not straight.
    pub(crate) fn of(head: &Head) -> Option<Self> {
        let half_angle_rad = head.half_angle_rad;
        let (tip_mm, inset) = (0.5 * head.tip_diameter_mm, Head::corner_inset(half_angle_rad));
        let (side_mm, arc_mm, centre_height_mm, centre_out_mm) = match head.kind {
            HeadKind::FlatCylinder | HeadKind::FlatCone => {
                let corner_mm = head.corner_radius_mm;
                (tip_mm, corner_mm, corner_mm, (tip_mm - corner_mm * inset).max(0.0))
            }
            HeadKind::RoundCylinder | HeadKind::RoundCone | HeadKind::PointedCone => {
                (tip_mm * inset, tip_mm, tip_mm, 0.0)
            }
            HeadKind::Torpedo => {
                let (sin, cos) = half_angle_rad.sin_cos();
                let nose_mm = head.nose_mm;
                // The circle that touches the side at the nose's end and passes the tip.
                let arc_mm = (nose_mm * nose_mm + tip_mm * tip_mm) / (2.0 * (tip_mm * cos - nose_mm * sin));
                let side_mm = tip_mm - nose_mm * sin / cos;
                (side_mm, arc_mm, nose_mm + arc_mm * sin, tip_mm - arc_mm * cos)
            }
            _ => return None,
        };
        Some(Self { side_mm, half_angle_rad, arc_mm, centre_height_mm, centre_out_mm })
    }

    /// The half-diameter at a height.
    pub(crate) fn radius_at_mm(&self, height_mm: f64) -> f64 {
        let below_mm = self.centre_height_mm - height_mm;
        if below_mm > self.arc_mm * self.half_angle_rad.sin() {
            self.centre_out_mm + (self.arc_mm * self.arc_mm - below_mm * below_mm).max(0.0).sqrt()
        } else {
            self.side_mm + height_mm * self.half_angle_rad.tan()
        }
    }
}
