//! Everything that must hold before a change is taken: the one test command.

use std::env;
use std::time::{Duration, Instant};

use crate::command::{Command, Failure};
use crate::{hygiene, licences, postgres, process, web};

/// `cargo xtask test`.
pub const COMMAND: Command = Command {
    name: "test",
    summary: "Run every check and every test; what continuous integration runs",
    help: "\
Usage: cargo xtask test [STEP …]

Runs all steps, or only those named, and sums up at the end. Steps, in order:
  hygiene    the files of the repository: sources cited, links, leftovers (cargo xtask hygiene)
  format     rustfmt, check only
  licences   the licence of every dependency (cargo xtask licences)
  web        the browser part: licences, types, unit tests, build (needs Node)
  clippy     all targets of the workspace, warnings are errors
  tests      unit, integration and documentation tests of the workspace; on PostgreSQL too where it is installed
  docs       the documentation of our crates, warnings are errors
  browser    the app in a real browser: an installed Chromium, Chrome or Edge
",
    run,
};

/// One step of the test command.
struct Step {
    name: &'static str,
    run: fn() -> Result<(), Failure>,
}

const STEPS: &[Step] = &[
    Step { name: "hygiene", run: hygiene::check },
    Step { name: "format", run: || process::run(&mut process::cargo(&["fmt", "--all", "--check"])) },
    Step { name: "licences", run: licences::check },
    // Before what compiles the browser part's files into the program.
    Step { name: "web", run: web::check },
    Step { name: "clippy", run: clippy },
    // The development profile is optimised and keeps its overflow and debug assertions: what a test run wants.
    Step { name: "tests", run: tests },
    Step { name: "docs", run: docs },
    Step { name: "browser", run: web::check_in_browser },
];

fn run(arguments: &[String]) -> Result<(), Failure> {
    let steps = chosen(arguments)?;
    let mut results = Vec::new();
    for step in steps {
        println!("── {} ──", step.name);
        let start = Instant::now();
        let result = (step.run)();
        if let Err(Failure::Work(line) | Failure::Usage(line)) = &result {
            eprintln!("{line}");
        }
        results.push((step.name, start.elapsed(), result.is_ok()));
    }
    sum_up(&results)
}

fn chosen(names: &[String]) -> Result<Vec<&'static Step>, Failure> {
    let unknown = names.iter().find(|name| !STEPS.iter().any(|step| step.name == **name));
    if let Some(name) = unknown {
        return Err(Failure::Usage(format!("test has no step \"{name}\": see cargo xtask test --help")));
    }
    let is_chosen = |step: &&Step| names.is_empty() || names.iter().any(|name| name == step.name);
    Ok(STEPS.iter().filter(is_chosen).collect())
}

fn sum_up(results: &[(&str, Duration, bool)]) -> Result<(), Failure> {
    println!("── summary ──");
    for (name, time, is_ok) in results {
        println!("{:<7} {name:<9} {:>6.1} s", if *is_ok { "passed" } else { "FAILED" }, time.as_secs_f64());
    }
    let failed: Vec<&str> = results.iter().filter(|(_, _, is_ok)| !is_ok).map(|(name, _, _)| *name).collect();
    if failed.is_empty() {
        return Ok(());
    }
    Err(Failure::Work(format!("failed: {}; run one alone with cargo xtask test STEP", failed.join(", "))))
}

fn clippy() -> Result<(), Failure> {
    let arguments = ["clippy", "--workspace", "--all-targets", "--locked", "--", "-D", "warnings"];
    process::run(&mut process::cargo(&arguments))
}

/// The server's tests need PostgreSQL. Where it is not installed the rest is tested, which is not enough for continuous integration.
fn tests() -> Result<(), Failure> {
    let mut command = process::cargo(&["test", "--workspace", "--no-fail-fast", "--locked"]);
    if env::var_os(postgres::VARIABLE).is_some() {
        return process::run(&mut command);
    }
    let server = postgres::start()?;
    if let Some(server) = &server {
        command.env(postgres::VARIABLE, &server.address);
    } else if env::var_os("CI").is_some() {
        return Err(Failure::work(
            "PostgreSQL is not installed, and continuous integration leaves nothing out",
        ));
    } else {
        println!(
            "PostgreSQL is not installed: what the store, the queue and the workers do on it is not tested"
        );
    }
    process::run(&mut command)
}

fn docs() -> Result<(), Failure> {
    let mut command = process::cargo(&["doc", "--workspace", "--no-deps", "--locked"]);
    process::run(command.env("RUSTDOCFLAGS", "-D warnings"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_run_in_their_own_order() {
        let names = |chosen: Vec<&Step>| chosen.iter().map(|step| step.name).collect::<Vec<_>>();
        let all: Vec<&str> = STEPS.iter().map(|step| step.name).collect();
        assert_eq!(names(chosen(&[]).unwrap()), all);
        let two = ["docs".to_owned(), "format".to_owned()];
        assert_eq!(names(chosen(&two).unwrap()), ["format", "docs"]);
        assert!(matches!(chosen(&["polish".to_owned()]), Err(Failure::Usage(_))));
    }

    #[test]
    fn the_help_names_every_step() {
        for step in STEPS {
            assert!(COMMAND.help.contains(&format!("  {}", step.name)), "{}", step.name);
        }
    }

    #[test]
    fn one_failed_step_fails_the_whole() {
        let second = Duration::from_secs(1);
        assert_eq!(sum_up(&[("format", second, true)]), Ok(()));
        let failure = sum_up(&[("format", second, true), ("docs", second, false)]).unwrap_err();
        assert!(matches!(failure, Failure::Work(line) if line.starts_with("failed: docs;")));
    }
}
