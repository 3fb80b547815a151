//! `kerf class report`: how learners and cohorts do, from what is kept.

use std::path::PathBuf;

use anyhow::bail;
use clap::Args;
use kerfwright_batch::{Records, kept_exercises, records};
use kerfwright_overview::{Report, Wish, plot, report, sheet};

use super::data::Data;
use super::export::Which;
use super::intervals::Intervals;
use crate::commands::measure::{make_folder, save};
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
    /// Write the readings of --learner over the attempts as CSV.
    #[arg(long, value_name = "FILE", requires = "learner")]
    pub learner_csv: Option<PathBuf>,
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
    let mut chosen = arguments.which.chosen();
    // Beside a learner stands the class.
    if chosen.cohort.is_some() {
        chosen.learner = None;
    }
    let Records { entries, n_ungraded } = open.runtime.block_on(records(&open.store, &chosen))?;
    let (exercises, versions) = open.wait(kept_exercises(&open.store))?;
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
    if let Some(path) = &arguments.learner_csv {
        save(path, sheet::courses(&reports).as_bytes())?;
    }
    if let Some(folder) = &arguments.svg {
        make_folder(folder)?;
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
