//! Links and cited anchors.

use std::collections::BTreeSet;

use super::Texts;

/// Documents whose anchors the code cites.
const CITED: &[&str] = &["docs/sources.md", "docs/measures.md"];

/// Links in Markdown and anchors cited anywhere that lead nowhere.
pub fn faults(texts: &Texts, paths: &[String]) -> Vec<String> {
    let mut faults = Vec::new();
    for (path, text) in texts {
        for (number, line) in (1..).zip(text.lines()) {
            let links = if path.ends_with(".md") { local_links(path, line) } else { Vec::new() };
            for target in links.into_iter().chain(citations(line)) {
                if let Some(fault) = fault_of(&target, texts, paths) {
                    faults.push(format!("{path}:{number}: {fault}"));
                }
            }
        }
    }
    faults
}

/// A file from the root of the repository and an anchor in it; an empty anchor means the file.
type Target = (String, String);

fn fault_of((file, anchor): &Target, texts: &Texts, paths: &[String]) -> Option<String> {
    let is_file = paths.iter().any(|path| path == file);
    let is_folder =
        paths.iter().any(|path| path.strip_prefix(file).is_some_and(|rest| rest.starts_with('/')));
    if !is_file && !is_folder {
        return Some(format!("there is no {file}"));
    }
    let has_anchor = || texts.get(file).is_some_and(|text| anchors(text).contains(anchor));
    (!anchor.is_empty() && !has_anchor()).then(|| format!("{file} has no heading #{anchor}"))
}

/// The anchors of a document: its headings in lower case, blanks as hyphens, without punctuation.
fn anchors(text: &str) -> BTreeSet<String> {
    text.lines().filter(|line| line.starts_with('#')).map(slug).collect()
}

fn slug(heading: &str) -> String {
    let kept = |letter: &char| letter.is_alphanumeric() || matches!(letter, '-' | '_' | ' ');
    let title = heading.trim_start_matches('#').trim().to_lowercase();
    title.chars().filter(kept).map(|letter| if letter == ' ' { '-' } else { letter }).collect()
}

/// Links `](target)` to files of the repository, seen from the file that holds them.
fn local_links(path: &str, line: &str) -> Vec<Target> {
    let mut links = Vec::new();
    for (offset, _) in line.match_indices("](") {
        let target = line[offset + 2..].split([')', ' ']).next().unwrap_or_default();
        if target.is_empty() || target.contains("://") || target.starts_with("mailto:") {
            continue;
        }
        let (file, anchor) = target.split_once('#').unwrap_or((target, ""));
        let file = if file.is_empty() { path.to_owned() } else { resolved(path, file) };
        links.push((file, anchor.to_owned()));
    }
    links
}

/// `target` as seen from the file `path`, from the root.
fn resolved(path: &str, target: &str) -> String {
    let mut parts: Vec<&str> = path.split('/').collect();
    parts.pop();
    for part in target.trim_end_matches('/').split('/') {
        match part {
            "." => {}
            ".." => drop(parts.pop()),
            _ => parts.push(part),
        }
    }
    parts.join("/")
}

/// Anchors cited from the root, as code comments do.
fn citations(line: &str) -> Vec<Target> {
    let mut found = Vec::new();
    for document in CITED {
        for (offset, _) in line.match_indices(&format!("{document}#")) {
            let rest = &line[offset + document.len() + 1..];
            let is_part = |letter: char| letter.is_alphanumeric() || matches!(letter, '-' | '_');
            let end = rest.find(|letter| !is_part(letter)).unwrap_or(rest.len());
            found.push(((*document).to_owned(), rest[..end].to_owned()));
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(line: &str, expected: &[&str]) {
        let sources = "# Sources\n\n## ISO 14253-1\n\nText.\n";
        let texts = Texts::from([
            ("docs/sources.md".to_owned(), sources.to_owned()),
            ("docs/page.md".to_owned(), format!("{line}\n")),
        ]);
        let paths: Vec<String> = texts.keys().cloned().collect();
        let expected: Vec<String> = expected.iter().map(|fault| format!("docs/page.md:1: {fault}")).collect();
        assert_eq!(faults(&texts, &paths), expected, "{line}");
    }

    #[test]
    fn links_that_lead_somewhere_pass() {
        check("[a](sources.md), [b](sources.md#iso-14253-1), [c](../docs), [d](https://example.org/x)", &[]);
        check(&format!("see {}#iso-14253-1.", CITED[0]), &[]);
    }

    #[test]
    fn links_that_lead_nowhere_are_found() {
        check("[a](missing.md)", &["there is no docs/missing.md"]);
        check("[a](sources.md#iso-1)", &["docs/sources.md has no heading #iso-1"]);
        let cited = format!("see `{}#iso-2`", CITED[0]);
        check(&cited, &["docs/sources.md has no heading #iso-2"]);
        check("[own](#here)", &["docs/page.md has no heading #here"]);
    }

    #[test]
    fn headings_become_anchors() {
        assert_eq!(slug("## Tiu 2015, first part"), "tiu-2015-first-part");
        assert_eq!(slug("### Bærentzen and Aanæs 2005"), "bærentzen-and-aanæs-2005");
    }
}
