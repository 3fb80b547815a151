//! `kerf class`: a class as a whole, from roster to report.

pub mod agree;
mod calibrate;
pub mod data;
mod export;
mod intervals;
mod keep;
mod people;
mod progress;
mod queue;
pub mod report;
pub mod run;

use std::process::ExitCode;

use clap::{Args, Subcommand};

/// A class as a whole.
#[derive(Debug, Args)]
pub struct Arguments {
    /// What to do.
    #[command(subcommand)]
    pub action: Action,
}

/// What to do with a class.
#[derive(Debug, Subcommand)]
pub enum Action {
    /// Measure, grade and keep all scans of a folder or a manifest. Exit status 1 if any of them failed.
    Run(Box<run::Arguments>),
    /// Hand all scans of a folder or a manifest in, to be measured by workers on other machines. Exit status 1 if any of them is no scan.
    Submit(Box<queue::Submit>),
    /// Take attempts that were handed in and measure them, until stopped. As many machines as wanted may do so at once.
    Work(queue::Work),
    /// Say what waits to be measured and what failed too often.
    Queue(queue::Look),
    /// Say how learners and cohorts do: readings against their bands, faults by place, criteria as items, groups compared.
    Report(Box<report::Arguments>),
    /// Say how far examiners agree with each other, with themselves and with what was measured.
    Agree(Box<agree::Agree>),
    /// Calibrate examiners with attempts whose readings are known.
    Calibrate(calibrate::Calibrate),
    /// Take a roster in: OneRoster CSV as a ZIP file or folder, or a plain table.
    Import(people::Import),
    /// Take in what examiners gave, from a table.
    Rate(people::Rate),
    /// Name a session: its cohort, its instructor, its day.
    Session(people::Session),
    /// List learners, cohorts, sessions, exercises or attempts.
    List(people::List),
    /// Write grades, readings or one attempt into files.
    Export(Box<export::Export>),
    /// Open an attempt that another copy of the program wrote.
    Open(export::Open),
    /// Copy everything into a new folder, and check the copy.
    Backup(keep::Backup),
    /// Check a backup and bring it back into a new folder.
    Restore(keep::Restore),
    /// Copy everything to another place, as from a folder to PostgreSQL and a bucket, and check the copy.
    Copy(keep::Copy),
    /// Check everything that is kept, or a backup.
    Check(keep::Check),
    /// Delete a learner, a cohort, names, or old scans, so that they are gone.
    Delete(keep::Delete),
}

/// Does what the arguments ask.
pub fn run(arguments: &Arguments) -> anyhow::Result<ExitCode> {
    match &arguments.action {
        Action::Run(arguments) => return run::run(arguments),
        Action::Submit(arguments) => return queue::submit(arguments),
        Action::Work(arguments) => queue::work(arguments)?,
        Action::Queue(arguments) => queue::look(arguments)?,
        Action::Report(arguments) => report::run(arguments)?,
        Action::Agree(arguments) => agree::run(arguments)?,
        Action::Calibrate(arguments) => calibrate::run(arguments)?,
        Action::Import(arguments) => people::import(arguments)?,
        Action::Rate(arguments) => people::rate(arguments)?,
        Action::Session(arguments) => people::session(arguments)?,
        Action::List(arguments) => people::list(arguments)?,
        Action::Export(arguments) => export::export(arguments)?,
        Action::Open(arguments) => export::open(arguments)?,
        Action::Backup(arguments) => keep::backup(arguments)?,
        Action::Restore(arguments) => keep::restore(arguments)?,
        Action::Copy(arguments) => keep::copy(arguments)?,
        Action::Check(arguments) => keep::check(arguments)?,
        Action::Delete(arguments) => keep::delete(arguments)?,
    }
    Ok(ExitCode::SUCCESS)
}
