//! Where the neighbours stand, and which way along the arch is mesial.

use kerfwright_geometry::{Plane, Polyline, Surface};
use kerfwright_tooth::Tooth;
use nalgebra::{Point3, Vector2, Vector3};

use crate::MeasureError;

/// Evidence needed to decide, as a log-likelihood ratio: 20 to 1.
const DECISION: f64 = 3.0;
/// Relative scatter of tooth sizes, 1 sigma of the log of an area ratio (tooth tables are good to 15–20 % a length).
const SIZE_SIGMA: f64 = 0.18;

/// One tooth's outline in a plane square on the axis.
#[derive(Debug, Clone)]
struct Outline {
    centre: Vector2<f64>,
    area_mm2: f64,
    low: Vector2<f64>,
    high: Vector2<f64>,
    points: Vec<Vector2<f64>>,
}

/// What is known about the direction of mesial.
#[derive(Debug, Clone)]
pub struct MesialEvidence {
    /// Unit, square on the axis, after frame.
    pub mesial: Vector3<f64>,
    /// Log-likelihood ratio in favour; infinite when the user said it.
    pub weight: f64,
    /// In words.
    pub because: String,
}

/// What decides between mesial and distal.
pub struct Question<'a> {
    /// The after scan.
    pub after: &'a Surface,
    /// The tooth.
    pub tooth: Tooth,
    /// Centre of the finish line.
    pub centre: Point3<f64>,
    /// The tooth's axis.
    pub axis: Vector3<f64>,
    /// Finish line.
    pub finish_line: &'a [Point3<f64>],
    /// A point on the mesial side, after frame, if the user gave one.
    pub mesial_point: Option<Point3<f64>>,
    /// Writes a point as `--mesial-point` wants it.
    pub write_point: &'a dyn Fn(&Point3<f64>) -> String,
}

