//! `kerf class export` and `open`: grades, readings and attempts as files.

use std::fs;
use std::path::PathBuf;

use anyhow::{Context, anyhow, bail};
use clap::{Args, ValueEnum};
use kerfwright_batch::{decisions, grades_table, readings_table};
use kerfwright_exchange::bundle;
use kerfwright_store::Chosen;

use super::data::Data;
use crate::commands::measure::save;

/// What to write.
#[derive(Debug, Args)]
pub struct Export {
    /// What.
    #[arg(value_enum)]
    pub what: What,
    /// The attempt, by number or id; for `attempt`.
    #[arg(value_name = "ATTEMPT", required_if_eq("what", "attempt"))]
    pub attempt: Option<String>,
    /// The file to write. Readings become Parquet where its name ends in .parquet, CSV else; their dictionary is written beside it.
    #[arg(long, value_name = "FILE")]
    pub to: PathBuf,
    /// Add the learners' names and the ids of the roster's system to the grades.
    #[arg(long)]
    pub names: bool,
    /// Whose and which.
    #[command(flatten)]
    pub which: Which,
    /// Where it is kept.
    #[command(flatten)]
    pub data: Data,
}

/// What can be written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum What {
    /// A line an attempt: points, outcome, and what an instructor decided otherwise; for a learning platform.
    Grades,
    /// A line a reading, with unit and uncertainty.
    Readings,
    /// One attempt with its scans, for another copy of the program.
    Attempt,
}

/// Which attempts.
#[derive(Debug, Args)]
pub struct Which {
    /// Of this learner.
    #[arg(long, value_name = "CODE")]
    pub learner: Option<String>,
    /// Of learners of this cohort.
    #[arg(long, value_name = "CODE")]
    pub cohort: Option<String>,
    /// Of this session.
    #[arg(long, value_name = "CODE")]
    pub session: Option<String>,
    /// For this exercise, by its name.
    #[arg(long, value_name = "NAME")]
    pub exercise: Option<String>,
    /// After this stage.
    #[arg(long, value_name = "ID")]
    pub stage: Option<String>,
}

/// A file that another copy wrote.
#[derive(Debug, Args)]
pub struct Open {
    /// What kerf class export attempt wrote.
    #[arg(value_name = "FILE.zip")]
    pub file: PathBuf,
    /// Where it is kept.
    #[command(flatten)]
    pub data: Data,
}

impl Which {
    /// For the store.
    pub fn chosen(&self) -> Chosen {
        Chosen {
            learner: self.learner.clone(),
            cohort: self.cohort.clone(),
            session: self.session.clone(),
            exercise: self.exercise.clone(),
            stage: self.stage.clone(),
        }
    }
}

/// Writes.
pub fn export(arguments: &Export) -> anyhow::Result<()> {
    let open = arguments.data.open()?;
    let (chosen, to) = (arguments.which.chosen(), &arguments.to);
    let attempts = open.wait(open.store.class_attempts(&chosen))?;
    let (bytes, n, dictionary) = match arguments.what {
        What::Attempt => {
            let wanted = arguments.attempt.as_deref().unwrap_or_default();
            let attempt = attempts
                .iter()
                .find(|attempt| attempt.id == wanted || attempt.number.to_string() == wanted)
                .ok_or_else(|| anyhow!("there is no attempt `{wanted}`; see kerf class list attempts"))?;
            let (bundle, files) = open.wait(open.store.bundle(&attempt.id))?;
            (bundle::write(bundle, files)?, 1, None)
        }
        What::Grades => {
            let overrides = open.wait(decisions(&open.store))?;
            let grades = open.wait(open.store.class_grades(&chosen))?;
            let learners = if arguments.names { open.wait(open.store.learners())? } else { Vec::new() };
            let table = grades_table(&attempts, &grades, &overrides, &learners)?;
            (table.to_csv().into_bytes(), table.rows.len(), Some(table.dictionary()))
        }
        What::Readings => {
            let rows = open.wait(open.store.class_readings(&chosen, None))?;
            let table = readings_table(&attempts, &rows);
            let is_parquet = to.extension().is_some_and(|ending| ending == "parquet");
            let bytes = match is_parquet {
                true => table.to_parquet().map_err(|why| anyhow!("{}: {why}", to.display()))?,
                false => table.to_csv().into_bytes(),
            };
            (bytes, table.rows.len(), Some(table.dictionary()))
        }
    };
    if n == 0 {
        bail!("nothing to export: no attempt fits; see kerf class list attempts");
    }
    save(to, &bytes)?;
    println!("{n} lines written to {}.", to.display());
    if let Some(dictionary) = dictionary {
        let beside = to.with_extension("dictionary.csv");
        save(&beside, dictionary.as_bytes())?;
        println!("What the columns mean: {}.", beside.display());
    }
    Ok(())
}

/// Opens what another copy wrote.
pub fn open(arguments: &Open) -> anyhow::Result<()> {
    let shown = arguments.file.display();
    let bytes = fs::read(&arguments.file)
        .with_context(|| format!("{shown}: cannot be read; check the name and the rights"))?;
    let (bundle, files) = bundle::read(&bytes).with_context(|| shown.to_string())?;
    let open = arguments.data.open()?;
    let id = open.wait(open.store.take_bundle(&bundle, &files, "bench"))?;
    println!("{shown}: every part has its hash; kept as attempt {id}.");
    Ok(())
}
