//! Inheritance: stages and criteria meet by id, fields of the heir override, `remove = true` takes away.

use crate::draft::{CriterionDraft, Draft, GaugeDraft, LimitsDraft, PlaceDraft, ScoringDraft, StageDraft};
use crate::fault::{Fault, listed, nearest};
use crate::reader::{At, Spot};

/// Where a stage goes that is to be the first.
const START: &str = "start";

/// `own` over `base`. Name, title and whether it is a template are never inherited.
pub fn over(base: Draft, own: Draft, faults: &mut Vec<Fault>) -> Draft {
    Draft {
        name: own.name,
        title: own.title,
        summary: own.summary.or(base.summary),
        base: own.base,
        template: own.template,
        teeth: own.teeth.or(base.teeth),
        restoration: own.restoration.or(base.restoration),
        material: own.material.or(base.material),
        notes: own.notes.or(base.notes),
        scoring: scoring(base.scoring, own.scoring),
        onlay: own.onlay.over(base.onlay),
        stages: stages(base.stages, own.stages, faults),
    }
}

/// What stands in for a base that cannot be read: every stage and criterion that the heir takes for granted, with nothing in it. So
/// the heir's own slips are found, and nothing is called one that the base may make good.
pub fn stand_in(own: &Draft) -> Draft {
    let elsewhere = Spot { file: "".into(), line: 0 };
    let mut stages: Vec<StageDraft> = Vec::new();
    let includes = |stage: &StageDraft| stage.includes.clone().map_or(Vec::new(), |includes| includes.value);
    let named = own.stages.iter().flat_map(|stage| includes(stage).into_iter().chain(stage.after.clone()));
    let granted =
        own.stages.iter().filter(|stage| stage.after.is_none()).filter_map(|stage| stage.id.clone());
    for id in named.chain(own.onlay.stage.clone()).chain(granted) {
        if id.value != START && !stages.iter().any(|known| is(&known.id, &id.value)) {
            stages.push(StageDraft { id: Some(id), ..StageDraft::at(elsewhere.clone()) });
        }
    }
    for stage in &mut stages {
        let own = own.stages.iter().filter(|own| stage.id.as_ref().is_some_and(|id| is(&own.id, &id.value)));
        let gone = own.flat_map(|own| &own.criteria).filter(|criterion| criterion.remove);
        let kept = |criterion: &CriterionDraft| CriterionDraft {
            spot: elsewhere.clone(),
            remove: false,
            ..criterion.clone()
        };
        stage.criteria = gone.map(kept).collect();
    }
    Draft { stages, ..Draft::default() }
}

/// Own choices over the base's.
pub fn scoring(base: ScoringDraft, own: ScoringDraft) -> ScoringDraft {
    ScoringDraft {
        critical_error_fails: own.critical_error_fails.or(base.critical_error_fails),
        credit: own.credit.or(base.credit),
        acceptable_credit_pct: own.acceptable_credit_pct.or(base.acceptable_credit_pct),
        too_close: own.too_close.or(base.too_close),
        not_measured: own.not_measured.or(base.not_measured),
        measured_at_least_pct: own.measured_at_least_pct.or(base.measured_at_least_pct),
        pass_pct: own.pass_pct.or(base.pass_pct),
    }
}

fn stages(base: Vec<StageDraft>, own: Vec<StageDraft>, faults: &mut Vec<Fault>) -> Vec<StageDraft> {
    let is_heir = !base.is_empty();
    let mut stages = base;
    for stage in own {
        let Some(id) = stage.id.clone() else {
            faults.push(no_id(&stage.spot, "stage"));
            continue;
        };
        let place = stages.iter().position(|known| is(&known.id, &id.value));
        if let Some(place) = place {
            let known = stages.remove(place);
            if let Some(twice) = twice(&known.spot, &stage.spot, "stage", &id) {
                faults.push(twice);
                stages.insert(place, known);
            } else if !stage.remove {
                let to = stage.after.as_ref().and_then(|after| position(&stages, after, faults));
                stages.insert(to.unwrap_or(place), stage_over(known, stage, faults));
            }
        } else if stage.remove {
            faults.push(nothing_to_remove(&id, "stage", stages.iter().filter_map(|known| known.id.as_ref())));
        } else {
            let to = match &stage.after {
                Some(after) => position(&stages, after, faults),
                None if is_heir => {
                    faults.push(id.spot.fault(
                        format!("the base has no stage `{}`, and where a new one goes is not said", id.value),
                        format!("give `after`, one of {} or `{START}`", ids(&stages)),
                    ));
                    None
                }
                None => None,
            };
            let empty = StageDraft { criteria: Vec::new(), ..stage.clone() };
            let at = to.unwrap_or(stages.len());
            stages.insert(at, stage_over(empty, stage, faults));
        }
    }
    stages
}

/// Just behind the stage named.
fn position(stages: &[StageDraft], after: &At<String>, faults: &mut Vec<Fault>) -> Option<usize> {
    if after.value == START {
        return Some(0);
    }
    let place = stages.iter().position(|stage| is(&stage.id, &after.value));
    if place.is_none() {
        faults.push(after.spot.fault(
            format!("there is no other stage `{}` to stand after", after.value),
            format!("take one of {} or `{START}`", ids(stages)),
        ));
    }
    place.map(|place| place + 1)
}