impl Question<'_> {
    /// Decides, or says why not.
    ///
    /// # Errors
    /// The evidence is weak, or the user's point lies in no clear direction.
    pub fn mesial(&self) -> Result<MesialEvidence, MeasureError> {
        let (u, v) = crate::finish_line::axes(&self.axis);
        let neighbours = self.neighbours(&u, &v);
        let along = self.arch_direction(&neighbours, &u, &v);
        if let Some(point) = self.mesial_point {
            return self.as_the_user_says(&point, along, neighbours.is_empty());
        }
        let MesialEvidence { mesial, weight, because } = self.weighed(&neighbours, &along, &u, &v);
        if weight.abs() < DECISION {
            let reach = along.solid * 8.0;
            let across = self.axis.cross(&along.solid) * 8.0;
            let sides = if neighbours.is_empty() {
                // Nothing says which of the four sides lie along the arch.
                [reach, across, -reach, -across]
                    .map(|side| (self.write_point)(&(self.centre + side)))
                    .to_vec()
            } else {
                [reach, -reach].map(|side| (self.write_point)(&(self.centre + side))).to_vec()
            };
            return Err(MeasureError::MesialUnknown { evidence: because, sides });
        }
        Ok(MesialEvidence { mesial: mesial * weight.signum(), weight: weight.abs(), because })
    }

    /// What the arch says, undecided: `mesial` is one of the two directions along it, `weight` positive where that one is
    /// mesial and negative where the other is.
    pub fn evidence(&self) -> MesialEvidence {
        let (u, v) = crate::finish_line::axes(&self.axis);
        let neighbours = self.neighbours(&u, &v);
        let along = self.arch_direction(&neighbours, &u, &v);
        self.weighed(&neighbours, &along, &u, &v)
    }

    /// Sizes and gaps speak for the tooth on each side; the arch's bend says where the tongue is.
    fn weighed(
        &self,
        neighbours: &[Outline],
        along: &Along,
        u: &Vector3<f64>,
        v: &Vector3<f64>,
    ) -> MesialEvidence {
        let sides = [1.0, -1.0].map(|sign| nearest_on_side(neighbours, &(along.flat * sign)));
        let size = self.size_evidence(&sides);
        let bend = self.bend_evidence(neighbours, along, u, v);
        let form = self.form_evidence(&sides, &along.flat);
        let weight = if bend.2 { 0.0 } else { size.0 + form + bend.0 };
        MesialEvidence { mesial: along.solid, weight, because: format!("{}; {}", size.1, bend.1) }
    }

    /// With neighbours the point only chooses between the two ways along the arch; on a tooth alone it is the direction.
    fn as_the_user_says(
        &self,
        point: &Point3<f64>,
        along: Along,
        is_alone: bool,
    ) -> Result<MesialEvidence, MeasureError> {
        let toward = point - self.centre;
        let flat = toward - self.axis * toward.dot(&self.axis);
        let agreement = flat.dot(&along.solid) / flat.norm().max(1e-9);
        if flat.norm() < 1.0 || flat.norm() > 60.0 || (agreement.abs() < 0.3 && !is_alone) {
            return Err(MeasureError::MesialPointUseless { distance_mm: flat.norm() });
        }
        let mesial = if is_alone { flat.normalize() } else { along.solid * agreement.signum() };
        Ok(MesialEvidence {
            mesial,
            weight: f64::INFINITY,
            because: "a point on the mesial side was given".into(),
        })
    }

    /// Outlines of the other teeth at the lowest level above the finish line where they stand apart.
    fn neighbours(&self, u: &Vector3<f64>, v: &Vector3<f64>) -> Vec<Outline> {
        let heights = self.finish_line.iter().map(|point| (point - self.centre).dot(&self.axis));
        let highest = heights.fold(f64::NEG_INFINITY, f64::max);
        const APART_MM2: f64 = 60.0;
        let mut best: Vec<Outline> = Vec::new();
        // A finish line that climbs over a tooth covered in part leaves nothing above it: then from its middle up.
        let from_middle = (0..8).map(|step| 0.3 + 0.35 * f64::from(step));
        let above = from_middle.clone().map(|height_mm| highest + height_mm);
        for (k, height_mm) in above.chain(from_middle).enumerate() {
            if k >= 8 && !best.is_empty() {
                break;
            }
            let level = self.centre + self.axis * height_mm;
            let plane = Plane { point: level, normal: self.axis };
            let lines = self.after.section(&plane);
            let outlines: Vec<Outline> = lines
                .iter()
                .filter_map(|line| self.outline(line, u, v))
                .filter(Outline::may_be_a_tooth)
                .collect();
            let score = |outlines: &[Outline]| {
                let near = outlines.iter().filter(|outline| outline.centre.norm() < 16.0);
                // Teeth that stand apart say more than the same teeth run together at their contact.
                near.map(|outline| APART_MM2 + outline.area_mm2.min(120.0)).sum::<f64>()
            };
            if score(&outlines) > score(&best) {
                best = outlines;
            }
        }
        best.retain(|outline| outline.centre.norm() > 3.5);
        best
    }

    fn outline(&self, line: &Polyline, u: &Vector3<f64>, v: &Vector3<f64>) -> Option<Outline> {
        if !line.closed && (line.points.first()? - line.points.last()?).norm() > 3.0 {
            return None;
        }
        let flat: Vec<Vector2<f64>> = line
            .points
            .iter()
            .map(|point| Vector2::new((point - self.centre).dot(u), (point - self.centre).dot(v)))
            .collect();
        let (mut doubled, mut moment) = (0.0, Vector2::zeros());
        let (mut low, mut high) = (flat[0], flat[0]);
        for (k, a) in flat.iter().enumerate() {
            let b = flat[(k + 1) % flat.len()];
            let wedge = a.perp(&b);
            doubled += wedge;
            moment += (a + b) * wedge;
            low = low.inf(a);
            high = high.sup(a);
        }
        // Solid to the left: a hole through a tooth runs the other way round.
        let centre = moment / (3.0 * doubled);
        Some(Outline { centre, area_mm2: 0.5 * doubled.abs(), low, high, points: flat })
    }

    /// The direction of the arch at the tooth: the line through the nearest neighbours and the tooth itself.
    fn arch_direction(&self, neighbours: &[Outline], u: &Vector3<f64>, v: &Vector3<f64>) -> Along {
        let mut near: Vec<&Outline> = neighbours.iter().collect();
        near.sort_by(|a, b| a.centre.norm().total_cmp(&b.centre.norm()));
        let first = near.first().map(|outline| outline.centre);
        let second = first.and_then(|first| {
            near.iter().skip(1).map(|outline| outline.centre).find(|centre| centre.dot(&first) < 0.0)
        });
        let flat = match (first, second) {
            (Some(first), Some(second)) => (first.normalize() - second.normalize()).normalize(),
            (Some(first), None) => first.normalize(),
            _ => self.narrow_direction(u, v),
        };
        Along { flat, solid: u * flat.x + v * flat.y }
    }

    /// Without neighbours: the shorter of the finish line's two main directions runs along the arch.
    fn narrow_direction(&self, u: &Vector3<f64>, v: &Vector3<f64>) -> Vector2<f64> {
        let mut moments = nalgebra::Matrix2::zeros();
        for point in self.finish_line {
            let at = Vector2::new((point - self.centre).dot(u), (point - self.centre).dot(v));
            moments += at * at.transpose();
        }
        let eigen = moments.symmetric_eigen();
        let narrow = if eigen.eigenvalues[0] < eigen.eigenvalues[1] { 0 } else { 1 };
        eigen.eigenvectors.column(narrow).into_owned()
    }

    /// Log-likelihood ratio that the first side is mesial, from the neighbours' sizes.
    fn size_evidence(&self, sides: &[Option<&Outline>; 2]) -> (f64, String) {
        let area = |tooth: Option<Tooth>| {
            let size = tooth?.typical_dimensions();
            Some(size.mesiodistal_mm * size.faciolingual_mm)
        };
        let (mesial, distal) = (self.tooth.mesial_neighbour(), self.tooth.distal_neighbour());
        match (sides, area(mesial), area(distal)) {
            ([Some(first), Some(second)], Some(mesial), Some(distal)) => {
                let seen = (first.area_mm2 / second.area_mm2).ln();
                let expected = (mesial / distal).ln();
                let weight = 2.0 * seen * expected / SIZE_SIGMA.powi(2);
                // Outlines that are far from either reading say little (two teeth run together, say).
                let misfit = (seen.abs() - expected.abs()).abs() / SIZE_SIGMA;
                let weight = weight.clamp(-12.0, 12.0) / (1.0 + 0.25 * misfit * misfit);
                let text = format!("its neighbours' outlines compare as {:.2} to 1", seen.abs().exp());
                (weight, text)
            }
            ([Some(_), None], ..) | ([None, Some(_)], ..) if self.tooth.position() >= 7 => {
                let weight = if sides[0].is_some() { 3.5 } else { -3.5 };
                (weight, "the last tooth of the arch has a neighbour on one side".into())
            }
            ([None, None], ..) => (0.0, "no neighbour was found".into()),
            _ => (0.0, "only one neighbour was found".into()),
        }
    }

    /// Log-likelihood ratio that the first side is mesial, from how long the neighbours' outlines are along the arch
    /// against across it: a canine's is nearly round, a premolar's is not.
    fn form_evidence(&self, sides: &[Option<&Outline>; 2], along: &Vector2<f64>) -> f64 {
        const FORM_SIGMA: f64 = 0.15;
        let ratio = |tooth: Option<Tooth>| {
            let size = tooth?.typical_dimensions();
            Some(size.mesiodistal_mm / size.faciolingual_mm)
        };
        let (Some(mesial), Some(distal)) =
            (ratio(self.tooth.mesial_neighbour()), ratio(self.tooth.distal_neighbour()))
        else {
            return 0.0;
        };
        let [Some(first), Some(second)] = sides else { return 0.0 };
        let seen = (first.form(along) / second.form(along)).ln();
        let expected = (mesial / distal).ln();
        let misfit = (seen.abs() - expected.abs()).abs() / FORM_SIGMA;
        (2.0 * seen * expected / FORM_SIGMA.powi(2)).clamp(-6.0, 6.0) / (1.0 + 0.25 * misfit * misfit)
    }

    /// Log-likelihood ratio that `along` is mesial, from the bend of the row of teeth, and in a whole arch from where the
    /// other teeth are; in words; and whether the arch contradicts the tooth's number.
    fn bend_evidence(
        &self,
        neighbours: &[Outline],
        along: &Along,
        u: &Vector3<f64>,
        v: &Vector3<f64>,
    ) -> (f64, String, bool) {
        const SCATTER_MM: f64 = 0.8;
        let across = Vector2::new(-along.flat.y, along.flat.x);
        if spans_the_midline(neighbours) {
            return self.arch_evidence(neighbours, along, &across, u, v);
        }
        let mut pairs = vec![(0.0, 0.0)];
        for outline in neighbours.iter().filter(|outline| outline.centre.norm() < 40.0) {
            pairs.push((outline.centre.dot(&along.flat), outline.centre.dot(&across)));
        }
        if pairs.len() < 4 {
            return (0.0, "too few teeth to see the arch bend".into(), false);
        }
        let Some([_, _, bend]) = crate::stats::quadratic(&pairs, &vec![1.0; pairs.len()]) else {
            return (0.0, "the arch's bend is unclear".into(), false);
        };
        let reach = pairs.iter().map(|pair| pair.0.abs()).fold(0.0, f64::max);
        let sagitta_mm = bend * reach * reach;
        // The row bends towards the tongue, so positive means lingual lies on the side of `across`.
        let lingual = (u * across.x + v * across.y) * sagitta_mm.signum();
        let strength = (sagitta_mm / SCATTER_MM).powi(2).min(16.0);
        let weight = 0.5 * strength * self.mesial_by(&lingual).dot(&along.solid).signum();
        (weight, format!("the row of {} teeth bends by {:.1} mm", pairs.len(), sagitta_mm.abs()), false)
    }

    /// Mesial if the tongue lies on a side: mesial × facial = handedness · occlusal, hence
    /// mesial = handedness · facial × occlusal.
    fn mesial_by(&self, lingual: &Vector3<f64>) -> Vector3<f64> {
        (-lingual).cross(&self.axis) * self.tooth.handedness()
    }

    /// In an arch that reaches over the midline all other teeth lie lingually, and behind the canines most lie mesially. A
    /// number of the wrong side makes the two contradict each other: the flag says so, and nothing is known.
    fn arch_evidence(
        &self,
        neighbours: &[Outline],
        along: &Along,
        across: &Vector2<f64>,
        u: &Vector3<f64>,
        v: &Vector3<f64>,
    ) -> (f64, String, bool) {
        const SIDE_MM: f64 = 2.0;
        const FRONT_MM: f64 = 3.0;
        const MOST: f64 = 8.0;
        const FIRST_BEHIND: u8 = 5;
        let sum: Vector2<f64> = neighbours.iter().map(|outline| outline.centre).sum();
        let middle = sum / neighbours.len() as f64;
        let (off_mm, ahead_mm) = (middle.dot(across), middle.dot(&along.flat));
        let lingual = (u * across.x + v * across.y) * off_mm.signum();
        let by_side = (0.5 * (off_mm / SIDE_MM).powi(2)).min(MOST)
            * self.mesial_by(&lingual).dot(&along.solid).signum();
        let is_behind = self.tooth.position() >= FIRST_BEHIND;
        let by_front =
            if is_behind { (0.5 * (ahead_mm / FRONT_MM).powi(2)).min(MOST) * ahead_mm.signum() } else { 0.0 };
        let contradict = by_side * by_front < 0.0 && by_side.abs().min(by_front.abs()) > DECISION;
        let because = if contradict {
            format!(
                "the arch shows this tooth on the other side than {}: is the number right, the scan not mirrored?",
                self.tooth
            )
        } else {
            format!(
                "the other {} teeth of the arch lie {:.0} mm to its lingual side",
                neighbours.len(),
                off_mm.abs()
            )
        };
        (by_side + by_front, because, contradict)
    }
}

