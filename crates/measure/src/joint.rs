//! Several prepared teeth in one scan, as the abutments of a bridge: which is which, each with its own document, and what
//! they have in common.

use std::collections::BTreeMap;

use kerfwright_tooth::Tooth;
use nalgebra::{Point3, Vector3};
use serde::{Deserialize, Serialize};

use crate::MeasureError;
use crate::arch::Question;
use crate::attempt::{Aligned, Attempt, Request, Setting, cautions, tool};
use crate::document::{Document, Input, Reading, Tool};
use crate::measures::abutments;
use crate::preparation::{Preparation, scan_noise};
use crate::region::Change;
use crate::start::{self, Start};

/// Names the layout of [`JointDocument`].
pub const JOINT_SCHEMA: &str = "kerfwright-abutments-1";
/// Most teeth that are sorted along the arch.
const MOST_TEETH: usize = 8;
/// Evidence needed to decide on the order, as a log-likelihood ratio: 20 to 1.
const DECISION: f64 = 3.0;
/// Another prepared tooth says where mesial is if its direction lies within 66° of the arch.
const LEAST_AGREEMENT: f64 = 0.4;

/// Several prepared teeth of one scan. `$defs/several` of `docs/measurement.schema.json`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS))]
pub struct JointDocument {
    /// `kerfwright-abutments-1`.
    pub schema: String,
    /// What made it.
    pub tool: Tool,
    /// The scans, by role.
    pub inputs: BTreeMap<String, Input>,
    /// One document a tooth, in the order in which they were named.
    pub teeth: Vec<Document>,
    /// What they have in common.
    pub abutments: Abutments,
    /// What the readings are not.
    pub cautions: Vec<String>,
}

/// What several prepared teeth have in common.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS), ts(optional_fields))]
pub struct Abutments {
    /// The best common path of placement, unit vector in the after scan's frame.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub common_path: Option<[f64; 3]>,
    /// Readings by id.
    pub readings: BTreeMap<String, Reading>,
    /// Readings that could not be taken, by id, each with the reason.
    pub refused: BTreeMap<String, String>,
}

impl<'scan> Attempt<'scan> {
    /// Finds each of several prepared teeth; one preparation a request, in the same order.
    ///
    /// The regions are assigned by the order of the tooth numbers along the arch. A mesial point, the same in all requests,
    /// lies mesially of the prepared tooth nearest to it.
    ///
    /// # Errors
    /// [`MeasureError::OtherCount`], [`MeasureError::OrderUnknown`], [`MeasureError::Named`]; and as for
    /// [`find`](Self::find).
    pub fn find_each(
        &self,
        aligned: Option<&Aligned>,
        requests: &[Request],
    ) -> Result<Vec<Preparation<'scan>>, MeasureError> {
        let teeth: Vec<Tooth> = requests.iter().map(|request| request.tooth.tooth).collect();
        check_names(&teeth)?;
        let setting = self.setting(aligned);
        let after = setting.scene.after;
        let noise_mm = scan_noise(after);
        let change = setting.scene.before.as_ref().map(|before| Change::between(after, before, noise_mm));
        let starts = start::find_all(after, change.as_ref())?;
        if starts.teeth.len() != teeth.len() {
            return Err(MeasureError::OtherCount {
                n_named: teeth.len(),
                n_found: starts.teeth.len(),
                n_others: starts.n_others,
            });
        }
        let write_point = |point: &Point3<f64>| setting.write_point(point);
        let row = Row::new(&setting, starts.teeth, &write_point);
        let placed =
            row.assigned(&teeth, requests.iter().find_map(|request| setting.wishes(request).mesial_point))?;
        let found = placed.iter().zip(requests).map(|(placed, request)| {
            let mut wishes = setting.wishes(request);
            wishes.mesial_point = Some(placed.start.centre() + placed.mesial * 6.0);
            let pose = setting.pose.clone();
            let mut preparation =
                Preparation::find_at(Some(placed.start), setting.scene, pose, &wishes, &write_point)?;
            preparation.mesial.because = placed.because.clone();
            Ok(self.settled(preparation, aligned))
        });
        found.collect()
    }

    /// Takes all readings of each tooth and those of all together. `preparations` and `requests` as for
    /// [`find_each`](Self::find_each).
    pub fn joint_document(&self, preparations: &[Preparation<'_>], requests: &[Request]) -> JointDocument {
        let teeth = preparations.iter().zip(requests);
        JointDocument {
            schema: JOINT_SCHEMA.into(),
            tool: tool(),
            inputs: self.inputs(),
            teeth: teeth.map(|(preparation, request)| self.document(preparation, request)).collect(),
            abutments: abutments::take(preparations),
            cautions: cautions(),
        }
    }
}

