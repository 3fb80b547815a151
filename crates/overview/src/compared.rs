//! Cohorts, sessions, instructors against each other.

use std::collections::{BTreeMap, BTreeSet};

use kerfwright_class::cohort::{Groups, compare, compare_groups};
use kerfwright_class::{Answer, Settings};
use serde::Serialize;

use crate::entry::{Entry, latest};

/// Groups by one of their kinds, compared by the points that count.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS))]
pub struct Comparison {
    /// `cohort`, `session` or `instructor`.
    pub by: &'static str,
    /// The groups, by code, and the learners of each.
    pub groups: Vec<(String, u32)>,
    /// What came of it.
    pub result: Compared,
}

/// What a comparison says.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum Compared {
    /// Two groups.
    Two(Box<Answer<kerfwright_class::cohort::Comparison>>),
    /// More.
    Several(Answer<Groups>),
    /// Why they cannot be compared.
    Refused(String),
}

/// The groups that an entry counts in.
type GroupsOf = fn(&Entry) -> Vec<String>;

/// All comparisons for which there are two groups or more. One value a learner and group: the latest attempt there.
pub fn comparisons(entries: &[&Entry], settings: &Settings) -> Vec<Comparison> {
    let kinds: [(&'static str, GroupsOf); 3] = [
        ("cohort", |entry| entry.cohorts.clone()),
        ("session", |entry| entry.session.clone().into_iter().collect()),
        ("instructor", |entry| entry.instructor.clone().into_iter().collect()),
    ];
    kinds.into_iter().filter_map(|(by, groups_of)| comparison(by, entries, groups_of, settings)).collect()
}

fn comparison(
    by: &'static str,
    entries: &[&Entry],
    groups_of: GroupsOf,
    settings: &Settings,
) -> Option<Comparison> {
    let mut members: BTreeMap<String, Vec<&Entry>> = BTreeMap::new();
    for &entry in entries {
        for group in groups_of(entry) {
            members.entry(group).or_default().push(entry);
        }
    }
    if members.len() < 2 {
        return None;
    }
    let (mut groups, mut values) = (Vec::new(), Vec::new());
    let (mut seen, mut shared) = (BTreeSet::new(), BTreeSet::new());
    for (group, entries) in members {
        let own = latest(&entries);
        for learner in own.iter().filter_map(|entry| entry.learner.clone()) {
            if !seen.insert(learner.clone()) {
                shared.insert(learner);
            }
        }
        let points: Vec<f64> = own.iter().filter_map(|entry| entry.grade.standing.pct).collect();
        groups.push((group, points.len() as u32));
        values.push(points);
    }
    let result = if !shared.is_empty() {
        Compared::Refused(format!(
            "{} learners are in more than one group: their grades hang together, and a comparison of groups would take them for \
             different people",
            shared.len()
        ))
    } else if let [first, second] = &values[..] {
        Compared::Two(Box::new(compare(first, second, settings).into()))
    } else {
        Compared::Several(compare_groups(&values, settings).into())
    };
    Some(Comparison { by, groups, result })
}
