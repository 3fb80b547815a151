//! The files of the repository.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Stdio;

use crate::command::Failure;
use crate::process;

/// Folders that are made by tools and belong to no clone.
const MADE: &[&str] = &[".git", "target", "out", "node_modules", "__pycache__"];

/// Every file of the repository, sorted, relative to the root with `/` between folders.
///
/// Asks git, so that ignored files stay out and new ones are in; a copy without git is walked instead.
pub fn repository_files() -> Result<Vec<String>, Failure> {
    let root = process::workspace_root();
    let mut git = std::process::Command::new("git");
    git.args(["ls-files", "-z", "--cached", "--others", "--exclude-standard"]).current_dir(&root);
    let mut files: Vec<String> = match git.stderr(Stdio::null()).output() {
        Ok(output) if output.status.success() => {
            String::from_utf8_lossy(&output.stdout).split('\0').map(str::to_owned).collect()
        }
        _ => walk(&root)?,
    };
    // A file deleted but not yet committed is still in git's list.
    files.retain(|file| !file.is_empty() && root.join(file).is_file());
    files.sort();
    files.dedup();
    Ok(files)
}

/// The files below a folder whose name ends so, sorted; none if the folder does not exist.
pub fn files_ending(folder: &Path, ending: &str) -> Vec<PathBuf> {
    let entries = fs::read_dir(folder).into_iter().flatten().flatten();
    let mut paths: Vec<PathBuf> = entries.map(|entry| entry.path()).collect();
    paths.retain(|path| path.is_file() && path.to_string_lossy().ends_with(ending));
    paths.sort();
    paths
}

/// The folders directly in a folder, sorted.
pub fn folders_in(folder: &Path) -> Vec<PathBuf> {
    let entries = fs::read_dir(folder).into_iter().flatten().flatten();
    let mut paths: Vec<PathBuf> = entries.map(|entry| entry.path()).filter(|path| path.is_dir()).collect();
    paths.sort();
    paths
}

fn walk(root: &Path) -> Result<Vec<String>, Failure> {
    let mut files = Vec::new();
    let mut folders = vec![PathBuf::new()];
    while let Some(folder) = folders.pop() {
        let path = root.join(&folder);
        let entries = fs::read_dir(&path)
            .map_err(|error| Failure::Work(format!("cannot list {}: {error}", path.display())))?;
        for entry in entries.flatten() {
            let name = entry.file_name();
            let is_folder = entry.file_type().is_ok_and(|kind| kind.is_dir());
            if is_folder && !MADE.iter().any(|made| name == *made) {
                folders.push(folder.join(&name));
            } else if !is_folder {
                files.push(slashed(&folder.join(&name)));
            }
        }
    }
    Ok(files)
}

fn slashed(path: &Path) -> String {
    let parts: Vec<_> = path.iter().map(|part| part.to_string_lossy()).collect();
    parts.join("/")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn git_and_walk_agree_that_this_file_is_there() {
        let this = "xtask/src/files.rs".to_owned();
        assert!(repository_files().unwrap().contains(&this));
        let walked = walk(&process::workspace_root()).unwrap();
        assert!(walked.contains(&this));
        assert!(!walked.iter().any(|file| file.starts_with("target/") || file.starts_with(".git/")));
    }
}
