//! `kerf class run` and `kerf watch`: many attempts, measured, graded and kept.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

use anyhow::{Context, bail};
use clap::Args;
use kerfwright_batch::{
    About, Baselines, Exercises, Inbox, Job, Pattern, Settings, is_scan_name, read_manifest,
};
use kerfwright_exercise::to_toml;
use kerfwright_store::SessionRow;

use super::data::{Data, Open};
use super::progress::{Progress, Said, summary};
use crate::commands::exercise;

/// Baselines that are held in memory: two of one exercise, and two of the next.
pub const BASELINES: usize = 4;

/// What to measure.
#[derive(Debug, Args)]
pub struct Arguments {
    /// Folder of scans, or a manifest: a CSV table with the column after and, where they differ, learner, tooth, before, opposing,
    /// mesial_point, exercise, stage, session, date.
    #[arg(value_name = "FOLDER|MANIFEST.csv")]
    pub from: PathBuf,
    /// How it is measured and kept.
    #[command(flatten)]
    pub how: How,
}

/// What to watch.
#[derive(Debug, Args)]
pub struct Watch {
    /// Folder into which the scanner's program writes. What lies there already is measured too, unless it is kept.
    #[arg(value_name = "FOLDER")]
    pub folder: PathBuf,
    /// End when nothing new has come for so long; without it, when it is interrupted.
    #[arg(long, value_name = "SECONDS")]
    pub idle: Option<u64>,
    /// How it is measured and kept.
    #[command(flatten)]
    pub how: How,
}

/// What files' names and manifests do not say, and how to go about it.
#[derive(Debug, Args)]
pub struct How {
    /// What the file names say: fields in braces, * for anything. Fields: learner, tooth, exercise, stage, session, date.
    #[arg(long, value_name = "PATTERN", default_value = "{learner}_*")]
    pub pattern: String,
    /// Scan of the arch before cutting.
    #[arg(long, value_name = "FILE")]
    pub before: Option<PathBuf>,
    /// Scan of the opposing arch, in the frame of the before scan.
    #[arg(long, value_name = "FILE")]
    pub opposing: Option<PathBuf>,
    /// FDI number of the prepared tooth.
    #[arg(long, value_name = "NUMBER")]
    pub tooth: Option<String>,
    /// Exercise to hold the readings against: the name of a shipped one, or a file.
    #[arg(long, value_name = "NAME|FILE")]
    pub exercise: Option<String>,
    /// The stage after which the scans were taken; the last if left out.
    #[arg(long, value_name = "ID")]
    pub stage: Option<String>,
    /// Code of the session (see kerf class session).
    #[arg(long, value_name = "CODE")]
    pub session: Option<String>,
    /// The day of cutting.
    #[arg(long, value_name = "YYYY-MM-DD", value_parser = day)]
    pub date: Option<String>,
    /// Attempts measured at once; as many as there are cores if left out.
    #[arg(long, value_name = "COUNT", value_parser = clap::value_parser!(u16).range(1..=256))]
    pub workers: Option<u16>,
    /// Print no progress.
    #[arg(long, short)]
    pub quiet: bool,
    /// Where everything is kept.
    #[command(flatten)]
    pub data: Data,
}

/// A day as ISO 8601 writes it.
pub fn day(text: &str) -> Result<String, String> {
    let parts: Vec<&str> = text.split('-').collect();
    let number = |part: &str, length: usize| {
        (part.len() == length && part.bytes().all(|byte| byte.is_ascii_digit()))
            .then(|| part.parse::<u32>().ok())?
    };
    match parts[..] {
        [year, month, date]
            if number(year, 4).is_some()
                && number(month, 2).is_some_and(|month| (1..=12).contains(&month))
                && number(date, 2).is_some_and(|date| (1..=31).contains(&date)) =>
        {
            Ok(text.to_owned())
        }
        _ => Err(format!("`{text}` is no day; give it as 2026-11-02")),
    }
}

/// Measures everything once.
pub fn run(arguments: &Arguments) -> anyhow::Result<ExitCode> {
    let jobs = jobs(&arguments.from, &arguments.how)?;
    let open = arguments.how.data.open()?;
    let settings = settings(&jobs, &arguments.how, &open)?;
    let stop = stop_when_interrupted(&open);
    let progress = Progress::new(jobs.len(), arguments.how.quiet, stop);
    let baselines = Baselines::new(BASELINES);
    let ended =
        kerfwright_batch::run(&jobs, &settings, &baselines, &open.store, open.runtime.handle(), &progress);
    progress.clear();
    print!("{}", summary(&ended, progress.begun.elapsed()));
    open.runtime.block_on(open.store.close());
    Ok(ExitCode::from(u8::from(!ended.failures.is_empty() || ended.left > 0)))
}

