//! The browser part: what npm does in `web/`.

use std::ffi::OsString;
use std::path::PathBuf;
use std::process::Command as Program;
use std::{env, fs};

use crate::command::{Command, Failure};
use crate::json::{self, Value};
use crate::licences;
use crate::process;

/// `cargo xtask app`.
pub const COMMAND: Command = Command {
    name: "app",
    summary: "Build the browser part and kerf, and open the app at the bench",
    help: "\
Usage: cargo xtask app [-- OPTIONS OF kerf serve]

Installs what web/package-lock.json names, builds web/dist, builds the optimised program with it inside,
and starts kerf serve. Needs Node.
",
    run: |arguments| {
        let arguments = arguments.strip_prefix(&["--".to_owned()]).unwrap_or(arguments);
        build()?;
        let mut command =
            process::cargo(&["run", "--release", "--locked", "--package", "kerfwright-cli", "--", "serve"]);
        process::run(command.args(arguments))
    },
};

/// Installs exactly what the lock file names and builds `web/dist`.
pub fn build() -> Result<(), Failure> {
    process::run(&mut npm(&["ci", "--no-audit", "--no-fund"]))?;
    process::run(&mut npm(&["run", "build"]))
}

/// Licences, types, accessibility warnings of the compiler, unit tests, and the build.
pub fn check() -> Result<(), Failure> {
    check_licences()?;
    build()?;
    process::run(&mut npm(&["run", "check"]))?;
    process::run(&mut npm(&["test"]))
}

/// The whole way in a real browser, against the program as it is built for tests.
pub fn check_in_browser() -> Result<(), Failure> {
    // As the tests build it, so that after them nothing is left to do: the same crates with the same features.
    process::run(&mut process::cargo(&["test", "--workspace", "--locked", "--no-run"]))?;
    let name = format!("kerf{}", env::consts::EXE_SUFFIX);
    process::run(npm(&["run", "e2e"]).env("KERF", process::target_dir().join("debug").join(name)))
}

/// npm in the browser part's folder. On Windows it is a script, which only its own shell starts.
fn npm(arguments: &[&str]) -> Program {
    let mut command = if cfg!(windows) {
        let mut shell = Program::new(env::var_os("COMSPEC").unwrap_or_else(|| OsString::from("cmd")));
        shell.args(["/C", "npm"]);
        shell
    } else {
        Program::new("npm")
    };
    command.args(arguments).current_dir(folder());
    command
}

fn folder() -> PathBuf {
    process::workspace_root().join("web")
}

fn check_licences() -> Result<(), Failure> {
    let path = folder().join("package-lock.json");
    let text = fs::read_to_string(&path)
        .map_err(|error| Failure::Work(format!("web/package-lock.json: cannot be read: {error}")))?;
    let lock =
        json::parse(&text).map_err(|error| Failure::Work(format!("web/package-lock.json: {error}")))?;
    let faults = licence_faults(&lock);
    for fault in &faults {
        eprintln!("{fault}");
    }
    if faults.is_empty() {
        return Ok(());
    }
    Err(Failure::Work(format!("{} packages of web/ may not be used so", faults.len())))
}

/// One line for each package of a lock file that may not be shipped, or used to build, under our licence.
fn licence_faults(lock: &Value) -> Vec<String> {
    let Some(Value::Object(packages)) = lock.get("packages") else {
        return vec!["web/package-lock.json names no packages: make it with npm 9 or newer".into()];
    };
    let others = packages.iter().filter(|(path, _)| !path.is_empty());
    others.filter_map(|(path, package)| licence_fault(path, package)).collect()
}

fn licence_fault(path: &str, package: &Value) -> Option<String> {
    let licence = package.get("license").and_then(Value::as_str);
    let is_shipped = package.get("dev").is_none();
    match licence {
        None => Some(format!("web/{path}: names no licence")),
        Some(licence) if licences::is_allowed(licence, is_shipped) => None,
        Some(licence) => Some(format!("web/{path}: {licence} may not be used so")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_shipped_needs_more_than_what_builds() {
        let package = |dev: &str, licence: &str| format!(r#"{{ {dev} "version": "1.0.0"{licence} }}"#);
        let lock = format!(
            r#"{{ "packages": {{ "": {{ "name": "own" }}, "a": {}, "b": {}, "c": {}, "d": {}, "e": {} }} }}"#,
            package("", r#", "license": "MIT""#),
            package("", r#", "license": "MPL-2.0""#),
            package(r#""dev": true,"#, r#", "license": "MPL-2.0""#),
            package(r#""dev": true,"#, r#", "license": "GPL-3.0-only""#),
            package("", ""),
        );
        let faults = licence_faults(&json::parse(&lock).unwrap());
        let starts = ["web/b: MPL-2.0", "web/d: GPL-3.0-only", "web/e: names no licence"];
        assert_eq!(faults.len(), starts.len(), "{faults:?}");
        for (fault, start) in faults.iter().zip(starts) {
            assert!(fault.starts_with(start), "{fault}");
        }
    }
}