/// Whether the teeth reach so far apart that they stand on both sides of the midline: no quadrant is longer.
fn spans_the_midline(outlines: &[Outline]) -> bool {
    const LONGEST_QUADRANT_MM: f64 = 48.0;
    const LEAST_TEETH: usize = 6;
    let far = |a: &Outline| outlines.iter().any(|b| (a.centre - b.centre).norm() > LONGEST_QUADRANT_MM);
    outlines.len() >= LEAST_TEETH && (outlines.iter().any(far) || is_round(outlines))
}

/// Whether the row turns by more than a quadrant does: the teeth in front of both canines turn by 90° and more.
fn is_round(outlines: &[Outline]) -> bool {
    const LEAST_HEIGHT: f64 = 0.35;
    let pairs = outlines.iter().flat_map(|a| outlines.iter().map(move |b| (a, b)));
    let Some((a, b)) =
        pairs.max_by(|x, y| (x.0.centre - x.1.centre).norm().total_cmp(&(y.0.centre - y.1.centre).norm()))
    else {
        return false;
    };
    let chord = b.centre - a.centre;
    let height_mm =
        outlines.iter().map(|c| chord.perp(&(c.centre - a.centre)).abs() / chord.norm().max(1e-9));
    height_mm.fold(0.0, f64::max) > LEAST_HEIGHT * chord.norm()
}

