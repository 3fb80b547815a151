//! What is scanned and measured: preparations under conditions, again and again.

use std::collections::BTreeMap;

use kerfwright_measure::document::Value;
use kerfwright_measure::{Attempt, Document, OpposingFrame};
use kerfwright_phantom::{Phantom, ScanOptions, Stretch};
use rayon::prelude::*;

use crate::common::{Files, Said, measure, pointed_request, said};
use crate::preparations::{PREPARATIONS, Preparation};
use crate::truth::{Expected, expected, pose_errors};

/// A way of scanning.
pub struct Condition {
    /// Its name in the tables.
    pub name: &'static str,
    /// What the scanner does, in a line.
    pub what: &'static str,
    /// Noise as the scan shows it, µm.
    pub noise_um: f64,
    /// Its options for a seed.
    pub options: fn() -> ScanOptions,
}

/// The contract's condition first, then harder ones.
pub const CONDITIONS: &[Condition] = &[
    Condition {
        name: "8 µm",
        what: "0.15 mm edges, 8 µm noise: the condition that the tolerances hold for",
        noise_um: 8.0,
        options: ScanOptions::default,
    },
    Condition {
        name: "20 µm",
        what: "0.15 mm edges, 20 µm noise",
        noise_um: 20.0,
        options: || ScanOptions { noise_mm: 0.02, ..ScanOptions::default() },
    },
    Condition {
        name: "smoothed",
        what: "as 8 µm, edges rounded by three rounds of smoothing",
        noise_um: 8.0,
        options: || ScanOptions { edge_smoothing: 3, ..ScanOptions::default() },
    },
    Condition {
        name: "coarse",
        what: "0.25 mm edges, 8 µm noise, a third of the vertices saved on flat places",
        noise_um: 8.0,
        options: || ScanOptions { edge_mm: 0.21, saved_share: 0.33, ..ScanOptions::default() },
    },
    Condition {
        name: "stitched",
        what: "as 8 µm, each scan bent by waves of 30 µm over 40 to 120 mm, a ragged border, blind contacts",
        noise_um: 8.0,
        options: || ScanOptions {
            warp_mm: 0.03,
            warp_length_mm: [40.0, 120.0],
            ragged_border_mm: 1.0,
            blind_gap_mm: 0.3,
            ..ScanOptions::default()
        },
    },
];

/// Which part of the trial is run.
#[derive(Debug, Clone, Copy)]
pub struct Plan {
    /// Places in [`PREPARATIONS`].
    pub preparations: &'static [usize],
    /// Places in [`CONDITIONS`].
    pub conditions: &'static [usize],
    /// Sets of scans of each preparation under each condition, each with another seed: pose, triangles, noise.
    pub rescans: u64,
}

/// All of it: 15 × 5 × 4 = 300 sets of scans.
pub const WHOLE: Plan = Plan {
    preparations: &[0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14],
    conditions: &[0, 1, 2, 3, 4],
    rescans: 4,
};

/// A small fixed part: 4 × 2 × 1 = 8 sets.
pub const FEW: Plan = Plan { preparations: &[0, 1, 5, 6], conditions: &[0, 1], rescans: 1 };

/// What one set of scans gave for one reading.
#[derive(Debug, Clone, PartialEq)]
pub struct Single {
    /// The reading's id (`id#extra` for an extra).
    pub id: String,
    /// What is true.
    pub truth: Value,
    /// What was read; `None` when it was refused or is not on the sheet.
    pub said: Option<Said>,
}

/// One set of scans.
#[derive(Debug, Clone, PartialEq)]
pub struct Trial {
    /// Place in [`PREPARATIONS`].
    pub preparation: usize,
    /// Place in [`CONDITIONS`].
    pub condition: usize,
    /// Its seed.
    pub seed: u64,
    /// Every reading with a truth, by id; or why nothing could be measured.
    pub outcome: Result<Vec<Single>, String>,
}

impl Plan {
    /// Number of sets of scans.
    pub fn n_scans(&self) -> u64 {
        (self.preparations.len() * self.conditions.len()) as u64 * self.rescans
    }

