//! Cusp tips and fossae of a tooth, found on its relief and sorted as the trade names them.

use kerfwright_tooth::{Kind, Tooth};
use nalgebra::Vector3;

use crate::frame::ToothFrame;
use crate::relief::{Extreme, Relief};

/// A summit less prominent than this is no cusp, mm.
const CUSP_MM: f64 = 0.12;
/// A hollow shallower than this is no fossa, mm.
const FOSSA_MM: f64 = 0.08;
/// A hollow farther from the only row of cusps than this lies on the tooth's side, mm: fossae lie 1.5 to 3 mm from their cusps.
const FROM_ONLY_ROW_MM: f64 = 3.5;
/// A cusp lower than the highest by more than this belongs to the tooth's side, mm.
const LOWEST_CUSP_MM: f64 = 3.0;
/// Fossae nearer to each other along the tooth than this are one, mm.
const LEAST_SPAN_MM: f64 = 1.2;
/// A summit nearer to the line through the fossae than this is a marginal or oblique ridge's, mm.
const BESIDE_GROOVE_MM: f64 = 0.8;

/// Cusp tips and fossae, each row from mesial to distal. Places are (mesial, facial, occlusal) in the tooth frame.
#[derive(Debug, Clone, Default)]
pub struct Landmarks {
    /// Tips of the facial cusps.
    pub facial: Vec<Extreme>,
    /// Tips of the lingual cusps.
    pub lingual: Vec<Extreme>,
    /// Fossae between the rows.
    pub fossae: Vec<Extreme>,
}

/// A line along the tooth, seen from the occlusal: facial coordinate by mesial coordinate.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Groove {
    /// Facial coordinate where the mesial one is 0, mm.
    pub at_mm: f64,
    /// How much farther facially it lies each mm mesially.
    pub slope: f64,
}

impl Landmarks {
    /// Finds them on the relief of a tooth with two rows of cusps.
    pub fn of(relief: &Relief) -> Self {
        Self::from(relief, CUSP_MM, FOSSA_MM)
    }

    /// Finds them where they hardly stand out, as on a lower first premolar, whose lingual cusp may be lower than its marginal ridges:
    /// 97 µm and 54 to 69 µm on ours. Noise of 8 µm leaves 2 µm.
    pub fn faint_of(relief: &Relief) -> Self {
        Self::from(relief, 0.5 * CUSP_MM, 0.5 * FOSSA_MM)
    }

    fn from(relief: &Relief, cusp_mm: f64, fossa_mm: f64) -> Self {
        let tips = relief.tips(cusp_mm);
        let highest_mm = tips.iter().map(|tip| tip.place.z).fold(f64::NEG_INFINITY, f64::max);
        let pits = relief.fossae(fossa_mm);
        let middle_mm = middle(&tips, &pits);
        let row = |sign: f64| {
            let beside = tips.iter().filter(|tip| {
                sign * (tip.place.y - middle_mm) > BESIDE_GROOVE_MM
                    && highest_mm - tip.place.z < LOWEST_CUSP_MM
            });
            from_mesial(beside.copied().collect())
        };
        let (facial, lingual) = (row(1.0), row(-1.0));
        // Pits on the outer sides of the cusps are none of the occlusal table's fossae.
        let inner = |row: &[Extreme], sign: f64| {
            row.iter().map(|tip| sign * tip.place.y).fold(f64::INFINITY, f64::min) * sign
        };
        let facial_mm = inner(&facial, 1.0);
        let has_one_row = lingual.is_empty() && !facial.is_empty();
        let lingual_mm = if has_one_row { facial_mm - FROM_ONLY_ROW_MM } else { inner(&lingual, -1.0) };
        let between = |pit: &Extreme| pit.place.y < facial_mm && pit.place.y > lingual_mm;
        let fossae = from_mesial(pits.into_iter().filter(between).collect());
        Self { facial, lingual, fossae }
    }

    /// Whether a mesial and a distal fossa stand apart.
    pub fn has_both_fossae(&self) -> bool {
        match (self.fossae.first(), self.fossae.last()) {
            (Some(mesial), Some(distal)) => mesial.place.x - distal.place.x >= LEAST_SPAN_MM,
            _ => false,
        }
    }

    /// The same in another frame.
    pub fn seen_in(mut self, to: &ToothFrame, from: &ToothFrame) -> Self {
        let all = self.facial.iter_mut().chain(&mut self.lingual).chain(&mut self.fossae);
        all.for_each(|extreme| extreme.place = to.coordinates(&from.point(&extreme.place)));
        self
    }

    /// The line through the mesial and the distal fossa; through the only one along the arch if there is but one.
    pub fn groove(&self) -> Option<Groove> {
        const STEEPEST: f64 = 0.5;
        let (mesial, distal) = (self.fossae.first()?.place, self.fossae.last()?.place);
        let slope = (mesial.y - distal.y) / (mesial.x - distal.x);
        if mesial.x - distal.x < LEAST_SPAN_MM || slope.abs() > STEEPEST {
            return Some(Groove { at_mm: 0.5 * (mesial.y + distal.y), slope: 0.0 });
        }
        Some(Groove { at_mm: mesial.y - slope * mesial.x, slope })
    }

