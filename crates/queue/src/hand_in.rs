//! From files to attempts that wait.

use std::path::PathBuf;

use kerfwright_batch::{Baseline, Failure, Fault, Job, Settler, file_name, read_scan};

use crate::{KeptScan, Queue, QueueError, Waiting};

/// What came of handing in.
#[derive(Debug, Default)]
pub struct HandedIn {
    /// Attempts that wait now.
    pub n: usize,
    /// Files that cannot be measured as they are.
    pub failures: Vec<Failure>,
}

/// Attempts that go into the queue together.
const TOGETHER: usize = 50;

/// Reads the scans of all jobs, keeps them, and puts the attempts into the queue. What is wrong with a file or with what is asked of it is
/// found out here, where the file is, and costs that job alone.
///
/// `told` hears how many jobs are through after each.
///
/// # Errors
/// The store or the queue fails. What was handed in by then stays so; the same again is no other attempt.
pub fn hand_in(
    jobs: &[Job],
    settler: &Settler<'_>,
    queue: &Queue,
    told: &dyn Fn(usize),
) -> Result<HandedIn, QueueError> {
    let mut done = HandedIn::default();
    for (batch, jobs) in jobs.chunks(TOGETHER).enumerate() {
        let (mut attempts, mut awaited) = (Vec::new(), Vec::new());
        for (place, job) in jobs.iter().enumerate() {
            match waiting(job, settler) {
                Ok((attempt, identity)) => {
                    awaited.push((identity, attempt.learner.clone()));
                    attempts.push(attempt);
                }
                Err(Fault::Store(why)) => return Err(QueueError::Library(why)),
                Err(fault) => done.failures.push(Failure { file: job.after.clone(), why: fault.to_string() }),
            }
            told(batch * TOGETHER + place + 1);
        }
        // Numbered as they are handed in, whoever measures them first.
        settler.runtime.block_on(settler.store.reserve_numbers(&awaited))?;
        settler.runtime.block_on(queue.add(&attempts))?;
        done.n += attempts.len();
    }
    Ok(done)
}

/// What a worker gets to know, and the identity of the attempt.
fn waiting(job: &Job, settler: &Settler<'_>) -> Result<(Waiting, String), Fault> {
    let file = file_name(&job.after);
    let (_, exercise) = settler.asked(&file, &job.about)?;
    let baseline = |path: &Option<PathBuf>| {
        let Some(path) = path else { return Ok(None) };
        kept(settler, &*settler.baselines.file(path).map_err(Fault::Unfit)?).map(Some)
    };
    let (before, opposing) = (baseline(&job.about.before)?, baseline(&job.about.opposing)?);
    let after = kept(settler, &read_scan(&job.after).map_err(Fault::Unfit)?)?;
    let version = exercise.map(|(_, version)| version.clone());
    let id = |scan: &Option<KeptScan>| scan.as_ref().map(|scan| scan.id.clone());
    let identity = settler.identity(&file, &job.about, (after.id.clone(), id(&before), id(&opposing)))?;
    let waiting = Waiting::new(job, (after, before, opposing), version);
    Ok((waiting, identity))
}

fn kept(settler: &Settler<'_>, scan: &Baseline) -> Result<KeptScan, Fault> {
    settler.keep(&scan.scan, &scan.bytes)?;
    Ok(KeptScan { id: scan.scan.sha256.clone(), file: scan.scan.file.clone() })
}
