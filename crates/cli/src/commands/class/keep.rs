//! `kerf class backup`, `restore`, `copy`, `check`, `delete`.

use std::path::PathBuf;

use anyhow::bail;
use clap::{Args, Subcommand};
use kerfwright_queue::Queue;
use kerfwright_store::{Checked, Removed, Store, check_backup};

use super::data::{Data, Open, place_of, runtime};
use crate::args::person;

/// What to copy, and where to.
#[derive(Debug, Args)]
pub struct Backup {
    /// The new folder.
    #[arg(value_name = "FOLDER")]
    pub to: PathBuf,
    /// What is copied.
    #[command(flatten)]
    pub data: Data,
}

/// What to bring back, and where to.
#[derive(Debug, Args)]
pub struct Restore {
    /// The backup.
    #[arg(value_name = "BACKUP")]
    pub backup: PathBuf,
    /// A new folder for the data.
    #[arg(long, value_name = "FOLDER")]
    pub to: PathBuf,
}

/// What to copy into another place, and which.
#[derive(Debug, Args)]
pub struct Copy {
    /// A folder with nothing in it, for what the other two leave open.
    #[arg(long, value_name = "FOLDER", required_unless_present_all = ["to_store", "to_scans"])]
    pub to: Option<PathBuf>,
    /// Where rows are to be kept: a new file of SQLite, or postgres://user@host/name of an empty database. A password is taken from PGPASSWORD or
    /// .pgpass.
    #[arg(long, value_name = "FILE|ADDRESS")]
    pub to_store: Option<String>,
    /// Where scans are to be kept: a folder, or s3://bucket/prefix. Keys, region and server of the bucket come from the environment, as for --scans.
    #[arg(long, value_name = "FOLDER|ADDRESS")]
    pub to_scans: Option<String>,
    /// Say nothing of how far it is.
    #[arg(long, short)]
    pub quiet: bool,
    /// What is copied.
    #[command(flatten)]
    pub data: Data,
}

/// What to check.
#[derive(Debug, Args)]
pub struct Check {
    /// A backup; what is kept if left out.
    #[arg(value_name = "BACKUP")]
    pub backup: Option<PathBuf>,
    /// What is checked.
    #[command(flatten)]
    pub data: Data,
}

/// What is to be gone. Backups that were made before still hold it.
#[derive(Debug, Args)]
pub struct Delete {
    /// What.
    #[command(subcommand)]
    pub what: What,
    /// It is really to be deleted.
    #[arg(long, global = true)]
    pub yes: bool,
    /// Code of who deletes; no names.
    #[arg(long, value_name = "CODE", value_parser = person, default_value = "bench", global = true)]
    pub by: String,
    /// Where it is kept.
    #[command(flatten)]
    pub data: Data,
}

/// What can be deleted.
#[derive(Debug, Subcommand)]
pub enum What {
    /// A learner with all attempts, scans, grades and remarks, and the name.
    Learner {
        /// The code.
        code: String,
    },
    /// A cohort with its sessions and its learners; of learners who are in another cohort too, the attempts of these sessions.
    Cohort {
        /// The code.
        code: String,
    },
    /// Names and the ids of the roster's system; codes and attempts stay.
    Names {
        /// Of this learner; of all if left out.
        code: Option<String>,
    },
    /// The bytes of scans; readings and grades stay.
    Scans {
        /// That came before this day, and that no attempt since then uses.
        #[arg(long, value_name = "YYYY-MM-DD", value_parser = super::run::day)]
        before: String,
    },
}

/// Copies and checks.
pub fn backup(arguments: &Backup) -> anyhow::Result<()> {
    let open = arguments.data.open()?;
    let checked = open.wait(open.store.backup(&arguments.to))?;
    println!("Written to {} and checked: {}.", arguments.to.display(), told(checked));
    Ok(())
}

/// Checks and copies back.
pub fn restore(arguments: &Restore) -> anyhow::Result<()> {
    let checked = runtime()?.block_on(Store::restore(&arguments.backup, &arguments.to))?;
    println!("Checked and restored into {}: {}.", arguments.to.display(), told(checked));
    Ok(())
}

/// Copies everything into another place.
pub fn copy(arguments: &Copy) -> anyhow::Result<()> {
    let (store, scans) = (arguments.to_store.as_deref(), arguments.to_scans.as_deref());
    let place = place_of(Some("--to-store"), arguments.to.clone().unwrap_or_default(), store, scans)?;
    let from = arguments.data.place()?;
    if from.shown() == place.shown() {
        bail!("--to: {} is what is to be copied; name another place", place.shown());
    }
    let open = arguments.data.open()?;
    let checked = open.runtime.block_on(async {
        let to = Store::open_at(&place).await?;
        let told = |n: usize, of: usize| {
            if !arguments.quiet && (n.is_multiple_of(100) || n == of) {
                eprintln!("{n} of {of} scans");
            }
        };
        let checked = open.store.copy_to(&to, told).await;
        to.close().await;
        checked
    })?;
    println!("Copied to {} and checked: {}.", place.shown(), told(checked));
    println!("What is kept here stays as it is. Everybody with an account signs in anew there.");
    Ok(())
}

/// Checks.
pub fn check(arguments: &Check) -> anyhow::Result<()> {
    let checked = match &arguments.backup {
        Some(backup) => runtime()?.block_on(check_backup(backup))?,
        None => {
            let open = arguments.data.open()?;
            open.wait(open.store.check())?
        }
    };
    println!("In order: {}.", told(checked));
    Ok(())
}

fn told(checked: Checked) -> String {
    format!("{} attempts, {} scans with their hashes", checked.attempts, checked.scans)
}

/// Deletes.
pub fn delete(arguments: &Delete) -> anyhow::Result<()> {
    if !arguments.yes {
        bail!("what is deleted cannot be brought back; make a backup if in doubt, then give --yes");
    }
    let (open, by) = (arguments.data.open()?, arguments.by.as_str());
    let removed = match &arguments.what {
        What::Learner { code } => {
            let removed = open.wait(open.store.delete_learner(code, by))?;
            forget_waiting(&open, std::slice::from_ref(code))?;
            removed
        }
        What::Cohort { code } => {
            let members = open.wait(open.store.members(code))?;
            let removed = open.wait(open.store.delete_cohort(code, by))?;
            forget_waiting(&open, &members)?;
            removed
        }
        What::Scans { before } => open.wait(open.store.erase_scans_before(before, by))?,
        What::Names { code } => {
            let erased = open.wait(open.store.erase_names(code.as_deref(), by))?;
            println!("Names erased: {erased}. Backups made before still hold them.");
            return Ok(());
        }
    };
    let Removed { learners, attempts, scans } = removed;
    println!(
        "Gone: {learners} learners, {attempts} attempts, {scans} scans. Backups made before still hold them."
    );
    Ok(())
}

/// Takes what waits to be measured off the queue, of those learners who are gone: it would bring them back.
fn forget_waiting(open: &Open, learners: &[String]) -> anyhow::Result<()> {
    if open.store.postgres().is_none() {
        return Ok(());
    }
    open.runtime.block_on(async {
        let queue = Queue::open(&open.store).await?;
        let known = open.store.learners().await?;
        for learner in learners.iter().filter(|learner| !known.iter().any(|row| row.code == **learner)) {
            queue.forget(learner).await?;
        }
        Ok(())
    })
}
