//! A reading of a whole class against its band.

use serde::{Deserialize, Serialize};

use crate::error::{at_least, finite};
use crate::stats::{quantile, sorted, wilson};
use crate::{Estimate, Refusal, Settings};

/// What arithmetic on decimal fractions leaves.
const ROUNDING: f64 = 1e-9;

/// Where a reading should lie; an open end has no limit.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS))]
pub struct Band {
    /// Lowest value that is right.
    pub from: Option<f64>,
    /// Highest value that is right.
    pub to: Option<f64>,
}

/// A reading and how far from a limit it has to be before anything is proven.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Reading {
    /// The value.
    pub value: f64,
    /// The guard band, in its unit; 0 lets the value alone decide.
    pub guard: f64,
}

/// Where a reading lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum Standing {
    /// Proven below the band.
    Under,
    /// Proven inside.
    Within,
    /// Proven above.
    Over,
    /// A limit lies inside the uncertainty.
    TooClose,
}

impl Standing {
    /// As it is told.
    pub fn words(self) -> &'static str {
        match self {
            Self::Under => "under",
            Self::Within => "within",
            Self::Over => "over",
            Self::TooClose => "too close to call",
        }
    }
}

/// The readings of a class.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS))]
pub struct Distribution {
    /// Least, lower quartile, median, upper quartile, greatest; quartiles by interpolation at 1 + (n − 1) p.
    pub five: [f64; 5],
    /// Shares, with Wilson's interval, of those under the band.
    pub under: Estimate,
    /// Within.
    pub within: Estimate,
    /// Over.
    pub over: Estimate,
    /// Too close to call.
    pub too_close: Estimate,
    /// Readings.
    pub n: u32,
}

impl Band {
    /// Where a reading lies.
    ///
    /// # Source
    /// `docs/sources.md#iso-14253-1`.
    pub fn standing(&self, reading: Reading) -> Standing {
        let above_from = self.from.map_or(f64::INFINITY, |from| reading.value - from);
        let below_to = self.to.map_or(f64::INFINITY, |to| to - reading.value);
        if above_from.min(below_to) >= reading.guard - ROUNDING {
            Standing::Within
        } else if above_from < -reading.guard - ROUNDING {
            Standing::Under
        } else if below_to < -reading.guard - ROUNDING {
            Standing::Over
        } else {
            Standing::TooClose
        }
    }

    /// How far a value lies outside, signed: negative below the band, positive above, 0 inside.
    pub fn miss(&self, value: f64) -> f64 {
        match (self.from, self.to) {
            (Some(from), _) if value < from => value - from,
            (_, Some(to)) if value > to => value - to,
            _ => 0.0,
        }
    }

    /// Refuses limits that cross or are no numbers.
    pub(crate) fn check(&self) -> Result<(), Refusal> {
        let ends: Vec<f64> = [self.from, self.to].into_iter().flatten().collect();
        finite("the band's limits", &ends)?;
        match (self.from, self.to) {
            (Some(from), Some(to)) if from > to => {
                Err(Refusal::OutOfRange { value: to, expected: "an upper limit at or above the lower one" })
            }
            _ => Ok(()),
        }
    }
}

pub(crate) fn check_readings(readings: &[Reading]) -> Result<(), Refusal> {
    finite("the readings", &readings.iter().map(|reading| reading.value).collect::<Vec<f64>>())?;
    finite("the guard bands", &readings.iter().map(|reading| reading.guard).collect::<Vec<f64>>())?;
    match readings.iter().find(|reading| reading.guard < 0.0) {
        Some(reading) => {
            Err(Refusal::OutOfRange { value: reading.guard, expected: "a guard band of zero or more" })
        }
        None => Ok(()),
    }
}

/// The readings of a class, one a learner or attempt, against their band.
///
/// # Errors
/// [`Refusal::TooFew`] of nothing, [`Refusal::NotFinite`], [`Refusal::OutOfRange`] for a negative guard or crossed limits.
///
/// # Source
/// `docs/sources.md#hyndman-and-fan-1996`, `docs/sources.md#newcombe-1998`.
pub fn distribution(readings: &[Reading], band: &Band, settings: &Settings) -> Result<Distribution, Refusal> {
    band.check()?;
    check_readings(readings)?;
    at_least("readings", readings.len(), 1)?;
    let ascending = sorted(&readings.iter().map(|reading| reading.value).collect::<Vec<f64>>());
    let share = |standing: Standing| {
        let hits = readings.iter().filter(|&&reading| band.standing(reading) == standing).count();
        wilson(hits as u32, readings.len() as u32, settings)
    };
    Ok(Distribution {
        five: [0.0, 0.25, 0.5, 0.75, 1.0].map(|p| quantile(&ascending, p)),
        under: share(Standing::Under)?,
        within: share(Standing::Within)?,
        over: share(Standing::Over)?,
        too_close: share(Standing::TooClose)?,
        n: readings.len() as u32,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    const BAND: Band = Band { from: Some(1.5), to: Some(2.0) };

    #[test]
    fn standings_follow_the_guard() {
        let at = |value| BAND.standing(Reading { value, guard: 0.05 });
        assert_eq!(
            [1.44, 1.45, 1.5, 1.55, 1.95, 2.0, 2.06].map(at),
            [
                Standing::Under,
                Standing::TooClose,
                Standing::TooClose,
                Standing::Within,
                Standing::Within,
                Standing::TooClose,
                Standing::Over
            ]
        );
        let open = Band { from: None, to: Some(2.0) };
        assert_eq!(open.standing(Reading { value: -9.0, guard: 0.05 }), Standing::Within);
    }

    #[test]
    fn a_class_is_summed_up() {
        let readings = [1.2, 1.3, 1.6, 1.7, 2.4].map(|value| Reading { value, guard: 0.0 });
        let result = distribution(&readings, &BAND, &Settings::default()).unwrap();
        assert_eq!(result.five, [1.2, 1.3, 1.6, 1.7, 2.4]);
        assert_eq!(
            [result.under.value, result.within.value, result.over.value, result.too_close.value],
            [0.4, 0.4, 0.2, 0.0]
        );
        assert!(result.too_close.interval.unwrap().high > 0.3, "five readings prove little");
    }

    #[test]
    fn nonsense_is_refused() {
        let crossed = Band { from: Some(2.0), to: Some(1.0) };
        let readings = [Reading { value: 1.0, guard: 0.0 }];
        assert!(matches!(
            distribution(&readings, &crossed, &Settings::default()),
            Err(Refusal::OutOfRange { .. })
        ));
        assert!(matches!(distribution(&[], &BAND, &Settings::default()), Err(Refusal::TooFew { .. })));
    }
}
