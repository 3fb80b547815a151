//! `kerf class report`: how learners and cohorts do.

use clap::Args;

/// What to report on.
#[derive(Debug, Args)]
pub struct Arguments {}

/// Reports.
pub fn run(_: &Arguments) -> anyhow::Result<()> {
    Ok(())
}
