//! Advice on what was not measured: what to do so that it can be. Readings that are missing for one cause are told together.

use crate::advice::{Advice, Concern, Urgency};
use crate::facts::{Desk, Looked};
use crate::template::Fillings;

/// What is missing for one cause.
struct Missing<'a> {
    cause: &'a str,
    readings: Vec<String>,
    criteria: Vec<String>,
    subjects: Vec<String>,
    sides: Vec<String>,
}

/// One piece of advice a cause, in the order in which the causes show up.
pub fn advise(desk: &Desk<'_>) -> Vec<Advice> {
    let mut causes: Vec<Missing<'_>> = Vec::new();
    for (criterion, item) in desk.grade.items() {
        let Some(reason) = &item.not_measured else { continue };
        let looked = Looked::item(criterion, item);
        let fillings = desk.fillings(&looked, desk.rules.find(&item.reading));
        let cause = desk.rules.cause(reason);
        let place = causes.iter().position(|known| known.cause == cause).unwrap_or_else(|| {
            causes.push(Missing {
                cause,
                readings: vec![],
                criteria: vec![],
                subjects: vec![],
                sides: vec![],
            });
            causes.len() - 1
        });
        let missing = &mut causes[place];
        let subject = fillings.get("subject").or_else(|| fillings.get("title"));
        add(&mut missing.readings, Some(&item.reading));
        add(&mut missing.criteria, Some(&criterion.id));
        add(&mut missing.subjects, subject);
        add(&mut missing.sides, fillings.get("side"));
    }
    causes.into_iter().map(|missing| one(desk, missing)).collect()
}

fn add(list: &mut Vec<String>, word: Option<&String>) {
    list.extend(word.filter(|word| !list.contains(word)).cloned());
}

fn one(desk: &Desk<'_>, missing: Missing<'_>) -> Advice {
    let mut fillings = Fillings::from([("subjects", desk.lexicon.list(&missing.subjects, "form.and"))]);
    if !missing.sides.is_empty() {
        fillings.insert("sides", desk.lexicon.list(&missing.sides, "form.and"));
    }
    let say = |cause: &str| desk.lexicon.say(&format!("cause.{cause}"), &fillings);
    let text = say(missing.cause).or_else(|| say("unknown")).unwrap_or_default();
    Advice {
        sentence: desk.lexicon.sentence(&text),
        urgency: Urgency::Check,
        concern: Concern::NotMeasured,
        kind: None,
        can_be_mended: true,
        quick: 2,
        criteria: missing.criteria,
        readings: missing.readings,
        place: None,
        instrument: None,
        gauge: None,
    }
}
