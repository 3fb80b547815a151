//! The figures of the definitions.

use crate::command::{Command, Failure, expect_no_arguments};
use crate::process;

/// `cargo xtask figures`.
pub const COMMAND: Command = Command {
    name: "figures",
    summary: "Measure the phantoms of the figures and write docs/figures",
    help: "\
Usage: cargo xtask figures

Makes and scans five phantoms, measures them as kerf does, and draws the figures of docs/measures.md from what
was measured: about ten seconds. The same program writes the same bytes. A test of kerfwright-report fails
when a committed figure is no longer what the program draws.
The phantoms: crates/report/examples/figures/bodies.rs. What is drawn: crates/report/src/figures.
",
    run,
};

const FOLDER: &str = "docs/figures";

fn run(arguments: &[String]) -> Result<(), Failure> {
    expect_no_arguments("figures", arguments)?;
    let folder = process::workspace_root().join(FOLDER);
    let start = ["run", "--locked", "--package", "kerfwright-report", "--example", "figures", "--"];
    process::run(process::cargo(&start).arg(folder))?;
    println!("written: {FOLDER}");
    Ok(())
}
