//! The sheet on which the measures write their readings and refusals.

use std::collections::BTreeMap;

use crate::document::{Reading, Value, rounded};

/// Readings and refusals so far.
#[derive(Debug, Default)]
pub struct Sheet {
    /// By id.
    pub readings: BTreeMap<String, Reading>,
    /// By id, with the reason.
    pub refused: BTreeMap<String, String>,
}

impl Sheet {
    /// Writes a reading. A value that is not a finite number becomes a refusal, never a reading.
    pub fn write(&mut self, id: impl Into<String>, reading: Reading) {
        let id = id.into();
        match reading.value {
            Value::Number(value) if !value.is_finite() => {
                self.refuse(id, "the scan shows too little here");
            }
            _ => {
                self.refused.remove(&id);
                self.readings.insert(id, reading);
            }
        }
    }

    /// Writes why a reading could not be taken.
    pub fn refuse(&mut self, id: impl Into<String>, reason: impl Into<String>) {
        self.refused.insert(id.into(), reason.into());
    }
}

/// A number with its unit and expanded uncertainty (k = 2).
pub fn number(value: f64, unit: &str, u95: f64) -> Reading {
    Reading {
        value: Value::Number(rounded(value)),
        unit: unit.into(),
        u95: u95.is_finite().then(|| rounded(u95)),
        place: None,
        place_of_greatest: None,
        note: None,
        extras: BTreeMap::new(),
    }
}

/// A word.
pub fn text(value: impl Into<String>) -> Reading {
    Reading {
        value: Value::Text(value.into()),
        unit: String::new(),
        u95: None,
        place: None,
        place_of_greatest: None,
        note: None,
        extras: BTreeMap::new(),
    }
}

/// Twice the root of the sum of squares of standard uncertainties.
pub fn expanded(sigmas: &[f64]) -> f64 {
    2.0 * sigmas.iter().map(|sigma| sigma * sigma).sum::<f64>().sqrt()
}
