//! `kerf grade`, and what `kerf measure --exercise` adds: readings held against an exercise.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use anyhow::{Context, bail};
use clap::{Args, ValueEnum};
use kerfwright_advice::{Advice, Language, advise};
use kerfwright_exercise::Exercise;
use kerfwright_grade::{Change, Grade, Outcome, Override};
use kerfwright_instrument::Kit;
use kerfwright_measure::{Document, document};
use kerfwright_tooth::Tooth;
use serde::Serialize;

use crate::args::person;
use crate::commands::measure::save;
use crate::commands::{exercise, kit};
use crate::{advice_text, grade_table};

/// A measurement written by `kerf measure --json`, and what to hold it against. Exit status 1 if something does not meet the
/// exercise, 2 if it could not be graded.
#[derive(Debug, Args)]
pub struct Arguments {
    /// The measurement: what `kerf measure --json` wrote.
    #[arg(value_name = "DOCUMENT.json")]
    pub document: PathBuf,
    /// Name of a shipped exercise, or a file.
    #[arg(long, value_name = "NAME|FILE")]
    pub exercise: String,
    /// The stage after which the scan was taken; the last if left out.
    #[arg(long, value_name = "ID")]
    pub stage: Option<String>,
    /// Write the grade as JSON.
    #[arg(long, value_name = "FILE")]
    pub json: Option<PathBuf>,
    /// Say under the table what to do about each finding, most urgent first, and in the JSON likewise.
    #[arg(long)]
    pub advice: bool,
    /// Language of the advice.
    #[arg(long, value_enum, default_value = "en", requires = "advice")]
    pub language: LanguageName,
    /// Kit whose instruments the advice names, by what their geometry leaves: a shipped one, or a file. Without it, the
    /// instruments that the exercise names, taken from the shipped kit.
    #[arg(long, value_name = "NAME|FILE", requires = "advice")]
    pub kit: Option<String>,
    /// Record of uses and measured diameters of the kit: what is retired is not named.
    #[arg(long, value_name = "FILE", requires = "kit")]
    pub log: Option<PathBuf>,
    /// What an instructor decides otherwise.
    #[command(flatten)]
    pub overrule: Overrule,
    /// Print no table.
    #[arg(long, short)]
    pub quiet: bool,
}

/// An instructor's decision. The computed result stays beside it.
#[derive(Debug, Args)]
pub struct Overrule {
    /// Other points for a criterion, from 0 to its weight.
    #[arg(long, value_name = "CRITERION=POINTS", value_parser = points, requires_all = ["by", "reason"])]
    pub points: Vec<(String, f64)>,
    /// A criterion whose critical error is not to count.
    #[arg(long, value_name = "CRITERION", requires_all = ["by", "reason"])]
    pub waive: Vec<String>,
    /// Another outcome of the whole, whatever the points.
    #[arg(long, value_enum, requires_all = ["by", "reason"])]
    pub outcome: Option<OutcomeName>,
    /// The instructor's code; no names.
    #[arg(long, value_name = "CODE", value_parser = person, requires = "reason")]
    pub by: Option<String>,
    /// Why.
    #[arg(long, value_name = "TEXT", requires = "by")]
    pub reason: Option<String>,
    /// When, as you write it.
    #[arg(long, value_name = "DATE", requires = "by")]
    pub when: Option<String>,
}

/// Outcomes by name.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub enum OutcomeName {
    /// Passed.
    Passed,
    /// Not passed.
    NotPassed,
    /// Not graded.
    NotGraded,
}

impl From<OutcomeName> for Outcome {
    fn from(name: OutcomeName) -> Self {
        match name {
            OutcomeName::Passed => Self::Passed,
            OutcomeName::NotPassed => Self::NotPassed,
            OutcomeName::NotGraded => Self::NotGraded,
        }
    }
}

fn points(text: &str) -> Result<(String, f64), String> {
    let (criterion, points) = text.split_once('=').ok_or("give CRITERION=POINTS, as width=3")?;
    let points = points.trim().parse().map_err(|_| format!("`{points}` is no number of points"))?;
    Ok((criterion.trim().to_owned(), points))
}

impl Overrule {
    /// Its decisions, one by one.
    fn entries(&self) -> anyhow::Result<Vec<Override>> {
        let points = self
            .points
            .iter()
            .map(|(criterion, points)| Change::Points { criterion: criterion.clone(), points: *points });
        let waived = self.waive.iter().map(|criterion| Change::Waive { criterion: criterion.clone() });
        let outcome = self.outcome.map(|outcome| Change::Outcome(outcome.into()));
        let changes: Vec<Change> = points.chain(waived).chain(outcome).collect();
        if changes.is_empty() && self.by.is_some() {
            bail!("--by and --reason go with a decision: --points, --waive or --outcome");
        }
        let (by, reason) = (self.by.clone().unwrap_or_default(), self.reason.clone().unwrap_or_default());
        let entry =
            |change| Override { by: by.clone(), reason: reason.clone(), when: self.when.clone(), change };
        Ok(changes.into_iter().map(entry).collect())
    }
}

/// Languages by their codes.
#[derive(Debug, Clone, Copy, ValueEnum)]
pub enum LanguageName {
    /// English.
    En,
    /// Spanish.
    Es,
}

impl From<LanguageName> for Language {
    fn from(name: LanguageName) -> Self {
        match name {
            LanguageName::En => Self::En,
            LanguageName::Es => Self::Es,
        }
    }
}

