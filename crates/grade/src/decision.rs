//! A value against limits, with its uncertainty: three outcomes by ISO 14253-1.

use kerfwright_exercise::Range;
use serde::{Deserialize, Serialize};

/// One-sided guard in standard uncertainties: 95 % (`docs/sources.md#iso-14253-1`).
const GUARD: f64 = 1.65;

/// What arithmetic on decimal fractions leaves: far below any reading's last digit.
const ROUNDING: f64 = 1e-9;

/// What can be said of a value and a limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum Decision {
    /// Proven to meet it.
    Meets,
    /// Proven not to meet it.
    DoesNotMeet,
    /// The limit lies inside the uncertainty.
    TooClose,
}

impl Decision {
    /// In words.
    pub fn word(self) -> &'static str {
        match self {
            Self::Meets => "meets",
            Self::DoesNotMeet => "does not meet",
            Self::TooClose => "too close to call",
        }
    }
}

/// The guard band of a reading with expanded uncertainty `u95` (k = 2), in the reading's unit.
pub fn guard(u95: f64) -> f64 {
    GUARD * u95 / 2.0
}

/// Holds a value with its guard band against limits.
///
/// # Source
/// `docs/sources.md#iso-14253-1`: a limit of at least 1.50 with a standard uncertainty of 0.03 is met from 1.5495 and missed
/// below 1.4505.
pub fn decide(value: f64, guard: f64, limits: Range) -> Decision {
    let room = |end: f64, inward: f64| (value - end) * inward;
    let rooms = [limits.from.map(|from| room(from, 1.0)), limits.to.map(|to| room(to, -1.0))];
    let least = rooms.into_iter().flatten().fold(f64::INFINITY, f64::min);
    if least >= guard - ROUNDING {
        Decision::Meets
    } else if least < -guard - ROUNDING {
        Decision::DoesNotMeet
    } else {
        Decision::TooClose
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const AT_LEAST: Range = Range { from: Some(1.5), to: None };

    /// The worked example: a limit of at least 1.50, u = 0.03.
    #[test]
    fn the_worked_example_of_iso_14253() {
        let guard = guard(2.0 * 0.03);
        for (value, expected) in [
            (1.5495, Decision::Meets),
            (1.5494, Decision::TooClose),
            (1.50, Decision::TooClose),
            (1.4505, Decision::TooClose),
            (1.4504, Decision::DoesNotMeet),
        ] {
            assert_eq!(decide(value, guard, AT_LEAST), expected, "{value}");
        }
    }

    /// g = 1.65 u for u of 10, 20, 30, 50 µm: 16.5, 33.0, 49.5, 82.5 µm.
    #[test]
    fn guards_are_those_of_the_table() {
        for (u, expected) in [(10.0, 16.5), (20.0, 33.0), (30.0, 49.5), (50.0, 82.5)] {
            assert!((guard(2.0 * u) - expected).abs() < 1e-12);
        }
    }

    #[test]
    fn both_ends_count() {
        let range = Range { from: Some(1.0), to: Some(2.0) };
        let at = |value| decide(value, 0.05, range);
        assert_eq!(
            [at(0.9), at(0.96), at(1.5), at(1.96), at(2.06)],
            [
                Decision::DoesNotMeet,
                Decision::TooClose,
                Decision::Meets,
                Decision::TooClose,
                Decision::DoesNotMeet
            ]
        );
    }

    #[test]
    fn limits_closer_together_than_the_guards_are_never_proven_met() {
        let narrow = Range { from: Some(1.0), to: Some(1.05) };
        assert_eq!(decide(1.025, 0.05, narrow), Decision::TooClose);
    }

    #[test]
    fn without_uncertainty_the_value_decides_and_ends_belong_to_the_limits() {
        assert_eq!(decide(1.5, 0.0, AT_LEAST), Decision::Meets);
        assert_eq!(decide(1.4999, 0.0, AT_LEAST), Decision::DoesNotMeet);
    }
}
