//! Advice on limits of the last stage that can no longer be met.

use kerfwright_exercise::Wanted;

use crate::advice::{Advice, Concern, Urgency};
use crate::facts::{Desk, Looked};

/// Advice on each, unless the stage at hand already says so of the same reading.
pub fn advise(desk: &Desk<'_>, known: &[Advice]) -> Vec<Advice> {
    let is_told = |reading: &String| {
        known.iter().any(|advice| {
            advice.concern == Concern::Amiss && !advice.can_be_mended && advice.readings.contains(reading)
        })
    };
    desk.grade.lost_ahead.iter().filter(|lost| !is_told(&lost.reading)).map(|lost| one(desk, lost)).collect()
}

fn one(desk: &Desk<'_>, lost: &kerfwright_grade::Lost) -> Advice {
    let looked = Looked::lost(lost);
    let fillings = desk.fillings(&looked, desk.rules.find(&lost.reading));
    let form = if matches!(lost.wanted, Wanted::Words { .. }) { "ahead_word" } else { "ahead" };
    let say = |table: &str| desk.lexicon.say(&format!("{table}.{form}"), &fillings);
    let text = say("form").or_else(|| say("general")).unwrap_or_else(|| lost.finding.text.clone());
    Advice {
        sentence: desk.lexicon.sentence(&text),
        urgency: if lost.critical { Urgency::Endangers } else { Urgency::Lesson },
        concern: Concern::Ahead,
        kind: Some(lost.finding.kind),
        can_be_mended: false,
        quick: 1,
        criteria: vec![lost.criterion.clone()],
        readings: vec![lost.reading.clone()],
        place: lost.finding.place.clone(),
        instrument: None,
        gauge: None,
    }
}
