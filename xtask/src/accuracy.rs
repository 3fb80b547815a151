//! How close the readings come to the truth, over hundreds of scans of phantoms.

use std::fs;

use crate::command::{Command, Failure};
use crate::process;

/// `cargo xtask accuracy`.
pub const COMMAND: Command = Command {
    name: "accuracy",
    summary: "Measure 300 sets of phantom scans and write docs/accuracy.md",
    help: "\
Usage: cargo xtask accuracy [--few | --keep]

Scans phantoms with exactly known geometry under several conditions, measures each set as kerf does, and
writes docs/accuracy.md: bias, repeatability, 95 % error, coverage of the stated uncertainties and refusals
of every reading. Takes about a quarter of an hour on two cores; the same seeds give the same bytes.
  --few    a small fixed part: prints its table and fails when a reading is worse than in
           crates/trial/data/kept.toml (cargo xtask test does the same)
  --keep   runs that part and writes crates/trial/data/kept.toml anew
What is scanned and how: crates/trial/src/preparations.rs and batch.rs.
",
    run,
};

const PAGE: &str = "docs/accuracy.md";
const KEPT: &str = "crates/trial/data/kept.toml";

fn run(arguments: &[String]) -> Result<(), Failure> {
    match arguments {
        [] => write(&[], PAGE),
        [option] if option == "--keep" => write(&["--keep"], KEPT),
        [option] if option == "--few" => process::run(&mut trial(&["--few"])),
        [other, ..] => Err(Failure::Usage(format!(
            "accuracy takes no \"{other}\" here: see cargo xtask accuracy --help"
        ))),
    }
}

/// The development profile is optimised, and the tests have built it already.
fn trial(arguments: &[&str]) -> std::process::Command {
    let start = ["run", "--locked", "--package", "kerfwright-trial", "--example", "accuracy", "--"];
    process::cargo(&[&start[..], arguments].concat())
}

fn write(arguments: &[&str], file: &str) -> Result<(), Failure> {
    let text = process::capture(&mut trial(arguments))?;
    let path = process::workspace_root().join(file);
    fs::write(&path, text).map_err(|error| Failure::work(format!("cannot write {file}: {error}")))?;
    println!("written: {file}");
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn unknown_options_are_refused() {
        let failure = run(&["--some".to_owned()]).unwrap_err();
        assert!(matches!(failure, Failure::Usage(line) if line.contains("--some")));
    }
}
