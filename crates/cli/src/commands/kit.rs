//! `kerf kit`: lists, shows, checks and copies kits of instruments.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use anyhow::{Context, anyhow, bail};
use clap::{Args, Subcommand};
use kerfwright_instrument::{
    Faults, Kit, LogEntry, Weight, check, log_from_json, log_from_toml, nearest, read, shipped,
};

use crate::commands::measure::save;
use crate::kit_table;

/// What a preparation is cut and checked with.
#[derive(Debug, Args)]
pub struct Arguments {
    /// What to do.
    #[command(subcommand)]
    pub action: Action,
}

/// What to do with kits.
#[derive(Debug, Subcommand)]
pub enum Action {
    /// List the kits that come with the program.
    List,
    /// Show a kit: what each instrument leaves when it is held parallel to the path.
    Show {
        /// Name of a shipped kit, or a file.
        #[arg(value_name = "NAME|FILE")]
        kit: String,
        /// Only this instrument, with all its numbers and their sources.
        #[arg(long, value_name = "NAME")]
        instrument: Option<String>,
        /// Record of uses and measured diameters, TOML or JSON: shows what is worn.
        #[arg(long, value_name = "FILE")]
        log: Option<PathBuf>,
    },
    /// Find every slip in kit files, each with its line and what to do. Exit status 1 if there are any.
    Check {
        /// Files to check, or names of shipped kits.
        #[arg(value_name = "FILE|NAME", required = true)]
        files: Vec<String>,
    },
    /// Write a kit into a file of your own, to edit.
    Copy {
        /// Name of a shipped kit, or a file.
        #[arg(value_name = "NAME|FILE")]
        kit: String,
        /// The file to write; NAME.toml in this folder if left out. The copy is named after it.
        #[arg(long, value_name = "FILE.toml")]
        to: Option<PathBuf>,
    },
}

/// Does what the arguments ask.
pub fn run(arguments: &Arguments) -> anyhow::Result<ExitCode> {
    match &arguments.action {
        Action::List => list(),
        Action::Show { kit, instrument, log } => show(kit, instrument.as_deref(), log.as_deref())?,
        Action::Check { files } => return check_files(files),
        Action::Copy { kit, to } => copy(kit, to.as_deref())?,
    }
    Ok(ExitCode::SUCCESS)
}

/// A kit by the name of a shipped one, or from a file.
pub fn load(name_or_file: &str) -> anyhow::Result<Kit> {
    read(&text_of(name_or_file)?).map_err(|faults| in_one_line(name_or_file, &faults))
}

fn list() {
    for (name, text) in shipped() {
        if let Ok(kit) = read(text) {
            println!("{name}  {}: {}", kit.title, kit_table::contents(&kit));
        }
    }
    println!("\nOne of them: kerf kit show NAME. Your own: kerf kit copy NAME, edit, kerf kit check FILE.");
}

fn show(name_or_file: &str, instrument: Option<&str>, log: Option<&Path>) -> anyhow::Result<()> {
    let kit = load(name_or_file)?;
    let log = log.map(read_log).transpose()?;
    let known = || kit.instruments.iter().map(|instrument| instrument.name.as_str());
    match instrument {
        None => print!("{}", kit_table::kit(&kit, log.as_deref())),
        Some(name) => match kit.instrument(name) {
            Some(instrument) => print!("{}", kit_table::instrument(instrument, log.as_deref())),
            None => match nearest(name, known()) {
                Some(near) => bail!("the kit has no instrument `{name}`; did you mean `{near}`?"),
                None => bail!("the kit has no instrument `{name}`; kerf kit show {name_or_file} names all"),
            },
        },
    }
    Ok(())
}

fn check_files(files: &[String]) -> anyhow::Result<ExitCode> {
    let mut is_wrong = false;
    for file in files {
        let text = text_of(file)?;
        let faults = check(&text);
        for fault in &faults {
            println!("{file}:{fault}");
        }
        is_wrong |= faults.iter().any(|fault| fault.weight == Weight::Wrong);
        if let Ok(kit) = read(&text) {
            let order = if faults.is_empty() { "in order" } else { "can be used" };
            println!("{file}: {order}, {}", kit_table::contents(&kit));
        }
    }
    Ok(ExitCode::from(u8::from(is_wrong)))
}

/// Copies the text, so that comments stay; only the kit's own name changes.
fn copy(name_or_file: &str, to: Option<&Path>) -> anyhow::Result<()> {
    let kit = load(name_or_file)?;
    let usual = PathBuf::from(format!("{}.toml", kit.name));
    let to = to.unwrap_or(&usual);
    if to.exists() {
        bail!("{}: is there already; give another name with --to", to.display());
    }
    let stem = to.file_stem().map(|stem| stem.to_string_lossy().to_lowercase()).unwrap_or_default();
    let fits = |letter: char| letter.is_ascii_lowercase() || letter.is_ascii_digit();
    let name: String = stem.chars().map(|letter| if fits(letter) { letter } else { '-' }).collect();
    let (given, own) = (format!("name = \"{}\"", kit.name), format!("name = \"{name}\""));
    save(to, text_of(name_or_file)?.replacen(&given, &own, 1).as_bytes())?;
    println!("Written to {}. Edit it, then: kerf kit check {0}", to.display());
    Ok(())
}

/// The text of a shipped kit or of a file. What has an ending, a folder or is there is a file.
fn text_of(name_or_file: &str) -> anyhow::Result<String> {
    let path = Path::new(name_or_file);
    if path.extension().is_some() || path.components().count() > 1 || path.is_file() {
        return read_text(path);
    }
    if let Some((_, text)) = shipped().iter().find(|(name, _)| *name == name_or_file) {
        return Ok((*text).to_owned());
    }
    match nearest(name_or_file, shipped().iter().map(|(name, _)| *name)) {
        Some(near) => bail!("there is no kit `{name_or_file}`; did you mean `{near}`?"),
        None => {
            bail!(
                "there is no kit `{name_or_file}`; kerf kit list names all, a file is given with its ending"
            )
        }
    }
}

fn read_text(path: &Path) -> anyhow::Result<String> {
    let bytes = fs::read(path)
        .with_context(|| format!("{}: cannot be read; check the name and the rights", path.display()))?;
    String::from_utf8(bytes).map_err(|_| anyhow!("{}: is no text; save it as UTF-8", path.display()))
}

/// A record of uses and measured diameters, by its ending TOML or JSON.
pub fn read_log(path: &Path) -> anyhow::Result<Vec<LogEntry>> {
    let text = read_text(path)?;
    let is_json = path.extension().is_some_and(|ending| ending.eq_ignore_ascii_case("json"));
    let log = if is_json { log_from_json(&text) } else { log_from_toml(&text) };
    log.with_context(|| path.display().to_string())
}

/// The first fault, and how many more there are.
fn in_one_line(file: &str, faults: &Faults) -> anyhow::Error {
    let wrong: Vec<_> = faults.0.iter().filter(|fault| fault.weight == Weight::Wrong).collect();
    let first = wrong.first().map_or(String::new(), |fault| format!("{file}:{fault}"));
    match wrong.len() {
        0 | 1 => anyhow!("{first}"),
        n => anyhow!("{first} (and {} more: kerf kit check {file})", n - 1),
    }
}
