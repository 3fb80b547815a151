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
#[derive(Debug)]
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
    let table = Distances::between(&source.features, &target.features);
    let (forth, back) = rayon::join(|| table.nearest_of_rows(), || table.nearest_of_columns());
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

/// Squared distances between all descriptions of two scans, one row a source.
struct Distances {
    n_sources: usize,
    n_targets: usize,
    squared: Vec<f32>,
}

impl Distances {
    fn between(sources: &[Feature], targets: &[Feature]) -> Self {
        let blocks: Vec<Block> = targets.chunks(BLOCK).map(block).collect();
        let mut squared = vec![0.0; sources.len() * targets.len()];
        let rows = squared.par_chunks_mut(targets.len().max(1)).zip(sources).with_min_len(16);
        rows.for_each(|(row, source)| {
            for (part, block) in row.chunks_mut(BLOCK).zip(&blocks) {
                part.copy_from_slice(&squared_distances(source, block)[..part.len()]);
            }
        });
        Self { n_sources: sources.len(), n_targets: targets.len(), squared }
    }

    /// The nearest targets of each source.
    fn nearest_of_rows(&self) -> Vec<Vec<u32>> {
        let rows = self.squared.par_chunks(self.n_targets.max(1)).with_min_len(64);
        rows.map(|row| {
            let mut nearest = Nearest::default();
            row.iter().enumerate().for_each(|(target, &distance)| nearest.offer(distance, target));
            nearest.indices()
        })
        .collect()
    }

    /// The nearest sources of each target, a strip of columns after the other: a row is read in one go.
    fn nearest_of_columns(&self) -> Vec<Vec<u32>> {
        const STRIP: usize = 64;
        let strips = (0..self.n_targets).into_par_iter().step_by(STRIP);
        let strip = |first: usize| {
            let end = (first + STRIP).min(self.n_targets);
            let mut nearest = vec![Nearest::default(); end - first];
            for source in 0..self.n_sources {
                let row = &self.squared[source * self.n_targets..][first..end];
                for (nearest, &distance) in nearest.iter_mut().zip(row) {
                    nearest.offer(distance, source);
                }
            }
            nearest.iter().map(Nearest::indices).collect::<Vec<_>>()
        };
        strips.map(strip).collect::<Vec<_>>().into_iter().flatten().collect()
    }
}

/// The nearest so far, the nearest first; of equal ones the one that came first.
#[derive(Clone)]
struct Nearest([(f32, u32); PARTNERS]);

impl Default for Nearest {
    fn default() -> Self {
        Self([(f32::INFINITY, u32::MAX); PARTNERS])
    }
}

impl Nearest {
    #[inline]
    fn offer(&mut self, distance: f32, index: usize) {
        let best = &mut self.0;
        if distance < best[PARTNERS - 1].0 {
            let place = best.iter().position(|kept| distance < kept.0).unwrap_or(PARTNERS - 1);
            best[place..].rotate_right(1);
            best[place] = (distance, index as u32);
        }
    }

    fn indices(&self) -> Vec<u32> {
        self.0.iter().map(|kept| kept.1).filter(|&index| index != u32::MAX).collect()
    }
}

/// Descriptions that are compared at once.
const BLOCK: usize = 8;

/// Up to eight descriptions, value by value.
type Block = [[f32; BLOCK]; LENGTH];

fn block(features: &[Feature]) -> Block {
    let mut block = [[0.0; BLOCK]; LENGTH];
    for (lane, feature) in features.iter().enumerate() {
        for (values, &value) in block.iter_mut().zip(feature) {
            values[lane] = value;
        }
    }
    block
}

/// Each sum is taken in eight parts (every eighth value), then what is left over: a fixed order with small errors.
fn squared_distances(feature: &Feature, block: &Block) -> [f32; BLOCK] {
    const PARTS: usize = 8;
    const REST: usize = LENGTH / PARTS * PARTS;
    let add = |sum: &mut [f32; BLOCK], k: usize| {
        for lane in 0..BLOCK {
            let difference = feature[k] - block[k][lane];
            sum[lane] += difference * difference;
        }
    };
    let mut total = [0.0; BLOCK];
    for part in 0..PARTS {
        let mut sum = [0.0; BLOCK];
        (part..REST).step_by(PARTS).for_each(|k| add(&mut sum, k));
        (0..BLOCK).for_each(|lane| total[lane] += sum[lane]);
    }
    let mut rest = [0.0; BLOCK];
    (REST..LENGTH).for_each(|k| add(&mut rest, k));
    (0..BLOCK).for_each(|lane| total[lane] += rest[lane]);
    total
}
