//! One preparation scanned again and again: do the stated uncertainties hold?

use std::collections::BTreeMap;
use std::fmt::Write;

use kerfwright_measure::document::Value;
use kerfwright_measure::{Attempt, OpposingFrame};
use kerfwright_phantom::{Phantom, ScanOptions, Scans};

use super::tolerance::Tolerance;
use super::truth;
use super::{Files, measure, pointed_request, said};

/// What repeated scans said under one id.
#[derive(Debug, Clone, Default)]
pub struct Repeated {
    /// The exact value.
    pub truth: f64,
    /// What each scan said.
    pub values: Vec<f64>,
    /// The uncertainty it stated, where it did.
    pub u95: Vec<f64>,
    /// The scan's seed.
    pub seeds: Vec<u64>,
}

/// Numbers by id, and errors of scans that could not be measured.
#[derive(Default)]
pub struct Rescans {
    /// Measurements that succeeded.
    pub n_measured: usize,
    /// By id (`id#extra` for an extra).
    pub readings: BTreeMap<String, Repeated>,
    /// Seed and error of each scan that could not be measured.
    pub failed: Vec<String>,
}

impl Rescans {
    /// Scans `phantom` `n_scans` times, each time all three scans anew in other poses, with other triangles (the
    /// lattice is turned at random) and other noise, and measures each set. With `crosswise` each after scan is
    /// measured against the last set's before scan as well, which costs no scanning.
    pub fn of(phantom: &Phantom, n_scans: u64, first_seed: u64, crosswise: bool) -> Self {
        let expected = truth::expected(phantom);
        let mut all = Self::default();
        let mut last: Option<(Files, Scans)> = None;
        for seed in first_seed..first_seed + n_scans {
            let scans = phantom.scan(&ScanOptions { seed, ..ScanOptions::default() });
            let own = (Files::of(&scans), scans);
            let files = &own.0;
            for (before, scans) in last.iter().filter(|_| crosswise).chain([&own]) {
                let attempt = Attempt {
                    after: &files.after,
                    before: Some(&before.before),
                    opposing: Some(&before.opposing),
                    opposing_frame: OpposingFrame::Before,
                };
                match measure(&attempt, &pointed_request(phantom.spec().fdi, scans)) {
                    Ok(document) => all.add(seed, &said(&document), &expected),
                    Err(error) => all.failed.push(format!("seed {seed}: {error}")),
                }
            }
            last = Some(own);
        }
        all
    }

    fn add(&mut self, seed: u64, said: &BTreeMap<String, super::Said>, expected: &truth::Expected) {
        self.n_measured += 1;
        for (id, expected) in expected {
            let (Value::Number(truth), Some(said)) = (expected, said.get(id)) else { continue };
            let Value::Number(value) = said.value else { continue };
            let repeated = self.readings.entry(id.clone()).or_default();
            repeated.truth = *truth;
            repeated.values.push(value);
            repeated.seeds.push(seed);
            repeated.u95.extend(said.u95);
        }
    }

    /// Readings that state an uncertainty each time.
    pub fn uncertain(&self) -> impl Iterator<Item = (&String, &Repeated)> {
        self.readings.iter().filter(|(_, repeated)| repeated.u95.len() == repeated.values.len())
    }

    /// Share of all single readings that lie within their own u95 of the truth.
    pub fn coverage(&self) -> f64 {
        let (mut held, mut n) = (0.0, 0.0);
        for (_, repeated) in self.uncertain() {
            held += repeated.coverage() * repeated.values.len() as f64;
            n += repeated.values.len() as f64;
        }
        held / n
    }

    /// One line a reading.
    pub fn table(&self) -> String {
        let mut out = format!(
            "{:42} {:>3} {:>9} {:>9} {:>8} {:>8} {:>6} {:>9} {:>7} {:>6} {:>5}\n",
            "reading", "n", "truth", "bias", "SD", "u95", "cover", "RMS/(U/2)", "tol", "in tol", "worst"
        );
        for (id, repeated) in &self.readings {
            let tolerance = Tolerance::find(id).and_then(|tolerance| tolerance.of(id, repeated.truth));
            let _ = writeln!(
                out,
                "{id:42} {:3} {:9.3} {:+9.4} {:8.4} {:8.4} {:6.2} {:9.2} {:>7} {:>6} {:>5}",
                repeated.values.len(),
                repeated.truth,
                repeated.bias(),
                repeated.sd(),
                mean(&repeated.u95),
                repeated.coverage(),
                repeated.rms() / (0.5 * mean(&repeated.u95)),
                tolerance.map_or(String::new(), |tolerance| format!("{tolerance:.3}")),
                tolerance
                    .map_or(String::new(), |tolerance| format!("{:.2}", repeated.share_within(tolerance))),
                repeated.worst_seed(),
            );
        }
        let _ = writeln!(out, "all readings with u95 together: {:.3} within u95", self.coverage());
        self.failed.iter().for_each(|failed| out += &format!("FAILED {failed}\n"));
        out
    }
}

impl Repeated {
    fn errors(&self) -> Vec<f64> {
        self.values.iter().map(|value| value - self.truth).collect()
    }

    /// The scan with the largest error.
    fn worst_seed(&self) -> u64 {
        let pairs = self.errors().into_iter().zip(&self.seeds);
        pairs.max_by(|a, b| a.0.abs().total_cmp(&b.0.abs())).map_or(0, |(_, &seed)| seed)
    }

    /// Mean error.
    pub fn bias(&self) -> f64 {
        mean(&self.errors())
    }

    /// Standard deviation of the errors.
    pub fn sd(&self) -> f64 {
        let bias = self.bias();
        let squares: f64 = self.errors().iter().map(|error| (error - bias).powi(2)).sum();
        (squares / (self.values.len().max(2) - 1) as f64).sqrt()
    }

    /// Root mean square of the errors.
    pub fn rms(&self) -> f64 {
        mean(&self.errors().iter().map(|error| error * error).collect::<Vec<_>>()).sqrt()
    }

    /// Share of the values within their own u95 of the truth.
    pub fn coverage(&self) -> f64 {
        let pairs = self.errors().into_iter().zip(&self.u95);
        pairs.filter(|(error, u95)| error.abs() <= **u95).count() as f64 / self.values.len() as f64
    }

    /// Share of the values within a tolerance of the truth.
    pub fn share_within(&self, tolerance: f64) -> f64 {
        self.errors().iter().filter(|error| error.abs() <= tolerance).count() as f64
            / self.values.len() as f64
    }
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}
