//! Advice on what was read.

use kerfwright_exercise::Wanted;
use kerfwright_grade::{CriterionGrade, Decision, Finding, FindingKind, Item, Level, Mend};

use crate::advice::{Advice, Concern, Urgency};
use crate::equip::Equipment;
use crate::facts::{Desk, Looked};
use crate::rules::{Rule, Step};
use crate::template::Fillings;

/// Advice on every reading that is off, or may be; one reading that is off for several criteria is told once.
pub fn advise(desk: &Desk<'_>) -> Vec<Advice> {
    let mut all: Vec<Advice> = Vec::new();
    for (criterion, item) in desk.grade.items() {
        let Some(advice) = one(desk, criterion, item) else { continue };
        let same = all.iter_mut().find(|known| {
            known.readings == advice.readings && known.concern == advice.concern && known.kind == advice.kind
        });
        match same {
            Some(known) => merge(known, advice),
            None => all.push(advice),
        }
    }
    all
}

/// The more urgent of the two stays, for both criteria.
fn merge(known: &mut Advice, other: Advice) {
    let mut criteria = known.criteria.clone();
    criteria.extend(other.criteria.iter().cloned());
    if other.urgency < known.urgency {
        *known = other;
    }
    known.criteria = criteria;
}

fn one(desk: &Desk<'_>, criterion: &CriterionGrade, item: &Item) -> Option<Advice> {
    let looked = Looked::item(criterion, item);
    // A part in another unit, or named apart, is not what the rule's words speak of.
    let rule = desk.rules.find(&item.reading).filter(|_| is_plain(item));
    let case = Case { desk, looked, rule, criterion, item };
    match (item.level, &item.finding) {
        (Level::NotMeasured, _) => None,
        (Level::TooClose, _) => Some(case.too_close()),
        (Level::NotAcceptable, Some(finding)) if finding.mend == Mend::LastStageOpen => Some(case.early()),
        (Level::NotAcceptable, Some(finding)) => Some(match case.unseen(finding) {
            Some(step) => case.not_seen(step),
            None => case.amiss(finding),
        }),
        (_, Some(_)) if item.ideal == Some(Decision::TooClose) => Some(case.better("hair")),
        (_, Some(finding)) => Some(case.better(better_form(finding, &item.wanted))),
        (_, None) => None,
    }
}

/// Whether the value is what the reading's words speak of: the value itself, or the same quantity at another place or share.
fn is_plain(item: &Item) -> bool {
    const SAME: [&str; 7] = ["least", "greatest", "p05", "median", "along_axis", "whole_wall", "surely"];
    item.part.as_deref().is_none_or(|part| SAME.contains(&part))
}

fn better_form(finding: &Finding, wanted: &Wanted) -> &'static str {
    match (wanted, finding.mend) {
        (Wanted::Words { .. }, _) => "better_word",
        (_, Mend::MoreCutting) => "better_more",
        (_, Mend::CuttingElsewhere | Mend::AnotherScan) => "better_elsewhere",
        (_, Mend::BeyondRecall | Mend::LastStageOpen) => "better_past",
    }
}

struct Case<'a> {
    desk: &'a Desk<'a>,
    looked: Looked<'a>,
    rule: Option<&'a Rule>,
    criterion: &'a CriterionGrade,
    item: &'a Item,
}

