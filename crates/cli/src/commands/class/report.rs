//! `kerf class report`: how learners and cohorts do, from what is kept.

use std::collections::BTreeMap;
use std::fs;
use std::path::PathBuf;

use anyhow::{Context, bail};
use clap::Args;
use kerfwright_exercise::{Exercise, Shelf, read};
use kerfwright_overview::{Entry, Report, Wish, plot, report, sheet};
use kerfwright_store::ClassAttempt;

use super::data::{Data, Open};
use super::export::Which;
use super::intervals::Intervals;
use crate::class_tables::standing;
use crate::commands::measure::save;
use crate::report_table;

/// What to report on, and where to.
#[derive(Debug, Args)]
pub struct Arguments {
    /// Whose and which. With --learner the learner is followed over all attempts, against the class of --cohort if that is given.
    #[command(flatten)]
    pub which: Which,
    /// How sure the intervals are.
    #[command(flatten)]
    pub intervals: Intervals,
    /// Write everything as JSON.
    #[arg(long, value_name = "FILE")]
    pub json: Option<PathBuf>,
    /// Write the readings against their bands as CSV.
    #[arg(long, value_name = "FILE")]
    pub csv: Option<PathBuf>,
    /// Write plots as SVG files into this folder.
    #[arg(long, value_name = "FOLDER")]
    pub svg: Option<PathBuf>,
    /// Print no table.
    #[arg(long, short)]
    pub quiet: bool,
    /// Where it is kept.
    #[command(flatten)]
    pub data: Data,
}

/// Reports.
pub fn run(arguments: &Arguments) -> anyhow::Result<()> {
    let open = arguments.data.open()?;
    let (entries, n_ungraded) = entries(arguments, &open)?;
    let (exercises, versions) = exercises(&open)?;
    let settings = arguments.intervals.settings();
    let wish = Wish {
        learner: arguments.which.learner.as_deref(),
        exercises: &exercises,
        versions: &versions,
        settings: &settings,
    };
    let reports = report(&entries, &wish);
    if reports.is_empty() {
        bail!(
            "nothing to report: {n_ungraded} attempts fit and none of them is graded; run them with \
             kerf class run --exercise NAME"
        );
    }
    if !arguments.quiet {
        print!("{}", report_table::render(&reports));
        if n_ungraded > 0 {
            println!("{n_ungraded} attempts without a grade (refused, or without an exercise) are left out.");
        }
    }
    if let Some(path) = &arguments.json {
        save(path, (serde_json::to_string_pretty(&reports)? + "\n").as_bytes())?;
    }
    if let Some(path) = &arguments.csv {
        save(path, sheet::csv(&reports).as_bytes())?;
    }
    if let Some(folder) = &arguments.svg {
        fs::create_dir_all(folder).with_context(|| {
            format!("{}: cannot be made; check the name and the rights", folder.display())
        })?;
        reports.iter().try_for_each(|report| draw(report, folder))?;
    }
    Ok(())
}

fn draw(report: &Report, folder: &std::path::Path) -> anyhow::Result<()> {
    let name = |what: &str| folder.join(format!("{}-{}-{what}.svg", report.exercise, report.stage));
    save(&name("readings"), plot::distributions(report).as_bytes())?;
    if let Some(svg) = plot::places(report) {
        save(&name("places"), svg.as_bytes())?;
    }
    if let Some(svg) = plot::courses(report) {
        save(&name("learner"), svg.as_bytes())?;
    }
    Ok(())
}

/// The graded attempts, and how many fit without a grade.
fn entries(arguments: &Arguments, open: &Open) -> anyhow::Result<(Vec<Entry>, usize)> {
    let mut chosen = arguments.which.chosen();
    // Beside a learner stands the class.
    if chosen.cohort.is_some() {
        chosen.learner = None;
    }
    let attempts = open.wait(open.store.class_attempts(&chosen))?;
    let by_id: BTreeMap<&str, &ClassAttempt> =
        attempts.iter().map(|attempt| (attempt.id.as_str(), attempt)).collect();
    let mut cohorts: BTreeMap<String, Vec<String>> = BTreeMap::new();
    for cohort in open.wait(open.store.cohorts())? {
        for learner in open.wait(open.store.members(&cohort.code))? {
            cohorts.entry(learner).or_default().push(cohort.code.clone());
        }
    }
    let grades = open.wait(open.store.class_grades(&chosen))?;
    let mut entries = Vec::new();
    for row in &grades {
        let Some(attempt) = by_id.get(row.attempt.as_str()) else { continue };
        let grade = standing(row, &open.wait(open.store.overrides(&row.id))?)?;
        entries.push(Entry {
            number: attempt.number,
            learner: attempt.learner.clone(),
            session: attempt.session.clone(),
            instructor: attempt.instructor.clone(),
            cohorts: attempt.learner.as_ref().and_then(|code| cohorts.get(code).cloned()).unwrap_or_default(),
            date: attempt.taken.clone(),
            exercise_version: row.exercise_version.clone(),
            grade,
        });
    }
    let n_ungraded = attempts.len() - entries.len();
    Ok((entries, n_ungraded))
}

/// The latest version of each kept exercise, and its id by name.
fn exercises(open: &Open) -> anyhow::Result<(Vec<Exercise>, BTreeMap<String, String>)> {
    let mut latest = BTreeMap::new();
    for row in open.wait(open.store.exercises())? {
        latest.insert(row.name.clone(), row);
    }
    let exercises =
        latest.values().filter_map(|row| read(&row.name, &row.toml, &Shelf::library()).ok()).collect();
    Ok((exercises, latest.into_iter().map(|(name, row)| (name, row.id)).collect()))
}
