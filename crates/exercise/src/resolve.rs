//! From drafts to an exercise: bases are fetched and merged, then every part is checked.

mod criterion;
mod limits;
mod onlay;

use crate::draft::{self, Draft, ScoringDraft, StageDraft};
use crate::exercise::{Credit, Exercise, Gauge, NotMeasured, Scoring, Stage, TooClose};
use crate::fault::{Fault, Faults, meant};
use crate::merge;
use crate::reader::{At, Reader, Spot};
use crate::shelf::Shelf;
use crate::teeth::Teeth;

/// How points are given where an exercise does not say.
const SCORING: &str = include_str!("../data/scoring.toml");

/// What came out of one file: an exercise, unless it is a template or has faults; and all faults.
pub struct Resolved {
    pub exercise: Option<Exercise>,
    pub faults: Vec<Fault>,
}

/// Reads `text`, known to people as `file`, with bases from the shelf.
pub fn resolve(file: &str, text: &str, shelf: &Shelf) -> Resolved {
    let mut faults = Vec::new();
    let own = read(file, text, &mut faults);
    let is_template = own.template.as_ref().is_some_and(|template| template.value);
    let head = Spot { file: file.into(), line: 1 };
    let is_slip = !faults.is_empty();
    let (whole, has_bases) = with_bases(own, shelf, &mut Vec::new(), &mut faults);
    // What a slip of the pen leaves out, or a base that is not there may hold, is not told twice, as a slip and as missing.
    let is_lenient = is_template || is_slip || !has_bases;
    let exercise = Builder { head, is_lenient, faults: &mut faults }.exercise(whole);
    faults.sort_by(|a, b| (&a.file, a.line).cmp(&(&b.file, b.line)));
    let mut told = std::collections::BTreeSet::new();
    faults.retain(|fault| told.insert(fault.clone()));
    let exercise = exercise.filter(|_| faults.is_empty() && !is_template);
    Resolved { exercise, faults }
}

/// Reads a file for use.
pub fn exercise(file: &str, text: &str, shelf: &Shelf) -> Result<Exercise, Faults> {
    let resolved = resolve(file, text, shelf);
    match resolved.exercise {
        Some(exercise) => Ok(exercise),
        None if resolved.faults.is_empty() => {
            let spot = Spot { file: file.into(), line: 1 };
            Err(Faults(vec![spot.fault(
                "this is a template, from which exercises inherit",
                "use one of its heirs, or write `base = …` with its name in a file of your own",
            )]))
        }
        None => Err(Faults(resolved.faults)),
    }
}

fn read(file: &str, text: &str, faults: &mut Vec<Fault>) -> Draft {
    let mut reader = Reader::new(file, text);
    let draft = draft::read(&mut reader);
    faults.append(&mut reader.faults);
    draft
}

/// A draft over its bases, and whether all of them could be read.
fn with_bases(own: Draft, shelf: &Shelf, heirs: &mut Vec<String>, faults: &mut Vec<Fault>) -> (Draft, bool) {
    heirs.extend(own.name.as_ref().map(|name| name.value.clone()));
    let (base, is_whole) = match &own.base {
        None => (Draft::default(), true),
        Some(base) => match base_draft(base, shelf, heirs, faults) {
            Some(draft) => with_bases(draft, shelf, heirs, faults),
            None => (merge::stand_in(&own), false),
        },
    };
    (merge::over(base, own, faults), is_whole)
}

fn base_draft(base: &At<String>, shelf: &Shelf, heirs: &[String], faults: &mut Vec<Fault>) -> Option<Draft> {
    let text = base_text(base, shelf, heirs, faults)?;
    let n_faults = faults.len();
    let draft = read(&base.value, text, faults);
    (n_faults == faults.len()).then_some(draft)
}

fn base_text<'s>(
    base: &At<String>,
    shelf: &'s Shelf,
    heirs: &[String],
    faults: &mut Vec<Fault>,
) -> Option<&'s str> {
    if heirs.contains(&base.value) {
        let way = heirs.iter().chain([&base.value]).map(String::as_str).collect::<Vec<_>>().join(" → ");
        faults.push(base.spot.fault(
            format!("the bases run in a circle: {way}"),
            "give the copy a `name` of its own, or take another base",
        ));
        return None;
    }
    let text = shelf.text(&base.value);
    if text.is_none() {
        let mut known = shelf.names();
        known.sort_unstable();
        faults
            .push(base.spot.fault(format!("there is no base `{}`", base.value), meant(&base.value, &known)));
    }
    text
}

