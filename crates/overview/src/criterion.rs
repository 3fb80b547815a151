//! One reading of a class against its band.

use kerfwright_class::cohort::{Band, Distribution, Reading, Standing, distribution};
use kerfwright_class::{Answer, Settings};
use serde::Serialize;

use crate::entry::{Entry, Key, bands, reading};
use crate::name::name;

/// One reading, one value a learner.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS))]
pub struct CriterionReport {
    /// Criterion and reading.
    #[serde(flatten)]
    pub key: Key,
    /// What people call the criterion.
    pub title: String,
    /// What people call the reading.
    pub name: String,
    /// Unit of values and bands.
    pub unit: String,
    /// Full marks.
    pub ideal: Band,
    /// Still right: what shares and standings refer to.
    pub acceptable: Band,
    /// How the class lies.
    pub distribution: Answer<Distribution>,
    /// Learners whose reading was refused.
    pub n_not_measured: u32,
    /// Each learner.
    pub dots: Vec<Dot>,
}

/// One learner's value.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS))]
pub struct Dot {
    /// Code of the learner.
    pub learner: Option<String>,
    /// The value.
    pub value: f64,
    /// Half the width in which a limit cannot be told from it.
    pub guard: f64,
    /// Where it lies.
    pub standing: Standing,
}

/// All readings with limits on a number, in the order of the exercise.
pub fn criteria(latest: &[&Entry], settings: &Settings) -> Vec<CriterionReport> {
    let mut reports: Vec<(CriterionReport, Vec<Reading>)> = Vec::new();
    for entry in latest {
        for (criterion, item) in entry.grade.items() {
            let Some((ideal, acceptable)) = bands(&item.wanted) else { continue };
            let key = Key::of(&criterion.id, item);
            let known = reports.iter().position(|(report, _)| report.key == key);
            let place = known.unwrap_or_else(|| {
                let report = CriterionReport {
                    name: name(&key.reading, key.part.as_deref()),
                    key,
                    title: criterion.title.clone(),
                    unit: item.unit.clone(),
                    ideal,
                    acceptable,
                    distribution: distribution(&[], &acceptable, settings).into(),
                    n_not_measured: 0,
                    dots: Vec::new(),
                };
                reports.push((report, Vec::new()));
                reports.len() - 1
            });
            let (report, readings) = &mut reports[place];
            match reading(item) {
                None => report.n_not_measured += 1,
                Some(reading) => {
                    readings.push(reading);
                    report.dots.push(Dot {
                        learner: entry.learner.clone(),
                        value: reading.value,
                        guard: reading.guard,
                        standing: acceptable.standing(reading),
                    });
                }
            }
        }
    }
    let counted = |(report, readings): (CriterionReport, Vec<Reading>)| CriterionReport {
        distribution: distribution(&readings, &report.acceptable, settings).into(),
        ..report
    };
    reports.into_iter().map(counted).collect()
}