/// Measures what comes.
pub fn watch(arguments: &Watch) -> anyhow::Result<ExitCode> {
    let how = &arguments.how;
    if !arguments.folder.is_dir() {
        bail!("{}: is no folder; make it first, or check the name", arguments.folder.display());
    }
    let pattern = Pattern::read(&how.pattern).context("--pattern")?;
    let open = how.data.open()?;
    let stop = stop_when_interrupted(&open);
    let baselines = Baselines::new(BASELINES);
    let mut inbox = Inbox::with_what_is_there(&arguments.folder);
    let mut last_news = Instant::now();
    if !how.quiet {
        eprintln!("Watching {}. Stop with Ctrl+C.", arguments.folder.display());
    }
    while !stop.load(Ordering::Relaxed) {
        let jobs: Vec<Job> = inbox.look().into_iter().map(|path| job(path, &pattern, how)).collect();
        if !jobs.is_empty() {
            let settings = settings(&jobs, how, &open)?;
            let said = Said { stop: stop.clone() };
            kerfwright_batch::run(&jobs, &settings, &baselines, &open.store, open.runtime.handle(), &said);
        }
        if !jobs.is_empty() || inbox.is_waiting() {
            last_news = Instant::now();
        }
        if arguments.idle.is_some_and(|idle| last_news.elapsed() >= Duration::from_secs(idle)) {
            break;
        }
        std::thread::sleep(Inbox::EVERY);
    }
    open.runtime.block_on(open.store.close());
    Ok(ExitCode::SUCCESS)
}

/// What is to be measured.
pub fn jobs(from: &Path, how: &How) -> anyhow::Result<Vec<Job>> {
    let shown = from.display();
    let unread = || format!("{shown}: cannot be read; check the name and the rights");
    let pattern = Pattern::read(&how.pattern).context("--pattern")?;
    let jobs: Vec<Job> = if from.is_dir() {
        let entries = fs::read_dir(from).with_context(unread)?;
        let baselines: Vec<PathBuf> = [&how.before, &how.opposing]
            .into_iter()
            .flatten()
            .filter_map(|path| path.canonicalize().ok())
            .collect();
        let is_baseline = |path: &Path| path.canonicalize().is_ok_and(|path| baselines.contains(&path));
        let mut paths: Vec<PathBuf> = entries
            .filter_map(|entry| Some(entry.ok()?.path()))
            .filter(|path| path.is_file() && is_scan_name(path) && !is_baseline(path))
            .collect();
        paths.sort();
        paths.into_iter().map(|path| job(path, &pattern, how)).collect()
    } else {
        let bytes = fs::read(from).with_context(unread)?;
        let folder = from.parent().unwrap_or_else(|| Path::new(""));
        let jobs = read_manifest(&bytes, folder).map_err(|faults| {
            let told: Vec<String> = faults.iter().map(|fault| format!("{shown}: {fault}")).collect();
            anyhow::anyhow!("{}", told.join("\n      "))
        })?;
        jobs.into_iter().map(|job| Job { about: job.about.or(&usual(how)), ..job }).collect()
    };
    if jobs.is_empty() {
        bail!("{shown}: holds no scan (STL, PLY, OBJ, or these gzip-compressed); check the name");
    }
    Ok(jobs)
}

/// What a file's name says, and what holds for all. A name that does not fit keeps its scan without a learner.
fn job(after: PathBuf, pattern: &Pattern, how: &How) -> Job {
    let name = after.file_name().map_or_else(String::new, |name| name.to_string_lossy().into_owned());
    Job { about: pattern.about(&name).unwrap_or_default().or(&usual(how)), after }
}

fn usual(how: &How) -> About {
    About {
        learner: None,
        tooth: how.tooth.clone(),
        before: how.before.clone(),
        opposing: how.opposing.clone(),
        mesial_point: None,
        exercise: how.exercise.clone(),
        stage: how.stage.clone(),
        session: how.session.clone(),
        date: how.date.clone(),
    }
}

/// Reads the exercises that are named, and sees that the sessions are known. A slip is told before the scans take their time.
pub fn settings(jobs: &[Job], how: &How, open: &Open) -> anyhow::Result<Settings> {
    let mut exercises: Exercises = BTreeMap::new();
    for name in jobs.iter().filter_map(|job| job.about.exercise.as_ref()) {
        if !exercises.contains_key(name) {
            let read = exercise::load(name).context("--exercise")?;
            let version = open.wait(open.store.keep_exercise(&read.name, &read.title, &to_toml(&read)))?;
            exercises.insert(name.clone(), (read, version));
        }
    }
    let known = open.wait(open.store.sessions())?;
    let mut named: Vec<&String> = jobs.iter().filter_map(|job| job.about.session.as_ref()).collect();
    named.sort();
    named.dedup();
    for code in named.into_iter().filter(|code| !known.iter().any(|row| row.code == **code)) {
        let (title, held) = (code.clone(), how.date.clone());
        let row = SessionRow { code: code.clone(), title, cohort: None, instructor: None, held };
        open.wait(open.store.keep_session(&row, "bench"))?;
    }
    let cores = std::thread::available_parallelism().map_or(1, usize::from);
    Ok(Settings {
        workers: how.workers.map_or(cores, usize::from),
        version: env!("CARGO_PKG_VERSION").into(),
        exercises,
    })
}

/// Becomes true at the first interruption: the attempts at hand are finished. The second ends the program at once, which costs them
/// alone.
fn stop_when_interrupted(open: &Open) -> Arc<AtomicBool> {
    let stop = Arc::new(AtomicBool::new(false));
    let own = stop.clone();
    open.runtime.spawn(async move {
        while tokio::signal::ctrl_c().await.is_ok() {
            if own.swap(true, Ordering::Relaxed) {
                std::process::exit(130);
            }
            eprintln!("\nStopping after the attempts at hand; the same command goes on from there.");
        }
    });
    stop
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn days_are_days() {
        assert_eq!(day("2026-11-02"), Ok("2026-11-02".into()));
        for wrong in ["2026-13-01", "2026-1-1", "02.11.2026", "2026-11-02T10", "+026-11-02"] {
            assert!(day(wrong).is_err(), "{wrong}");
        }
    }
}
