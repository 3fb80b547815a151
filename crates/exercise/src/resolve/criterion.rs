//! One criterion: is its reading known, are its places, do its limits suit.

use std::collections::BTreeMap;

use super::Builder;
use super::limits::Asked;
use crate::draft::CriterionDraft;
use crate::exercise::{Credit, Criterion, Critical, Exception, PlacesScore, Wanted};
use crate::fault::{listed, meant, nearest};
use crate::reader::{At, Spot};
use crate::readings::{self, ASPECTS, Places, Row, filled, table};
use crate::sources::Source;

impl Builder<'_> {
    /// The criteria of a stage; one reading gives points once.
    pub(super) fn criteria(&mut self, drafts: Vec<CriterionDraft>) -> Vec<Criterion> {
        let mut criteria = Vec::new();
        let mut asked: BTreeMap<(String, Option<String>), (String, usize)> = BTreeMap::new();
        for draft in drafts {
            let spot = draft.spot.clone();
            let Some(criterion) = self.criterion(draft) else { continue };
            if criterion.weight == 0.0 {
                // No points: a gate for critical errors may stand beside a criterion that gives them.
                criteria.push(criterion);
                continue;
            }
            for one in criterion.asked() {
                let key = (one.reading.clone(), criterion.part.clone());
                if let Some((id, line)) = asked.get(&key) {
                    self.fault(
                        &spot,
                        format!(
                            "criterion `{}` asks for `{}` again, as `{id}` at line {line} does",
                            criterion.id, one.reading
                        ),
                        "leave one of them out, or tell their places apart with `places`",
                    );
                }
                asked.insert(key, (criterion.id.clone(), spot.line));
            }
            criteria.push(criterion);
        }
        criteria
    }

    fn criterion(&mut self, draft: CriterionDraft) -> Option<Criterion> {
        let spot = draft.spot.clone();
        let id = draft.id.clone()?.value;
        let of = |key: &str| format!("criterion `{id}`: {key}");
        let title = self.needed(draft.title.clone(), &spot, &of("title"), "\"Functional cusps\"");
        if draft.reading.is_none() {
            let example = "\"reduction.occlusal.functional_mm\"";
            self.needed(draft.reading.clone(), &spot, &of("reading"), example);
        }
        let reading = draft.reading.clone()?;
        let row = self.row(&reading)?;
        let part = self.part(&draft, row);
        let places = self.places(&draft, &reading, row);
        let asked = Asked { row, part: part.as_deref(), reading: &reading.value };
        let wanted = self.wanted(&asked, &draft.limits, None, &spot, &id);
        let at = self.exceptions(&draft, &asked, &places);
        let source = draft.limits.source.as_ref().map(|sources| self.sources(sources));
        if source.is_none() {
            self.missing(
                &spot,
                &format!("criterion `{id}` does not say where its limits come from"),
                "write source = \"…\": a heading of docs/sources.md, \"common practice, no source\" or \"school: …\"",
            );
        }
        let criterion = Criterion {
            id,
            title: title.unwrap_or_default(),
            unit: row.unit_of_part(part.as_deref()).to_owned(),
            reading: reading.value,
            part,
            places,
            wanted: wanted?,
            at,
            critical: draft.critical.as_ref().map(|critical| critical.value),
            weight: draft.weight.as_ref().map_or(1.0, |weight| weight.value),
            places_score: draft.places_score.as_ref().map_or(PlacesScore::Mean, |score| score.value),
            credit: draft.credit.as_ref().map(|credit| credit.value),
            not_measured: draft.not_measured.as_ref().map(|choice| choice.value),
            source: source.unwrap_or_default(),
            disagreement: draft.disagreement.clone().map(|text| text.value),
            note: draft.note.clone().map(|text| text.value),
        };
        self.suits(&criterion, &draft);
        Some(criterion)
    }

    fn row(&mut self, reading: &At<String>) -> Option<&'static Row> {
        if let Some((row, _)) = readings::find(&reading.value) {
            return Some(row);
        }
        let next = match nearest(&reading.value, all_ids().iter().map(String::as_str)) {
            Some(id) => format!("did you mean `{id}`?"),
            None => "docs/measures.md lists all ids, with their units at the end".into(),
        };
        self.fault(&reading.spot, format!("there is no reading `{}`", reading.value), next);
        None
    }

    fn part(&mut self, draft: &CriterionDraft, row: &Row) -> Option<String> {
        let part = draft.part.as_ref()?;
        if row.parts.contains(&part.value) {
            return Some(part.value.clone());
        }
        let known: Vec<&str> = row.parts.iter().map(String::as_str).collect();
        let next = if known.is_empty() {
            "this reading has a value alone: leave `part` out".to_owned()
        } else {
            format!("it has {}; without `part` its value is taken", listed(&known))
        };
        self.fault(&part.spot, format!("`{}` has no part `{}`", row.id, part.value), next);
        None
    }

    fn places(&mut self, draft: &CriterionDraft, reading: &At<String>, row: &Row) -> Vec<String> {
        if !reading.value.contains('*') {
            if let Some(places) = &draft.places {
                let next = if row.id.contains('*') {
                    format!("write reading = \"{}\", or leave `places` out", row.id)
                } else {
                    "leave `places` out".into()
                };
                self.fault(&places.spot, "`places` needs a * in the reading", next);
            }
            return Vec::new();
        }
        let Some(given) = &draft.places else {
            return match row.places() {
                Places::These(places) => places,
                _ => {
                    let next = "list them, as places = [\"mb\", \"db\", \"ml\", \"dl\"]";
                    self.fault(
                        &reading.spot,
                        format!("what * stands for in `{}` depends on the case", row.id),
                        next,
                    );
                    Vec::new()
                }
            };
        };
        let mut places: Vec<String> = Vec::new();
        for place in &given.value {
            match self.place(place, row) {
                Some(_) if places.contains(&place.value) => {
                    self.fault(&place.spot, format!("`{}` is listed twice", place.value), "keep one");
                }
                Some(known) => places.push(known),
                None => {}
            }
        }
        places
    }

    fn place(&mut self, place: &At<String>, row: &Row) -> Option<String> {
        if readings::find(&filled(&row.id, &place.value)).is_some_and(|found| found.0.id == row.id) {
            return Some(place.value.clone());
        }
        let known = match row.places() {
            Places::These(known) => known,
            _ => Vec::new(),
        };
        let known: Vec<&str> = known.iter().map(String::as_str).collect();
        self.fault(
            &place.spot,
            format!("`{}` has no place `{}`", row.id, place.value),
            meant(&place.value, &known),
        );
        None
    }

    fn exceptions(
        &mut self,
        draft: &CriterionDraft,
        asked: &Asked<'_>,
        places: &[String],
    ) -> BTreeMap<String, Exception> {
        let mut exceptions = BTreeMap::new();
        for exception in &draft.at {
            if !places.contains(&exception.place) {
                let known: Vec<&str> = places.iter().map(String::as_str).collect();
                let next = if known.is_empty() {
                    "exceptions need a * in the reading".into()
                } else {
                    meant(&exception.place, &known)
                };
                let what = format!("this criterion does not ask at `{}`", exception.place);
                self.fault(&exception.spot, what, next);
                continue;
            }
            let id = format!("{}, at {}", draft.id.as_ref().map_or("", |id| &id.value), exception.place);
            let wanted = self.wanted(asked, &exception.limits, Some(&draft.limits), &exception.spot, &id);
            let source = exception.limits.source.as_ref().map(|sources| self.sources(sources));
            if let Some(wanted) = wanted {
                let source = source.unwrap_or_default();
                exceptions.insert(exception.place.clone(), Exception { wanted, source });
            }
        }
        exceptions
    }

    pub(super) fn sources(&mut self, given: &At<Vec<At<String>>>) -> Vec<Source> {
        let mut sources = Vec::new();
        for text in &given.value {
            match Source::parse(&text.value) {
                Ok(source) => sources.push(source),
                Err((what, next)) => self.fault(&text.spot, what, next),
            }
        }
        sources
    }

    /// Choices that cannot work with these limits.
    fn suits(&mut self, criterion: &Criterion, draft: &CriterionDraft) {
        let all = || criterion.asked().into_iter().map(|asked| asked.wanted.clone()).collect::<Vec<_>>();
        if let Some(critical) = &draft.critical {
            for wanted in all() {
                if let Some((what, next)) = idle_critical(critical.value, &wanted) {
                    self.fault(&critical.spot, what, next);
                    break;
                }
            }
        }
        if let Some(credit) = draft.credit.as_ref().filter(|credit| credit.value == Credit::Linear)
            && let Some(what) = all().iter().find_map(no_line)
        {
            let next = "close the end of acceptable, or take credit = \"step\"";
            self.fault(&credit.spot, what, next);
        }
    }
}