fn check_names(teeth: &[Tooth]) -> Result<(), MeasureError> {
    let named = |fault: String| Err(MeasureError::Named { fault });
    if teeth.len() > MOST_TEETH {
        return named(format!(
            "{} teeth are more than the {MOST_TEETH} that are sorted along an arch",
            teeth.len()
        ));
    }
    for (k, tooth) in teeth.iter().enumerate() {
        if teeth[..k].contains(tooth) {
            return named(format!("{tooth} is named twice"));
        }
        if tooth.is_upper() != teeth[0].is_upper() {
            return named(format!("{} and {tooth} stand in two jaws", teeth[0]));
        }
    }
    Ok(())
}

/// The prepared teeth in their order along the arch.
struct Row<'a, 'scan> {
    setting: &'a Setting<'scan>,
    starts: Vec<Start>,
    write_point: &'a dyn Fn(&Point3<f64>) -> String,
}

/// A tooth of the row that has got its number.
struct Placed<'a> {
    start: &'a Start,
    mesial: Vector3<f64>,
    because: String,
}

/// One way of giving the numbers to the row.
struct Assignment {
    /// Along the arch at each tooth, towards mesial.
    mesial: Vec<Vector3<f64>>,
    /// What the arch at each tooth says of that, as log-likelihood ratios.
    weights: Vec<f64>,
    because: Vec<String>,
}

impl<'a, 'scan> Row<'a, 'scan> {
    fn new(
        setting: &'a Setting<'scan>,
        starts: Vec<Start>,
        write_point: &'a dyn Fn(&Point3<f64>) -> String,
    ) -> Self {
        let centres: Vec<Point3<f64>> = starts.iter().map(Start::centre).collect();
        let order = shortest_way(&centres);
        let mut starts: Vec<Option<Start>> = starts.into_iter().map(Some).collect();
        let starts = order.into_iter().filter_map(|k| starts[k].take()).collect();
        Self { setting, starts, write_point }
    }

