//! One examiner held against what is known of the attempts that he graded: criterion by criterion, code by code.

use std::collections::BTreeMap;

use kerfwright_class::severity::severity;
use kerfwright_class::{Answer, Estimate, Measured, Rating, Refusal, Settings};
use kerfwright_grade::{CriterionGrade, Grade, Item, Level};
use kerfwright_measure::document::Value;
use serde::Serialize;

use crate::known::{Known, known_level, level};
use crate::name::name;

/// Shown with every calibration.
pub const CALIBRATION_CAUTION: &str = "Known is what the readings of a scan lead to by the limits of one exercise. Where you are sure that you saw \
                                       better, say so: limits can be wrong.";

/// Levels from the known one within which what is given counts as the same: no other level lies nearer.
const SAME: f64 = 0.5;

/// What an examiner gave for one criterion of one code, in the order of the sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct Mark {
    /// The code.
    pub code: String,
    /// Id of the attempt behind it.
    pub attempt: String,
    /// Id of the criterion.
    pub criterion: String,
    /// The level.
    pub given: f64,
}

/// One examiner's calibration.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS))]
pub struct Calibration {
    /// Code of the examiner.
    pub examiner: String,
    /// All criteria together.
    pub all: Leaning,
    /// Criterion by criterion.
    pub criteria: Vec<CriterionCalibration>,
    /// What was given twice for the same criterion of the same attempt.
    pub repeats: Vec<Repeat>,
    /// How many of these are the same both times.
    pub n_repeats_same: u32,
    /// What a calibration is not.
    pub caution: String,
}

/// Whether more or less is given than was measured.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS))]
pub struct Leaning {
    /// What was given less what is known, in levels, mean over attempts, the first sight of each.
    pub severity: Answer<Estimate>,
    /// What that comes to.
    pub way: Way,
    /// The same in a sentence.
    pub sentence: String,
}

/// A way to lean.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum Way {
    /// Less is given than was measured.
    Severe,
    /// More is.
    Lenient,
    /// Neither is beyond chance.
    Open,
}

/// One criterion.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS))]
pub struct CriterionCalibration {
    /// Its id.
    pub id: String,
    /// What people call it.
    pub title: String,
    /// Codes of which this criterion is known.
    pub n_known: u32,
    /// Of them, those to which the known level was given.
    pub n_same: u32,
    /// Whether more or less is given than was measured.
    pub leaning: Leaning,
    /// Code by code, in the order of the sheet.
    pub codes: Vec<CodeCalibration>,
}

/// One criterion of one code.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS))]
pub struct CodeCalibration {
    /// The code.
    pub code: String,
    /// Id of the attempt behind it, once nobody grades any more.
    pub attempt: Option<String>,
    /// The level given.
    pub given: f64,
    /// The level that the readings lead to; none where they leave it open.
    pub known: Option<f64>,
    /// Whether another level lies nearer to what is known.
    pub differs: bool,
    /// Where it differs: the readings by which it is known.
    pub readings: Vec<KnownReading>,
}

/// A reading and the level to which it leads.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS))]
pub struct KnownReading {
    /// What people call it.
    pub name: String,
    /// The value.
    pub value: Option<Value>,
    /// Its unit.
    pub unit: String,
    /// Expanded uncertainty, k = 2, in the same unit.
    pub u95: Option<f64>,
    /// The level.
    pub level: Level,
}

/// What was given on both sights of the same criterion of the same attempt.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS))]
pub struct Repeat {
    /// What people call the criterion.
    pub title: String,
    /// Both codes.
    pub codes: [String; 2],
    /// Both levels.
    pub given: [f64; 2],
}

/// Holds what one examiner gave against the grades of the attempts, for each of `criteria` (id and title).
///
/// # Errors
/// A mark is no number, or stands twice.
pub fn calibration(
    examiner: &str,
    criteria: &[(String, String)],
    marks: &[Mark],
    grades: &BTreeMap<String, Grade>,
    settings: &Settings,
) -> Result<Calibration, Refusal> {
    let (ratings, measured) = (ratings(examiner, marks), measured(grades));
    let of = |(id, title): &(String, String)| {
        let own: Vec<Rating> = ratings.iter().filter(|rating| rating.criterion == *id).cloned().collect();
        let codes: Vec<CodeCalibration> =
            marks.iter().filter(|mark| mark.criterion == *id).map(|mark| code(mark, grades)).collect();
        Ok(CriterionCalibration {
            n_known: codes.iter().filter(|code| code.known.is_some()).count() as u32,
            n_same: codes.iter().filter(|code| code.known.is_some() && !code.differs).count() as u32,
            leaning: leaning(&own, &measured, settings)?,
            id: id.clone(),
            title: title.clone(),
            codes,
        })
    };
    let repeats = repeats(criteria, marks);
    Ok(Calibration {
        examiner: examiner.into(),
        all: leaning(&ratings, &measured, settings)?,
        criteria: criteria.iter().map(of).collect::<Result<_, Refusal>>()?,
        n_repeats_same: repeats.iter().filter(|repeat| repeat.given[0] == repeat.given[1]).count() as u32,
        repeats,
        caution: CALIBRATION_CAUTION.into(),
    })
}