fn stage_over(base: StageDraft, own: StageDraft, faults: &mut Vec<Fault>) -> StageDraft {
    StageDraft {
        spot: own.spot,
        id: own.id,
        title: own.title.or(base.title),
        after: None,
        includes: own.includes.or(base.includes),
        instruments: own.instruments.or(base.instruments),
        gauge: GaugeDraft {
            spot: own.gauge.spot.or(base.gauge.spot),
            bar_mm: own.gauge.bar_mm.or(base.gauge.bar_mm),
            check: own.gauge.check.or(base.gauge.check),
        },
        notes: own.notes.or(base.notes),
        criteria: criteria(base.criteria, own.criteria, faults),
        remove: false,
    }
}

/// Own criteria over the base's. One that is to be removed and is not there may still come from an earlier stage that
/// this one includes, so it is kept until then.
fn criteria(
    base: Vec<CriterionDraft>,
    own: Vec<CriterionDraft>,
    faults: &mut Vec<Fault>,
) -> Vec<CriterionDraft> {
    let mut criteria = base;
    for criterion in own {
        let Some(id) = criterion.id.clone() else {
            faults.push(no_id(&criterion.spot, "criterion"));
            continue;
        };
        let known = criteria.iter().find(|known| is(&known.id, &id.value));
        match known.and_then(|known| twice(&known.spot, &criterion.spot, "criterion", &id)) {
            Some(fault) => faults.push(fault),
            None => place_criterion(&mut criteria, criterion),
        }
    }
    criteria
}

/// A stage's own criteria over those of the stages that it includes, from whatever file.
pub fn included(mut criteria: Vec<CriterionDraft>, own: Vec<CriterionDraft>) -> Vec<CriterionDraft> {
    for criterion in own {
        place_criterion(&mut criteria, criterion);
    }
    criteria
}

fn place_criterion(criteria: &mut Vec<CriterionDraft>, own: CriterionDraft) {
    let place = criteria
        .iter()
        .position(|known| own.id.as_ref().is_some_and(|id| is(&known.id, &id.value)) && !known.remove);
    match place {
        Some(place) if own.remove => drop(criteria.remove(place)),
        Some(place) => {
            let known = criteria[place].clone();
            criteria[place] = criterion_over(known, own);
        }
        None => criteria.push(own),
    }
}

/// A criterion to be removed that is nowhere.
pub fn nothing_to_remove<'a>(
    id: &At<String>,
    part: &str,
    known: impl Iterator<Item = &'a At<String>>,
) -> Fault {
    let known: Vec<&str> = known.map(|id| id.value.as_str()).collect();
    let next = match nearest(&id.value, known.iter().copied()) {
        Some(word) => format!("did you mean `{word}`?"),
        None => format!("there are {}", listed(&known)),
    };
    id.spot.fault(format!("there is no {part} `{}` to remove", id.value), next)
}

fn criterion_over(base: CriterionDraft, own: CriterionDraft) -> CriterionDraft {
    CriterionDraft {
        spot: own.spot,
        id: own.id,
        title: own.title.or(base.title),
        reading: own.reading.or(base.reading),
        part: own.part.or(base.part),
        places: own.places.or(base.places),
        limits: limits_over(base.limits, own.limits),
        at: places_over(base.at, own.at),
        critical: own.critical.or(base.critical),
        weight: own.weight.or(base.weight),
        places_score: own.places_score.or(base.places_score),
        credit: own.credit.or(base.credit),
        not_measured: own.not_measured.or(base.not_measured),
        disagreement: own.disagreement.or(base.disagreement),
        note: own.note.or(base.note),
        remove: base.remove,
    }
}

fn limits_over(base: LimitsDraft, own: LimitsDraft) -> LimitsDraft {
    LimitsDraft {
        ideal: own.ideal.or(base.ideal),
        acceptable: own.acceptable.or(base.acceptable),
        source: own.source.or(base.source),
    }
}

fn places_over(base: Vec<PlaceDraft>, own: Vec<PlaceDraft>) -> Vec<PlaceDraft> {
    let mut places = base;
    for place in own {
        match places.iter_mut().find(|known| known.place == place.place) {
            Some(known) => {
                known.spot = place.spot;
                known.limits = limits_over(std::mem::take(&mut known.limits), place.limits);
            }
            None => places.push(place),
        }
    }
    places
}

/// The same id twice in one file is a slip; in base and heir it is inheritance.
fn twice(known: &Spot, own: &Spot, part: &str, id: &At<String>) -> Option<Fault> {
    (known.file == own.file).then(|| {
        id.spot.fault(
            format!("{part} `{}` is there twice, first at line {}", id.value, known.line),
            "give one of them another id",
        )
    })
}

fn no_id(spot: &Spot, part: &str) -> Fault {
    spot.fault(
        format!("this {part} has no id"),
        "give one of small letters, digits and hyphens, as id = \"edges\"",
    )
}

fn is(id: &Option<At<String>>, value: &str) -> bool {
    id.as_ref().is_some_and(|id| id.value == value)
}

fn ids(stages: &[StageDraft]) -> String {
    let ids: Vec<&str> =
        stages.iter().filter_map(|stage| stage.id.as_ref()).map(|id| id.value.as_str()).collect();
    listed(&ids)
}