impl Case<'_> {
    fn fillings(&self) -> Fillings {
        self.desk.fillings(&self.looked, self.rule)
    }

    /// Proven outside acceptable.
    fn amiss(&self, finding: &Finding) -> Advice {
        let step = self.rule.and_then(|rule| rule.step(finding.kind, self.looked.number()));
        let mut fillings = self.fillings();
        let mut equipment = self.desk.equip(&self.looked, step, &mut fillings);
        let own = step.and_then(|step| self.desk.lexicon.say(&format!("advice.{}", step.text), &fillings));
        if own.is_none() {
            equipment = Equipment::default();
        }
        let general = format!("general.{}", general(finding));
        let sentence = own.or_else(|| self.desk.lexicon.say(&general, &fillings));
        let can_be_mended = finding.mend != Mend::BeyondRecall;
        let urgency = match () {
            () if step.is_some_and(|step| step.harmless) && !self.item.critical_error => Urgency::Better,
            () if self.item.critical_error || step.is_some_and(|step| step.endangers) => Urgency::Endangers,
            () if can_be_mended => Urgency::Mend,
            () => Urgency::Lesson,
        };
        let advice = self.advice(sentence, urgency, Concern::Amiss, step);
        let gauge =
            equipment.gauge.filter(|_| fillings.get("bar").is_some_and(|bar| advice.sentence.contains(bar)));
        Advice {
            can_be_mended,
            instrument: equipment.tool.map(Into::into),
            gauge: gauge.map(Into::into),
            ..advice
        }
    }

    /// What is said where the value would be acceptable without what the scan does not show.
    fn unseen(&self, finding: &Finding) -> Option<&Step> {
        let step = self.rule?.unseen.as_ref().filter(|_| finding.kind == FindingKind::TooLittle)?;
        let lost = self.desk.document_part(&self.item.reading, "lost")?;
        let (_, acceptable) = self.looked.ranges()?;
        let seen = self.looked.number()? - lost;
        (lost > 0.0 && acceptable.to.is_none_or(|most| seen <= most)).then_some(step)
    }

    /// To be uncovered and scanned again before anything is cut.
    fn not_seen(&self, step: &Step) -> Advice {
        let sentence = self.desk.lexicon.say(&format!("advice.{}", step.text), &self.fillings());
        self.advice(sentence, Urgency::Check, Concern::NotMeasured, Some(step))
    }

    /// More than this stage asks for, but not more than the last.
    fn early(&self) -> Advice {
        let form = if matches!(self.looked.wanted, Wanted::Words { .. }) { "open_word" } else { "open" };
        let sentence = self.formed(form, &self.fillings());
        self.advice(sentence, Urgency::Better, Concern::Early, None)
    }

    fn too_close(&self) -> Advice {
        let mut fillings = self.fillings();
        let check = self.rule.map_or("scan", |rule| rule.check.as_str());
        let gauge = self
            .desk
            .gauge_at_limit(&self.looked, &mut fillings)
            .filter(|_| check == "bar" || check == "movement");
        let say = |check: &str| self.desk.lexicon.say(&format!("check.{check}"), &fillings);
        let without = format!("{check}_free");
        let told = say(check).or_else(|| say(&without)).or_else(|| say("scan"));
        fillings.extend(told.map(|told| ("check", told)));
        let sentence = self.formed("too_close", &fillings);
        // Whether there is a critical error is to be known before anything else.
        let urgency = if self.criterion.critical.is_some() { Urgency::Endangers } else { Urgency::Check };
        let advice = self.advice(sentence, urgency, Concern::TooClose, None);
        Advice { gauge: gauge.map(Into::into), ..advice }
    }

    fn better(&self, form: &str) -> Advice {
        let sentence = self.formed(form, &self.fillings());
        self.advice(sentence, Urgency::Better, Concern::Better, None)
    }

    /// A form's sentence about the rule's subject, else about the criterion's title.
    fn formed(&self, form: &str, fillings: &Fillings) -> Option<String> {
        let lexicon = self.desk.lexicon;
        let own = lexicon.say(&format!("form.{form}"), fillings);
        own.or_else(|| lexicon.say(&format!("general.{form}"), fillings))
    }

    fn advice(
        &self,
        text: Option<String>,
        urgency: Urgency,
        concern: Concern,
        step: Option<&Step>,
    ) -> Advice {
        let finding = self.item.finding.as_ref();
        // The grade's own words, should a language file lack even the general text.
        let text = text.or_else(|| finding.map(|finding| format!("{}: {}", self.looked.title, finding.text)));
        Advice {
            sentence: self.desk.lexicon.sentence(&text.unwrap_or_else(|| self.looked.title.to_owned())),
            urgency,
            concern,
            kind: finding.map(|finding| finding.kind),
            can_be_mended: finding.is_none_or(|finding| finding.mend != Mend::BeyondRecall),
            quick: step.map_or(1, |step| step.quick),
            criteria: vec![self.criterion.id.clone()],
            readings: vec![self.item.reading.clone()],
            place: finding.and_then(|finding| finding.place.clone()),
            instrument: None,
            gauge: None,
        }
    }
}

fn general(finding: &Finding) -> &'static str {
    use kerfwright_grade::FindingKind::{Above, Below, Other, TooLittle, TooMuch};
    match (finding.kind, finding.past_ideal) {
        (_, None) | (Other, _) => "other",
        (TooLittle, _) => "too_little",
        (TooMuch, _) => "too_much",
        (Below, _) => "below",
        (Above, _) => "above",
    }
}
