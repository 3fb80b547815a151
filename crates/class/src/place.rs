//! Faults by place round the tooth, over a whole class.

use std::collections::BTreeMap;
use std::fmt;

use serde::{Deserialize, Serialize};

use crate::error::at_least;
use crate::stats::resample::bootstrap;
use crate::stats::{median, wilson};
use crate::{Estimate, Refusal, Settings};

/// Names of the eight aspects by rising angle from mesial over facial, in the tooth frame.
const ASPECTS: [&str; 8] =
    ["mesial", "mesiofacial", "facial", "distofacial", "distal", "distolingual", "lingual", "mesiolingual"];

/// A third of the height, or none where the place is not on a wall.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum Third {
    /// Next to the finish line.
    Gingival,
    /// The middle of the wall.
    Middle,
    /// Next to the occlusal surface or incisal edge.
    Occlusal,
}

/// How far one point of one attempt lies from its target.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Sample {
    /// Code of the attempt; for a class one attempt a learner.
    pub attempt: String,
    /// Angle round the tooth in the tooth frame: 0 mesial, 90 facial, 180 distal, 270 lingual.
    pub angle_deg: f64,
    /// The third of the wall.
    pub third: Third,
    /// Signed distance to the target. Positive: too little was cut; negative: too much.
    pub deviation_mm: f64,
}

/// What counts as a fault.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Limits {
    /// More left than this is under-reduced.
    pub under_mm: f64,
    /// More taken than this is over-reduced.
    pub over_mm: f64,
    /// Bins round the tooth: 8 are the aspects; 16 or 24 draw a finer map.
    pub n_angles: u32,
}

/// One bin of the map.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS))]
pub struct Bin {
    /// Middle of the bin.
    pub centre_deg: f64,
    /// The aspect that the middle lies in.
    pub aspect: &'static str,
    /// The third.
    pub third: Third,
    /// Median over the class of each attempt's median.
    pub median_mm: Estimate,
    /// Share of the class under-reduced here.
    pub under: Estimate,
    /// Share of the class over-reduced here.
    pub over: Estimate,
    /// Attempts seen here.
    pub n: u32,
}

/// What the class did wrong at a place.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum Fault {
    /// Too little was cut.
    Under,
    /// Too much was cut.
    Over,
}

/// A fault that a share of the class has at a place.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS), ts(rename = "PlaceFinding"))]
pub struct Finding {
    /// Where.
    pub aspect: &'static str,
    /// Where, in height.
    pub third: Third,
    /// What.
    pub fault: Fault,
    /// How many of the class.
    pub share: Estimate,
    /// Median deviation of the class there.
    pub median_mm: f64,
}

impl fmt::Display for Third {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        formatter.write_str(match self {
            Self::Gingival => "gingival",
            Self::Middle => "middle",
            Self::Occlusal => "occlusal",
        })
    }
}

/// One English sentence, for example "distofacial, occlusal third: under-reduced by 8 of 12 (67 %, 95 % interval 39 to 86 %);
/// median 0.21 mm left".
impl fmt::Display for Finding {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (word, left) = match self.fault {
            Fault::Under => ("under", "left"),
            Fault::Over => ("over", "too deep"),
        };
        let hits = (self.share.value * f64::from(self.share.n)).round();
        let percent = |share: f64| (share * 100.0).round();
        write!(
            formatter,
            "{}, {} third: {word}-reduced by {hits} of {} ({} %",
            self.aspect,
            self.third,
            self.share.n,
            percent(self.share.value)
        )?;
        if let Some(interval) = self.share.interval {
            let (low, high) = (percent(interval.low), percent(interval.high));
            write!(formatter, ", {} % interval {low} to {high} %", percent(interval.confidence))?;
        }
        write!(formatter, "); median {:.2} mm {left}", self.median_mm.abs())
    }
}

/// The map of a class: for each angle and third with samples its median and the shares under and over, by rising third, then angle.
///
/// An attempt counts once a bin, by the median of its samples there, so that a finely scanned attempt weighs no more than others.
///
/// # Errors
/// [`Refusal::TooFew`] without samples, [`Refusal::NotFinite`], [`Refusal::OutOfRange`] for negative limits or fewer than four bins.
pub fn map(samples: &[Sample], limits: &Limits, settings: &Settings) -> Result<Vec<Bin>, Refusal> {
    settings.check()?;
    check(samples, limits)?;
    let mut bins: BTreeMap<(Third, u32), BTreeMap<&str, Vec<f64>>> = BTreeMap::new();
    for sample in samples {
        let place = (sample.third, bin_of(sample.angle_deg, limits.n_angles));
        bins.entry(place).or_default().entry(&sample.attempt).or_default().push(sample.deviation_mm);
    }
    let bin = |((third, index), attempts): (&(Third, u32), &BTreeMap<&str, Vec<f64>>)| {
        let medians: Vec<f64> = attempts.values().map(|values| median(values)).collect();
        let share = |is: &dyn Fn(f64) -> bool| {
            let hits = medians.iter().filter(|&&value| is(value)).count();
            wilson(hits as u32, medians.len() as u32, settings)
        };
        let centre_deg = f64::from(*index) * 360.0 / f64::from(limits.n_angles);
        Ok(Bin {
            centre_deg,
            aspect: ASPECTS[bin_of(centre_deg, 8) as usize],
            third: *third,
            median_mm: median_of(&medians, settings),
            under: share(&|value| value > limits.under_mm)?,
            over: share(&|value| value < -limits.over_mm)?,
            n: medians.len() as u32,
        })
    };
    bins.iter().map(bin).collect()
}