    /// Scans and measures; `progress` hears of each preparation that is done.
    ///
    /// The trials come in a fixed order whatever the number of threads.
    pub fn run(&self, progress: impl Fn(&str)) -> Vec<Trial> {
        let mut all = Vec::new();
        for &preparation in self.preparations {
            let Preparation { name, phantom } = &PREPARATIONS[preparation];
            let phantom = phantom();
            let expected = adjusted(&phantom, expected(&phantom));
            let sets: Vec<(usize, u64)> =
                self.conditions.iter().flat_map(|&c| (0..self.rescans).map(move |k| (c, k))).collect();
            let trial = |&(condition, rescan): &(usize, u64)| {
                let seed = 1000 * (preparation as u64 + 1) + 100 * condition as u64 + rescan;
                let outcome = one(&phantom, &expected, &CONDITIONS[condition], seed);
                Trial { preparation, condition, seed, outcome }
            };
            all.extend(sets.par_iter().map(trial).collect::<Vec<_>>());
            progress(name);
        }
        all
    }
}

/// Scans once and measures, with a point on the mesial side given, so that no set is lost to a question.
fn one(
    phantom: &Phantom,
    expected: &Expected,
    condition: &Condition,
    seed: u64,
) -> Result<Vec<Single>, String> {
    let scans = phantom.scan(&ScanOptions { seed, ..(condition.options)() });
    let files = Files::of(&scans);
    let attempt = Attempt {
        after: &files.after,
        before: Some(&files.before),
        opposing: Some(&files.opposing),
        opposing_frame: OpposingFrame::Before,
    };
    let document: Document =
        measure(&attempt, &pointed_request(phantom.spec().fdi, &scans)).map_err(|error| error.to_string())?;
    let said: BTreeMap<String, Said> = said(&document);
    let mut singles: Vec<Single> = expected
        .iter()
        .map(|(id, truth)| {
            let truth = if id == "scan.noise_um" { Value::Number(condition.noise_um) } else { truth.clone() };
            Single { id: id.clone(), truth, said: said.get(id).cloned() }
        })
        .collect();
    for (id, error) in pose_errors(&document, &scans, phantom) {
        let said = Some(Said { value: Value::Number(error), u95: None });
        singles.push(Single { id: id.into(), truth: Value::Number(0.0), said });
    }
    Ok(singles)
}

/// Flaws change the word for the finish where they are.
pub fn adjusted(phantom: &Phantom, mut expected: Expected) -> Expected {
    let flaws = &phantom.spec().flaws;
    for (name, middle_deg) in [("mesial", 0.0), ("facial", 90.0), ("distal", 180.0), ("lingual", 270.0)] {
        let id = format!("finish_line.kind.{name}");
        let reach = |stretch: &Stretch| {
            let off = (middle_deg - stretch.middle_deg() + 180.0).rem_euclid(360.0) - 180.0;
            0.5 * (stretch.to_deg - stretch.from_deg) - off.abs()
        };
        match flaws.shoulder.map(|s| reach(&s.stretch)) {
            Some(beyond) if beyond > 25.0 => {
                expected.insert(id, Value::Text("shoulder".into()));
            }
            // An aspect that is half the one and half the other has no one word.
            Some(beyond) if beyond > -25.0 => {
                expected.remove(&id);
            }
            _ => {
                // A lip's floor is one arc, so a chamfer by the program's table, whatever it was beside it: an aspect that has
                // one in part has no one word.
                if flaws.lip.is_some_and(|lip| reach(&lip.stretch).abs() <= 25.0) {
                    expected.remove(&id);
                }
            }
        }
    }
    expected
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_whole_trial_is_large_enough_and_draws_each_seed_once() {
        assert!(WHOLE.n_scans() >= 300);
        assert_eq!(WHOLE.preparations.len(), PREPARATIONS.len());
        assert_eq!(WHOLE.conditions.len(), CONDITIONS.len());
        // Seeds of two conditions would meet.
        const { assert!(WHOLE.rescans < 100) };
    }

    #[test]
    fn a_shoulder_in_part_has_its_word_where_it_is() {
        let phantom = (PREPARATIONS[6].phantom)();
        let all = ["mesial", "facial", "distal", "lingual"]
            .map(|name| (format!("finish_line.kind.{name}"), Value::Text("chamfer".into())));
        let adjusted = adjusted(&phantom, all.into());
        let word = |name: &str| adjusted.get(&format!("finish_line.kind.{name}"));
        assert_eq!(word("facial"), Some(&Value::Text("shoulder".into())));
        assert_eq!(word("lingual"), Some(&Value::Text("chamfer".into())));
        assert_eq!((word("mesial"), word("distal")), (None, None));
    }
}
