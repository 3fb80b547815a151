//! Several prepared teeth in one arch, as a bridge needs them.

use nalgebra::Vector3;

use crate::phantom::{Cut, Phantom};
use crate::spec::Spec;
use crate::truth::{Truth, Walls, walls};

/// What is true of several prepared teeth together. Directions and frames are in the first tooth's frame.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct BridgeTruth {
    /// FDI numbers, the phantom's own tooth first.
    pub teeth: Vec<u8>,
    /// Each tooth's own truth, in its own frame.
    pub each: Vec<Truth>,
    /// From each tooth's frame to the first one's; the determinant is −1 across the mid-line.
    pub first_from_tooth: Vec<[[f64; 4]; 4]>,
    /// The default path of each.
    pub paths: Vec<[f64; 3]>,
    /// Largest angle between two of them.
    pub parallel_deg: f64,
    /// The direction between them: their mean. Where no wall has an undercut along it, it is a best common path.
    pub common_path: [f64; 3],
    /// Each tooth's readings along the common path.
    pub along_common: Vec<Walls>,
}

impl Phantom {
    /// The same arch once for each of its prepared teeth, this one first: each in that tooth's frame, with its truth.
    pub fn abutments(&self) -> Vec<Phantom> {
        let mut all = vec![self.clone()];
        all.extend((0..self.others.len()).map(|i| self.seen_from(i)));
        all
    }

    /// What is true of all prepared teeth together; for one tooth the angle is 0.
    pub fn bridge_truth(&self) -> BridgeTruth {
        let abutments = self.abutments();
        let indices: Vec<usize> =
            std::iter::once(self.arch.middle).chain(self.others.iter().map(|cut| cut.index)).collect();
        let frames: Vec<_> =
            indices.iter().map(|&i| self.arch.teeth[i].arch_from_tooth().to_homogeneous()).collect();
        let paths: Vec<Vector3<f64>> = abutments
            .iter()
            .zip(&frames)
            .map(|(phantom, frame)| frame.transform_vector(&Vector3::from(phantom.truth().path)))
            .collect();
        let common = paths.iter().sum::<Vector3<f64>>().normalize();
        let along_common = abutments.iter().zip(&frames).map(|(phantom, frame)| {
            let turn = frame.fixed_view::<3, 3>(0, 0).into_owned();
            walls::along(phantom, &(turn.transpose() * common))
        });
        let pairs =
            paths.iter().enumerate().flat_map(|(i, a)| paths[i + 1..].iter().map(move |b| a.angle(b)));
        BridgeTruth {
            teeth: abutments.iter().map(|phantom| phantom.fdi.number()).collect(),
            along_common: along_common.collect(),
            first_from_tooth: frames
                .iter()
                .map(|m| std::array::from_fn(|i| std::array::from_fn(|j| m[(i, j)])))
                .collect(),
            parallel_deg: pairs.fold(0.0, f64::max).to_degrees(),
            common_path: common.into(),
            paths: paths.into_iter().map(Into::into).collect(),
            each: abutments.iter().map(|phantom| phantom.truth().clone()).collect(),
        }
    }

    /// The arch in the frame of one of the other prepared teeth.
    fn seen_from(&self, other: usize) -> Phantom {
        let own = &self.others[other];
        let frame = *self.arch.teeth[own.index].frame();
        let n = self.arch.teeth.len();
        let turned = |index: usize| if frame.is_mirrored() { n - 1 - index } else { index };
        let mut opposing = self.opposing.clone();
        if frame.is_mirrored() {
            opposing.turn_round();
        }
        opposing.change_frame(&frame.level());
        opposing.refit_gingiva();
        let first = Cut {
            index: self.arch.middle,
            spec: Spec { abutments: Vec::new(), ..self.spec.clone() },
            preparation: self.preparation.clone(),
        };
        let rest = self.others.iter().enumerate().filter(|&(i, _)| i != other).map(|(_, cut)| cut);
        let others = std::iter::once(&first)
            .chain(rest)
            .map(|cut| Cut { index: turned(cut.index), ..cut.clone() })
            .collect();
        let nicks = self.nicks.iter().map(|nick| {
            let moved = |p| frame.unapply(p);
            crate::phantom::Nick {
                tooth: turned(nick.tooth),
                centre: moved(&nick.centre),
                deepest: moved(&nick.deepest),
            }
        });
        Phantom {
            spec: own.spec.clone(),
            fdi: self.arch.teeth[own.index].tooth.fdi,
            arch: self.arch.seen_from(own.index),
            opposing,
            opposing_level: self.opposing_level - frame.z(),
            preparation: own.preparation.clone(),
            nicks: nicks.collect(),
            others,
            die: None,
            remount: None,
            truth: std::sync::OnceLock::new(),
        }
    }
}
