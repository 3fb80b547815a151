//! Works through many attempts.

use std::collections::BTreeMap;
use std::path::PathBuf;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::{Arc, Mutex, PoisonError};

use kerfwright_exercise::Exercise;
use kerfwright_measure::{Document, ScanFile, document};
use kerfwright_store::{Measured, NewGrade, NewMeasured, Store};
use tokio::runtime::Handle;

use crate::baselines::{Baseline, Baselines, file_name, read_bytes, scan_row};
use crate::job::{Asked, Job};
use crate::measure::{Wanted, json, measure};

/// Exercises by the name that jobs call them, each with the id of its version in the store.
pub type Exercises = BTreeMap<String, (Exercise, String)>;

/// How the work is done.
#[derive(Debug)]
pub struct Settings {
    /// Attempts that are measured at once, each on one core.
    pub workers: usize,
    /// Version of the program.
    pub version: String,
    /// The exercises that the jobs name.
    pub exercises: Exercises,
}

/// What became of a job that did not fail.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kept {
    /// Measured and kept.
    New,
    /// Kept already.
    Known,
}

/// A job that failed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Failure {
    /// The scan.
    pub file: PathBuf,
    /// Why, with the next step.
    pub why: String,
}

/// What all came to.
#[derive(Debug, Default)]
pub struct Ended {
    /// Attempts that were measured and kept.
    pub new: usize,
    /// Attempts that had been kept already.
    pub known: usize,
    /// What failed, in the order of the jobs.
    pub failures: Vec<Failure>,
    /// Jobs that were not begun because the work was to stop.
    pub left: usize,
}

/// Is told what happens while it happens.
pub trait Watcher: Sync {
    /// A job has ended.
    fn ended(&self, job: &Job, ended: &Result<Kept, String>);
    /// Whether no further job is to be begun.
    fn is_to_stop(&self) -> bool;
}

/// Measures, grades and keeps all jobs.
///
/// Each worker measures one attempt at a time on one thread: several cores are best kept busy by several attempts. What is kept is
/// kept whole, attempt by attempt, so that a run that was broken off is simply started again. A failing job costs that job alone,
/// even if it panics.
pub fn run(
    jobs: &[Job],
    settings: &Settings,
    baselines: &Baselines,
    store: &Store,
    runtime: &Handle,
    watcher: &dyn Watcher,
) -> Ended {
    // Jobs that share a baseline one after the other: it is read once, and few lie in memory.
    let mut order: Vec<usize> = (0..jobs.len()).collect();
    order.sort_by_key(|&place| (&jobs[place].about.before, &jobs[place].about.opposing, place));
    let (next, stopped) = (AtomicUsize::new(0), AtomicBool::new(false));
    let ended: Mutex<Vec<(usize, Result<Kept, String>)>> = Mutex::default();
    let work = || {
        let worker = Worker { settings, baselines, store, runtime };
        while !stopped.load(Ordering::Relaxed) {
            if watcher.is_to_stop() {
                stopped.store(true, Ordering::Relaxed);
                break;
            }
            let Some(&place) = order.get(next.fetch_add(1, Ordering::Relaxed)) else { break };
            let done = worker.settle(&jobs[place]);
            watcher.ended(&jobs[place], &done);
            ended.lock().unwrap_or_else(PoisonError::into_inner).push((place, done));
        }
    };
    std::thread::scope(|scope| {
        for _ in 0..settings.workers.clamp(1, jobs.len().max(1)) {
            scope.spawn(|| one_thread(work));
        }
    });
    let mut ended = ended.into_inner().unwrap_or_else(PoisonError::into_inner);
    ended.sort_by_key(|(place, _)| *place);
    let mut sum = Ended { left: jobs.len() - ended.len(), ..Ended::default() };
    for (place, done) in ended {
        match done {
            Ok(Kept::New) => sum.new += 1,
            Ok(Kept::Known) => sum.known += 1,
            Err(why) => sum.failures.push(Failure { file: jobs[place].after.clone(), why }),
        }
    }
    sum
}

/// Lets the parallel parts of the core run on this thread alone.
fn one_thread(work: impl FnOnce() + Send) {
    match rayon::ThreadPoolBuilder::new().num_threads(1).build() {
        Ok(pool) => pool.install(work),
        // Without a thread of its own it shares those of the process.
        Err(_) => work(),
    }
}

struct Worker<'a> {
    settings: &'a Settings,
    baselines: &'a Baselines,
    store: &'a Store,
    runtime: &'a Handle,
}

