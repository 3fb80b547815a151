//! Advice, and the order in which it is given.

use kerfwright_exercise::Exercise;
use kerfwright_grade::{FindingKind, Grade};
use kerfwright_instrument::{Gauge, Kit};
use kerfwright_measure::Document;
use kerfwright_measure::document::Place;
use kerfwright_tooth::Tooth;
use serde::{Deserialize, Serialize};

use crate::facts::Desk;
use crate::language::Language;
use crate::rules::rules;
use crate::{ahead, findings, unmeasured};

/// One thing to do, or to know.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS), ts(optional_fields))]
pub struct Advice {
    /// All of it in one sentence.
    pub sentence: String,
    /// How soon.
    pub urgency: Urgency,
    /// What it is about.
    pub concern: Concern,
    /// Which way the value is off, where it is.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub kind: Option<FindingKind>,
    /// Whether something can still be done on this tooth, or by another scan.
    pub can_be_mended: bool,
    /// 1 a few strokes, 2 a few minutes, 3 takes other work with it.
    pub quick: u8,
    /// Ids of the criteria that ask for it.
    pub criteria: Vec<String>,
    /// The readings; several only where they were not measured for one cause.
    pub readings: Vec<String>,
    /// Where on the tooth.
    #[serde(default, rename = "where", skip_serializing_if = "Option::is_none")]
    pub place: Option<Place>,
    /// What to cut with; absent where nothing is cut, or the kit has nothing that suits.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub instrument: Option<Instrument>,
    /// What to check with.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub gauge: Option<Instrument>,
}

/// An instrument of the kit.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS))]
pub struct Instrument {
    /// Its id in the kit.
    pub id: String,
    /// What people call it.
    pub name: String,
    /// Its ISO 6360 code, where it has one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub iso: Option<String>,
}

/// How soon. Earlier is sooner.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum Urgency {
    /// A critical error, a neighbour, a crown that will not seat, a pulp that came near.
    Endangers,
    /// Proven not acceptable, and can be mended.
    Mend,
    /// Not known: too close to call, or not measured.
    Check,
    /// Proven not acceptable, and cannot be mended.
    Lesson,
    /// Acceptable already.
    Better,
}

/// What advice is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum Concern {
    /// Proven outside acceptable.
    Amiss,
    /// Past what this stage asks, but the last stage can still be met.
    Early,
    /// A limit lies inside the uncertainty.
    TooClose,
    /// A reading that was not taken.
    NotMeasured,
    /// A limit of the last stage that can no longer be met.
    Ahead,
    /// Acceptable, not ideal.
    Better,
}

impl From<&kerfwright_instrument::Instrument> for Instrument {
    fn from(own: &kerfwright_instrument::Instrument) -> Self {
        Self { id: own.name.clone(), name: own.title.clone(), iso: own.iso.map(|iso| iso.to_string()) }
    }
}

impl From<&Gauge> for Instrument {
    fn from(bar: &Gauge) -> Self {
        Self { id: bar.name.clone(), name: bar.title.clone(), iso: None }
    }
}

/// The instruments that an exercise names, from the first shipped kit: what advice takes where no kit is given. `None` if that kit
/// cannot be read, which its own tests rule out.
pub fn kit_of_exercise(exercise: &Exercise) -> Option<Kit> {
    let (_, text) = kerfwright_instrument::shipped().first()?;
    let named = exercise.stages.iter().flat_map(|stage| &stage.instruments);
    let names: Vec<&str> = named.map(String::as_str).collect();
    Some(kerfwright_instrument::read(text).ok()?.only(&names))
}

/// What a learner can do about everything in a grade that is not as asked, most urgent first, then what is quick.
///
/// The measurement that was graded gives places in millimetres and the other readings that a sentence needs; without it there are fewer of them.
/// Instruments are taken from the kit by what their geometry leaves (a kit as worn: [`kerfwright_instrument::in_hand`]); where none
/// suits, the sentence says so and what kind is needed. Without a kit it says the kind alone.
pub fn advise(
    grade: &Grade,
    document: Option<&Document>,
    kit: Option<&Kit>,
    language: Language,
) -> Vec<Advice> {
    let desk = Desk {
        grade,
        document,
        kit,
        lexicon: language.lexicon(),
        rules: rules(),
        tooth: Tooth::from_fdi(grade.document.fdi).ok(),
    };
    let mut all = findings::advise(&desk);
    all.extend(unmeasured::advise(&desk));
    let ahead = ahead::advise(&desk, &all);
    all.extend(ahead);
    all.sort_by_key(|advice| (advice.urgency, advice.quick));
    all
}
