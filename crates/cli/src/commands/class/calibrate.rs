//! `kerf class calibrate`: attempts with known readings for examiners to grade, and how they did.

use std::path::PathBuf;

use anyhow::{anyhow, bail};
use clap::{Args, Subcommand};
use kerfwright_batch::{Graded, SetUp, calibrated, kept_exercises, pool, set_up};
use kerfwright_class::Settings;
use kerfwright_class::blind::Design;
use kerfwright_overview::{CALIBRATION_CAUTION, Calibration, sheet};
use kerfwright_store::{Chosen, GradingRow};

use super::data::{Data, Open};
use crate::args::person;
use crate::calibration_table;
use crate::commands::measure::save;

/// Examiners grade attempts whose readings are known, blind and some of them twice, and are shown afterwards where they differed.
#[derive(Debug, Args)]
pub struct Calibrate {
    /// What to do.
    #[command(subcommand)]
    pub action: Action,
}

/// What to do with a calibration.
#[derive(Debug, Subcommand)]
pub enum Action {
    /// Propose attempts, spread over all levels of all criteria; with --title and --examiner, set the grading up. It is graded in the app.
    Propose(Box<Propose>),
    /// Say how examiners did who have graded their whole sheet.
    Results(Box<Results>),
}

/// Which attempts, and who grades them.
#[derive(Debug, Args)]
pub struct Propose {
    /// Name of the exercise.
    #[arg(long, value_name = "NAME")]
    pub exercise: String,
    /// The stage; the last one if left out.
    #[arg(long, value_name = "ID")]
    pub stage: Option<String>,
    /// What is graded, by the ids of the criteria; all of which anything is known if left out.
    #[arg(long, value_name = "ID", value_delimiter = ',')]
    pub criteria: Vec<String>,
    /// Only attempts of learners of this cohort.
    #[arg(long, value_name = "CODE")]
    pub cohort: Option<String>,
    /// Only attempts of this session.
    #[arg(long, value_name = "CODE")]
    pub session: Option<String>,
    /// How many attempts.
    #[arg(long, value_name = "COUNT", default_value_t = 12)]
    pub n: u32,
    /// Attempts that come twice.
    #[arg(long, value_name = "COUNT", default_value_t = 4)]
    pub repeats: u32,
    /// Others at least between the two times.
    #[arg(long, value_name = "COUNT", default_value_t = 5)]
    pub gap: u32,
    /// Set it up under this title.
    #[arg(long, value_name = "TITLE", requires = "examiner")]
    pub title: Option<String>,
    /// Codes of the examiners.
    #[arg(long, value_name = "CODE", value_parser = person, value_delimiter = ',', requires = "title")]
    pub examiner: Vec<String>,
    /// Where the drawing of attempts and order begins; the same number draws the same. Keep it from the examiners.
    #[arg(long, value_name = "NUMBER")]
    pub seed: Option<u64>,
    /// Where it is kept.
    #[command(flatten)]
    pub data: Data,
}

/// Of which calibration.
#[derive(Debug, Args)]
pub struct Results {
    /// Its title; the latest one if left out.
    #[arg(value_name = "TITLE")]
    pub title: Option<String>,
    /// Of this examiner alone.
    #[arg(long, value_name = "CODE")]
    pub examiner: Option<String>,
    /// Write everything as JSON.
    #[arg(long, value_name = "FILE")]
    pub json: Option<PathBuf>,
    /// Write what was given beside what is known as CSV.
    #[arg(long, value_name = "FILE")]
    pub csv: Option<PathBuf>,
    /// Print no table.
    #[arg(long, short)]
    pub quiet: bool,
    /// Where it is kept.
    #[command(flatten)]
    pub data: Data,
}

/// Does what the arguments ask.
pub fn run(arguments: &Calibrate) -> anyhow::Result<()> {
    match &arguments.action {
        Action::Propose(arguments) => propose(arguments),
        Action::Results(arguments) => results(arguments),
    }
}

fn propose(arguments: &Propose) -> anyhow::Result<()> {
    let open = arguments.data.open()?;
    let (stage, mut criteria) = criteria_of(&open, arguments)?;
    let chosen = Chosen {
        learner: None,
        cohort: arguments.cohort.clone(),
        session: arguments.session.clone(),
        exercise: Some(arguments.exercise.clone()),
        stage: Some(stage.clone()),
    };
    let ids: Vec<String> = criteria.iter().map(|one| one.id.clone()).collect();
    let pool = open.runtime.block_on(pool(&open.store, &chosen, &ids, false))?;
    if arguments.criteria.is_empty() {
        criteria.retain(|one| pool.known.iter().any(|known| known.criterion == one.id));
    }
    let seed = match arguments.seed {
        Some(seed) => seed,
        None => getrandom::u64().map_err(|_| anyhow!("the system gives no random numbers; give --seed"))?,
    };
    let attempts = pool.propose(arguments.n, seed)?;
    print!("{}", calibration_table::proposal(&pool, &attempts, &criteria));
    let Some(title) = &arguments.title else {
        println!("\nNothing is set up; with --title and --examiner it is.");
        return Ok(());
    };
    let wanted = SetUp {
        title: title.clone(),
        exercise: arguments.exercise.clone(),
        stage,
        criteria,
        attempts,
        examiners: examiners(&open, &arguments.examiner)?,
        design: Design { n_repeats: arguments.repeats, least_gap: arguments.gap, seed },
        is_calibration: true,
    };
    open.runtime.block_on(set_up(&open.store, wanted))?;
    println!("\n{title} is set up; it is graded in the app, under Blind grading.");
    Ok(())
}

