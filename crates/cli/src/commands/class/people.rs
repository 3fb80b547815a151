//! `kerf class import`, `rate`, `session`, `list`.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};

use anyhow::{Context, bail};
use clap::{Args, ValueEnum};
use kerfwright_exchange::roster::{FILES, read_one_roster, read_roster};
use kerfwright_exchange::{Roster, RosterFaults};
use kerfwright_store::{Chosen, RatingRow, RosterOptions, SessionRow};

use super::agree;
use super::data::Data;
use crate::args::person;
use crate::columns::Columns;

/// Lists are aligned to the left.
const LEFT: [bool; 8] = [false; 8];

/// A roster.
#[derive(Debug, Args)]
pub struct Import {
    /// OneRoster CSV files as a ZIP file or folder (versions 1.1 and 1.2), or a table with the columns learner and, if wanted, cohort, title,
    /// name.
    #[arg(value_name = "FILE|FOLDER")]
    pub roster: PathBuf,
    /// What codes begin with where the roster gives none.
    #[arg(long, value_name = "LETTERS", default_value = "L")]
    pub prefix: String,
    /// Keep names too. They stand apart from all else and can be erased.
    #[arg(long)]
    pub names: bool,
    /// Only say what it would bring; nothing is kept.
    #[arg(long)]
    pub dry_run: bool,
    /// Where it is kept.
    #[command(flatten)]
    pub data: Data,
}

/// Ratings.
#[derive(Debug, Args)]
pub struct Rate {
    /// Table with the columns examiner, attempt (number or id), criterion, value and, if graded again, occasion.
    #[arg(value_name = "FILE.csv")]
    pub file: PathBuf,
    /// Where they are kept.
    #[command(flatten)]
    pub data: Data,
}

/// A session.
#[derive(Debug, Args)]
pub struct Session {
    /// Its code.
    pub code: String,
    /// What people call it; the code if left out.
    #[arg(long)]
    pub title: Option<String>,
    /// Code of its cohort.
    #[arg(long, value_name = "CODE")]
    pub cohort: Option<String>,
    /// Code of its instructor; no names.
    #[arg(long, value_name = "CODE", value_parser = person)]
    pub instructor: Option<String>,
    /// The day.
    #[arg(long, value_name = "YYYY-MM-DD", value_parser = super::run::day)]
    pub held: Option<String>,
    /// Where it is kept.
    #[command(flatten)]
    pub data: Data,
}

/// A list.
#[derive(Debug, Args)]
pub struct List {
    /// Of what.
    #[arg(value_enum)]
    pub of: Of,
    /// Names beside the codes.
    #[arg(long)]
    pub names: bool,
    /// Where it is kept.
    #[command(flatten)]
    pub data: Data,
}

/// What can be listed.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub enum Of {
    /// Learners.
    Learners,
    /// Cohorts.
    Cohorts,
    /// Sessions.
    Sessions,
    /// Versions of exercises.
    Exercises,
    /// Attempts.
    Attempts,
}

/// Takes a roster in, whole or not at all.
pub fn import(arguments: &Import) -> anyhow::Result<()> {
    let roster = roster_at(&arguments.roster)?;
    let open = arguments.data.open()?;
    let options = RosterOptions { who: "bench", prefix: &arguments.prefix, with_names: arguments.names };
    let count = if arguments.dry_run {
        open.wait(open.store.try_roster(&roster, &options))?
    } else {
        open.wait(open.store.take_roster(&roster, &options))?
    };
    println!("{count}{}", if arguments.names { "" } else { " Names were left out (--names keeps them)." });
    if arguments.dry_run {
        count.new_codes.iter().for_each(|code| println!("  new: {code}"));
        count.leaving.iter().for_each(|(cohort, learner)| println!("  leaves {cohort}: {learner}"));
        println!("Nothing was kept.");
    }
    Ok(())
}

fn roster_at(path: &Path) -> anyhow::Result<Roster> {
    let shown = path.display();
    let unread = || format!("{shown}: cannot be read; check the name and the rights");
    if !path.is_dir() {
        return Ok(read_roster(&shown.to_string(), &fs::read(path).with_context(unread)?)?);
    }
    let mut files = BTreeMap::new();
    for name in FILES.iter().filter(|name| path.join(name).is_file()) {
        files.insert((*name).to_owned(), fs::read(path.join(name)).with_context(unread)?);
    }
    Ok(read_one_roster(&files).map_err(RosterFaults)?)
}

