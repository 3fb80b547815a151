//! An exercise as written: every part optional, since a base may hold it, and every value with its line.

mod onlay;

use toml::de::DeTable;

use crate::exercise::{Credit, Critical, NotMeasured, PlacesScore, TooClose};
use crate::range::Range;
use crate::reader::{At, Node, Reader, Spot};

pub use onlay::OnlayDraft;

/// The layout's name.
pub const SCHEMA: &str = "kerfwright-exercise-1";

/// One file.
#[derive(Debug, Clone, Default)]
pub struct Draft {
    pub name: Option<At<String>>,
    pub title: Option<At<String>>,
    pub summary: Option<At<String>>,
    pub base: Option<At<String>>,
    pub template: Option<At<bool>>,
    pub teeth: Option<At<Vec<At<String>>>>,
    pub restoration: Option<At<String>>,
    pub material: Option<At<String>>,
    pub notes: Option<At<Vec<At<String>>>>,
    pub scoring: ScoringDraft,
    pub onlay: OnlayDraft,
    pub stages: Vec<StageDraft>,
}

/// `[scoring]`.
#[derive(Debug, Clone, Default)]
pub struct ScoringDraft {
    pub critical_error_fails: Option<At<bool>>,
    pub credit: Option<At<Credit>>,
    pub acceptable_credit_pct: Option<At<f64>>,
    pub too_close: Option<At<TooClose>>,
    pub not_measured: Option<At<NotMeasured>>,
    pub measured_at_least_pct: Option<At<f64>>,
    pub pass_pct: Option<At<f64>>,
}

/// `[[stage]]`.
#[derive(Debug, Clone)]
pub struct StageDraft {
    pub spot: Spot,
    pub id: Option<At<String>>,
    pub title: Option<At<String>>,
    pub after: Option<At<String>>,
    pub includes: Option<At<Vec<At<String>>>>,
    pub instruments: Option<At<Vec<At<String>>>>,
    pub gauge: GaugeDraft,
    pub notes: Option<At<Vec<At<String>>>>,
    pub criteria: Vec<CriterionDraft>,
    pub remove: bool,
}

/// `[stage.gauge]`.
#[derive(Debug, Clone, Default)]
pub struct GaugeDraft {
    pub spot: Option<Spot>,
    pub bar_mm: Option<At<f64>>,
    pub check: Option<At<String>>,
}

/// `[[stage.criterion]]`.
#[derive(Debug, Clone)]
pub struct CriterionDraft {
    pub spot: Spot,
    pub id: Option<At<String>>,
    pub title: Option<At<String>>,
    pub reading: Option<At<String>>,
    pub part: Option<At<String>>,
    pub places: Option<At<Vec<At<String>>>>,
    pub limits: LimitsDraft,
    pub at: Vec<PlaceDraft>,
    pub critical: Option<At<Critical>>,
    pub weight: Option<At<f64>>,
    pub places_score: Option<At<PlacesScore>>,
    pub credit: Option<At<Credit>>,
    pub not_measured: Option<At<NotMeasured>>,
    pub disagreement: Option<At<String>>,
    pub note: Option<At<String>>,
    pub remove: bool,
}

/// `[stage.criterion.at.facial]`.
#[derive(Debug, Clone)]
pub struct PlaceDraft {
    pub spot: Spot,
    pub place: String,
    pub limits: LimitsDraft,
}

/// What is wanted and where that comes from.
#[derive(Debug, Clone, Default)]
pub struct LimitsDraft {
    pub ideal: Option<LimitDraft>,
    pub acceptable: Option<LimitDraft>,
    pub source: Option<At<Vec<At<String>>>>,
}

/// One limit under its key.
#[derive(Debug, Clone)]
pub struct LimitDraft {
    /// As `ideal_mm`.
    pub key: String,
    pub spot: Spot,
    pub bound: Bound,
}

/// What a limit says.
#[derive(Debug, Clone)]
pub enum Bound {
    Range(Range),
    Words(Vec<At<String>>),
}

const EXERCISE_KEYS: &[&str] = &[
    "schema",
    "name",
    "title",
    "summary",
    "base",
    "template",
    "teeth",
    "restoration",
    "material",
    "notes",
    "scoring",
    "onlay",
    "stage",
];
const SCORING_KEYS: &[&str] = &[
    "critical_error",
    "credit",
    "acceptable_credit_pct",
    "too_close",
    "not_measured",
    "measured_at_least_pct",
    "pass_pct",
];
const STAGE_KEYS: &[&str] =
    &["id", "title", "after", "includes", "instruments", "gauge", "notes", "criterion", "remove"];
const CRITERION_KEYS: &[&str] = &[
    "id",
    "title",
    "reading",
    "part",
    "places",
    "ideal_mm",
    "ideal_deg",
    "ideal_pct",
    "ideal_um",
    "ideal_mm2",
    "ideal_mm3",
    "ideal",
    "ideal_words",
    "acceptable_mm",
    "acceptable_deg",
    "acceptable_pct",
    "acceptable_um",
    "acceptable_mm2",
    "acceptable_mm3",
    "acceptable",
    "acceptable_words",
    "at",
    "critical",
    "weight",
    "places_score",
    "credit",
    "not_measured",
    "source",
    "disagreement",
    "note",
    "remove",
];