impl Worker<'_> {
    /// Measures and keeps one attempt, unless it is kept.
    fn settle(&self, job: &Job) -> Result<Kept, String> {
        let own = std::panic::AssertUnwindSafe(|| self.work(job));
        std::panic::catch_unwind(own).unwrap_or_else(|_| {
            Err(format!("{}: broke off inside the program; please report it", file_name(&job.after)))
        })
    }

    fn work(&self, job: &Job) -> Result<Kept, String> {
        let about = &job.about;
        let file = file_name(&job.after);
        let of_file = |why: String| format!("{file}: {why}");
        let tooth = about.tooth.as_deref().ok_or_else(|| {
            of_file("no tooth is known; give --tooth, a {tooth} in the pattern, or a column tooth".into())
        })?;
        let tooth = kerfwright_tooth::parse(tooth, None).map_err(|error| of_file(error.to_string()))?;
        let exercise = self.exercise(job)?;
        let fdi = tooth.tooth.fdi();
        let is_early = exercise.is_some_and(|(exercise, _)| {
            kerfwright_grade::needs_no_finish_line(exercise, about.stage.as_deref())
        });
        let wanted = Wanted { tooth, mesial_point: about.mesial_point, is_early };
        let read = |path: &Option<PathBuf>| path.as_ref().map(|path| self.baselines.get(path)).transpose();
        let (before, opposing) = (read(&about.before)?, read(&about.opposing)?);
        let bytes = read_bytes(&job.after)?;
        let id =
            |baseline: &Option<Arc<Baseline>>| baseline.as_ref().map(|baseline| baseline.scan.sha256.clone());
        let asked = Asked {
            after: hash(&bytes),
            before: id(&before),
            opposing: id(&opposing),
            tooth: fdi.to_string(),
            mesial_point: about.mesial_point,
            exercise: exercise.map(|(exercise, _)| exercise.name.clone()),
            // Without a word it is the last one.
            stage: exercise
                .and_then(|(exercise, _)| exercise.stage(about.stage.as_deref()))
                .map(|stage| stage.id.clone()),
            learner: about.learner.clone(),
        };
        let identity = hash(asked.to_json().as_bytes());
        if let Some(settled) = self.block(self.store.settled(&identity, &self.settings.version))? {
            if let Some(why) = settled.error_text {
                return Err(why);
            }
            self.grade_again(&settled.id, settled.exercise_version.as_deref(), exercise, job)?;
            return Ok(Kept::Known);
        }
        let after = ScanFile::read(&file, &bytes).map_err(|error| error.to_string())?;
        let scans = (
            &after,
            before.as_ref().map(|baseline| &baseline.scan),
            opposing.as_ref().map(|baseline| &baseline.scan),
        );
        let measured = measure(scans, &wanted);
        let outcome = match &measured {
            Ok(document) => Measured::Done {
                layout: document::SCHEMA.into(),
                document: json(document),
                grade: exercise.map(|exercise| grade(document, exercise, job)).transpose()?,
            },
            Err((code, text)) => Measured::Refused { code: (*code).into(), text: text.clone() },
        };
        self.block(self.store.keep_scan(&scan_row(&after, bytes.len()), &bytes))?;
        for baseline in [&before, &opposing].into_iter().flatten() {
            let row = scan_row(&baseline.scan, baseline.bytes.len());
            if self.block(self.store.scan(&row.id))?.is_none_or(|kept| kept.erased.is_some()) {
                self.block(self.store.keep_scan(&row, &baseline.bytes))?;
            }
        }
        let new = NewMeasured {
            identity,
            scans: (asked.after.clone(), asked.before.clone(), asked.opposing.clone()),
            request: asked.to_json(),
            fdi,
            learner: asked.learner.clone(),
            session: about.session.clone(),
            exercise: asked.exercise.clone(),
            exercise_version: exercise.map(|(_, version)| version.clone()),
            stage: asked.stage.clone(),
            taken: about.date.clone(),
            version: self.settings.version.clone(),
            outcome,
        };
        self.block(self.store.keep_measured(&new))?;
        measured.map(|_| Kept::New).map_err(|(_, text)| text)
    }

    /// The exercise of a job; it has to suit the stage.
    fn exercise(&self, job: &Job) -> Result<Option<&(Exercise, String)>, String> {
        let Some(name) = &job.about.exercise else { return Ok(None) };
        let file = file_name(&job.after);
        let exercise = self
            .settings
            .exercises
            .get(name)
            .ok_or_else(|| format!("{file}: there is no exercise `{name}`"))?;
        match job.about.stage.as_deref() {
            Some(stage) if exercise.0.stage(Some(stage)).is_none() => Err(format!(
                "{file}: exercise `{name}` has no stage `{stage}`; see kerf exercise show {name}"
            )),
            _ => Ok(Some(exercise)),
        }
    }

    /// An attempt that was measured is held against another version of its exercise without being measured again.
    fn grade_again(
        &self,
        id: &str,
        held_against: Option<&str>,
        exercise: Option<&(Exercise, String)>,
        job: &Job,
    ) -> Result<(), String> {
        let Some(exercise) = exercise.filter(|(_, version)| held_against != Some(version)) else {
            return Ok(());
        };
        let damaged =
            || format!("{}: its kept document cannot be read; restore a backup", file_name(&job.after));
        let kept = self.block(self.store.document(id))?.ok_or_else(damaged)?;
        let document: Document = serde_json::from_str(&kept).map_err(|_| damaged())?;
        self.block(self.store.keep_grade(id, &grade(&document, exercise, job)?)).map(drop)
    }

    fn block<T>(
        &self,
        work: impl Future<Output = Result<T, kerfwright_store::StoreError>>,
    ) -> Result<T, String> {
        self.runtime.block_on(work).map_err(|error| error.to_string())
    }
}

fn grade(document: &Document, exercise: &(Exercise, String), job: &Job) -> Result<NewGrade, String> {
    let stage = job.about.stage.as_deref();
    let grade = kerfwright_grade::grade(document, &exercise.0, stage)
        .map_err(|error| format!("{}: {error}", file_name(&job.after)))?;
    Ok(NewGrade {
        exercise_version: exercise.1.clone(),
        stage: grade.stage.id.clone(),
        version: grade.version.clone(),
        // Numbers and texts can always be written.
        grade: serde_json::to_string(&grade).unwrap_or_default(),
    })
}

fn hash(bytes: &[u8]) -> String {
    kerfwright_measure::attempt::sha256(bytes)
}
