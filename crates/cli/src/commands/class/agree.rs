//! `kerf class agree`: how far examiners agree.

use std::fs;
use std::path::{Path, PathBuf};

use anyhow::{Context, anyhow, bail};
use clap::Args;
use kerfwright_batch::{kept_known, kept_ratings};
use kerfwright_class::{Measured, Rating, Settings, criteria, table};
use kerfwright_overview::{AGREEMENT_SCHEMA, Agreement, Known, plot, sheet};
use serde::Serialize;

use crate::agree_table;
use crate::commands::class::data::Data;
use crate::commands::class::intervals::Intervals;
use crate::commands::measure::{make_folder, save};

/// Ratings in a table. Examiners and attempts are codes: names do not belong in here.
#[derive(Debug, Args)]
pub struct Agree {
    /// Table with the columns examiner, attempt, criterion, value and, where anything was graded again, occasion (1, 2 …); commas, semicolons
    /// or tabs between them. Without it, the ratings that are kept (see kerf class rate); these are held against what was measured, too.
    #[arg(value_name = "FILE.csv")]
    pub file: Option<PathBuf>,
    /// Lines of the table in whose column examiner this code stands are what was measured: examiners are held against it.
    #[arg(long, value_name = "CODE", requires = "file")]
    pub measured_by: Option<String>,
    /// Where the ratings are kept.
    #[command(flatten)]
    pub data: Data,
    /// Only this criterion; all in turn if left out.
    #[arg(long, value_name = "NAME")]
    pub criterion: Option<String>,
    /// How sure the intervals are.
    #[command(flatten)]
    pub intervals: Intervals,
    /// Write everything as JSON.
    #[arg(long, value_name = "FILE")]
    pub json: Option<PathBuf>,
    /// Write every statistic as CSV.
    #[arg(long, value_name = "FILE")]
    pub csv: Option<PathBuf>,
    /// Write a plot a criterion as SVG files into this folder.
    #[arg(long, value_name = "FOLDER")]
    pub svg: Option<PathBuf>,
    /// Print no table.
    #[arg(long, short)]
    pub quiet: bool,
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
pub fn run(arguments: &Agree) -> anyhow::Result<()> {
    let (source, (ratings, known)) = match &arguments.file {
        Some(path) => {
            (path.display().to_string(), apart(path, read(path)?, arguments.measured_by.as_deref())?)
        }
        None => ("the kept ratings".to_owned(), kept(&arguments.data)?),
    };
    let chosen = chosen(&source, &ratings, arguments.criterion.as_deref())?;
    let settings = arguments.intervals.settings();
    let Settings { confidence, draws, seed } = settings;
    let agreements: Vec<Agreement> = chosen
        .iter()
        .map(|criterion| Agreement::of(&ratings, &known, criterion, &settings))
        .collect::<Result<_, _>>()?;
    if !arguments.quiet {
        print!("{}", agree_table::render(&agreements, &settings));
    }
    if let Some(path) = &arguments.json {
        let written = Written { schema: AGREEMENT_SCHEMA, confidence, draws, seed, criteria: &agreements };
        save(path, (serde_json::to_string_pretty(&written)? + "\n").as_bytes())?;
    }
    if let Some(path) = &arguments.csv {
        save(path, sheet::agreements(&agreements).as_bytes())?;
    }
    if let Some(folder) = &arguments.svg {
        make_folder(folder)?;
        for agreement in &agreements {
            let file = folder.join(format!("agreement-{}.svg", agreement.overview.criterion));
            save(&file, plot::agreement(agreement).as_bytes())?;
        }
    }
    Ok(())
}

/// What examiners gave apart from what was measured.
fn apart(path: &Path, all: Vec<Rating>, measured_by: Option<&str>) -> anyhow::Result<(Vec<Rating>, Known)> {
    let Some(code) = measured_by else { return Ok((all, Known::default())) };
    let (measured, ratings): (Vec<Rating>, Vec<Rating>) =
        all.into_iter().partition(|rating| rating.examiner == code);
    if measured.is_empty() || ratings.is_empty() {
        let what = if measured.is_empty() { "no line" } else { "every line" };
        bail!("--measured-by: {what} of {} has `{code}` in the column examiner", path.display());
    }
    if let Some(again) = measured.iter().find(|rating| rating.occasion > 0) {
        bail!(
            "--measured-by: {} has two values of `{code}` for {} of {}; keep one",
            path.display(),
            again.criterion,
            again.attempt
        );
    }
    let value = |rating: Rating| Measured {
        attempt: rating.attempt,
        criterion: rating.criterion,
        value: rating.value,
    };
    let values = measured.into_iter().map(value).collect();
    Ok((ratings, Known { values, ..Known::default() }))
}

/// The ratings that are kept, and what was measured of the same attempts.
fn kept(data: &Data) -> anyhow::Result<(Vec<Rating>, Known)> {
    let open = data.open()?;
    let ratings = open.wait(kept_ratings(&open.store))?;
    if ratings.is_empty() {
        bail!("no ratings are kept; take some in with kerf class rate FILE.csv, or name a file");
    }
    let known = open.runtime.block_on(kept_known(&open.store, &ratings))?;
    Ok((ratings, known))
}

/// The ratings of a file; faults begin with its name and line.
pub fn read(path: &Path) -> anyhow::Result<Vec<Rating>> {
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

fn chosen(source: &str, ratings: &[Rating], wanted: Option<&str>) -> anyhow::Result<Vec<String>> {
    let known = criteria(ratings);
    match wanted {
        None => Ok(known),
        Some(name) if known.iter().any(|criterion| criterion == name) => Ok(vec![name.into()]),
        Some(name) => {
            bail!("--criterion: {source} has no `{name}`; it has {}", known.join(", "))
        }
    }
}
