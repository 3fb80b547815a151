//! `kerf exercise`: lists, shows, checks and copies exercises.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use anyhow::{Context, anyhow, bail};
use clap::{Args, Subcommand};
use kerfwright_exercise::fault::nearest;
use kerfwright_exercise::{Exercise, Faults, Shelf, base_of, check_in, is_template, library, read, to_toml};

use kerfwright_tooth::Tooth;

use crate::commands::measure::save;
use crate::exercise_table;

/// What a preparation is held against.
#[derive(Debug, Args)]
pub struct Arguments {
    /// What to do.
    #[command(subcommand)]
    pub action: Action,
}

/// What to do with exercises.
#[derive(Debug, Subcommand)]
pub enum Action {
    /// List the exercises that come with the program.
    List,
    /// Show an exercise: stages, limits, sources, and where authorities differ.
    Show {
        /// Name of a shipped exercise, or a file.
        #[arg(value_name = "NAME|FILE")]
        exercise: String,
        /// Only this stage.
        #[arg(long, value_name = "ID")]
        stage: Option<String>,
    },
    /// Find every slip in exercise files, each with its line and what to do. Exit status 1 if there are any.
    Check {
        /// Files to check, or names of shipped exercises.
        #[arg(value_name = "FILE|NAME", required = true)]
        files: Vec<String>,
    },
    /// Write an exercise into a file of your own, all inherited parts included, to edit.
    Copy {
        /// Name of a shipped exercise, or a file.
        #[arg(value_name = "NAME|FILE")]
        exercise: String,
        /// The file to write; NAME.toml in this folder if left out. The copy is named after it.
        #[arg(long, value_name = "FILE.toml")]
        to: Option<PathBuf>,
    },
}

/// Does what the arguments ask.
pub fn run(arguments: &Arguments) -> anyhow::Result<ExitCode> {
    match &arguments.action {
        Action::List => print!("{}", exercise_table::list()),
        Action::Show { exercise, stage } => {
            let exercise = load(exercise)?;
            print!("{}", exercise_table::show(&exercise, stage.as_deref())?);
        }
        Action::Check { files } => return check(files),
        Action::Copy { exercise, to } => copy(exercise, to.as_deref())?,
    }
    Ok(ExitCode::SUCCESS)
}

/// An exercise by the name of a shipped one, or from a file.
pub fn load(name_or_file: &str) -> anyhow::Result<Exercise> {
    let path = Path::new(name_or_file);
    if !is_file(path) {
        return shipped(name_or_file);
    }
    let text = text_of(path)?;
    read(name_or_file, &text, &shelf_beside(path, &text)).map_err(|faults| in_one_line(name_or_file, &faults))
}

/// Whether a file is meant and no shipped exercise: it has an ending or a folder, or is there.
fn is_file(path: &Path) -> bool {
    path.extension().is_some() || path.components().count() > 1 || path.is_file()
}

/// Refuses a tooth that the exercise is not for.
pub fn for_tooth(exercise: &Exercise, tooth: Tooth) -> anyhow::Result<()> {
    if exercise.is_for(tooth) {
        return Ok(());
    }
    bail!(
        "exercise `{}` is for {}, the tooth is {} ({}); take another exercise (kerf exercise list)",
        exercise.name,
        exercise.teeth_text(),
        tooth.fdi(),
        tooth.name()
    )
}

fn shipped(name: &str) -> anyhow::Result<Exercise> {
    if let Some(exercise) = library::exercise(name) {
        return Ok(exercise);
    }
    if library::text(name).is_some() {
        let heirs: Vec<&str> = library::exercise_names().filter(|heir| inherits(heir, name)).collect();
        bail!("exercise `{name}` is a template, from which others inherit; take one of {}", heirs.join(", "));
    }
    Err(unknown(name))
}

fn unknown(name: &str) -> anyhow::Error {
    let family: Vec<&str> =
        library::exercise_names().filter(|known| known.starts_with(&format!("{name}-"))).collect();
    let next = match nearest(name, library::exercise_names()) {
        _ if !family.is_empty() => format!("take one of {}", family.join(", ")),
        Some(near) => format!("did you mean `{near}`?"),
        None => "`kerf exercise list` names all; a file is given with its ending, as my.toml".into(),
    };
    anyhow!("there is no exercise `{name}`; {next}")
}

