//! `occlusal.cusp_line_mm`: do the prepared facial cusp tips line up with those of the neighbours?

use nalgebra::{Matrix3, Vector3};

use crate::landmarks::Landmarks;
use crate::outline::Outline;
use crate::preparation::Preparation;
use crate::relief::{Extreme, Relief};
use crate::scene::Placed;
use crate::sheet::{Sheet, expanded, number};
use crate::zones::tooth_relief;

const ID: &str = "occlusal.cusp_line_mm";
/// How well a cusp's tip is placed, seen from the occlusal, mm (1 sigma, from phantom scans).
const TIP_MM: f64 = 0.05;

/// Offset of the prepared facial cusp tips from the smooth curve through the neighbours' facial cusp tips, seen along
/// the tooth's axis, facially positive: the mean over the tips; each tip and the uncut tooth's mean beside it.
///
/// The curve runs through the two nearest facial tips on each side (of the two nearest teeth, incisors left out): a
/// parabola through three or four, a straight line through one on each side or through two teeth on one side.
pub fn take(preparation: &Preparation<'_>, sheet: &mut Sheet) {
    if preparation.tooth.is_front() {
        sheet.refuse(ID, "front teeth have no facial cusps: nothing lines up with the neighbours' cusp tips");
        return;
    }
    let FacialRow { own, curve, .. } = match FacialRow::of(preparation) {
        Ok(row) => row,
        Err(reason) => {
            sheet.refuse(ID, reason);
            return;
        }
    };
    let mean = |tips: &[(&'static str, Vector3<f64>)]| {
        tips.iter().map(|tip| curve.offset_mm(&tip.1)).sum::<f64>() / tips.len() as f64
    };
    let height_mm = own.iter().map(|tip| tip.1.z).sum::<f64>() / own.len() as f64 - curve.height_mm;
    let lean_mm = preparation.axis.sigma_deg.to_radians() * height_mm;
    let u95 = expanded(&[TIP_MM, TIP_MM * curve.leverage(0.0).sqrt(), lean_mm]);
    let mut reading = number(mean(&own), "mm", u95).noted(curve.kind);
    for (name, place) in &own {
        reading = reading.with(name, curve.offset_mm(place));
    }
    if preparation.scene.before.is_some() {
        let uncut = facial_tips(preparation, &preparation.occlusal.landmarks);
        reading = reading.with("uncut", mean(&uncut));
    }
    sheet.write(ID, reading);
}

/// The facial cusp tips of a preparation and of its neighbours, with the curve through the latter.
#[derive(Debug, Clone)]
pub struct FacialRow {
    /// The prepared tips by their customary names, in the tooth frame.
    pub own: Vec<(&'static str, Vector3<f64>)>,
    /// The neighbours' tips that carry the curve, in the tooth frame.
    pub neighbours: Vec<Vector3<f64>>,
    curve: Curve,
}

impl FacialRow {
    /// Finds the row.
    ///
    /// # Errors
    /// In words: the prepared cusps have no tips, or the neighbours show too few.
    pub fn of(preparation: &Preparation<'_>) -> Result<Self, &'static str> {
        let after = Placed::in_place(preparation.scene.after);
        let relief = tooth_relief(&after, &preparation.frame, &preparation.ring);
        let own = facial_tips(preparation, &Landmarks::of(&relief));
        if own.is_empty() {
            return Err(
                "the prepared facial cusps have no tips: the facial half of the occlusal surface is flat",
            );
        }
        let neighbours = neighbours(preparation);
        let curve = Curve::through(&neighbours)?;
        Ok(Self { own, neighbours: neighbours.concat(), curve })
    }

    /// Facial coordinate of the curve at a mesial coordinate, mm.
    pub fn facial_mm(&self, mesial_mm: f64) -> f64 {
        let [at, slope, bend] = self.curve.coefficients.into();
        at + slope * mesial_mm + bend * mesial_mm * mesial_mm
    }
}

/// The facial tips among a tooth's customary points.
fn facial_tips(preparation: &Preparation<'_>, landmarks: &Landmarks) -> Vec<(&'static str, Vector3<f64>)> {
    let customary = landmarks.customary(preparation.tooth).into_iter();
    customary
        .filter(|(name, _)| matches!(*name, "mb" | "db" | "b"))
        .filter_map(|(name, place)| Some((name, place?)))
        .collect()
}

/// Facial cusp tips of the neighbours, up to two on each side, the nearest first: mesial side, distal side.
fn neighbours(preparation: &Preparation<'_>) -> [Vec<Vector3<f64>>; 2] {
    const ACROSS_MM: f64 = 9.0;
    const STEP_MM: f64 = 0.25;
    const CUSP_MM: f64 = 0.1;
    const CLEAR_MM: f64 = 0.6;
    let frame = &preparation.frame;
    let outline = Outline::new(&preparation.ring, &frame.occlusal);
    let in_view = |x: f64, y: f64| {
        let (radius_mm, _, edge) = outline.place(&(frame.origin + frame.mesial * x + frame.facial * y));
        radius_mm > edge.0 + CLEAR_MM
    };
    let [mesial_mm, distal_mm] = reach_mm(preparation);
    let window = [[-distal_mm, -ACROSS_MM], [mesial_mm, ACROSS_MM]];
    let after = Placed::in_place(preparation.scene.after);
    let tips = Relief::of(&after, frame, window, STEP_MM, in_view).tips(CUSP_MM);
    let facial: Vec<Vector3<f64>> =
        tips.iter().filter(|tip| is_facial(tip, &tips)).map(|tip| tip.place).collect();
    [1.0, -1.0].map(|side| {
        let mut row: Vec<Vector3<f64>> = facial.iter().copied().filter(|tip| side * tip.x > 0.0).collect();
        row.sort_by(|a, b| (side * a.x).total_cmp(&(side * b.x)));
        row.truncate(2);
        row
    })
}

/// How far mesially and distally the two nearest teeth reach, by typical widths; incisors are left out.
fn reach_mm(preparation: &Preparation<'_>) -> [f64; 2] {
    let tooth = preparation.tooth;
    let width_mm = |tooth: Option<kerfwright_tooth::Tooth>| {
        let counted = tooth.filter(|tooth| tooth.position() >= 3);
        counted.map_or(0.0, |tooth| tooth.typical_dimensions().mesiodistal_mm)
    };
    let own_mm = 0.5 * tooth.typical_dimensions().mesiodistal_mm;
    let mesial = tooth.mesial_neighbour();
    let distal = tooth.distal_neighbour();
    [
        own_mm + width_mm(mesial) + width_mm(mesial.and_then(|tooth| tooth.mesial_neighbour())),
        own_mm + width_mm(distal) + width_mm(distal.and_then(|tooth| tooth.distal_neighbour())),
    ]
}

/// Whether no other tip beside it lies farther facially and it is no summit of the gingiva.
fn is_facial(tip: &Extreme, all: &[Extreme]) -> bool {
    const BESIDE_MM: f64 = 2.5;
    const FARTHER_MM: f64 = 1.5;
    const LOWEST_MM: f64 = 3.0;
    !all.iter().any(|other| {
        let beside = (other.place.x - tip.place.x).abs() < BESIDE_MM;
        let farther = other.place.y - tip.place.y > FARTHER_MM && tip.place.z - other.place.z < LOWEST_MM;
        let higher =
            (other.place.x - tip.place.x).abs() < 2.0 * BESIDE_MM && other.place.z - tip.place.z > LOWEST_MM;
        (beside && farther) || higher
    })
}

/// Facial coordinate of the row of cusps by mesial coordinate.
#[derive(Debug, Clone)]
struct Curve {
    coefficients: Vector3<f64>,
    /// Inverse of the normal matrix, for what the tips' scatter does to the curve.
    inverse: Matrix3<f64>,
    /// Mean height of the tips, mm.
    height_mm: f64,
    kind: &'static str,
}

impl Curve {
    fn through([mesial, distal]: &[Vec<Vector3<f64>>; 2]) -> Result<Self, &'static str> {
        const TWO_TEETH_MM: f64 = 5.0;
        let tips: Vec<Vector3<f64>> = mesial.iter().chain(distal).copied().collect();
        let one_sided = mesial.is_empty() || distal.is_empty();
        let span_mm = tips.iter().map(|tip| tip.x).fold(f64::NEG_INFINITY, f64::max)
            - tips.iter().map(|tip| tip.x).fold(f64::INFINITY, f64::min);
        if tips.len() < 2 || (one_sided && span_mm < TWO_TEETH_MM) {
            return Err(
                "needs the facial cusp tips of a neighbour on each side, or of two neighbours on one side",
            );
        }
        let is_line = one_sided || tips.len() == 2;
        let (mut normal, mut right) = (Matrix3::zeros(), Vector3::zeros());
        for tip in &tips {
            let row = Self::row(tip.x, is_line);
            normal += row * row.transpose();
            right += row * tip.y;
        }
        if is_line {
            normal[(2, 2)] = 1.0;
        }
        let inverse = normal.try_inverse().ok_or("the neighbours' cusp tips stand too close together")?;
        Ok(Self {
            coefficients: inverse * right,
            inverse,
            height_mm: tips.iter().map(|tip| tip.z).sum::<f64>() / tips.len() as f64,
            kind: match (one_sided, is_line) {
                (true, _) => "against the straight line through the tips of two neighbours on one side",
                (false, true) => "against the straight line through one tip on each side",
                (false, false) => "against the parabola through the nearest tips on both sides",
            },
        })
    }

    fn row(x: f64, is_line: bool) -> Vector3<f64> {
        Vector3::new(1.0, x, if is_line { 0.0 } else { x * x })
    }

    /// How far a place lies facially of the curve, square on it, mm.
    fn offset_mm(&self, place: &Vector3<f64>) -> f64 {
        let [at, slope, bend] = [self.coefficients[0], self.coefficients[1], self.coefficients[2]];
        let x = place.x;
        (place.y - at - slope * x - bend * x * x) / (slope + 2.0 * bend * x).hypot(1.0)
    }

    /// Variance of the curve at a place for tips of variance 1.
    fn leverage(&self, x: f64) -> f64 {
        let row = Self::row(x, self.coefficients[2] == 0.0);
        (row.transpose() * self.inverse * row)[0]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tips_on_a_parabola_line_up_and_one_moved_lingually_is_told() {
        let at = |x: f64| Vector3::new(x, 2.0 - 0.011 * x * x, 7.0);
        let curve = Curve::through(&[vec![at(8.0), at(15.0)], vec![at(-7.5)]]).unwrap();
        assert!(curve.offset_mm(&at(2.0)).abs() < 1e-9);
        let moved = at(0.0) - Vector3::new(0.0, 0.6, 0.0);
        assert!((curve.offset_mm(&moved) + 0.6).abs() < 1e-9);
    }

    #[test]
    fn one_neighbour_on_one_side_is_too_little() {
        let at = |x: f64| Vector3::new(x, 2.0, 7.0);
        assert!(Curve::through(&[vec![at(8.0)], vec![]]).is_err());
        // Two cusps of one molar are no two neighbours.
        assert!(Curve::through(&[vec![at(8.0), at(12.5)], vec![]]).is_err());
        assert!(Curve::through(&[vec![at(8.0), at(15.0)], vec![]]).is_ok());
        assert!(Curve::through(&[vec![at(8.0)], vec![at(-8.0)]]).is_ok());
    }
}
