//! What the errors of many scans add up to.

use std::collections::BTreeMap;

use kerfwright_measure::document::Value;

use crate::batch::{Single, Trial};
use crate::tolerance::Tolerance;

/// All readings of one kind under one condition.
///
/// Errors are in the unit of the tolerance: that of the reading, or percent of the truth where the tolerance is in percent.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Summary {
    /// Values read.
    pub n: usize,
    /// Values that should have been read and were not.
    pub n_missing: usize,
    /// Errors of numbers, in the order of the trials.
    pub errors: Vec<f64>,
    /// The same by preparation and id, for what rescans alone change.
    cells: BTreeMap<(usize, String), Vec<f64>>,
    /// Values that state their u95, and those of them that lie within it of the truth.
    pub n_uncertain: usize,
    /// See [`Self::n_uncertain`].
    pub n_covered: usize,
    /// Words read, and those that are right.
    pub n_words: usize,
    /// See [`Self::n_words`].
    pub n_right: usize,
}

/// Summaries by kind of reading.
pub type Summaries = BTreeMap<String, Summary>;

/// Summaries of the trials that are chosen.
pub fn summaries<'a>(trials: impl IntoIterator<Item = &'a Trial>) -> Summaries {
    let mut all = Summaries::new();
    for trial in trials {
        for single in trial.outcome.iter().flatten() {
            all.entry(kind(&single.id)).or_default().add(trial.preparation, single);
        }
    }
    all
}

/// Aspects, planes and sides that share one tolerance and one row.
const PLACES: &[&str] = &[
    "mesiofacial_distolingual",
    "distofacial_mesiolingual",
    "mesiodistal",
    "faciolingual",
    "mesiofacial",
    "distofacial",
    "mesiolingual",
    "distolingual",
    "mesial",
    "facial",
    "distal",
    "lingual",
];

/// An id with `*` for its place: `taper.*_deg`, `reduction.axial.*_mm`, `reduction.points.*_mm`.
///
/// Places with tolerances of their own stay apart: the height over the gingiva.
pub fn kind(id: &str) -> String {
    if id.starts_with("finish_line.above_gingiva.") {
        return id.to_owned();
    }
    for start in ["reduction.axial.", "reduction.points."] {
        if id.starts_with(start) {
            return format!("{start}*_mm");
        }
    }
    let part = |part: &str| {
        let place = PLACES.iter().find_map(|place| part.strip_prefix(place));
        match place {
            Some(rest) if rest.is_empty() || rest.starts_with(['_', '#']) => format!("*{rest}"),
            _ => part.to_owned(),
        }
    };
    id.split('.').map(part).collect::<Vec<_>>().join(".")
}

/// The tolerance of a kind, if the contract gives one.
pub fn tolerance_of(kind: &str) -> Option<Tolerance> {
    let of = |place: &str| Tolerance::find(&kind.replacen('*', place, 1));
    // What a star may stand for; only the first that makes an id of it has a tolerance.
    ["mesial", "mesiodistal", "mesial.gingival", "mf"].into_iter().find_map(of)
}

impl Summary {
    fn add(&mut self, preparation: usize, single: &Single) {
        let Some(said) = &single.said else {
            self.n_missing += 1;
            return;
        };
        self.n += 1;
        match (&single.truth, &said.value) {
            (Value::Number(truth), Value::Number(value)) => {
                let error = value - truth;
                if let Some(u95) = said.u95 {
                    self.n_uncertain += 1;
                    self.n_covered += usize::from(error.abs() <= u95);
                }
                let error = error * scale(&single.id, *truth);
                self.errors.push(error);
                self.cells.entry((preparation, single.id.clone())).or_default().push(error);
            }
            (Value::Text(truth), Value::Text(word)) => {
                self.n_words += 1;
                self.n_right += usize::from(truth == word);
            }
            // A word for a number, or the reverse: never right.
            _ => self.n_words += 1,
        }
    }

    /// Mean error.
    pub fn bias(&self) -> f64 {
        self.errors.iter().sum::<f64>() / self.errors.len() as f64
    }

    /// Standard deviation over rescans of the same place of the same preparation, pooled; `None` without rescans.
    pub fn repeatability(&self) -> Option<f64> {
        let (mut squares, mut freedom) = (0.0, 0);
        for errors in self.cells.values() {
            let mean = errors.iter().sum::<f64>() / errors.len() as f64;
            squares += errors.iter().map(|error| (error - mean).powi(2)).sum::<f64>();
            freedom += errors.len() - 1;
        }
        (freedom > 0).then(|| (squares / freedom as f64).sqrt())
    }

