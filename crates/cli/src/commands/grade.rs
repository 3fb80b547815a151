//! `kerf grade`, and what `kerf measure --exercise` adds: readings held against an exercise.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use anyhow::{Context, bail};
use clap::{Args, ValueEnum};
use kerfwright_advice::{Advice, Language, advise};
use kerfwright_exercise::Exercise;
use kerfwright_grade::Grade;
use kerfwright_measure::{Document, document};
use kerfwright_tooth::Tooth;
use serde::Serialize;

use crate::commands::exercise;
use crate::commands::measure::save;
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
    /// Print no table.
    #[arg(long, short)]
    pub quiet: bool,
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
    advice: Option<Language>,
}

/// A grade as written out, with advice if it was asked for.
#[derive(Serialize)]
struct Written<'a> {
    #[serde(flatten)]
    grade: &'a Grade,
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
    let ready = Ready {
        exercise: exercise::load(&arguments.exercise).context("--exercise")?,
        stage: arguments.stage.as_deref(),
        json: arguments.json.as_deref(),
        advice: arguments.advice.then(|| arguments.language.into()),
    };
    ready.grade(&document, arguments.quiet)
}

impl Held {
    /// Reads the exercise, if one is given, and sees that tooth and stage suit it.
    pub fn read(&self, tooth: Tooth) -> anyhow::Result<Option<Ready<'_>>> {
        let Some(name) = &self.exercise else { return Ok(None) };
        let exercise = exercise::load(name).context("--exercise")?;
        if !exercise.is_for(tooth) {
            bail!(
                "--exercise: `{}` is for {}, the tooth is {} ({}); take another exercise (kerf exercise list)",
                exercise.name,
                exercise.teeth_text(),
                tooth.fdi(),
                tooth.name()
            );
        }
        if let Some(stage) = self.stage.as_deref().filter(|stage| exercise.stage(Some(stage)).is_none()) {
            let known: Vec<&str> = exercise.stages.iter().map(|stage| stage.id.as_str()).collect();
            bail!(
                "--stage: exercise `{}` has no stage `{stage}`; it has {}",
                exercise.name,
                known.join(", ")
            );
        }
        Ok(Some(Ready { exercise, stage: self.stage.as_deref(), json: self.grade.as_deref(), advice: None }))
    }
}

impl Ready<'_> {
    /// Grades, prints, writes; status 1 if something is proven not to meet the exercise.
    pub fn grade(&self, document: &Document, quiet: bool) -> anyhow::Result<ExitCode> {
        let grade = kerfwright_grade::grade(document, &self.exercise, self.stage)?;
        // No kit is read yet, so that sentences name kinds of instruments.
        let advice = self
            .advice
            .map(|language| WrittenAdvice { language, items: advise(&grade, Some(document), &[], language) });
        if !quiet {
            print!("{}", grade_table::render(&grade));
            if let Some(advice) = &advice {
                print!("{}", advice_text::render(&advice.items, advice.language));
            }
        }
        if let Some(path) = self.json {
            save(path, json(&Written { grade: &grade, advice })?.as_bytes())?;
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
