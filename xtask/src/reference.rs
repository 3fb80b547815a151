//! Making again, with reference libraries, the expected values that the tests hold.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use crate::command::{Command, Failure};
use crate::files;
use crate::process;
use crate::python;

/// `cargo xtask reference`.
pub const COMMAND: Command = Command {
    name: "reference",
    summary: "Make the expected values from reference libraries again and compare (needs Python 3)",
    help: "\
Usage: cargo xtask reference [CRATE …]

Runs every crates/*/tests/reference/make_reference.py, or those of the crates named, each in a Python
environment with the pinned packages of the requirements.txt beside it, and says which fixtures came out
differently from the files that were there. The tests themselves need no Python.
",
    run,
};

const SCRIPT: &str = "make_reference.py";

fn run(arguments: &[String]) -> Result<(), Failure> {
    let scripts = scripts(arguments)?;
    let mut changes = Vec::new();
    for script in &scripts {
        let shown = relative(script);
        println!("── {shown} ──");
        let folder = script.parent().unwrap_or(script);
        let before = contents(folder);
        python::run_script(script)?;
        changes.extend(differences(&before, &contents(folder)));
    }
    for change in &changes {
        println!("{change}");
    }
    if changes.is_empty() {
        println!("scripts that gave the values that were there: {}", scripts.len());
        return Ok(());
    }
    Err(Failure::Work(format!(
        "{} fixtures differ: look at git diff, then keep or restore them",
        changes.len()
    )))
}

fn scripts(crates: &[String]) -> Result<Vec<PathBuf>, Failure> {
    let folders = files::folders_in(&process::workspace_root().join("crates"));
    let name_of = |folder: &PathBuf| folder.file_name().unwrap_or_default().to_string_lossy().into_owned();
    if let Some(unknown) = crates.iter().find(|name| !folders.iter().any(|folder| name_of(folder) == **name))
    {
        return Err(Failure::Usage(format!("there is no crates/{unknown}")));
    }
    let chosen = folders.into_iter().filter(|folder| crates.is_empty() || crates.contains(&name_of(folder)));
    let scripts = chosen.map(|folder| folder.join("tests").join("reference").join(SCRIPT));
    let scripts: Vec<PathBuf> = scripts.filter(|script| script.is_file()).collect();
    if scripts.is_empty() {
        return Err(Failure::Work(format!("no tests/reference/{SCRIPT} there")));
    }
    Ok(scripts)
}

/// The files of a folder and of those below it, by path from the root.
fn contents(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let mut found = BTreeMap::new();
    for path in files::files_ending(folder, "") {
        found.insert(relative(&path), fs::read(&path).unwrap_or_default());
    }
    for inner in files::folders_in(folder).iter().filter(|inner| !inner.ends_with("__pycache__")) {
        found.append(&mut contents(inner));
    }
    found
}

fn differences(before: &BTreeMap<String, Vec<u8>>, after: &BTreeMap<String, Vec<u8>>) -> Vec<String> {
    let gone = before.keys().filter(|path| !after.contains_key(*path)).map(|path| format!("gone     {path}"));
    let other = after.iter().filter_map(|(path, bytes)| match before.get(path) {
        None => Some(format!("new      {path}")),
        Some(old) if old != bytes => Some(format!("changed  {path}")),
        Some(_) => None,
    });
    gone.chain(other).collect()
}

fn relative(path: &Path) -> String {
    let root = process::workspace_root();
    path.strip_prefix(&root).unwrap_or(path).display().to_string()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_kind_of_difference_is_named() {
        let files = |list: &[(&str, &str)]| -> BTreeMap<String, Vec<u8>> {
            list.iter().map(|(path, text)| ((*path).to_owned(), text.as_bytes().to_vec())).collect()
        };
        let before = files(&[("a", "1"), ("b", "2"), ("c", "3")]);
        let after = files(&[("a", "1"), ("b", "9"), ("d", "4")]);
        assert_eq!(differences(&before, &after), ["gone     c", "changed  b", "new      d"]);
        assert!(differences(&before, &before).is_empty());
    }

    #[test]
    fn an_unknown_crate_is_wrong_usage() {
        assert!(matches!(scripts(&["no-such-crate".to_owned()]), Err(Failure::Usage(_))));
    }
}
