//! One exercise and stage of a class.

use std::collections::BTreeMap;

use kerfwright_class::items::{Item, ItemReport, items};
use kerfwright_class::{Answer, Settings};
use kerfwright_exercise::Exercise;
use serde::Serialize;

use crate::compared::{Comparison, comparisons};
use crate::criterion::{CriterionReport, criteria};
use crate::entry::{Entry, latest};
use crate::learner::{LearnerReport, learner};
use crate::places::{PlacesReport, places};

/// Names the layout of [`Report`]; the number rises when a field changes its meaning.
pub const SCHEMA: &str = "kerfwright-class-report-1";

/// Shown with every report.
const CAUTIONS: [&str; 3] = [
    "Teaching and decision support: a class this small says little of others; the intervals say how little.",
    "A value counts as missed only where it is proven outside its band; what is too close to call is counted apart.",
    "Learners' data are private: pass this on only to those who may see it.",
];

/// How a class does at one stage of one exercise.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS))]
pub struct Report {
    /// [`SCHEMA`].
    pub schema: &'static str,
    /// Name of the exercise.
    pub exercise: String,
    /// What people call it.
    pub title: String,
    /// Id of the stage.
    pub stage: String,
    /// Confidence of the intervals.
    pub confidence: f64,
    /// Graded attempts.
    pub n_attempts: u32,
    /// Learners; statistics count the latest attempt of each.
    pub n_learners: u32,
    /// Attempts that were held against an older version of the exercise, and are left out.
    pub n_older_version: u32,
    /// Each reading against its band.
    pub criteria: Vec<CriterionReport>,
    /// Faults by place.
    pub places: PlacesReport,
    /// The criteria as items of a test.
    pub items: Answer<ItemReport>,
    /// Groups against each other.
    pub comparisons: Vec<Comparison>,
    /// The learner who was asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub learner: Option<LearnerReport>,
    /// What a report is not.
    pub cautions: [&'static str; 3],
}

/// What is wanted of a report.
#[derive(Debug, Clone, Copy)]
pub struct Wish<'a> {
    /// A learner to be followed over time.
    pub learner: Option<&'a str>,
    /// Where training is looked for.
    pub exercises: &'a [Exercise],
    /// Version of each exercise that counts, by name: the latest one.
    pub versions: &'a BTreeMap<String, String>,
    /// How intervals are made.
    pub settings: &'a Settings,
}

/// A report for each exercise and stage, by their names.
pub fn report(entries: &[Entry], wish: &Wish<'_>) -> Vec<Report> {
    let mut groups: BTreeMap<(&str, &str), Vec<&Entry>> = BTreeMap::new();
    for entry in entries {
        groups.entry((&entry.grade.exercise.name, &entry.grade.stage.id)).or_default().push(entry);
    }
    groups
        .into_iter()
        .filter_map(|((exercise, stage), entries)| one(exercise, stage, &entries, wish))
        .collect()
}

fn one(exercise: &str, stage: &str, entries: &[&Entry], wish: &Wish<'_>) -> Option<Report> {
    let counts = |entry: &&&Entry| wish.versions.get(exercise).is_none_or(|id| *id == entry.exercise_version);
    let counted: Vec<&Entry> = entries.iter().filter(counts).copied().collect();
    let of_learners = latest(&counted);
    let first = of_learners.first()?;
    Some(Report {
        schema: SCHEMA,
        exercise: exercise.into(),
        title: first.grade.exercise.title.clone(),
        stage: stage.into(),
        confidence: wish.settings.confidence,
        n_attempts: counted.len() as u32,
        n_learners: of_learners.len() as u32,
        n_older_version: (entries.len() - counted.len()) as u32,
        criteria: criteria(&of_learners, wish.settings),
        places: places(&of_learners, wish.settings),
        items: as_items(&of_learners, wish.settings),
        comparisons: comparisons(&counted, wish.settings),
        learner: wish.learner.map(|code| learner(code, &counted, wish.exercises, wish.settings)),
        cautions: CAUTIONS,
    })
}

/// Points by criterion, one row a learner. Where some places were not measured, the share of what was is taken for the whole.
fn as_items(latest: &[&Entry], settings: &Settings) -> Answer<ItemReport> {
    let Some(first) = latest.first() else { return items(&[], &[], settings).into() };
    let scored: Vec<Item> = first
        .grade
        .criteria
        .iter()
        .filter(|criterion| criterion.weight > 0.0)
        .map(|criterion| Item { name: criterion.id.clone(), most: criterion.weight })
        .collect();
    let score = |entry: &Entry, item: &Item| {
        let criterion = entry.grade.criteria.iter().find(|criterion| criterion.id == item.name)?;
        let share = criterion.points / criterion.possible;
        (criterion.possible > 0.0).then(|| (share * item.most).clamp(0.0, item.most))
    };
    let rows: Vec<Vec<Option<f64>>> =
        latest.iter().map(|entry| scored.iter().map(|item| score(entry, item)).collect()).collect();
    items(&rows, &scored, settings).into()
}
