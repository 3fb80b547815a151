//! Where on the tooth, in words and millimetres.

use kerfwright_measure::Document;
use kerfwright_measure::document::Place;
use kerfwright_tooth::{Kind, Tooth};

use crate::language::Lexicon;
use crate::rules::SpotKind;
use crate::template::Fillings;

/// Nearer to the middle of a side than this is in its middle; nearer to the finish line is on it. Reads better, decides nothing.
const NEAR_MM: f64 = 0.25;
/// Nearer to the line between the cusp rows than this is over no cusp: what the readings call the groove reaches 0.8 mm to each
/// side of it, and it need not run through the centre.
const MIDDLE_MM: f64 = 1.2;

/// What places are told with.
pub struct Guide<'a> {
    pub lexicon: &'a Lexicon,
    pub tooth: Tooth,
    /// For millimetres; without it places have aspects alone.
    pub document: Option<&'a Document>,
}

impl Guide<'_> {
    /// A place as a rule wants it told; `named` is the aspect that the sentence names anyway. `None` if nothing is left to say.
    pub fn spot(&self, place: &Place, kind: SpotKind, named: Option<&str>) -> Option<String> {
        let point = self.in_tooth(place.point);
        let told = match (kind, point) {
            (SpotKind::Cusp, Some(point)) => self.top(point, true),
            (SpotKind::Top, Some(point)) => self.top(point, false),
            (SpotKind::Wall, Some(point)) => self.wall(place, point, named),
            (SpotKind::Line, Some(point)) => self.line(place, point),
            _ => None,
        };
        told.or_else(|| self.side(place).filter(|_| named != Some(place.aspect.as_str())))
    }

    fn side(&self, place: &Place) -> Option<String> {
        let side = self.lexicon.tooth_word("side", &place.aspect, self.tooth.is_upper())?;
        self.lexicon.say("spot.side", &Fillings::from([("side", side)]))
    }

    /// How far from the tooth's centre, and over which cusp; near the middle it is over none.
    fn top(&self, [mesial_mm, facial_mm, _]: [f64; 3], names_cusp: bool) -> Option<String> {
        let (along, across) = (side_of(mesial_mm, true), side_of(facial_mm, false));
        let cusp = match self.tooth.kind() {
            Kind::Molar if along == "mesial" => Some(format!("mesio{across}")),
            Kind::Molar => Some(format!("disto{across}")),
            Kind::Premolar => Some(across.to_owned()),
            Kind::Incisor | Kind::Canine => None,
        };
        let cusp = cusp.filter(|_| names_cusp && facial_mm.abs() > MIDDLE_MM);
        let word = |table: &str, name: &str| self.lexicon.tooth_word(table, name, self.tooth.is_upper());
        let mut fillings = Fillings::from([
            ("across", self.lexicon_mm(mesial_mm)),
            ("toward", word("toward", along)?),
            ("outward", self.lexicon_mm(facial_mm)),
            ("other", word("toward", across)?),
        ]);
        let form = if cusp.is_some() { "spot.cusp" } else { "spot.top" };
        fillings.extend(cusp.and_then(|cusp| word("cusp", &cusp)).map(|cusp| ("cusp", cusp)));
        self.lexicon.say(form, &fillings)
    }

    /// The aspect, and how far over the finish line.
    fn wall(&self, place: &Place, point: [f64; 3], named: Option<&str>) -> Option<String> {
        let line = self.finish_line();
        let foot = line
            .iter()
            .min_by(|one, other| level_distance(one, &point).total_cmp(&level_distance(other, &point)))?;
        let above_mm = point[2] - foot[2];
        if above_mm < NEAR_MM {
            return None;
        }
        let mut fillings = Fillings::from([("above", self.lexicon_mm(above_mm))]);
        if named == Some(place.aspect.as_str()) {
            return self.lexicon.say("spot.height", &fillings);
        }
        fillings.insert("side", self.lexicon.tooth_word("side", &place.aspect, self.tooth.is_upper())?);
        self.lexicon.say("spot.wall", &fillings)
    }

    /// How far along the finish line from the middle of one of the four sides.
    fn line(&self, place: &Place, point: [f64; 3]) -> Option<String> {
        let centre_deg = match place.aspect.as_str() {
            "mesial" => 0.0,
            "facial" => 90.0,
            "distal" => 180.0,
            "lingual" => 270.0,
            _ => return None,
        };
        let line = self.finish_line();
        let middle = nearest(&line, |at| turn_deg(at, centre_deg))?;
        let here = nearest(&line, |at| distance(at, &point))?;
        let along_mm = shorter_way_mm(&line, middle, here);
        let word = |table: &str, name: &str| self.lexicon.tooth_word(table, name, self.tooth.is_upper());
        let mut fillings = Fillings::from([("wall", word("wall", &place.aspect)?)]);
        if along_mm < NEAR_MM {
            return self.lexicon.say("spot.line_middle", &fillings);
        }
        let is_along_arch = matches!(place.aspect.as_str(), "facial" | "lingual");
        let axis = usize::from(!is_along_arch);
        let toward = side_of(line[here][axis] - line[middle][axis], is_along_arch);
        fillings.insert("along", self.lexicon_mm(along_mm));
        fillings.insert("toward", word("toward", toward)?);
        self.lexicon.say("spot.line", &fillings)
    }

    fn lexicon_mm(&self, value: f64) -> String {
        self.lexicon.millimetres(value.abs())
    }

    /// A point of the after scan as mesial, facial, occlusal from the centre of the finish line.
    fn in_tooth(&self, point: [f64; 3]) -> Option<[f64; 3]> {
        let rows = &self.document?.frame.tooth_from_after;
        Some([0, 1, 2].map(|row| {
            let [x, y, z, shift] = rows[row];
            x * point[0] + y * point[1] + z * point[2] + shift
        }))
    }

    fn finish_line(&self) -> Vec<[f64; 3]> {
        let points = self.document.map_or(&[][..], |document| &document.finish_line.points);
        points.iter().filter_map(|point| self.in_tooth(*point)).collect()
    }
}

