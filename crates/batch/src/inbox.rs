//! Files that arrive in a folder.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime};

/// Endings of files that may be scans.
pub const SCAN_ENDINGS: [&str; 4] = ["stl", "ply", "obj", "gz"];

/// Length and time of the last change.
type Look = (u64, Option<SystemTime>);

/// A folder into which a scanner's program writes. A file is given out once it is whole: the same in two looks, one after the other.
/// A file that changes later is given out again.
#[derive(Debug)]
pub struct Inbox {
    folder: PathBuf,
    given: BTreeMap<PathBuf, Look>,
    last: BTreeMap<PathBuf, Look>,
}

/// Whether a name ends like that of a scan.
pub fn is_scan_name(path: &Path) -> bool {
    let ending = path.extension().map(|ending| ending.to_string_lossy().to_lowercase());
    ending.is_some_and(|ending| SCAN_ENDINGS.contains(&ending.as_str()))
}

impl Inbox {
    /// How long to wait between two looks.
    pub const EVERY: Duration = Duration::from_millis(700);

    /// All that lies in the folder, and what comes.
    pub fn with_what_is_there(folder: &Path) -> Self {
        Self { folder: folder.into(), given: BTreeMap::new(), last: BTreeMap::new() }
    }

    /// What comes from now on.
    pub fn from_now_on(folder: &Path) -> Self {
        let there = looks(folder);
        Self { folder: folder.into(), given: there.clone(), last: there }
    }

    /// Looks at the folder and gives the files that are whole and new, by name.
    pub fn look(&mut self) -> Vec<PathBuf> {
        let now = looks(&self.folder);
        let is_whole = |(path, look): &(&PathBuf, &Look)| self.last.get(*path) == Some(*look);
        let is_new = |(path, look): &(&PathBuf, &Look)| self.given.get(*path) != Some(*look);
        let found: Vec<(PathBuf, Look)> =
            now.iter().filter(is_whole).filter(is_new).map(|(path, look)| (path.clone(), *look)).collect();
        self.given.extend(found.iter().cloned());
        self.last = now;
        found.into_iter().map(|(path, _)| path).collect()
    }

    /// Whether something is there that is not given out yet: a file that is still being written.
    pub fn is_waiting(&self) -> bool {
        self.last.iter().any(|(path, look)| self.given.get(path) != Some(look))
    }
}

/// The files of the folder that may be scans. A folder that cannot be read at the moment has none.
fn looks(folder: &Path) -> BTreeMap<PathBuf, Look> {
    let Ok(entries) = fs::read_dir(folder) else { return BTreeMap::new() };
    let look = |entry: fs::DirEntry| {
        let (path, about) = (entry.path(), entry.metadata().ok()?);
        let may_be = about.is_file() && about.len() > 0 && is_scan_name(&path);
        may_be.then(|| (path, (about.len(), about.modified().ok())))
    };
    entries.flatten().filter_map(look).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn names(paths: Vec<PathBuf>) -> Vec<String> {
        paths.iter().map(|path| path.file_name().unwrap().to_string_lossy().into_owned()).collect()
    }

    #[test]
    fn a_file_is_given_once_it_is_whole_and_once_only() {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        fs::write(at("old.stl"), "old").unwrap();
        let mut inbox = Inbox::from_now_on(folder.path());
        fs::write(at("new.stl"), "half").unwrap();
        fs::write(at("empty.stl"), "").unwrap();
        fs::write(at("note.txt"), "no scan").unwrap();
        assert!(inbox.look().is_empty(), "seen once");
        assert!(inbox.is_waiting());
        fs::write(at("new.stl"), "half and half").unwrap();
        assert!(inbox.look().is_empty(), "it grew");
        assert_eq!(names(inbox.look()), ["new.stl"]);
        assert!(inbox.look().is_empty() && !inbox.is_waiting(), "not again");
        fs::write(at("new.stl"), "another scan").unwrap();
        inbox.look();
        assert_eq!(names(inbox.look()), ["new.stl"], "it is another file now");
    }

    #[test]
    fn what_is_there_already_is_given_where_that_is_wanted() {
        let folder = tempfile::tempdir().unwrap();
        fs::write(folder.path().join("b.STL"), "b").unwrap();
        fs::write(folder.path().join("a.ply.gz"), "a").unwrap();
        let mut inbox = Inbox::with_what_is_there(folder.path());
        assert!(inbox.look().is_empty());
        assert_eq!(names(inbox.look()), ["a.ply.gz", "b.STL"]);
    }
}