/// Why a critical side can never be reached.
fn idle_critical(critical: Critical, wanted: &Wanted) -> Option<(String, String)> {
    let open = |side: &str, end: &str| {
        let what = format!("`critical = \"{side}\"` can never happen: acceptable has no {end} end");
        Some((what, format!("give acceptable its {end} end, or take the other side")))
    };
    match (wanted, critical) {
        (Wanted::Words { .. }, Critical::Both) => None,
        (Wanted::Words { .. }, _) => {
            Some(("words have no below or above".into(), "write critical = \"both\"".into()))
        }
        (Wanted::Number { acceptable, .. }, Critical::Below) if acceptable.from.is_none() => {
            open("below", "lower")
        }
        (Wanted::Number { acceptable, .. }, Critical::Above) if acceptable.to.is_none() => {
            open("above", "upper")
        }
        _ => None,
    }
}

/// Why no straight line can be drawn from ideal to acceptable.
fn no_line(wanted: &Wanted) -> Option<String> {
    let Wanted::Number { ideal, acceptable } = wanted else { return None };
    let lower = ideal.from.is_some() && acceptable.from.is_none();
    let upper = ideal.to.is_some() && acceptable.to.is_none();
    (lower || upper).then(|| {
        let end = if lower { "lower" } else { "upper" };
        format!("`credit = \"linear\"` needs two ends, but acceptable has no {end} one")
    })
}

/// Every id that can be written without listing places, with and without `*`.
fn all_ids() -> Vec<String> {
    let mut ids = Vec::new();
    for row in table() {
        ids.push(row.id.clone());
        match row.places() {
            Places::These(places) => ids.extend(places.iter().map(|place| filled(&row.id, place))),
            Places::Any => ids.extend(ASPECTS.iter().map(|place| filled(&row.id, place))),
            Places::None => {}
        }
    }
    ids
}

/// Where a limit stands, for faults that name two lines.
pub(super) fn line(spot: &Spot, other: &Spot) -> String {
    if spot.file == other.file {
        format!("line {}", spot.line)
    } else {
        format!("line {} of {}", spot.line, spot.file)
    }
}