const CREDITS: &[(&str, Credit)] = &[("step", Credit::Step), ("linear", Credit::Linear)];
const NOT_MEASURED: &[(&str, NotMeasured)] =
    &[("leave out", NotMeasured::LeaveOut), ("zero", NotMeasured::Zero), ("no grade", NotMeasured::NoGrade)];
const TOO_CLOSE: &[(&str, TooClose)] = &[
    ("benefit", TooClose::Benefit),
    ("middle", TooClose::Middle),
    ("strict", TooClose::Strict),
    ("as measured", TooClose::AsMeasured),
    ("leave out", TooClose::LeaveOut),
];

/// Reads one file as written.
pub fn read(reader: &mut Reader<'_>) -> Draft {
    let mut draft = Draft::default();
    let Some(table) = reader.table() else { return draft };
    for (key, node) in &table {
        match key.get_ref().as_ref() {
            "schema" => schema(reader, node),
            "name" => draft.name = reader.id("name", node),
            "title" => draft.title = reader.text("title", node),
            "summary" => draft.summary = reader.text("summary", node),
            "base" => draft.base = reader.id("base", node),
            "template" => draft.template = reader.flag("template", node),
            "teeth" => draft.teeth = reader.words("teeth", node),
            "restoration" => draft.restoration = reader.text("restoration", node),
            "material" => draft.material = reader.text("material", node),
            "notes" => draft.notes = reader.texts("notes", node),
            "scoring" => {
                if let Some((_, table)) = reader.tables("scoring", node).first() {
                    draft.scoring = scoring(reader, table);
                }
            }
            "onlay" => {
                if let Some((spot, table)) = reader.tables("onlay", node).pop() {
                    draft.onlay = onlay::read(reader, spot, table);
                }
            }
            "stage" => {
                for (spot, table) in reader.tables("stage", node) {
                    draft.stages.push(stage(reader, spot, table));
                }
            }
            _ => reader.unknown_key(key, EXERCISE_KEYS, "an exercise"),
        }
    }
    draft
}

fn schema(reader: &mut Reader<'_>, node: &Node<'_>) {
    if let Some(schema) = reader.text("schema", node)
        && schema.value != SCHEMA
    {
        reader.fault(
            node,
            format!("layout `{}` is not known", schema.value),
            format!("this version reads `{SCHEMA}`"),
        );
    }
}

fn scoring(reader: &mut Reader<'_>, table: &DeTable<'_>) -> ScoringDraft {
    let mut draft = ScoringDraft::default();
    for (key, node) in table {
        let name = key.get_ref().as_ref();
        match name {
            "critical_error" => {
                let words = &[("fails", true), ("counts", false)];
                draft.critical_error_fails = reader.choice(name, node, words);
            }
            "credit" => draft.credit = reader.choice(name, node, CREDITS),
            "acceptable_credit_pct" => draft.acceptable_credit_pct = reader.percent(name, node),
            "too_close" => draft.too_close = reader.choice(name, node, TOO_CLOSE),
            "not_measured" => draft.not_measured = reader.choice(name, node, NOT_MEASURED),
            "measured_at_least_pct" => draft.measured_at_least_pct = reader.percent(name, node),
            "pass_pct" => draft.pass_pct = reader.percent(name, node),
            _ => reader.unknown_key(key, SCORING_KEYS, "[scoring]"),
        }
    }
    draft
}

impl StageDraft {
    /// A stage of which nothing is said.
    pub fn at(spot: Spot) -> Self {
        Self {
            spot,
            id: None,
            title: None,
            after: None,
            includes: None,
            instruments: None,
            gauge: GaugeDraft::default(),
            notes: None,
            criteria: Vec::new(),
            remove: false,
        }
    }
}

fn stage(reader: &mut Reader<'_>, spot: Spot, table: &DeTable<'_>) -> StageDraft {
    let mut draft = StageDraft::at(spot);
    for (key, node) in table {
        let name = key.get_ref().as_ref();
        match name {
            "id" => draft.id = reader.id(name, node),
            "title" => draft.title = reader.text(name, node),
            "after" => draft.after = reader.id(name, node),
            "includes" => draft.includes = reader.texts(name, node),
            "instruments" => draft.instruments = instruments(reader, node),
            "gauge" => {
                if let Some((spot, table)) = reader.tables(name, node).pop() {
                    draft.gauge = gauge(reader, spot, table);
                }
            }
            "notes" => draft.notes = reader.texts(name, node),
            "criterion" => {
                for (spot, table) in reader.tables(name, node) {
                    draft.criteria.push(criterion(reader, spot, table));
                }
            }
            "remove" => draft.remove = reader.flag(name, node).is_some_and(|flag| flag.value),
            _ => reader.unknown_key(key, STAGE_KEYS, "a stage"),
        }
    }
    draft
}

