//! Which sample of one scan may be which of the other.

use crate::cloud::Cloud;
use crate::feature::{self, Feature, LENGTH};
use rayon::prelude::*;

/// How many likely partners each sample keeps. Teeth look alike: the nearest alone is often the wrong one.
const PARTNERS: usize = 3;
/// Most samples described a scan; more only cost time.
const MOST_KEYPOINTS: usize = 1500;
/// Weight below which a sample is too flat to be told from its neighbours.
const LEAST_WEIGHT: f64 = 0.25;

/// A sample of the source that may be one of the target.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Match {
    pub(crate) source: u32,
    pub(crate) target: u32,
}

/// Samples worth describing, and their descriptions.
pub(crate) struct Keypoints {
    samples: Vec<u32>,
    features: Vec<Feature>,
}

impl Keypoints {
    /// Bent samples away from the open border, evenly thinned when there are too many.
    pub(crate) fn new(cloud: &Cloud) -> Self {
        let all = 0..cloud.samples.len() as u32;
        let inner = all.filter(|&index| !cloud.samples[index as usize].on_border);
        let bent: Vec<u32> =
            inner.filter(|&index| LEAST_WEIGHT <= cloud.samples[index as usize].weight).collect();
        let kept = bent.len().min(MOST_KEYPOINTS);
        let samples: Vec<u32> = (0..kept).map(|k| bent[k * bent.len() / kept]).collect();
        let features = feature::describe(cloud, &samples);
        Self { samples, features }
    }
}

/// The nearest descriptions in both directions, sorted and without repeats.
pub(crate) fn matches(source: &Keypoints, target: &Keypoints) -> Vec<Match> {
    let forth = nearest(&source.features, &target.features);
    let back = nearest(&target.features, &source.features);
    let mut matches = Vec::with_capacity(PARTNERS * (forth.len() + back.len()));
    for (from, partners) in forth.iter().enumerate() {
        matches.extend(partners.iter().map(|&to| (from, to as usize)));
    }
    for (to, partners) in back.iter().enumerate() {
        matches.extend(partners.iter().map(|&from| (from as usize, to)));
    }
    let mut matches: Vec<Match> = matches
        .into_iter()
        .map(|(from, to)| Match { source: source.samples[from], target: target.samples[to] })
        .collect();
    matches.sort_unstable();
    matches.dedup();
    matches
}

fn nearest(from: &[Feature], to: &[Feature]) -> Vec<Vec<u32>> {
    from.par_iter().map(|feature| nearest_to(feature, to)).collect()
}

fn nearest_to(feature: &Feature, among: &[Feature]) -> Vec<u32> {
    let mut best = [(f32::INFINITY, u32::MAX); PARTNERS];
    for (index, other) in among.iter().enumerate() {
        let distance = squared_distance(feature, other);
        if distance < best[PARTNERS - 1].0 {
            let place = best.iter().position(|kept| distance < kept.0).unwrap_or(PARTNERS - 1);
            best[place..].rotate_right(1);
            best[place] = (distance, index as u32);
        }
    }
    best.iter().map(|kept| kept.1).filter(|&index| index != u32::MAX).collect()
}

/// In lanes of eight, added in a fixed order.
fn squared_distance(a: &Feature, b: &Feature) -> f32 {
    const LANES: usize = 8;
    let mut lanes = [0.0f32; LANES];
    for (a, b) in a.chunks_exact(LANES).zip(b.chunks_exact(LANES)) {
        for lane in 0..LANES {
            let difference = a[lane] - b[lane];
            lanes[lane] += difference * difference;
        }
    }
    let rest = LENGTH / LANES * LANES;
    let tail: f32 = a[rest..].iter().zip(&b[rest..]).map(|(a, b)| (a - b) * (a - b)).sum();
    lanes.iter().sum::<f32>() + tail
}