/// Turns a merged draft into an exercise and notes what is wrong.
struct Builder<'a> {
    head: Spot,
    /// Whether what is missing is passed over.
    is_lenient: bool,
    faults: &'a mut Vec<Fault>,
}

impl Builder<'_> {
    fn exercise(&mut self, draft: Draft) -> Option<Exercise> {
        let head = self.head.clone();
        let name = self.needed(draft.name, &head, "name", "\"metal-ceramic-36\"");
        let title = self.needed(draft.title, &head, "title", "\"Metal-ceramic crown on 36\"");
        let teeth = self.needed(draft.teeth, &head, "teeth", "[\"molar\"] or [36]");
        let teeth = teeth.map(|teeth| self.teeth(&teeth));
        let restoration = self.needed(draft.restoration, &head, "restoration", "\"complete crown\"");
        let material = self.needed(draft.material, &head, "material", "\"metal-ceramic\"");
        let scoring = self.scoring(draft.scoring);
        if draft.stages.is_empty() {
            self.missing(&head, "there is no stage", "write one under [[stage]], or inherit with `base`");
        }
        let stages = self.stages(draft.stages);
        let onlay = self.onlay(draft.onlay, &stages);
        Some(Exercise {
            name: name?,
            title: title?,
            summary: draft.summary.map(|summary| summary.value),
            teeth: teeth?,
            restoration: restoration?,
            material: material?,
            notes: plain(draft.notes),
            scoring: scoring?,
            onlay,
            stages,
        })
    }

    fn teeth(&mut self, given: &[At<String>]) -> Vec<Teeth> {
        let mut teeth = Vec::new();
        for text in given {
            match Teeth::parse(&text.value) {
                Some(one) => teeth.push(one),
                None => self.fault(
                    &text.spot,
                    format!("`{}` is no tooth", text.value),
                    "write an FDI number as 26, or molar, premolar, canine, incisor, with upper or lower before it",
                ),
            }
        }
        teeth
    }

    fn scoring(&mut self, own: ScoringDraft) -> Option<Scoring> {
        let usual = read("data/scoring.toml", SCORING, self.faults).scoring;
        let draft = merge::scoring(usual, own);
        Some(Scoring {
            critical_error_fails: draft.critical_error_fails?.value,
            credit: draft.credit?.value,
            acceptable_credit_pct: draft.acceptable_credit_pct?.value,
            too_close: draft.too_close?.value,
            not_measured: draft.not_measured?.value,
            measured_at_least_pct: draft.measured_at_least_pct?.value,
            pass_pct: draft.pass_pct?.value,
        })
    }

    fn stages(&mut self, drafts: Vec<StageDraft>) -> Vec<Stage> {
        let mut earlier: Vec<StageDraft> = Vec::new();
        let mut stages = Vec::new();
        for mut draft in drafts {
            draft.criteria = self.with_included(&draft, &earlier);
            earlier.push(draft.clone());
            stages.extend(self.stage(draft));
        }
        stages
    }

    /// Criteria of the stages named in `includes`, then the stage's own over them.
    fn with_included(&mut self, draft: &StageDraft, earlier: &[StageDraft]) -> Vec<draft::CriterionDraft> {
        let mut criteria = Vec::new();
        for id in draft.includes.iter().flat_map(|includes| &includes.value) {
            let is_it = |stage: &&StageDraft| stage.id.as_ref().is_some_and(|known| known.value == id.value);
            match earlier.iter().find(is_it) {
                Some(stage) => criteria = merge::included(criteria, stage.criteria.clone()),
                None => {
                    let known: Vec<&str> = earlier
                        .iter()
                        .filter_map(|stage| stage.id.as_ref())
                        .map(|id| id.value.as_str())
                        .collect();
                    let next = if known.is_empty() {
                        "the first stage can include none".into()
                    } else {
                        meant(&id.value, &known)
                    };
                    self.fault(
                        &id.spot,
                        format!("there is no earlier stage `{}` to include", id.value),
                        next,
                    );
                }
            }
        }
        let known: Vec<At<String>> = criteria.iter().filter_map(|known| known.id.clone()).collect();
        let (kept, stray): (Vec<_>, Vec<_>) = merge::included(criteria, draft.criteria.clone())
            .into_iter()
            .partition(|criterion| !criterion.remove);
        for id in stray.iter().filter_map(|criterion| criterion.id.as_ref()) {
            let own = kept.iter().filter_map(|criterion| criterion.id.as_ref());
            self.faults.push(merge::nothing_to_remove(id, "criterion", known.iter().chain(own)));
        }
        kept
    }

    fn stage(&mut self, draft: StageDraft) -> Option<Stage> {
        let spot = draft.spot.clone();
        let id = draft.id?;
        let part = format!("stage `{}`: title", id.value);
        let title = self.needed(draft.title, &spot, &part, "\"Occlusal reduction\"");
        if draft.criteria.is_empty() {
            self.missing(
                &spot,
                &format!("stage `{}` asks for nothing", id.value),
                "write what a scan is held against under [[stage.criterion]], or `includes` an earlier stage",
            );
        }
        let gauge = self.gauge(draft.gauge, &spot);
        let criteria = self.criteria(draft.criteria);
        if !criteria.is_empty() && criteria.iter().all(|criterion| criterion.weight == 0.0) {
            self.missing(
                &spot,
                &format!("all weights of stage `{}` are 0", id.value),
                "give one a weight above 0",
            );
        }
        Some(Stage {
            id: id.value,
            title: title?,
            instruments: plain(draft.instruments),
            gauge,
            notes: plain(draft.notes),
            criteria,
        })
    }

    fn gauge(&mut self, draft: draft::GaugeDraft, stage: &Spot) -> Option<Gauge> {
        let spot = draft.spot.as_ref()?;
        let spot = if self.is_lenient { stage } else { spot };
        let bar_mm = self.needed(draft.bar_mm, spot, "gauge: bar_mm", "1.5");
        let check =
            self.needed(draft.check, spot, "gauge: check", "\"slips in with a little play, teeth closed\"");
        Some(Gauge { bar_mm: bar_mm?, check: check? })
    }

    /// A value, or a fault where it should stand.
    fn needed<T>(&mut self, given: Option<At<T>>, spot: &Spot, key: &str, example: &str) -> Option<T> {
        if given.is_none() {
            let name = key.rsplit(": ").next().unwrap_or(key);
            self.missing(spot, &format!("`{key}` is missing"), &format!("write {name} = {example}"));
        }
        given.map(|given| given.value)
    }

    /// A fault of absence: none in a template, whose heirs fill it in, or after slips of the pen.
    fn missing(&mut self, spot: &Spot, what: &str, next: &str) {
        if !self.is_lenient {
            self.fault(spot, what, next);
        }
    }

    fn fault(&mut self, spot: &Spot, what: impl Into<String>, next: impl Into<String>) {
        self.faults.push(spot.fault(what, next));
    }
}

fn plain(list: Option<At<Vec<At<String>>>>) -> Vec<String> {
    list.map_or(Vec::new(), |list| list.value.into_iter().map(|item| item.value).collect())
}

impl Credit {
    /// As an exercise file writes it.
    pub fn word(self) -> &'static str {
        match self {
            Self::Step => "step",
            Self::Linear => "linear",
        }
    }
}

impl NotMeasured {
    /// As an exercise file writes it.
    pub fn word(self) -> &'static str {
        match self {
            Self::LeaveOut => "leave out",
            Self::Zero => "zero",
            Self::NoGrade => "no grade",
        }
    }
}

impl TooClose {
    /// As an exercise file writes it.
    pub fn word(self) -> &'static str {
        match self {
            Self::Benefit => "benefit",
            Self::Middle => "middle",
            Self::Strict => "strict",
            Self::AsMeasured => "as measured",
            Self::LeaveOut => "leave out",
        }
    }
}