fn instruments(reader: &mut Reader<'_>, node: &Node<'_>) -> Option<At<Vec<At<String>>>> {
    let Some(items) = node.get_ref().as_array() else { return reader.texts("instruments", node) };
    let mut ids = reader.texts("instruments", node)?;
    ids.value = items.iter().filter_map(|item| reader.id("instruments", item)).collect();
    Some(ids)
}

fn gauge(reader: &mut Reader<'_>, spot: Spot, table: &DeTable<'_>) -> GaugeDraft {
    let mut draft = GaugeDraft { spot: Some(spot), ..GaugeDraft::default() };
    for (key, node) in table {
        let name = key.get_ref().as_ref();
        match name {
            "bar_mm" => draft.bar_mm = reader.amount(name, node),
            "check" => draft.check = reader.text(name, node),
            _ => reader.unknown_key(key, &["bar_mm", "check"], "a gauge"),
        }
    }
    draft
}

fn criterion(reader: &mut Reader<'_>, spot: Spot, table: &DeTable<'_>) -> CriterionDraft {
    let mut draft = CriterionDraft::empty(spot);
    for (key, node) in table {
        let name = key.get_ref().as_ref();
        match name {
            "id" => draft.id = reader.id(name, node),
            "title" => draft.title = reader.text(name, node),
            "reading" => draft.reading = reader.text(name, node),
            "part" => draft.part = reader.text(name, node),
            "places" => draft.places = reader.texts(name, node),
            "at" => draft.at = exceptions(reader, node),
            "critical" => draft.critical = critical(reader, node),
            "weight" => draft.weight = reader.amount(name, node),
            "places_score" => draft.places_score = places_score(reader, node),
            "credit" => draft.credit = reader.choice(name, node, CREDITS),
            "not_measured" => draft.not_measured = reader.choice(name, node, NOT_MEASURED),
            "disagreement" => draft.disagreement = reader.text(name, node),
            "note" => draft.note = reader.text(name, node),
            "remove" => draft.remove = reader.flag(name, node).is_some_and(|flag| flag.value),
            _ if limit(reader, &mut draft.limits, name, node) => {}
            _ => reader.unknown_key(key, CRITERION_KEYS, "a criterion"),
        }
    }
    draft
}

fn critical(reader: &mut Reader<'_>, node: &Node<'_>) -> Option<At<Critical>> {
    let words = &[("below", Critical::Below), ("above", Critical::Above), ("both", Critical::Both)];
    reader.choice("critical", node, words)
}

fn places_score(reader: &mut Reader<'_>, node: &Node<'_>) -> Option<At<PlacesScore>> {
    let words = &[("mean", PlacesScore::Mean), ("worst", PlacesScore::Worst), ("best", PlacesScore::Best)];
    reader.choice("places_score", node, words)
}

fn exceptions(reader: &mut Reader<'_>, node: &Node<'_>) -> Vec<PlaceDraft> {
    let mut places = Vec::new();
    for (_, table) in reader.tables("at", node) {
        for (key, node) in table {
            let place = key.get_ref().to_string();
            for (_, table) in reader.tables(&place, node) {
                let spot = reader.spot(&key.span());
                let mut draft = PlaceDraft { spot, place: place.clone(), limits: LimitsDraft::default() };
                for (key, node) in table {
                    if !limit(reader, &mut draft.limits, key.get_ref(), node) {
                        let known: Vec<&str> = limit_keys().collect();
                        reader.unknown_key(key, &known, "a place");
                    }
                }
                places.push(draft);
            }
        }
    }
    places
}

fn limit_keys() -> impl Iterator<Item = &'static str> {
    let is_limit = |key: &&str| key.starts_with("ideal") || key.starts_with("acceptable") || *key == "source";
    CRITERION_KEYS.iter().copied().filter(is_limit)
}

/// Reads a limit or its source; `false` if the key is neither.
fn limit(reader: &mut Reader<'_>, limits: &mut LimitsDraft, key: &str, node: &Node<'_>) -> bool {
    if !limit_keys().any(|known| known == key) {
        return false;
    }
    if key == "source" {
        limits.source = reader.texts(key, node);
        return true;
    }
    let bound = match key.ends_with("_words") {
        true => reader.texts(key, node).map(|words| (words.spot, Bound::Words(words.value))),
        false => reader.range(key, node).map(|range| (range.spot, Bound::Range(range.value))),
    };
    let slot = if key.starts_with("ideal") { &mut limits.ideal } else { &mut limits.acceptable };
    match (&slot, bound) {
        (Some(other), Some(_)) => {
            let what = format!("`{key}` stands beside `{}`", other.key);
            reader.fault(node, what, "keep the one in the reading's own unit");
        }
        (None, Some((spot, bound))) => *slot = Some(LimitDraft { key: key.to_owned(), spot, bound }),
        (_, None) => {}
    }
    true
}

impl CriterionDraft {
    fn empty(spot: Spot) -> Self {
        Self {
            spot,
            id: None,
            title: None,
            reading: None,
            part: None,
            places: None,
            limits: LimitsDraft::default(),
            at: Vec::new(),
            critical: None,
            weight: None,
            places_score: None,
            credit: None,
            not_measured: None,
            disagreement: None,
            note: None,
            remove: false,
        }
    }
}
