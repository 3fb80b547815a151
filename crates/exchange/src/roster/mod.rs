//! Who is in which cohort, read from tables.

mod one_roster;
mod plain;
mod sheet;

use std::collections::BTreeMap;

pub use one_roster::{FILES, read_one_roster};
pub use plain::read_plain;

use crate::code::CODE_LENGTH;
use crate::unzip;

/// A learner as a roster has it.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct RosterLearner {
    /// The code; none where the roster has only ids of its own system, and a code is to be given.
    pub code: Option<String>,
    /// Id in the roster's system.
    pub roster_id: Option<String>,
    /// The name, if the roster has it.
    pub name: Option<String>,
}

/// A cohort as a roster has it.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct RosterCohort {
    /// The code.
    pub code: String,
    /// What people call it.
    pub title: String,
    /// Id in the roster's system.
    pub roster_id: Option<String>,
}

/// What a roster says. Members are pairs of places in `cohorts` and `learners`.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Roster {
    /// The learners.
    pub learners: Vec<RosterLearner>,
    /// The cohorts.
    pub cohorts: Vec<RosterCohort>,
    /// Who is in which cohort: (cohort, learner).
    pub members: Vec<(usize, usize)>,
    /// Who is to leave which cohort.
    pub leaving: Vec<(usize, usize)>,
}

/// One fault of a roster: file, line, what is wrong.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{file}: {fault}")]
pub struct RosterFault {
    /// The file.
    pub file: String,
    /// Line, counted from 1, fault and next step.
    pub fault: String,
}

/// Most that a roster unpacks to, MB.
const MOST_MB: u64 = 200;
/// Faults that are named one by one.
const MOST_FAULTS: usize = 20;

/// All faults of a roster, of which nothing is taken in; one a line under the first.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("nothing was taken in: {}", in_lines(.0))]
pub struct RosterFaults(pub Vec<RosterFault>);

/// Reads a roster from one file: OneRoster CSV files as a ZIP file, or a plain table. `file` is its name, for the faults.
///
/// # Errors
/// [`RosterFaults`].
pub fn read_roster(file: &str, bytes: &[u8]) -> Result<Roster, RosterFaults> {
    let read = if bytes.starts_with(b"PK") {
        let fault = |fault: crate::ZipFault| {
            RosterFaults(vec![RosterFault { file: file.into(), fault: fault.to_string() }])
        };
        read_one_roster(&unzip(bytes, MOST_MB).map_err(fault)?)
    } else {
        read_plain(file, bytes)
    };
    read.map_err(RosterFaults)
}

fn in_lines(faults: &[RosterFault]) -> String {
    let mut told: Vec<String> = faults.iter().take(MOST_FAULTS).map(ToString::to_string).collect();
    if faults.len() > MOST_FAULTS {
        told.push(format!("and {} more", faults.len() - MOST_FAULTS));
    }
    told.join("\n      ")
}

/// Places by their ids, to find what another line means.
type Places = BTreeMap<String, usize>;

/// A cohort's code that can be kept, or why not: other than a person's it may be a name.
fn cohort_code(text: &str) -> Result<String, String> {
    match text.chars().count() {
        0 => Err("is empty; give a code, as spring".into()),
        1..=CODE_LENGTH if !text.chars().any(char::is_control) => Ok(text.to_owned()),
        1..=CODE_LENGTH => Err("has control characters; give a plain code".into()),
        _ => Err(format!("has more than {CODE_LENGTH} letters; give a shorter one")),
    }
}
