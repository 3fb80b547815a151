//! What is wrong with a kit: where, what, and what to do.

use std::fmt;

/// One fault of a kit's file.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Fault {
    /// Line, from 1.
    pub line: usize,
    /// How bad it is.
    pub weight: Weight,
    /// What is wrong, with numbers and the next step.
    pub what: String,
}

/// How bad a fault is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Weight {
    /// The kit cannot be used.
    Wrong,
    /// The kit can be used; somebody should look.
    Doubtful,
}

impl fmt::Display for Fault {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        let doubtful = if self.weight == Weight::Doubtful { "doubtful: " } else { "" };
        write!(formatter, "{}: {doubtful}{}", self.line, self.what)
    }
}

/// A kit that cannot be used, with every fault, by line.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{}", told(.0))]
pub struct Faults(pub Vec<Fault>);

fn told(faults: &[Fault]) -> String {
    faults.iter().map(|fault| format!("line {fault}")).collect::<Vec<_>>().join("\n")
}

/// The known word that was most likely meant: differs in less than half of its letters. The first one of equals.
pub fn nearest<'a>(given: &str, known: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let near = known.into_iter().map(|word| (distance(given, word), word)).min_by_key(|near| near.0)?;
    (near.0 * 2 < given.chars().count().max(3)).then_some(near.1)
}

/// `did you mean …?`, or all that there is.
pub(crate) fn meant(given: &str, known: &[&str]) -> String {
    match nearest(given, known.iter().copied()) {
        Some(word) => format!("did you mean `{word}`?"),
        None => format!("known are {}", known.join(", ")),
    }
}

/// Letters to change, add or leave out to make one word of the other.
fn distance(given: &str, word: &str) -> usize {
    let letters: Vec<char> = word.chars().collect();
    let mut row: Vec<usize> = (0..=letters.len()).collect();
    for (i, one) in given.chars().enumerate() {
        let mut diagonal = row[0];
        row[0] = i + 1;
        for (j, other) in letters.iter().enumerate() {
            let changed = diagonal + usize::from(one != *other);
            diagonal = row[j + 1];
            row[j + 1] = changed.min(diagonal + 1).min(row[j] + 1);
        }
    }
    row[letters.len()]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_nearest_word_is_offered_and_a_stranger_is_not() {
        assert_eq!(nearest("lenght_mm", ["length_mm", "nose_mm"]), Some("length_mm"));
        assert_eq!(nearest("colour", ["length_mm", "nose_mm"]), None);
        assert_eq!((distance("kitten", "sitting"), distance("", "abc"), distance("bar", "bar")), (3, 3, 0));
    }
}
