//! Works through many attempts.

use std::path::PathBuf;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::{Mutex, PoisonError};

use kerfwright_store::Store;
use tokio::runtime::Handle;

use crate::baselines::{Baselines, file_name, read_bytes};
use crate::job::Job;
use crate::settle::{Fault, Kept, Material, Settings, Settler};
use crate::turns::{Turn, Turns};

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
/// even if it panics. Attempts are numbered in the order of the jobs, those that share a baseline together, on any number of workers.
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
    let (next, turns, stopped) = (AtomicUsize::new(0), Turns::default(), AtomicBool::new(false));
    let ended: Mutex<Vec<(usize, Result<Kept, String>)>> = Mutex::default();
    let work = || {
        let settler = Settler { settings, baselines, store, runtime };
        while !stopped.load(Ordering::Relaxed) {
            if watcher.is_to_stop() {
                stopped.store(true, Ordering::Relaxed);
                break;
            }
            let own = next.fetch_add(1, Ordering::Relaxed);
            let Some(&place) = order.get(own) else { break };
            let done = from_files(&settler, &jobs[place], turns.turn(own));
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

/// Settles the attempt of a file, and gets its number at its turn.
fn from_files(settler: &Settler<'_>, job: &Job, turn: Turn<'_>) -> Result<Kept, String> {
    let baseline = |path: &Option<PathBuf>| {
        path.as_ref().map(|path| settler.baselines.file(path)).transpose().map_err(Fault::Unfit)
    };
    let gather = || {
        let (before, opposing) = (baseline(&job.about.before)?, baseline(&job.about.opposing)?);
        Ok(Material { bytes: read_bytes(&job.after).map_err(Fault::Unfit)?, before, opposing })
    };
    let number = move |identity: &str| {
        turn.wait();
        settler.number(identity, &job.about)?;
        // Others need not wait for the measuring.
        drop(turn);
        Ok(())
    };
    settler.settle(&file_name(&job.after), &job.about, gather, number).map_err(|fault| fault.to_string())
}

/// Lets the parallel parts of the core run on this thread alone.
pub fn one_thread<T: Send>(work: impl FnOnce() -> T + Send) -> T {
    match rayon::ThreadPoolBuilder::new().num_threads(1).build() {
        Ok(pool) => pool.install(work),
        // Without a thread of its own it shares those of the process.
        Err(_) => work(),
    }
}