    /// The size that 95 of 100 errors do not exceed: the least error with at least that share at or below it.
    pub fn error_95(&self) -> f64 {
        let mut sizes: Vec<f64> = self.errors.iter().map(|error| error.abs()).collect();
        sizes.sort_by(f64::total_cmp);
        let rank = (0.95 * sizes.len() as f64).ceil() as usize;
        sizes.get(rank.max(1) - 1).copied().unwrap_or(f64::NAN)
    }

    /// Whether it keeps a tolerance, refusals aside.
    pub fn keeps(&self, tolerance: Tolerance) -> bool {
        match tolerance {
            Tolerance::Within(limit) | Tolerance::Percent(limit) => self.error_95() <= limit,
            Tolerance::Same => self.n_right == self.n_words,
        }
    }
}

/// From a reading's unit to that of its tolerance.
fn scale(id: &str, truth: f64) -> f64 {
    match Tolerance::find(id) {
        Some(tolerance @ Tolerance::Percent(percent)) => {
            percent / tolerance.of(id, truth).unwrap_or(f64::NAN)
        }
        _ => 1.0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::common::Said;

    fn trial(seed: u64, truth: f64, values: &[(f64, f64)]) -> Trial {
        let single = |&(value, u95): &(f64, f64)| Single {
            id: "taper.mesial_deg".into(),
            truth: Value::Number(truth),
            said: Some(Said { value: Value::Number(value), u95: Some(u95) }),
        };
        Trial { preparation: 0, condition: 0, seed, outcome: Ok(values.iter().map(single).collect()) }
    }

    #[test]
    fn kinds_join_places_and_keep_zones_apart() {
        for (id, kind_of_it) in [
            ("taper.mesiofacial_deg", "taper.*_deg"),
            ("taper.mesial_deg#along_axis", "taper.*_deg#along_axis"),
            ("finish_line.kind.facial", "finish_line.kind.*"),
            ("toc.distofacial_mesiolingual_deg", "toc.*_deg"),
            ("reduction.axial.mesial.occlusal_mm", "reduction.axial.*_mm"),
            ("reduction.occlusal.functional_mm#p05", "reduction.occlusal.functional_mm#p05"),
            ("neighbour.mesial.depth_mm", "neighbour.*.depth_mm"),
            ("finish_line.above_gingiva.facial_mm", "finish_line.above_gingiva.facial_mm"),
            ("reduction.points.mf_mm", "reduction.points.*_mm"),
        ] {
            assert_eq!(kind(id), kind_of_it);
        }
        assert_eq!(tolerance_of("taper.*_deg"), Some(Tolerance::Within(0.6)));
        assert_eq!(tolerance_of("reduction.axial.*_mm"), Some(Tolerance::Within(0.05)));
        assert_eq!(tolerance_of("finish_line.kind.*"), Some(Tolerance::Same));
        assert_eq!(tolerance_of("finish_line.above_gingiva.facial_mm"), Some(Tolerance::Within(0.12)));
        assert_eq!(tolerance_of("taper.*_deg#along_axis"), None);
    }

    #[test]
    fn bias_repeatability_quantile_and_coverage_by_hand() {
        let trials =
            [trial(1, 5.0, &[(5.2, 0.3)]), trial(2, 5.0, &[(5.4, 0.3)]), trial(3, 5.0, &[(5.0, 0.3)])];
        let all = summaries(&trials);
        let summary = &all["taper.*_deg"];
        assert!((summary.bias() - 0.2).abs() < 1e-12 && (summary.error_95() - 0.4).abs() < 1e-12);
        assert!((summary.repeatability().unwrap() - 0.2).abs() < 1e-12);
        assert_eq!((summary.n_covered, summary.n_uncertain, summary.n), (2, 3, 3));
        assert!(summary.keeps(Tolerance::Within(0.4 + 1e-9)) && !summary.keeps(Tolerance::Within(0.39)));
        // Twenty errors 1 … 20: 95 of 100 are at most 19.
        let summary = Summary { errors: (1..=20).map(f64::from).collect(), ..Summary::default() };
        assert_eq!(summary.error_95(), 19.0);
    }

    #[test]
    fn percent_tolerances_are_counted_in_percent() {
        let single = Single {
            id: "reduction.volume_mm3".into(),
            truth: Value::Number(200.0),
            said: Some(Said { value: Value::Number(203.0), u95: None }),
        };
        let trial = Trial { preparation: 0, condition: 0, seed: 1, outcome: Ok(vec![single]) };
        let all = summaries([&trial]);
        assert!((all["reduction.volume_mm3"].bias() - 1.5).abs() < 1e-9);
    }
}