/// What readings are held against while measuring.
#[derive(Debug, Args)]
pub struct Held {
    /// Exercise to hold the readings against: the name of a shipped one (see kerf exercise list), or a file.
    #[arg(long, value_name = "NAME|FILE")]
    pub exercise: Option<String>,
    /// The stage after which the scan was taken; the last if left out.
    #[arg(long, value_name = "ID", requires = "exercise")]
    pub stage: Option<String>,
    /// Write the grade as JSON.
    #[arg(long, value_name = "FILE", requires = "exercise")]
    pub grade: Option<PathBuf>,
}

/// An exercise that was read, ready to hold a document against.
pub struct Ready<'a> {
    exercise: Exercise,
    stage: Option<&'a str>,
    json: Option<&'a Path>,
    advice: Option<(Language, Kit)>,
    overrides: Vec<Override>,
    /// Whether the warnings of the measurement are still to be printed: `kerf measure` has told them above its readings.
    tells_warnings: bool,
}

/// A grade as written out, with what its measurement warns of, and advice if it was asked for.
#[derive(Serialize)]
struct Written<'a> {
    #[serde(flatten)]
    grade: &'a Grade,
    #[serde(skip_serializing_if = "<[String]>::is_empty")]
    warnings: &'a [String],
    #[serde(skip_serializing_if = "Option::is_none")]
    advice: Option<WrittenAdvice>,
}

/// Advice in one language, most urgent first.
#[derive(Serialize)]
struct WrittenAdvice {
    language: Language,
    items: Vec<Advice>,
}

/// Grades what the arguments name.
pub fn run(arguments: &Arguments) -> anyhow::Result<ExitCode> {
    let document = read_document(&arguments.document)?;
    let exercise = exercise::load(&arguments.exercise).context("--exercise")?;
    let advice = match arguments.advice {
        true => Some((arguments.language.into(), kit_of(arguments, &exercise)?)),
        false => None,
    };
    let ready = Ready {
        exercise,
        stage: arguments.stage.as_deref(),
        json: arguments.json.as_deref(),
        advice,
        overrides: arguments.overrule.entries()?,
        tells_warnings: true,
    };
    ready.grade(&document, arguments.quiet)
}

/// The kit that advice names instruments of.
fn kit_of(arguments: &Arguments, exercise: &Exercise) -> anyhow::Result<Kit> {
    let Some(name) = &arguments.kit else {
        return kerfwright_advice::kit_of_exercise(exercise)
            .context("the shipped kit cannot be read; give your own with --kit");
    };
    let own = kit::load(name).context("--kit")?;
    Ok(match &arguments.log {
        Some(log) => kerfwright_instrument::in_hand(&own, &kit::read_log(log).context("--log")?),
        None => own,
    })
}

impl Held {
    /// Reads the exercise, if one is given, and sees that tooth and stage suit it.
    pub fn read(&self, tooth: Tooth) -> anyhow::Result<Option<Ready<'_>>> {
        let Some(name) = &self.exercise else { return Ok(None) };
        let exercise = exercise::load(name).context("--exercise")?;
        exercise::for_tooth(&exercise, tooth).context("--exercise")?;
        if let Some(stage) = self.stage.as_deref().filter(|stage| exercise.stage(Some(stage)).is_none()) {
            let known: Vec<&str> = exercise.stages.iter().map(|stage| stage.id.as_str()).collect();
            bail!(
                "--stage: exercise `{}` has no stage `{stage}`; it has {}",
                exercise.name,
                known.join(", ")
            );
        }
        Ok(Some(Ready {
            exercise,
            stage: self.stage.as_deref(),
            json: self.grade.as_deref(),
            advice: None,
            overrides: Vec::new(),
            tells_warnings: false,
        }))
    }
}

impl Ready<'_> {
    /// Whether the scan need not show a finish line yet.
    pub fn needs_no_finish_line(&self) -> bool {
        kerfwright_grade::needs_no_finish_line(&self.exercise, self.stage)
    }

    /// Grades, prints, writes; status 1 if something is proven not to meet the exercise.
    pub fn grade(&self, document: &Document, quiet: bool) -> anyhow::Result<ExitCode> {
        let mut grade = kerfwright_grade::grade(document, &self.exercise, self.stage)?;
        for entry in &self.overrides {
            grade = grade.overridden(entry.clone())?;
        }
        let advice = self.advice.as_ref().map(|(language, kit)| WrittenAdvice {
            language: *language,
            items: advise(&grade, Some(document), Some(kit), *language),
        });
        if !quiet {
            let warnings = if self.tells_warnings { &document.warnings[..] } else { &[] };
            print!("{}", grade_table::render(&grade, warnings));
            if let Some(advice) = &advice {
                print!("{}", advice_text::render(&advice.items, advice.language));
            }
        }
        if let Some(path) = self.json {
            save(path, json(&Written { grade: &grade, warnings: &document.warnings, advice })?.as_bytes())?;
        }
        Ok(ExitCode::from(u8::from(grade.misses_something())))
    }
}

fn json(grade: &Written<'_>) -> anyhow::Result<String> {
    Ok(serde_json::to_string_pretty(grade)? + "\n")
}

fn read_document(path: &Path) -> anyhow::Result<Document> {
    let file = path.display();
    let bytes =
        fs::read(path).with_context(|| format!("{file}: cannot be read; check the name and the rights"))?;
    let next = "give the file that `kerf measure --json` wrote";
    let value: serde_json::Value =
        serde_json::from_slice(&bytes).with_context(|| format!("{file}: is no JSON; {next}"))?;
    let schema = value.get("schema").and_then(|schema| schema.as_str());
    match schema {
        Some(schema) if schema == document::SCHEMA => {}
        Some(other) => bail!("{file}: has the layout `{other}`, not `{}`; {next}", document::SCHEMA),
        None => bail!("{file}: is no measurement; {next}"),
    }
    serde_json::from_value(value).with_context(|| format!("{file}: is a damaged measurement; measure again"))
}
