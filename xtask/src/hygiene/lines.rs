//! Faults within one text.

/// Folders at the root of a file system that only exist on somebody's machine.
const MACHINE_FOLDERS: &[&str] = &["home", "Users", "root", "tmp", "work"];

/// What marks Rust code that is not done, written so that this list does not find itself.
const UNFINISHED: &[&str] = &[
    concat!("todo", "!("),
    concat!("unimplemented", "!("),
    concat!("dbg", "!("),
    concat!("#[", "ignore"),
    concat!("TO", "DO"),
    concat!("FIX", "ME"),
];

/// The faults of a text, each as `line: what`.
pub fn faults(path: &str, text: &str) -> Vec<String> {
    let mut faults = Vec::new();
    for (number, line) in (1..).zip(text.split('\n')) {
        if line.ends_with([' ', '\t', '\r']) {
            faults.push(format!("{number}: blanks or a CR at the end of the line"));
        }
        if let Some(folder) = machine_folder(line) {
            faults.push(format!("{number}: a path below /{folder} exists on one machine only"));
        }
        let unfinished = UNFINISHED.iter().find(|mark| path.ends_with(".rs") && line.contains(**mark));
        if let Some(mark) = unfinished {
            faults.push(format!("{number}: \"{mark}\": finish it"));
        }
        if path.ends_with("requirements.txt") && !is_pinned(line) {
            faults.push(format!("{number}: \"{line}\" is not pinned: write NAME==VERSION"));
        }
    }
    if !text.is_empty() && !text.ends_with('\n') {
        faults.push(format!("{}: no line end at the end of the file", text.split('\n').count()));
    }
    faults
}

/// The first absolute path into a machine's own folders.
fn machine_folder(line: &str) -> Option<&'static str> {
    MACHINE_FOLDERS.iter().copied().find(|folder| {
        let start = format!("/{folder}/");
        line.match_indices(&start).any(|(offset, _)| {
            // In a relative path or an address a name comes right before.
            !line[..offset].ends_with(|before: char| before.is_alphanumeric() || "._-~*}".contains(before))
        })
    })
}

fn is_pinned(line: &str) -> bool {
    let content = line.split('#').next().unwrap_or_default().trim();
    content.is_empty() || content.contains("==")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn clean_text_has_no_faults() {
        assert!(faults("a.rs", "fn main() {}\n").is_empty());
        assert!(faults("empty.txt", "").is_empty());
    }

    #[test]
    fn blanks_and_missing_line_ends_are_found() {
        assert_eq!(faults("a.md", "a \nb\r\nc\n").len(), 2);
        assert_eq!(faults("a.md", "a\nb"), ["2: no line end at the end of the file"]);
    }

    #[test]
    fn machine_paths_are_found_and_relative_ones_are_not() {
        let path = ["", "home", "someone", "scan.stl"].join("/");
        for line in [path.clone(), format!("see `{path}`"), format!("file://{path}")] {
            assert_eq!(machine_folder(&line), Some("home"), "{line}");
        }
        assert_eq!(machine_folder(&format!("docs{path}")), None);
        assert_eq!(machine_folder(&format!("https://example.org{path}")), None);
        assert_eq!(machine_folder("artwork/work/home"), None);
    }

    #[test]
    fn unfinished_rust_is_found_only_in_rust() {
        let line = format!("    {}\n", UNFINISHED[0]);
        assert_eq!(faults("a.rs", &line).len(), 1);
        assert!(faults("a.md", &line).is_empty());
    }

    #[test]
    fn python_packages_are_pinned() {
        assert!(faults("b/requirements.txt", "# why\ntrimesh==4.6.0  # geometry\n").is_empty());
        assert_eq!(faults("b/requirements.txt", "trimesh>=4\n").len(), 1);
    }
}
