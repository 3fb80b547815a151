//! `kerf class`: what is said of a whole class. So far: how far examiners agree.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use anyhow::{Context, anyhow, bail};
use clap::{Args, Subcommand};
use kerfwright_class::agreement::{Overview, overview};
use kerfwright_class::severity::{Disagreements, Severity, disagreements, severity};
use kerfwright_class::{Answer, Rating, Settings, criteria, table};
use serde::Serialize;

use crate::agree_table;
use crate::commands::measure::save;

/// A class as a whole.
#[derive(Debug, Args)]
pub struct Arguments {
    /// What to do.
    #[command(subcommand)]
    pub action: Action,
}

/// What to do with a class.
#[derive(Debug, Subcommand)]
pub enum Action {
    /// Say how far examiners agree with each other and with themselves.
    Agree(Agree),
}

/// Ratings in a table. Examiners and attempts are codes: names do not belong in here.
#[derive(Debug, Args)]
pub struct Agree {
    /// Table with the columns examiner, attempt, criterion, value and, where anything was graded again, occasion (1, 2 …); commas, semicolons
    /// or tabs between them.
    #[arg(value_name = "FILE.csv")]
    pub file: PathBuf,
    /// Only this criterion; all in turn if left out.
    #[arg(long, value_name = "NAME")]
    pub criterion: Option<String>,
    /// Confidence of the intervals.
    #[arg(long, value_name = "SHARE", default_value_t = 0.95)]
    pub confidence: f64,
    /// Resamples behind an interval that resamples attempts.
    #[arg(long, value_name = "COUNT", default_value_t = 2000, value_parser = clap::value_parser!(u32).range(100..=100_000))]
    pub draws: u32,
    /// Where its random numbers begin; the same seed gives the same interval.
    #[arg(long, value_name = "NUMBER", default_value_t = 1)]
    pub seed: u64,
    /// Write everything as JSON.
    #[arg(long, value_name = "FILE")]
    pub json: Option<PathBuf>,
    /// Print no table.
    #[arg(long, short)]
    pub quiet: bool,
}

/// One criterion.
#[derive(Serialize)]
pub struct Agreement {
    /// Coefficients.
    #[serde(flatten)]
    pub overview: Overview,
    /// Each examiner against the others.
    pub severity: Vec<Severity>,
    /// Where they differ most.
    pub disagreements: Answer<Disagreements>,
}

/// What is written out.
#[derive(Serialize)]
struct Written<'a> {
    schema: &'static str,
    confidence: f64,
    draws: u32,
    seed: u64,
    criteria: &'a [Agreement],
}

/// Does what the arguments ask.
pub fn run(arguments: &Arguments) -> anyhow::Result<ExitCode> {
    match &arguments.action {
        Action::Agree(arguments) => agree(arguments)?,
    }
    Ok(ExitCode::SUCCESS)
}

fn agree(arguments: &Agree) -> anyhow::Result<()> {
    let ratings = read(&arguments.file)?;
    let chosen = chosen(&arguments.file, &ratings, arguments.criterion.as_deref())?;
    let (confidence, draws, seed) = (arguments.confidence, arguments.draws, arguments.seed);
    let settings = Settings { confidence, draws, seed };
    let agreements: Vec<Agreement> =
        chosen.iter().map(|criterion| agreement(&ratings, criterion, &settings)).collect::<Result<_, _>>()?;
    if !arguments.quiet {
        print!("{}", agree_table::render(&agreements, &settings));
    }
    if let Some(path) = &arguments.json {
        let schema = "kerfwright-agreement-1";
        let written = Written { schema, confidence, draws, seed, criteria: &agreements };
        save(path, (serde_json::to_string_pretty(&written)? + "\n").as_bytes())?;
    }
    Ok(())
}

fn agreement(ratings: &[Rating], criterion: &str, settings: &Settings) -> anyhow::Result<Agreement> {
    let of_criterion: Vec<Rating> =
        ratings.iter().filter(|rating| rating.criterion == criterion).cloned().collect();
    Ok(Agreement {
        overview: overview(&of_criterion, criterion, settings)?,
        severity: severity(&of_criterion, &[], settings)?,
        disagreements: disagreements(&of_criterion).into(),
    })
}

/// The ratings of a file; faults begin with its name and line.
fn read(path: &Path) -> anyhow::Result<Vec<Rating>> {
    let file = path.display();
    let bytes =
        fs::read(path).with_context(|| format!("{file}: cannot be read; check the name and the rights"))?;
    let text = table::text_of(&bytes)
        .map_err(|line| anyhow!("{file}: line {line}: is no UTF-8 text; save the table as CSV in UTF-8"))?;
    let ratings = table::read_ratings(text).map_err(|fault| anyhow!("{file}: {fault}"))?;
    if ratings.is_empty() {
        bail!("{file}: holds no rating; give one a line under the heading");
    }
    Ok(ratings)
}

fn chosen(path: &Path, ratings: &[Rating], wanted: Option<&str>) -> anyhow::Result<Vec<String>> {
    let known = criteria(ratings);
    match wanted {
        None => Ok(known),
        Some(name) if known.iter().any(|criterion| criterion == name) => Ok(vec![name.into()]),
        Some(name) => {
            bail!("--criterion: {} has no `{name}`; it has {}", path.display(), known.join(", "))
        }
    }
}
