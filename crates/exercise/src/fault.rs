//! What is wrong with an exercise: where, what, and what to do.

use std::fmt;

/// One fault of an exercise file.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Fault {
    /// The file or library exercise that the line belongs to: a fault may lie in a base.
    pub file: String,
    /// Line, from 1.
    pub line: usize,
    /// What is wrong.
    pub what: String,
    /// What to do about it.
    pub next: String,
}

impl fmt::Display for Fault {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(formatter, "{}:{}: {}; {}", self.file, self.line, self.what, self.next)
    }
}

/// An exercise that cannot be used, with every fault found, by file and line.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{}", told(.0))]
pub struct Faults(pub Vec<Fault>);

fn told(faults: &[Fault]) -> String {
    faults.iter().map(Fault::to_string).collect::<Vec<_>>().join("\n")
}

/// The known word that was most likely meant: differs in less than half of its letters.
pub fn nearest<'a>(given: &str, known: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let near = known.into_iter().map(|word| (distance(given, word), word)).min()?;
    (near.0 * 2 < given.chars().count().max(3)).then_some(near.1)
}

/// `did you mean …?`, or the list of what there is.
pub fn meant(given: &str, known: &[&str]) -> String {
    match nearest(given, known.iter().copied()) {
        Some(word) => format!("did you mean `{word}`?"),
        None => format!("known are {}", listed(known)),
    }
}

/// `a`, `b` and `c`.
pub fn listed(words: &[&str]) -> String {
    let quoted: Vec<String> = words.iter().map(|word| format!("`{word}`")).collect();
    match quoted.as_slice() {
        [] => "none".into(),
        [one] => one.clone(),
        [front @ .., last] => format!("{} and {last}", front.join(", ")),
    }
}

/// Letters to add, drop, change or swap with their neighbour.
fn distance(a: &str, b: &str) -> usize {
    let (a, b): (Vec<char>, Vec<char>) = (a.chars().collect(), b.chars().collect());
    let mut rows = vec![(0..=b.len()).collect::<Vec<usize>>()];
    for i in 1..=a.len() {
        let mut row = vec![i];
        for j in 1..=b.len() {
            let changed = usize::from(a[i - 1] != b[j - 1]);
            let mut least = (rows[i - 1][j] + 1).min(row[j - 1] + 1).min(rows[i - 1][j - 1] + changed);
            if i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1] {
                least = least.min(rows[i - 2][j - 2] + 1);
            }
            row.push(least);
        }
        rows.push(row);
    }
    rows[a.len()][b.len()]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn distances_count_single_slips() {
        assert_eq!(distance("weight", "weight"), 0);
        assert_eq!(distance("wieght", "weight"), 1);
        assert_eq!(distance("kitten", "sitting"), 3);
        assert_eq!(distance("", "abc"), 3);
    }

    #[test]
    fn a_slip_is_named_and_a_stranger_is_not() {
        assert_eq!(nearest("acceptible_mm", ["ideal_mm", "acceptable_mm"]), Some("acceptable_mm"));
        assert_eq!(nearest("colour", ["ideal_mm", "acceptable_mm"]), None);
        assert_eq!(meant("colour", &["id", "title"]), "known are `id` and `title`");
    }
}
