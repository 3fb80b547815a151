//! What no compiler checks: that the files of the repository hold together and carry no leftovers.

mod crates;
mod lines;
mod markdown;

use std::collections::BTreeMap;
use std::fs;

use crate::command::{Command, Failure, expect_no_arguments};
use crate::files;
use crate::process;

/// `cargo xtask hygiene`.
pub const COMMAND: Command = Command {
    name: "hygiene",
    summary: "Check sources cited, links, machine paths, leftovers and file sizes",
    help: "\
Usage: cargo xtask hygiene

Checks every file of the repository:
  no file is larger than 1 MiB, no text line ends in blanks or CR LF, every text ends with a line end
  no path of one machine, no unfinished or ignored code in Rust, every Python package pinned
  every link and every cited anchor, such as docs/sources.md#goodacre-2001, leads somewhere
  every crate is named after its folder, takes the shared lints and has its line in ARCHITECTURE.md
  no library crate touches files, environment, network, programs or the clock
",
    run: |arguments| {
        expect_no_arguments("hygiene", arguments)?;
        check()
    },
};

/// Larger files do not belong into a source repository.
const MAX_BYTES: u64 = 1 << 20;

/// Endings of the texts that people write here. Fixtures keep whatever lines they need.
const TEXTS: &[&str] =
    &[".rs", ".toml", ".md", ".py", ".ts", ".svelte", ".css", ".txt", "/run", "-MIT", "-APACHE"];

/// The texts of the repository: path from the root, then content.
type Texts = BTreeMap<String, String>;

/// Checks every file and prints each fault in one line.
pub fn check() -> Result<(), Failure> {
    let root = process::workspace_root();
    let paths = files::repository_files()?;
    let mut faults = Vec::new();
    let mut texts = Texts::new();
    for path in &paths {
        let size = fs::metadata(root.join(path)).map_or(0, |metadata| metadata.len());
        if size > MAX_BYTES {
            faults.push(format!(
                "{path}: {size} bytes, more than {MAX_BYTES}: keep it outside or make it smaller"
            ));
        } else if TEXTS.iter().any(|ending| path.ends_with(ending)) {
            match fs::read_to_string(root.join(path)) {
                Ok(text) => drop(texts.insert(path.clone(), text)),
                Err(error) => faults.push(format!("{path}: cannot read it as text: {error}")),
            }
        }
    }
    for (path, text) in &texts {
        faults.extend(lines::faults(path, text).into_iter().map(|fault| format!("{path}:{fault}")));
    }
    faults.extend(markdown::faults(&texts, &paths));
    faults.extend(crates::faults(&texts));
    report(&faults, paths.len())
}

fn report(faults: &[String], n_files: usize) -> Result<(), Failure> {
    for fault in faults {
        eprintln!("{fault}");
    }
    if faults.is_empty() {
        println!("{n_files} files in order");
        return Ok(());
    }
    let plural = if faults.len() == 1 { "fault" } else { "faults" };
    Err(Failure::Work(format!("{} {plural} in the files of the repository", faults.len())))
}