/// A direction along the arch, in the plane and in space.
struct Along {
    flat: Vector2<f64>,
    solid: Vector3<f64>,
}

impl Outline {
    /// Extent along a direction over the extent across it.
    fn form(&self, along: &Vector2<f64>) -> f64 {
        let across = Vector2::new(-along.y, along.x);
        let extent = |direction: &Vector2<f64>| {
            let places = self.points.iter().map(|point| point.dot(direction));
            let (low, high) =
                places.fold((f64::MAX, f64::MIN), |(low, high), at| (low.min(at), high.max(at)));
            high - low
        };
        extent(along) / extent(&across).max(1e-6)
    }

    fn may_be_a_tooth(&self) -> bool {
        let size = self.high - self.low;
        (8.0..400.0).contains(&self.area_mm2) && size.min() > 2.0
    }
}

/// The nearest outline on one side, if it stands next to the tooth.
fn nearest_on_side<'a>(outlines: &'a [Outline], toward: &Vector2<f64>) -> Option<&'a Outline> {
    outlines
        .iter()
        .filter(|outline| {
            outline.centre.dot(toward) > 0.6 * outline.centre.norm() && outline.centre.norm() < 16.0
        })
        .min_by(|a, b| a.centre.norm().total_cmp(&b.centre.norm()))
}
