//! `kerf class submit`, `work` and `queue`: a class that is measured by many machines.

use std::io::Write;
use std::path::PathBuf;
use std::process::ExitCode;
use std::sync::Arc;
use std::time::{Duration, Instant};

use clap::Args;
use kerfwright_batch::{Baselines, Fault, Kept, Settler};
use kerfwright_queue::{Count, Dead, Hands, Queue, Waiting, hand_in};

use super::data::Data;
use super::progress::named;
use super::run::{BASELINES, How, jobs, settings};

/// What to hand in.
#[derive(Debug, Args)]
pub struct Submit {
    /// Folder of scans, or a manifest, as for kerf class run.
    #[arg(value_name = "FOLDER|MANIFEST.csv")]
    pub from: PathBuf,
    /// How it is measured and kept.
    #[command(flatten)]
    pub how: How,
}

/// How to work.
#[derive(Debug, Args)]
pub struct Work {
    /// Attempts measured at once; as many as there are cores if left out.
    #[arg(long, value_name = "COUNT", value_parser = clap::value_parser!(u16).range(1..=256))]
    pub workers: Option<u16>,
    /// A worker that was not heard of for so long is taken for dead, and its attempts go to others.
    #[arg(long, value_name = "SECONDS", default_value_t = 60, value_parser = clap::value_parser!(u64).range(2..=3600))]
    pub silence: u64,
    /// Print no attempts.
    #[arg(long, short)]
    pub quiet: bool,
    /// Where everything is kept.
    #[command(flatten)]
    pub data: Data,
}

/// What to say of the queue.
#[derive(Debug, Args)]
pub struct Look {
    /// Let what failed too often be tried anew.
    #[arg(long)]
    pub try_again: bool,
    /// Where everything is kept.
    #[command(flatten)]
    pub data: Data,
}

/// Hands in.
pub fn submit(arguments: &Submit) -> anyhow::Result<ExitCode> {
    let (how, begun) = (&arguments.how, Instant::now());
    let jobs = jobs(&arguments.from, how)?;
    let open = how.data.open()?;
    let queue = open.runtime.block_on(Queue::open(&open.store))?;
    let settings = settings(&jobs, how, &open)?;
    let baselines = Baselines::new(BASELINES);
    let settler = Settler {
        settings: &settings,
        baselines: &baselines,
        store: &open.store,
        runtime: open.runtime.handle(),
    };
    let told = |n: usize| {
        if !how.quiet && (n.is_multiple_of(100) || n == jobs.len()) {
            eprintln!("{n} of {}", jobs.len());
        }
    };
    let done = hand_in(&jobs, &settler, &queue, &told)?;
    let spent_s = begun.elapsed().as_secs_f64();
    println!("{} handed in, {} failed, in {spent_s:.1} s.", done.n, done.failures.len());
    for failure in &done.failures {
        println!("  {}", named(&failure.file, &failure.why));
    }
    open.runtime.block_on(open.store.close());
    Ok(ExitCode::from(u8::from(!done.failures.is_empty())))
}

/// Works until stopped.
pub fn work(arguments: &Work) -> anyhow::Result<()> {
    let open = arguments.data.open()?;
    let cores = std::thread::available_parallelism().map_or(1, usize::from);
    let quiet = arguments.quiet;
    let hands = Hands {
        store: open.store.clone(),
        workers: arguments.workers.map_or(cores, usize::from),
        version: env!("CARGO_PKG_VERSION").into(),
        silence: Duration::from_secs(arguments.silence),
        told: Arc::new(move |attempt, done| {
            if !quiet {
                tell(attempt, done);
            }
        }),
    };
    eprintln!(
        "Taking attempts, {} at once. Stop with Ctrl+C: those at hand are finished first.",
        hands.workers
    );
    open.runtime.block_on(kerfwright_queue::work(hands))?;
    open.runtime.block_on(open.store.close());
    eprintln!("Stopped.");
    Ok(())
}

fn tell(attempt: &Waiting, done: &Result<Kept, Fault>) {
    let file = &attempt.after.file;
    match done {
        Ok(Kept::New) => println!("{file}: measured"),
        Ok(Kept::Known) => println!("{file}: kept already"),
        Err(Fault::Refused(why)) => println!("failed: {}", named(file.as_ref(), why)),
        Err(fault) => println!("to be tried again: {}", named(file.as_ref(), &fault.to_string())),
    }
    // Whoever reads along sees it at once.
    let _ = std::io::stdout().flush();
}

/// Says what waits.
pub fn look(arguments: &Look) -> anyhow::Result<()> {
    let open = arguments.data.open()?;
    let (count, dead) = open.runtime.block_on(async {
        let queue = Queue::open(&open.store).await?;
        if arguments.try_again {
            println!("To be tried anew: {}.", queue.try_again().await?);
        }
        Ok::<_, anyhow::Error>((queue.count().await?, queue.dead().await?))
    })?;
    let Count { waiting, running, again, dead: n_dead } = count;
    println!(
        "{waiting} waiting, {running} being measured, {again} to be tried again, {n_dead} failed too often."
    );
    for Dead { learner, file, tries, why, .. } in &dead {
        let whose = if learner.is_empty() { String::new() } else { format!(" of {learner}") };
        println!("  {}{whose}, after {tries} tries", named(file.as_ref(), why));
    }
    if !dead.is_empty() {
        println!("When the cause is gone: kerf class queue --try-again");
    }
    open.runtime.block_on(open.store.close());
    Ok(())
}