/// The faults of a map that more than `share` of the class has, commonest first.
///
/// The interval beside each says how far the class at hand speaks for others.
pub fn findings(bins: &[Bin], share: f64) -> Vec<Finding> {
    let mut findings: Vec<Finding> = Vec::new();
    for bin in bins {
        for (fault, of_class) in [(Fault::Under, &bin.under), (Fault::Over, &bin.over)] {
            if of_class.value > share {
                findings.push(Finding {
                    aspect: bin.aspect,
                    third: bin.third,
                    fault,
                    share: of_class.clone(),
                    median_mm: bin.median_mm.value,
                });
            }
        }
    }
    // Stable: equal shares stay in the order of the map.
    findings.sort_by(|a, b| b.share.value.total_cmp(&a.share.value));
    findings
}

fn check(samples: &[Sample], limits: &Limits) -> Result<(), Refusal> {
    at_least("samples", samples.len(), 1)?;
    at_least("bins round the tooth", limits.n_angles as usize, 4)?;
    for limit in [limits.under_mm, limits.over_mm] {
        if !limit.is_finite() || limit < 0.0 {
            return Err(Refusal::OutOfRange { value: limit, expected: "a limit of zero or more" });
        }
    }
    let bad = |sample: &Sample| !(sample.angle_deg.is_finite() && sample.deviation_mm.is_finite());
    match samples.iter().position(bad) {
        Some(index) => Err(Refusal::NotFinite { of: "the samples", index: index as u32 }),
        None => Ok(()),
    }
}

/// The bin whose sector, centred on its angle, holds `angle_deg`.
fn bin_of(angle_deg: f64, n_angles: u32) -> u32 {
    let width_deg = 360.0 / f64::from(n_angles);
    ((angle_deg.rem_euclid(360.0) / width_deg + 0.5).floor() as u32) % n_angles
}

fn median_of(medians: &[f64], settings: &Settings) -> Estimate {
    let interval = bootstrap(medians.len(), settings, |drawn| {
        Some(median(&drawn.iter().map(|&index| medians[index]).collect::<Vec<f64>>()))
    });
    Estimate::maybe(median(medians), interval, medians.len(), "median of the attempts' medians")
}

#[cfg(test)]
mod tests {
    use super::*;

    const LIMITS: Limits = Limits { under_mm: 0.15, over_mm: 0.15, n_angles: 8 };

    /// Twelve attempts, of which eight leave 0.21 mm at the distofacial corner; one is sampled ten times as finely.
    fn class() -> Vec<Sample> {
        let mut samples = Vec::new();
        for attempt in 0..12 {
            for step in 0..if attempt == 11 { 720 } else { 72 } {
                let angle_deg = f64::from(step) * if attempt == 11 { 0.5 } else { 5.0 };
                let corner = (angle_deg - 135.0).abs() < 22.0;
                samples.push(Sample {
                    attempt: format!("Q{attempt:02}"),
                    angle_deg,
                    third: Third::Occlusal,
                    deviation_mm: if corner && attempt < 8 { 0.21 } else { 0.02 },
                });
            }
        }
        samples
    }

    #[test]
    fn a_corner_that_two_thirds_leave_too_thick_is_named() {
        let bins = map(&class(), &LIMITS, &Settings::default()).unwrap();
        assert_eq!(bins.len(), 8);
        let findings = findings(&bins, 0.25);
        let sentences: Vec<String> = findings.iter().map(ToString::to_string).collect();
        // Wilson for 8 of 12: 0.3906 to 0.8619.
        assert_eq!(
            sentences,
            [
                "distofacial, occlusal third: under-reduced by 8 of 12 (67 %, 95 % interval 39 to 86 %); median 0.21 mm left"
            ]
        );
    }

    #[test]
    fn aspects_follow_the_angle_as_in_the_tooth_frame() {
        for (angle_deg, expected) in
            [(0.0, 0), (22.4, 0), (22.6, 1), (135.0, 3), (270.0, 6), (337.4, 7), (338.0, 0), (-10.0, 0)]
        {
            assert_eq!(bin_of(angle_deg, 8), expected, "{angle_deg}");
        }
    }

    #[test]
    fn turning_every_sample_once_round_changes_nothing() {
        let turned: Vec<Sample> = class()
            .into_iter()
            .map(|sample| Sample { angle_deg: sample.angle_deg - 360.0, ..sample })
            .collect();
        let of = |samples: &[Sample]| map(samples, &LIMITS, &Settings::default()).unwrap();
        assert_eq!(of(&turned), of(&class()));
    }

    #[test]
    fn what_was_cut_too_deep_is_over_reduced() {
        let deep: Vec<Sample> = class()
            .into_iter()
            .map(|sample| Sample { deviation_mm: -sample.deviation_mm, ..sample })
            .collect();
        let bins = map(&deep, &LIMITS, &Settings::default()).unwrap();
        let findings = findings(&bins, 0.25);
        assert_eq!((findings.len(), findings[0].fault, findings[0].aspect), (1, Fault::Over, "distofacial"));
    }

    #[test]
    fn samples_without_sense_are_refused() {
        let mut samples = class();
        samples[3].deviation_mm = f64::NAN;
        assert!(matches!(
            map(&samples, &LIMITS, &Settings::default()),
            Err(Refusal::NotFinite { index: 3, .. })
        ));
        assert!(matches!(map(&[], &LIMITS, &Settings::default()), Err(Refusal::TooFew { .. })));
    }
}
