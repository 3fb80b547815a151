//! What every crate of ours has in common.

use super::Texts;

const MAP: &str = "ARCHITECTURE.md";

/// Crates that meet the outside world; all others take bytes and give values.
const SHELLS: &[&str] = &["batch", "cli", "queue", "server", "store"];

/// What a pure crate does not touch outside its tests: files, environment, network, programs, clock.
const OUTSIDE: &[&str] = &["std::fs", "std::env", "std::net", "std::process", "std::time"];

/// Crates that are not named after their folder, do not take the shared lints, are not on the map, or are not pure.
pub fn faults(texts: &Texts) -> Vec<String> {
    let mut faults = Vec::new();
    let map = texts.get(MAP).map_or("", String::as_str);
    for (path, text) in texts {
        let Some((folder, file)) = path.strip_prefix("crates/").and_then(|rest| rest.split_once('/')) else {
            continue;
        };
        if file == "Cargo.toml" {
            faults.extend(manifest_faults(path, folder, text));
            if !map.contains(&format!("crates/{folder}")) {
                faults.push(format!("{MAP}: crates/{folder} has no line"));
            }
        }
        if file.starts_with("src/") && file.ends_with(".rs") && !SHELLS.contains(&folder) {
            let found = OUTSIDE.iter().find(|module| code(text).contains(**module));
            faults.extend(found.map(|module| {
                format!(
                    "{path}: {module}: library crates take bytes and give values, leave this to a shell crate"
                )
            }));
        }
    }
    faults
}

fn manifest_faults(path: &str, folder: &str, manifest: &str) -> Vec<String> {
    let mut faults = Vec::new();
    let name = format!("name = \"kerfwright-{folder}\"");
    if !manifest.lines().any(|line| line == name) {
        faults.push(format!("{path}: the package of crates/{folder} has {name}"));
    }
    if !manifest.contains("[lints]\nworkspace = true\n") {
        faults.push(format!("{path}: take the shared lints: [lints] workspace = true"));
    }
    faults
}

/// A source file without the unit tests at its end.
fn code(text: &str) -> &str {
    text.split("#[cfg(test)]").next().unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(files: &[(&str, &str)], expected: usize) {
        let texts: Texts =
            files.iter().map(|(path, text)| ((*path).to_owned(), (*text).to_owned())).collect();
        let faults = faults(&texts);
        assert_eq!(faults.len(), expected, "{faults:?}");
    }

    #[test]
    fn a_crate_has_its_name_its_lints_and_its_line() {
        let map = (MAP, "| crates/saw | cuts |\n");
        let good = "name = \"kerfwright-saw\"\n\n[lints]\nworkspace = true\n";
        check(&[map, ("crates/saw/Cargo.toml", good)], 0);
        check(&[map, ("crates/file/Cargo.toml", "name = \"file\"\n")], 3);
    }

    #[test]
    fn library_crates_do_not_touch_the_outside() {
        let reads = "let text = std::fs::read(path);\n";
        check(&[("crates/saw/src/lib.rs", reads)], 1);
        check(
            &[("crates/saw/src/lib.rs", &format!("fn cut() {{}}\n#[cfg(test)]\nmod tests {{ {reads} }}\n"))],
            0,
        );
        check(&[("crates/saw/tests/all.rs", reads), ("crates/cli/src/main.rs", reads)], 0);
    }
}
