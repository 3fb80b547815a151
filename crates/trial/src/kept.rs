//! The figures that a small fixed part of the trial may not fall behind.

use std::collections::BTreeMap;
use std::fmt::Write;

use serde::Deserialize;

use crate::batch::{FEW, Trial};
use crate::statistics::{Summaries, summaries, tolerance_of};
use crate::tolerance::Tolerance;

/// The table as it was last accepted; `cargo xtask accuracy --keep` writes it anew.
pub const KEPT: &str = include_str!("../data/kept.toml");

/// What one kind of reading did when it was accepted.
#[derive(Debug, Clone, Copy, PartialEq, Deserialize)]
pub struct Row {
    /// 95 % error, in the unit of the tolerance; absent for words.
    pub error_95: Option<f64>,
    /// Wrong words.
    pub wrong: usize,
    /// Readings refused.
    pub refused: usize,
}

/// Rows by kind of reading.
pub type Kept = BTreeMap<String, Row>;

/// A kept table from its text.
///
/// # Errors
/// What TOML found wrong.
pub fn parse(text: &str) -> Result<Kept, toml::de::Error> {
    toml::from_str(text)
}

/// The text of a table that accepts these trials.
pub fn text(trials: &[Trial]) -> String {
    let mut out = format!(
        "# What each reading did over the {} sets of `cargo xtask accuracy --few` when it was last accepted:\n\
         # 95 % error in the unit of the tolerance (percent of the truth where that is in percent), wrong words, refusals.\n\
         # Written by `cargo xtask accuracy --keep`: do so when a reading became better, or when a commit says why worse.\n",
        FEW.n_scans()
    );
    for (kind, row) in rows(&summaries(trials)) {
        let error = row.error_95.map_or(String::new(), |error| format!("error_95 = {error:.4}, "));
        let _ = writeln!(out, "{kind:?} = {{ {error}wrong = {}, refused = {} }}", row.wrong, row.refused);
    }
    out
}

fn rows(summaries: &Summaries) -> Kept {
    let row = |(kind, summary): (&String, &crate::statistics::Summary)| {
        let error_95 = (!summary.errors.is_empty()).then(|| summary.error_95());
        let wrong = summary.n_words - summary.n_right;
        (kind.clone(), Row { error_95, wrong, refused: summary.n_missing })
    };
    // What this version does not read at all is nothing to hold.
    summaries.iter().filter(|(_, summary)| summary.n > 0).map(row).collect()
}

/// How much worse a 95 % error may be before it counts as worse: a quarter of it, or a tenth of its tolerance where
/// that is more. Runs on another machine differ by rounding alone; what is left is room for changes elsewhere in the
/// program that move a reading within its own scatter.
const MARGIN: f64 = 0.25;
const MARGIN_OF_TOLERANCE: f64 = 0.1;

/// Every reading that is worse than kept, or gone, each in a line; empty when none is.
pub fn worse(kept: &Kept, trials: &[Trial]) -> Vec<String> {
    let mut lines: Vec<String> = trials
        .iter()
        .filter_map(|trial| Some(format!("seed {}: {}", trial.seed, trial.outcome.as_ref().err()?)))
        .collect();
    let now = rows(&summaries(trials));
    for (kind, was) in kept {
        let Some(is) = now.get(kind) else {
            lines.push(format!("{kind}: no longer read"));
            continue;
        };
        if is.refused > was.refused {
            lines.push(format!("{kind}: {} refused instead of {}", is.refused, was.refused));
        }
        if is.wrong > was.wrong {
            lines.push(format!("{kind}: {} words wrong instead of {}", is.wrong, was.wrong));
        }
        let limit = match tolerance_of(kind) {
            Some(Tolerance::Within(limit) | Tolerance::Percent(limit)) => limit,
            _ => 0.0,
        };
        if let (Some(is), Some(was)) = (is.error_95, was.error_95) {
            let most = was + (MARGIN * was).max(MARGIN_OF_TOLERANCE * limit);
            // A comparison with NaN is false: not within.
            if is.partial_cmp(&most).is_none_or(|order| order.is_gt()) {
                lines.push(format!("{kind}: 95 % error {is:.4} instead of {was:.4} (at most {most:.4})"));
            }
        }
    }
    lines
}

/// Readings that have no row yet: they are held once the table is written anew.
pub fn not_held(kept: &Kept, trials: &[Trial]) -> Vec<String> {
    rows(&summaries(trials)).into_keys().filter(|kind| !kept.contains_key(kind)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::batch::Single;
    use crate::common::Said;
    use kerfwright_measure::document::Value;

    fn trial(id: &str, value: Option<f64>) -> Trial {
        let said = value.map(|value| Said { value: Value::Number(value), u95: None });
        let single = Single { id: id.into(), truth: Value::Number(5.0), said };
        Trial { preparation: 0, condition: 0, seed: 1, outcome: Ok(vec![single]) }
    }

    #[test]
    fn worse_readings_are_named_and_better_ones_are_not() {
        let id = "taper.mesial_deg";
        let kept = parse(&text(&[trial(id, Some(5.2))])).unwrap();
        assert_eq!(kept["taper.*_deg"].error_95, Some(0.2));
        // A tenth of the tolerance of 0.6° is more than a quarter of 0.2°.
        for value in [5.0, 5.2, 5.25, 4.75] {
            assert_eq!(worse(&kept, &[trial(id, Some(value))]), Vec::<String>::new());
        }
        assert!(worse(&kept, &[trial(id, Some(5.27))])[0].contains("0.2700 instead of 0.2000"));
        assert!(worse(&kept, &[trial(id, Some(f64::NAN))])[0].contains("NaN"));
        let partly = [trial(id, Some(5.2)), trial(id, None)];
        assert!(worse(&kept, &partly)[0].contains("1 refused instead of 0"));
        assert!(worse(&kept, &[trial(id, None)])[0].contains("no longer read"));
        assert!(worse(&kept, &[])[0].contains("no longer read"));
        assert_eq!(not_held(&kept, &[trial("wall.height.mesial_mm", Some(5.0))]), ["wall.height.*_mm"]);
    }
}
