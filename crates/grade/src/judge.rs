//! One reading against its limits: what was read, the decisions, what is off.

use kerfwright_exercise::readings::{self, MoreCutting, Row};
use kerfwright_exercise::{Asked, Criterion, Wanted};
use kerfwright_measure::Document;
use kerfwright_measure::document::{Place, Reading, Value};

use crate::decision::{Decision, decide, guard};
use crate::finding::{Finding, Sought, of_word};
use crate::grade::Level;

/// What was read.
pub struct Taken {
    pub value: Value,
    pub u95: Option<f64>,
    pub place: Option<Place>,
    /// Where the greatest value beside it lies, if `place` is that of the least.
    pub place_of_greatest: Option<Place>,
    /// Whether the value is the one at the place: where a reading has a least one beside it, the place is that one's.
    pub is_at_place: bool,
}

/// What can be said of it.
pub struct Judged {
    pub taken: Taken,
    pub ideal: Decision,
    pub acceptable: Decision,
    pub finding: Option<Finding>,
}

impl Judged {
    /// The two decisions in one word.
    pub fn level(&self) -> Level {
        match (self.ideal, self.acceptable) {
            (_, Decision::DoesNotMeet) => Level::NotAcceptable,
            (_, Decision::TooClose) => Level::TooClose,
            (Decision::Meets, Decision::Meets) => Level::Ideal,
            (_, Decision::Meets) => Level::Acceptable,
        }
    }
}

/// Holds what a document says against what a criterion asks; or says why the document does not say.
pub fn judge(document: &Document, criterion: &Criterion, asked: &Asked<'_>) -> Result<Judged, String> {
    let taken = taken(document, criterion, asked)?;
    let row = readings::find(&asked.reading).map(|found| found.0);
    let more_cutting = row.map_or(MoreCutting::Either, |row| row.more_cutting);
    match (&taken.value, asked.wanted) {
        (Value::Number(value), Wanted::Number { ideal, acceptable }) => {
            let guard = guard(taken.u95.unwrap_or(0.0));
            let sought = Sought { ideal: *ideal, acceptable: *acceptable, more_cutting };
            // The place of the least tells nothing of a median that is too great; that of the greatest does.
            let place = if taken.is_at_place || ideal.past(*value) < 0.0 {
                taken.place.as_ref()
            } else {
                taken.place_of_greatest.as_ref()
            };
            Ok(Judged {
                ideal: decide(*value, guard, *ideal),
                acceptable: decide(*value, guard, *acceptable),
                finding: sought.finding(*value, &criterion.unit, place),
                taken,
            })
        }
        (Value::Text(word), Wanted::Words { ideal_words, acceptable_words }) => {
            let decided = |words: &[String]| match words.contains(word) {
                true => Decision::Meets,
                false => Decision::DoesNotMeet,
            };
            let order: &[String] = row.map_or(&[], |row: &Row| &row.words);
            let finding = (decided(ideal_words) != Decision::Meets)
                .then(|| of_word(word, ideal_words, order, more_cutting, taken.place.as_ref()));
            Ok(Judged { ideal: decided(ideal_words), acceptable: decided(acceptable_words), finding, taken })
        }
        (Value::Number(_), Wanted::Words { .. }) => {
            Err("the document has a number where a word is asked for".into())
        }
        (Value::Text(_), Wanted::Number { .. }) => {
            Err("the document has a word where a number is asked for".into())
        }
    }
}

fn taken(document: &Document, criterion: &Criterion, asked: &Asked<'_>) -> Result<Taken, String> {
    let Some(reading) = document.readings.get(&asked.reading) else {
        return Err(match document.refused.get(&asked.reading) {
            Some(reason) => reason.clone(),
            None => "the document has no such reading; if an earlier version wrote it, measure again".into(),
        });
    };
    let Some(part) = &criterion.part else {
        if reading.unit != criterion.unit {
            return Err(format!(
                "the document gives it in `{}`, the exercise asks in `{}`",
                reading.unit, criterion.unit
            ));
        }
        let is_at_place = reading.extras.get("least").is_none_or(|least| *least == reading.value);
        return Ok(Taken {
            value: reading.value.clone(),
            u95: reading.u95,
            place: reading.place.clone(),
            place_of_greatest: reading.place_of_greatest.clone(),
            is_at_place,
        });
    };
    match reading.extras.get(part) {
        Some(value) => {
            let u95 = u95_of(reading, part, criterion);
            Ok(Taken {
                value: value.clone(),
                u95,
                place: reading.place.clone(),
                place_of_greatest: reading.place_of_greatest.clone(),
                is_at_place: part == "least",
            })
        }
        None => Err(format!("the document's reading has no `{part}`")),
    }
}

/// A part's own uncertainty, else that of its reading if it is in the same unit.
fn u95_of(reading: &Reading, part: &str, criterion: &Criterion) -> Option<f64> {
    match reading.extras.get(&format!("{part}_u95")) {
        Some(Value::Number(u95)) => Some(*u95),
        _ => reading.u95.filter(|_| reading.unit == criterion.unit),
    }
}