/// Takes ratings in, all or none.
pub fn rate(arguments: &Rate) -> anyhow::Result<()> {
    let ratings = agree::read(&arguments.file)?;
    let open = arguments.data.open()?;
    let attempts = open.wait(open.store.class_attempts(&Chosen::default()))?;
    let ids: BTreeMap<String, &str> = attempts
        .iter()
        .flat_map(|attempt| [(attempt.number.to_string(), &*attempt.id), (attempt.id.clone(), &*attempt.id)])
        .collect();
    let unknown: BTreeSet<&str> =
        ratings.iter().map(|rating| &*rating.attempt).filter(|attempt| !ids.contains_key(*attempt)).collect();
    if !unknown.is_empty() {
        let unknown: Vec<&str> = unknown.into_iter().collect();
        bail!(
            "{}: no attempt {} is kept; see kerf class list attempts",
            arguments.file.display(),
            unknown.join(", ")
        );
    }
    let row = |rating: &kerfwright_class::Rating| RatingRow {
        examiner: rating.examiner.clone(),
        attempt: ids[&rating.attempt].to_owned(),
        criterion: rating.criterion.clone(),
        occasion: i64::from(rating.occasion) + 1,
        value: rating.value,
    };
    let rows: Vec<RatingRow> = ratings.iter().map(row).collect();
    open.wait(open.store.keep_ratings(&rows, "bench"))?;
    println!("{} ratings kept.", rows.len());
    Ok(())
}

/// Names a session.
pub fn session(arguments: &Session) -> anyhow::Result<()> {
    let open = arguments.data.open()?;
    if let Some(cohort) = &arguments.cohort {
        let known = open.wait(open.store.cohorts())?;
        if !known.iter().any(|row| row.code == *cohort) {
            bail!("--cohort: there is no cohort `{cohort}`; see kerf class list cohorts");
        }
    }
    let row = SessionRow {
        code: arguments.code.clone(),
        title: arguments.title.clone().unwrap_or_else(|| arguments.code.clone()),
        cohort: arguments.cohort.clone(),
        instructor: arguments.instructor.clone(),
        held: arguments.held.clone(),
    };
    open.wait(open.store.keep_session(&row, "bench"))?;
    println!("Session {} kept.", row.code);
    Ok(())
}

/// Lists.
pub fn list(arguments: &List) -> anyhow::Result<()> {
    let open = arguments.data.open()?;
    let (heading, rows): (Vec<&str>, Vec<Vec<String>>) = match arguments.of {
        Of::Learners => {
            let row = |row: kerfwright_store::LearnerRow| {
                let name = row.name.filter(|_| arguments.names).unwrap_or_default();
                vec![row.code, row.n_attempts.to_string(), name]
            };
            let rows = open.wait(open.store.learners())?;
            (
                vec!["learner", "attempts", if arguments.names { "name" } else { "" }],
                rows.into_iter().map(row).collect(),
            )
        }
        Of::Cohorts => {
            let rows = open.wait(open.store.cohorts())?;
            let row =
                |row: kerfwright_store::CohortRow| vec![row.code, row.n_learners.to_string(), row.title];
            (vec!["cohort", "learners", "title"], rows.into_iter().map(row).collect())
        }
        Of::Sessions => {
            let rows = open.wait(open.store.sessions())?;
            let row = |row: SessionRow| {
                let or = Option::unwrap_or_default;
                vec![row.code, or(row.held), or(row.cohort), or(row.instructor), row.title]
            };
            (vec!["session", "day", "cohort", "instructor", "title"], rows.into_iter().map(row).collect())
        }
        Of::Exercises => {
            let rows = open.wait(open.store.exercises())?;
            let row = |row: kerfwright_store::ExerciseRow| {
                vec![row.name, row.id.chars().take(12).collect(), row.created, row.title]
            };
            (vec!["exercise", "version", "since", "title"], rows.into_iter().map(row).collect())
        }
        Of::Attempts => {
            let rows = open.wait(open.store.class_attempts(&Chosen::default()))?;
            let row = |row: kerfwright_store::ClassAttempt| {
                let or = Option::unwrap_or_default;
                let (exercise, stage) = (or(row.exercise), or(row.stage));
                let what = if exercise.is_empty() { String::new() } else { format!("{exercise}, {stage}") };
                vec![
                    row.number.to_string(),
                    row.taken,
                    or(row.learner),
                    row.fdi.to_string(),
                    what,
                    or(row.session),
                    row.state,
                    or(row.error_text),
                ]
            };
            let heading = vec!["attempt", "day", "learner", "tooth", "exercise", "session", "state", "why"];
            (heading, rows.into_iter().map(row).collect())
        }
    };
    let mut columns = Columns::new(&LEFT[..heading.len()]);
    columns.line(heading.into_iter().map(str::to_owned).collect());
    rows.into_iter().for_each(|row| columns.line(row));
    print!("{}", columns.render());
    Ok(())
}
