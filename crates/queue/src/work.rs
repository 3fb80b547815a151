//! Takes attempts off the queue and measures them.

use std::collections::BTreeMap;
use std::fmt;
use std::sync::Arc;
use std::time::Duration;

use graphile_worker::{
    IntoTaskHandlerResult, JobRecovery, JobRecoveryResult, TaskHandler, WorkerContext, WorkerOptions,
    WorkerRecoveryConfig,
};
use kerfwright_batch::{Baselines, Exercises, Fault, Kept, Material, Settings, Settler, one_thread};
use kerfwright_exercise::Shelf;
use kerfwright_store::Store;
use tokio::runtime::Handle;

use crate::queue::{SCHEMA, library};
use crate::{KeptScan, QueueError, Waiting};

/// A worker's hands.
#[derive(Clone)]
pub struct Hands {
    /// Where scans are and attempts go.
    pub store: Store,
    /// Attempts measured at once, each on one core.
    pub workers: usize,
    /// Version of the program.
    pub version: String,
    /// A worker that has not been heard of for so long is taken for dead, and what it had taken is tried by others.
    pub silence: Duration,
    /// Hears what became of each attempt.
    pub told: Told,
}

/// Hears what became of an attempt.
pub type Told = Arc<dyn Fn(&Waiting, &Result<Kept, Fault>) + Send + Sync>;

/// Scans that are held in memory: two of one exercise, and two of the next.
const BASELINES: usize = 4;
/// How long the attempts at hand may take to be finished after the word to stop.
const GRACE: Duration = Duration::from_secs(120);

/// Takes attempts until the process is told to stop (Ctrl+C, or the signal to terminate), finishes those at hand, and ends.
///
/// # Errors
/// The queue cannot be reached at the start.
pub async fn work(hands: Hands) -> Result<(), QueueError> {
    let pool = hands.store.postgres().ok_or(QueueError::NoPostgres)?.clone();
    let recovery = WorkerRecoveryConfig::default()
        .heartbeat_interval(hands.silence / 6)
        .sweep_interval(hands.silence / 3)
        .sweep_threshold(hands.silence);
    let worker = WorkerOptions::default()
        .schema(SCHEMA)
        .pg_pool(pool)
        .concurrency(hands.workers)
        .worker_recovery(recovery)
        .shutdown_grace_period(GRACE)
        .shutdown_interrupted_job_retry_delay(Duration::from_secs(1))
        // An attempt whose worker died was tried: one that kills its workers comes to an end too.
        .on(JobRecovery, async |_| JobRecoveryResult::FailWithBackoff)
        .add_extension(Bench(Arc::new((hands, Baselines::new(BASELINES)))))
        .define_job::<Waiting>()
        .init()
        .await
        .map_err(library)?;
    worker.run().await.map_err(library)
}

/// What all attempts of a worker share.
#[derive(Clone)]
struct Bench(Arc<(Hands, Baselines)>);

// The library asks for it; there is nothing to be read in it.
impl fmt::Debug for Bench {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(out, "Bench")
    }
}

/// Why an attempt goes back into the queue. The library keeps its debug form as the reason.
struct Why(String);

impl fmt::Debug for Why {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str(&self.0)
    }
}

impl TaskHandler for Waiting {
    const IDENTIFIER: &'static str = "measure";

    async fn run(self, context: WorkerContext) -> impl IntoTaskHandlerResult {
        let bench = context.extensions().get::<Bench>().cloned();
        let bench = bench.ok_or_else(|| Why("the worker was not set up".into()))?;
        let runtime = Handle::current();
        // Measuring keeps a core busy: it has a thread of its own, so that the worker goes on being heard of.
        let measured = tokio::task::spawn_blocking(move || {
            let (hands, baselines) = &*bench.0;
            let done = one_thread(|| settle(&self, hands, baselines, &runtime));
            (hands.told)(&self, &done);
            done
        });
        match measured.await {
            // What cannot be measured is kept as that, and done.
            Ok(Ok(_) | Err(Fault::Refused(_))) => Ok(()),
            Ok(Err(fault)) => Err(Why(fault.to_string())),
            Err(_) => Err(Why("the program broke off; please report it".into())),
        }
    }
}

fn settle(attempt: &Waiting, hands: &Hands, baselines: &Baselines, runtime: &Handle) -> Result<Kept, Fault> {
    let exercises = exercises(attempt, hands, runtime)?;
    let settings = Settings { workers: 1, version: hands.version.clone(), exercises };
    let settler = Settler { settings: &settings, baselines, store: &hands.store, runtime };
    let bytes = |scan: &KeptScan| {
        let bytes = runtime
            .block_on(hands.store.scan_bytes(&scan.id))
            .map_err(|error| format!("{}: {error}", scan.file))?;
        bytes.ok_or_else(|| format!("{}: the scan was erased; hand it in again", scan.file))
    };
    let baseline = |scan: &Option<KeptScan>| {
        let Some(scan) = scan else { return Ok(None) };
        let bring = || Ok((scan.file.clone(), bytes(scan)?));
        baselines.scan(&format!("{} {}", scan.id, scan.file), bring).map(Some)
    };
    let gather = || {
        let (before, opposing) = (baseline(&attempt.before)?, baseline(&attempt.opposing)?);
        Ok(Material { bytes: bytes(&attempt.after)?, before, opposing })
    };
    // Its number was reserved when it was handed in.
    let number = |_: &str| Ok(());
    settler.settle(&attempt.after.file, &attempt.about(), || gather().map_err(Fault::Store), number)
}

/// The exercise of an attempt, in the version that was meant when it was handed in.
fn exercises(attempt: &Waiting, hands: &Hands, runtime: &Handle) -> Result<Exercises, Fault> {
    let Some(version) = &attempt.exercise else { return Ok(BTreeMap::new()) };
    let unfit = |why: &str| Fault::Unfit(format!("{}: {why}", attempt.after.file));
    let row = runtime.block_on(hands.store.exercise(version))?;
    let row = row.ok_or_else(|| unfit("its exercise is not kept; hand it in again"))?;
    let exercise = kerfwright_exercise::read(&row.name, &row.toml, &Shelf::library());
    let exercise = exercise.map_err(|faults| unfit(&format!("its exercise cannot be read ({faults})")))?;
    Ok([(version.clone(), (exercise, version.clone()))].into())
}