/// The stage and the criteria that were named, or all.
fn criteria_of(open: &Open, arguments: &Propose) -> anyhow::Result<(String, Vec<Graded>)> {
    let (kept, _) = open.wait(kept_exercises(&open.store))?;
    let named = |name: &&kerfwright_exercise::Exercise| name.name == arguments.exercise;
    let exercise = kept.iter().find(named).ok_or_else(|| {
        anyhow!("--exercise: no attempt is kept for `{}`; see kerf class list exercises", arguments.exercise)
    })?;
    let stage = exercise.stage(arguments.stage.as_deref()).ok_or_else(|| {
        let known: Vec<&str> = exercise.stages.iter().map(|stage| stage.id.as_str()).collect();
        anyhow!("--stage: {} has no such stage; it has {}", exercise.name, known.join(", "))
    })?;
    let known: Vec<&str> = stage.criteria.iter().map(|one| one.id.as_str()).collect();
    if let Some(wrong) = arguments.criteria.iter().find(|id| !known.contains(&id.as_str())) {
        bail!("--criteria: {} has no `{wrong}`; it has {}", stage.id, known.join(", "));
    }
    let wanted = |id: &String| arguments.criteria.is_empty() || arguments.criteria.contains(id);
    let criteria = stage.criteria.iter().filter(|one| wanted(&one.id));
    let graded =
        |one: &kerfwright_exercise::Criterion| Graded { id: one.id.clone(), title: one.title.clone() };
    Ok((stage.id.clone(), criteria.map(graded).collect()))
}

/// The codes as the accounts have them, where there are accounts.
fn examiners(open: &Open, given: &[String]) -> anyhow::Result<Vec<String>> {
    let accounts = open.wait(open.store.accounts())?;
    let of = |code: &String| {
        let known = accounts.iter().find(|row| row.code.eq_ignore_ascii_case(code) && row.role != "learner");
        match known {
            Some(row) => Ok(row.code.clone()),
            None if accounts.is_empty() => Ok(code.clone()),
            None => bail!("--examiner: no account of an instructor or director has the code `{code}`"),
        }
    };
    given.iter().map(of).collect()
}

fn results(arguments: &Results) -> anyhow::Result<()> {
    let open = arguments.data.open()?;
    let grading = chosen(&open, arguments.title.as_deref())?;
    let sheets = open.wait(open.store.sheets())?;
    let own = sheets.iter().filter(|sheet| sheet.grading == grading.id);
    let wanted =
        |code: &str| arguments.examiner.as_deref().is_none_or(|examiner| examiner.eq_ignore_ascii_case(code));
    let examiners: Vec<&str> =
        own.map(|sheet| sheet.examiner.as_str()).filter(|examiner| wanted(examiner)).collect();
    if examiners.is_empty() {
        bail!("--examiner: nobody of this code has a sheet in {}", grading.title);
    }
    let settings = Settings::default();
    let mut found: Vec<Calibration> = Vec::new();
    let mut still_open = Vec::new();
    for examiner in examiners {
        let told = calibrated(&open.store, &grading, examiner, &settings);
        match open.runtime.block_on(told)? {
            Some(calibration) => found.push(calibration),
            None => still_open.push(examiner),
        }
    }
    if !arguments.quiet {
        println!("{}", grading.title);
        found.iter().for_each(|calibration| print!("\n{}", calibration_table::render(calibration)));
        if !still_open.is_empty() {
            println!("\nStill grading: {}.", still_open.join(", "));
        }
        println!("\n{CALIBRATION_CAUTION}");
    }
    if let Some(path) = &arguments.json {
        save(path, (serde_json::to_string_pretty(&found)? + "\n").as_bytes())?;
    }
    if let Some(path) = &arguments.csv {
        save(path, sheet::calibrations(&found).as_bytes())?;
    }
    Ok(())
}

fn chosen(open: &Open, title: Option<&str>) -> anyhow::Result<GradingRow> {
    let mut kept = open.wait(open.store.gradings())?;
    kept.retain(|row| row.is_calibration && title.is_none_or(|title| title == row.title));
    // The latest comes first.
    let found = kept.into_iter().next();
    found.ok_or_else(|| match title {
        Some(title) => anyhow!("no calibration is called `{title}`; look at Blind grading in the app"),
        None => anyhow!("no calibration is set up yet; see kerf class calibrate propose"),
    })
}