fn side_of(value: f64, is_along_arch: bool) -> &'static str {
    match (is_along_arch, value >= 0.0) {
        (true, true) => "mesial",
        (true, false) => "distal",
        (false, true) => "facial",
        (false, false) => "lingual",
    }
}

fn distance(one: &[f64; 3], other: &[f64; 3]) -> f64 {
    (0..3).map(|axis| (one[axis] - other[axis]).powi(2)).sum::<f64>().sqrt()
}

fn level_distance(one: &[f64; 3], other: &[f64; 3]) -> f64 {
    (one[0] - other[0]).hypot(one[1] - other[1])
}

/// Between the direction of a point, seen from the centre, and an angle.
fn turn_deg(point: &[f64; 3], angle_deg: f64) -> f64 {
    let turn = (point[1].atan2(point[0]).to_degrees() - angle_deg).rem_euclid(360.0);
    turn.min(360.0 - turn)
}

fn nearest(line: &[[f64; 3]], far: impl Fn(&[f64; 3]) -> f64) -> Option<usize> {
    (0..line.len()).min_by(|&one, &other| far(&line[one]).total_cmp(&far(&line[other])))
}

/// Along a closed line from one of its points to another.
fn shorter_way_mm(line: &[[f64; 3]], from: usize, to: usize) -> f64 {
    let step = |k: usize| distance(&line[k], &line[(k + 1) % line.len()]);
    let whole: f64 = (0..line.len()).map(step).sum();
    let (low, high) = (from.min(to), from.max(to));
    let part: f64 = (low..high).map(step).sum();
    part.min(whole - part)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A square of 4 mm around the centre, one point a millimetre, counted from (2, -2).
    fn square() -> Vec<[f64; 3]> {
        let mut line = Vec::new();
        for (start, step) in [
            ((2.0, -2.0), (0.0, 1.0)),
            ((2.0, 2.0), (-1.0, 0.0)),
            ((-2.0, 2.0), (0.0, -1.0)),
            ((-2.0, -2.0), (1.0, 0.0)),
        ] {
            for k in 0..4 {
                let k = f64::from(k);
                line.push([start.0 + k * step.0, start.1 + k * step.1, 0.0]);
            }
        }
        line
    }

    #[test]
    fn the_way_along_the_line_is_the_shorter_one() {
        let line = square();
        assert_eq!(shorter_way_mm(&line, 2, 4), 2.0);
        assert_eq!(shorter_way_mm(&line, 1, 15), 2.0);
    }

    #[test]
    fn the_middle_of_a_side_is_found_by_angle() {
        let line = square();
        let middle = |angle_deg: f64| line[nearest(&line, |at| turn_deg(at, angle_deg)).unwrap()];
        assert_eq!(middle(0.0), [2.0, 0.0, 0.0]);
        assert_eq!(middle(90.0), [0.0, 2.0, 0.0]);
        assert_eq!(middle(270.0), [0.0, -2.0, 0.0]);
    }
}