impl Calibration {
    /// Takes away what stands behind the codes.
    pub fn without_attempts(mut self) -> Self {
        let codes = self.criteria.iter_mut().flat_map(|criterion| &mut criterion.codes);
        codes.for_each(|code| code.attempt = None);
        self
    }
}

fn ratings(examiner: &str, marks: &[Mark]) -> Vec<Rating> {
    let mut sights: BTreeMap<(&str, &str), u32> = BTreeMap::new();
    let mut ratings = Vec::new();
    for mark in marks {
        let sight = sights.entry((&mark.attempt, &mark.criterion)).or_default();
        *sight += 1;
        ratings.push(Rating {
            examiner: examiner.into(),
            attempt: mark.attempt.clone(),
            criterion: mark.criterion.clone(),
            occasion: *sight - 1,
            value: mark.given,
        });
    }
    ratings
}

fn measured(grades: &BTreeMap<String, Grade>) -> Vec<Measured> {
    let mut known = Known::default();
    grades.iter().for_each(|(attempt, grade)| known.add(attempt, grade));
    known.levels
}

fn leaning(ratings: &[Rating], measured: &[Measured], settings: &Settings) -> Result<Leaning, Refusal> {
    let found = severity(ratings, measured, settings)?.pop();
    let severity = found.map_or_else(
        || Answer::Refused(Refusal::TooFew { of: "attempts with a measured value", n: 0, least: 3 }),
        |found| found.to_measured,
    );
    let way = severity.given().map_or(Way::Open, |estimate| way(estimate, settings));
    let sentence = match (way, &severity) {
        (_, Answer::Refused(refusal)) => refusal.to_string(),
        (Way::Severe, _) => "severe: less is given than was measured".into(),
        (Way::Lenient, _) => "lenient: more is given than was measured".into(),
        (Way::Open, _) => "neither severe nor lenient beyond chance".into(),
    };
    Ok(Leaning { severity, way, sentence })
}

/// Where the interval lies. Differences that are all the same have none; then it counts whether chance alone would give all of them one sign.
fn way(estimate: &Estimate, settings: &Settings) -> Way {
    let is_sure = match estimate.interval {
        Some(interval) => interval.low > 0.0 || interval.high < 0.0,
        None => 0.5_f64.powi(estimate.n as i32 - 1) <= 1.0 - settings.confidence,
    };
    match estimate.value {
        value if is_sure && value < 0.0 => Way::Severe,
        value if is_sure && value > 0.0 => Way::Lenient,
        _ => Way::Open,
    }
}

fn code(mark: &Mark, grades: &BTreeMap<String, Grade>) -> CodeCalibration {
    let grade = grades.get(&mark.attempt);
    let criterion =
        grade.and_then(|grade| grade.criteria.iter().find(|criterion| criterion.id == mark.criterion));
    let known = criterion.and_then(known_level);
    let differs = known.is_some_and(|known| SAME < (mark.given - known).abs());
    CodeCalibration {
        code: mark.code.clone(),
        attempt: Some(mark.attempt.clone()),
        given: mark.given,
        known,
        differs,
        readings: criterion.filter(|_| differs).map_or_else(Vec::new, readings),
    }
}

/// The readings whose level is not open.
fn readings(criterion: &CriterionGrade) -> Vec<KnownReading> {
    let reading = |item: &Item| KnownReading {
        name: name(&item.reading, item.part.as_deref()),
        value: item.value.clone(),
        unit: item.unit.clone(),
        u95: item.u95,
        level: item.level,
    };
    criterion.items.iter().filter(|item| level(item.level).is_some()).map(reading).collect()
}

fn repeats(criteria: &[(String, String)], marks: &[Mark]) -> Vec<Repeat> {
    let mut found = Vec::new();
    for (id, title) in criteria {
        let mut first: BTreeMap<&str, &Mark> = BTreeMap::new();
        for mark in marks.iter().filter(|mark| mark.criterion == *id) {
            match first.get(mark.attempt.as_str()) {
                None => {
                    first.insert(&mark.attempt, mark);
                }
                Some(before) => found.push(Repeat {
                    title: title.clone(),
                    codes: [before.code.clone(), mark.code.clone()],
                    given: [before.given, mark.given],
                }),
            }
        }
    }
    found
}