    /// Gives each tooth, in the order of `teeth`, its place in the row.
    fn assigned(
        &self,
        teeth: &[Tooth],
        mesial_point: Option<Point3<f64>>,
    ) -> Result<Vec<Placed<'_>>, MeasureError> {
        // Along the arch teeth stand in the order of the Universal numbers, one way or the other.
        let mut along: Vec<usize> = (0..teeth.len()).collect();
        along.sort_by_key(|&k| teeth[k].universal());
        let back: Vec<usize> = along.iter().rev().copied().collect();
        let [first, second] =
            [&along, &back].map(|order| self.weighed(&order.iter().map(|&k| teeth[k]).collect::<Vec<_>>()));
        let for_first = match mesial_point.and_then(|point| self.said(&point, &first, &second)) {
            Some(is_first) => {
                if is_first {
                    f64::INFINITY
                } else {
                    f64::NEG_INFINITY
                }
            }
            None => 0.5 * (first.weights.iter().sum::<f64>() - second.weights.iter().sum::<f64>()),
        };
        if for_first.abs() < DECISION {
            return Err(MeasureError::OrderUnknown {
                first: teeth[along[0]].fdi(),
                last: teeth[back[0]].fdi(),
                evidence: first.because.join("; "),
            });
        }
        let (order, chosen) = if for_first > 0.0 { (along, first) } else { (back, second) };
        let mut placed: Vec<Option<Placed<'_>>> = teeth.iter().map(|_| None).collect();
        for (place, &tooth) in order.iter().enumerate() {
            placed[tooth] = Some(Placed {
                start: &self.starts[place],
                mesial: chosen.mesial[place],
                because: format!(
                    "it is one of {} prepared teeth in a row: {}",
                    teeth.len(),
                    chosen.because[place]
                ),
            });
        }
        Ok(placed.into_iter().flatten().collect())
    }

    /// What the arch says if the row holds `teeth` in this order.
    fn weighed(&self, teeth: &[Tooth]) -> Assignment {
        let mut assignment = Assignment { mesial: Vec::new(), weights: Vec::new(), because: Vec::new() };
        for place in 0..teeth.len() {
            let start = &self.starts[place];
            let question = Question {
                after: self.setting.scene.after,
                tooth: teeth[place],
                centre: start.centre(),
                axis: start.up,
                finish_line: &start.outline,
                mesial_point: None,
                write_point: self.write_point,
            };
            let evidence = question.evidence();
            let expected = self.expected(teeth, place, &evidence.mesial);
            let sign = if expected == 0.0 { evidence.weight.signum() } else { expected };
            assignment.weights.push(if expected == 0.0 { 0.0 } else { evidence.weight * expected });
            assignment.mesial.push(evidence.mesial * sign);
            assignment.because.push(evidence.because);
        }
        assignment
    }

    /// +1 if mesial lies along `along` at this place by the other teeth of the row, −1 if against it, 0 if they do not say.
    fn expected(&self, teeth: &[Tooth], place: usize, along: &Vector3<f64>) -> f64 {
        let (own, from) = (teeth[place], self.starts[place].centre());
        let beside = [place.checked_sub(1), (place + 1 < teeth.len()).then_some(place + 1)];
        let agreements = beside.into_iter().flatten().map(|other| {
            let toward = self.starts[other].centre() - from;
            let same_side = own.is_left() == teeth[other].is_left();
            let is_distal = same_side && teeth[other].position() > own.position();
            toward.dot(along) / toward.norm().max(1e-9) * if is_distal { -1.0 } else { 1.0 }
        });
        let sum: f64 = agreements.filter(|agreement| agreement.abs() > LEAST_AGREEMENT).sum();
        if sum == 0.0 { 0.0 } else { sum.signum() }
    }

    /// Which of two assignments the user's point means: at the tooth nearest to it mesial must lie on its side.
    fn said(&self, point: &Point3<f64>, first: &Assignment, second: &Assignment) -> Option<bool> {
        let distance = |place: &usize| (self.starts[*place].centre() - point).norm();
        let nearest = (0..self.starts.len()).min_by(|a, b| distance(a).total_cmp(&distance(b)))?;
        let toward = point - self.starts[nearest].centre();
        let [fits_first, fits_second] =
            [first, second].map(|assignment| assignment.mesial[nearest].dot(&toward) > 0.0);
        (fits_first != fits_second).then_some(fits_first)
    }
}

/// The order in which some places lie on the shortest way through all of them.
fn shortest_way(places: &[Point3<f64>]) -> Vec<usize> {
    fn extend(places: &[Point3<f64>], way: &mut Vec<usize>, length_mm: f64, best: &mut (f64, Vec<usize>)) {
        if way.len() == places.len() {
            if length_mm < best.0 {
                *best = (length_mm, way.clone());
            }
            return;
        }
        for next in (0..places.len()).filter(|next| !way.contains(next)).collect::<Vec<_>>() {
            let step_mm = way.last().map_or(0.0, |&last| (places[next] - places[last]).norm());
            if length_mm + step_mm < best.0 {
                way.push(next);
                extend(places, way, length_mm + step_mm, best);
                way.pop();
            }
        }
    }
    let mut best = (f64::INFINITY, (0..places.len()).collect());
    extend(places, &mut Vec::new(), 0.0, &mut best);
    best.1
}

#[cfg(test)]
mod tests {
    use super::*;

    fn teeth(numbers: &[u8]) -> Vec<Tooth> {
        numbers.iter().map(|&fdi| Tooth::from_fdi(fdi).unwrap()).collect()
    }

    #[test]
    fn names_that_cannot_be_are_told() {
        assert!(check_names(&teeth(&[35, 37])).is_ok());
        let fault = |numbers: &[u8]| check_names(&teeth(numbers)).unwrap_err().to_string();
        assert!(fault(&[35, 35]).contains("named twice"));
        assert!(fault(&[35, 25]).contains("two jaws"));
        assert!(fault(&[11, 12, 13, 14, 15, 16, 17, 21, 22]).contains("more than"));
    }

    #[test]
    fn an_arch_is_walked_from_one_end_to_the_other() {
        let on_arch =
            |deg: f64| Point3::new(25.0 * deg.to_radians().cos(), 35.0 * deg.to_radians().sin(), 0.0);
        let places = [on_arch(90.0), on_arch(5.0), on_arch(175.0), on_arch(40.0)];
        let way = shortest_way(&places);
        assert!(way == [1, 3, 0, 2] || way == [2, 0, 3, 1], "{way:?}");
    }
}
