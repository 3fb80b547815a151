//! `kerf demo`.

use crate::args::Demo;

/// Runs the demo.
pub fn run(_arguments: &Demo) -> anyhow::Result<()> {
    anyhow::bail!("not built yet")
}