    /// The customary points of a premolar or molar: name and place, `None` where the tooth shows none.
    pub fn customary(&self, tooth: Tooth) -> Vec<(&'static str, Option<Vector3<f64>>)> {
        let end = |extreme: Option<&Extreme>| extreme.map(|extreme| extreme.place);
        let several = self.fossae.len() > 1;
        let fossae = [("mf", end(self.fossae.first())), ("df", end(self.fossae.last()).filter(|_| several))];
        let (facial, lingual) = (most_prominent(&self.facial, 2), most_prominent(&self.lingual, 2));
        // A lower first molar's third facial cusp is the distal one, which stands for itself.
        let three = most_prominent(&self.facial, 3);
        let facial =
            if tooth.position() == 6 && !tooth.is_upper() && three.len() == 3 { three } else { facial };
        let mut points = match tooth.kind() {
            Kind::Molar => vec![
                ("mb", end(facial.first())),
                ("db", end(facial.get(1))),
                ("ml", end(lingual.first())),
                ("dl", end(lingual.get(1))),
            ],
            _ if lingual.len() > 1 => vec![
                ("b", end(most_prominent(&self.facial, 1).first())),
                ("ml", end(lingual.first())),
                ("dl", end(lingual.get(1))),
            ],
            _ => vec![("b", end(most_prominent(&self.facial, 1).first())), ("l", end(lingual.first()))],
        };
        points.extend(fossae);
        points
    }
}

impl Groove {
    /// Distance of a place to the facial side, square on the line, mm.
    pub fn facially_mm(&self, place: &Vector3<f64>) -> f64 {
        (place.y - self.at_mm - self.slope * place.x) / self.slope.hypot(1.0)
    }
}

/// Facial coordinate between the rows: that of the fossae, else half-way between the outermost tips. A tooth that shows one row alone,
/// as a lower first premolar may, shows its facial one.
fn middle(tips: &[Extreme], pits: &[Extreme]) -> f64 {
    let extent = |all: &[Extreme]| {
        let places = all.iter().map(|extreme| extreme.place.y);
        places.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), y| (low.min(y), high.max(y)))
    };
    let (low, high) = extent(tips);
    let is_one_row = !tips.is_empty() && high - low < 2.0 * BESIDE_GROOVE_MM;
    let rows_mm = if is_one_row { low - 0.5 * FROM_ONLY_ROW_MM } else { 0.5 * (low + high) };
    let reach_mm = if is_one_row { 0.5 * FROM_ONLY_ROW_MM } else { 0.35 * (high - low) };
    let inner = pits.iter().filter(|pit| (pit.place.y - rows_mm).abs() < reach_mm);
    let inner: Vec<f64> = inner.map(|pit| pit.place.y).collect();
    crate::stats::median(&inner).unwrap_or(rows_mm)
}

fn from_mesial(mut row: Vec<Extreme>) -> Vec<Extreme> {
    row.sort_by(|a, b| b.place.x.total_cmp(&a.place.x));
    row
}

/// The `n` most prominent of a row, still from mesial to distal.
fn most_prominent(row: &[Extreme], n: usize) -> Vec<Extreme> {
    let mut sorted = row.to_vec();
    sorted.sort_by(|a, b| b.prominence_mm.total_cmp(&a.prominence_mm));
    sorted.truncate(n);
    from_mesial(sorted)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(x: f64, y: f64, prominence_mm: f64) -> Extreme {
        Extreme { place: Vector3::new(x, y, 0.0), prominence_mm }
    }

    #[test]
    fn the_groove_runs_through_the_outer_fossae_and_sides_are_square_on_it() {
        let landmarks = Landmarks {
            fossae: vec![at(2.0, 0.3, 0.5), at(0.1, -0.8, 0.1), at(-2.0, -0.1, 0.5)],
            ..Landmarks::default()
        };
        let groove = landmarks.groove().unwrap();
        assert!((groove.slope - 0.1).abs() < 1e-12 && (groove.at_mm - 0.1).abs() < 1e-12);
        assert!((groove.facially_mm(&Vector3::new(0.0, 1.1, 5.0)) - 1.0 / 1.01f64.sqrt()).abs() < 1e-12);
    }

    #[test]
    fn a_lower_first_molar_keeps_its_distal_cusp_out_of_the_four() {
        let facial = vec![at(2.9, 2.3, 0.6), at(-0.4, 2.5, 0.5), at(-3.4, 1.6, 0.9)];
        let landmarks = Landmarks { facial, ..Landmarks::default() };
        let named = |fdi| landmarks.customary(Tooth::from_fdi(fdi).unwrap());
        assert_eq!(named(36)[1], ("db", Some(Vector3::new(-0.4, 2.5, 0.0))));
        assert_eq!(named(37)[1], ("db", Some(Vector3::new(-3.4, 1.6, 0.0))));
        assert_eq!(named(36)[4], ("mf", None));
    }
}