/// The text of a shipped exercise or template, or of a file, and where its bases are looked up.
fn text_and_shelf(name_or_file: &str) -> anyhow::Result<(String, Shelf)> {
    let path = Path::new(name_or_file);
    if is_file(path) {
        let text = text_of(path)?;
        let shelf = shelf_beside(path, &text);
        return Ok((text, shelf));
    }
    let text = library::text(name_or_file).ok_or_else(|| unknown(name_or_file))?;
    Ok((text.to_owned(), Shelf::library()))
}

fn inherits(heir: &str, ancestor: &str) -> bool {
    let base = library::text(heir).and_then(base_of);
    base.is_some_and(|base| base == ancestor || inherits(&base, ancestor))
}

fn text_of(path: &Path) -> anyhow::Result<String> {
    let bytes = fs::read(path)
        .with_context(|| format!("{}: cannot be read; check the name and the rights", path.display()))?;
    String::from_utf8(bytes).with_context(|| format!("{}: is no text; save it as UTF-8", path.display()))
}

/// The library, and the files beside `path` that it inherits from: a base `mine` is looked up in `mine.toml` first.
fn shelf_beside(path: &Path, text: &str) -> Shelf {
    let mut shelf = Shelf::library();
    let mut base = base_of(text);
    let mut seen = Vec::new();
    while let Some(name) = base.take().filter(|name| !seen.contains(name)) {
        let beside = path.with_file_name(format!("{name}.toml"));
        if let Some(text) = fs::read(&beside).ok().and_then(|bytes| String::from_utf8(bytes).ok()) {
            base = base_of(&text);
            shelf.put(name.clone(), text);
        }
        seen.push(name);
    }
    shelf
}

/// The first fault, and how many more there are.
fn in_one_line(file: &str, faults: &Faults) -> anyhow::Error {
    let first = faults.0.first().map_or(String::new(), ToString::to_string);
    match faults.0.len() {
        0 | 1 => anyhow!("{first}"),
        n => anyhow!("{first} (and {} more: kerf exercise check {file})", n - 1),
    }
}

fn check(files: &[String]) -> anyhow::Result<ExitCode> {
    let mut n_faults = 0;
    for file in files {
        let (text, shelf) = text_and_shelf(file)?;
        let faults = check_in(file, &text, &shelf);
        n_faults += faults.len();
        for fault in &faults {
            println!("{fault}");
        }
        if faults.is_empty() {
            println!("{file}: in order, {}", contents(file, &text, &shelf));
        }
    }
    Ok(ExitCode::from(u8::from(n_faults > 0)))
}

fn contents(file: &str, text: &str, shelf: &Shelf) -> String {
    match read(file, text, shelf) {
        Ok(exercise) => {
            let criteria: usize = exercise.stages.iter().map(|stage| stage.criteria.len()).sum();
            format!("{} stages, {criteria} criteria", exercise.stages.len())
        }
        Err(_) if is_template(text) => "a template to inherit from".into(),
        Err(faults) => faults.to_string(),
    }
}

fn copy(name_or_file: &str, to: Option<&Path>) -> anyhow::Result<()> {
    let mut exercise = load(name_or_file)?;
    let usual = PathBuf::from(format!("{}.toml", exercise.name));
    let to = to.unwrap_or(&usual);
    if to.exists() {
        bail!("{}: is there already; give another name with --to", to.display());
    }
    let stem = to.file_stem().map(|stem| stem.to_string_lossy().to_lowercase()).unwrap_or_default();
    let fits = |letter: char| letter.is_ascii_lowercase() || letter.is_ascii_digit() || letter == '-';
    exercise.name = stem.chars().map(|letter| if fits(letter) { letter } else { '-' }).collect();
    save(to, to_toml(&exercise).as_bytes())?;
    println!("Written to {}. Edit it, then: kerf exercise check {0}", to.display());
    Ok(())
}
