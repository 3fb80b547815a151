//! Reading values from TOML, with the line of each and every fault noted.

use std::ops::Range as Span;
use std::sync::Arc;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use crate::fault::{Fault, meant};
use crate::range::Range;

/// Where something is written.
#[derive(Debug, Clone, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Spot {
    /// File or library exercise.
    pub file: Arc<str>,
    /// From 1.
    pub line: usize,
}

impl Spot {
    /// A fault here.
    pub fn fault(&self, what: impl Into<String>, next: impl Into<String>) -> Fault {
        Fault { file: self.file.to_string(), line: self.line, what: what.into(), next: next.into() }
    }
}

/// A value and where it is written.
#[derive(Debug, Clone, PartialEq)]
pub struct At<T> {
    /// The value.
    pub value: T,
    /// Its line.
    pub spot: Spot,
}

/// A value in TOML with its span.
pub type Node<'i> = Spanned<DeValue<'i>>;

/// One file being read.
pub struct Reader<'t> {
    text: &'t str,
    file: Arc<str>,
    /// What was found wrong so far.
    pub faults: Vec<Fault>,
}

impl<'t> Reader<'t> {
    /// Reads `text`, which people know as `file`.
    pub fn new(file: &str, text: &'t str) -> Self {
        Self { text, file: file.into(), faults: Vec::new() }
    }

    /// The whole file as a table, or its faults of grammar.
    pub fn table(&mut self) -> Option<DeTable<'t>> {
        let (table, errors) = DeTable::parse_recoverable(self.text);
        for error in &errors {
            let spot = self.spot(&error.span().unwrap_or(0..0));
            let what = error.message().lines().collect::<Vec<_>>().join(", ");
            self.faults.push(spot.fault(
                format!("this is not TOML: {what}"),
                "write `key = value`, text in \"quotes\", ranges as [1.5, 2.0]; each key once in a part",
            ));
        }
        errors.is_empty().then(|| table.into_inner())
    }

    /// The line of a span.
    pub fn spot(&self, span: &Span<usize>) -> Spot {
        let before = &self.text.as_bytes()[..span.start.min(self.text.len())];
        let line = 1 + before.iter().filter(|byte| **byte == b'\n').count();
        Spot { file: self.file.clone(), line }
    }

    /// Notes a fault at a value.
    pub fn fault(&mut self, node: &Node<'_>, what: impl Into<String>, next: impl Into<String>) {
        let fault = self.spot(&node.span()).fault(what, next);
        self.faults.push(fault);
    }

    /// Notes a key that nobody knows.
    pub fn unknown_key(&mut self, key: &Spanned<std::borrow::Cow<'_, str>>, known: &[&str], part: &str) {
        let name = key.get_ref();
        let fault = self.spot(&key.span()).fault(format!("{part} has no key `{name}`"), meant(name, known));
        self.faults.push(fault);
    }

    /// Text that says something.
    pub fn text(&mut self, key: &str, node: &Node<'_>) -> Option<At<String>> {
        match node.get_ref().as_str() {
            Some(text) if !text.trim().is_empty() => Some(self.at(node, text.trim().to_owned())),
            Some(_) => self.refuse(node, format!("`{key}` is empty"), "write it, or leave the line out"),
            None => self.wrong(key, node, "text in \"quotes\""),
        }
    }

    /// A name of small letters, digits and hyphens.
    pub fn id(&mut self, key: &str, node: &Node<'_>) -> Option<At<String>> {
        let id = self.text(key, node)?;
        let fits = |letter: char| letter.is_ascii_lowercase() || letter.is_ascii_digit() || letter == '-';
        if id.value.chars().all(fits) {
            return Some(id);
        }
        let better: String =
            id.value.to_lowercase().chars().map(|letter| if fits(letter) { letter } else { '-' }).collect();
        self.fault(
            node,
            format!("`{key} = \"{}\"` is no id", id.value),
            format!("use small letters, digits and hyphens, as \"{better}\""),
        );
        // What was surely meant, so that no other fault follows from this one.
        Some(At { value: better, ..id })
    }

    /// One word of a list.
    pub fn choice<T: Copy>(&mut self, key: &str, node: &Node<'_>, words: &[(&str, T)]) -> Option<At<T>> {
        let text = self.text(key, node)?;
        if let Some((_, value)) = words.iter().find(|word| word.0 == text.value) {
            return Some(self.at(node, *value));
        }
        let known: Vec<&str> = words.iter().map(|word| word.0).collect();
        self.refuse(node, format!("`{key}` cannot be \"{}\"", text.value), meant(&text.value, &known))
    }

    /// Yes or no.
    pub fn flag(&mut self, key: &str, node: &Node<'_>) -> Option<At<bool>> {
        match node.get_ref().as_bool() {
            Some(flag) => Some(self.at(node, flag)),
            None => self.wrong(key, node, "true or false"),
        }
    }

    /// A finite number of at least zero.
    pub fn amount(&mut self, key: &str, node: &Node<'_>) -> Option<At<f64>> {
        let amount = self.number(key, node)?;
        if amount.value < 0.0 {
            return self.refuse(node, format!("`{key}` is negative"), "give 0 or more");
        }
        Some(amount)
    }

    /// A share from 0 to 100.
    pub fn percent(&mut self, key: &str, node: &Node<'_>) -> Option<At<f64>> {
        let amount = self.amount(key, node)?;
        if amount.value > 100.0 {
            return self.refuse(node, format!("`{key}` is more than 100"), "give a number from 0 to 100");
        }
        Some(amount)
    }

    fn number(&mut self, key: &str, node: &Node<'_>) -> Option<At<f64>> {
        match number(node.get_ref()) {
            Some(number) if number.is_finite() => Some(self.at(node, number)),
            Some(_) => self.refuse(
                node,
                format!("`{key}` is not a finite number"),
                "leave the end out instead, as { from = 1.5 }",
            ),
            None => self.wrong(key, node, "a number"),
        }
    }

    /// `[1.5, 2.0]`, `{ from = 1.5 }` or `{ to = 2.0 }`.
    pub fn range(&mut self, key: &str, node: &Node<'_>) -> Option<At<Range>> {
        let range = match node.get_ref() {
            DeValue::Array(ends) if ends.len() == 2 => Range {
                from: Some(self.number(key, &ends[0])?.value),
                to: Some(self.number(key, &ends[1])?.value),
            },
            DeValue::Table(ends) => self.open_range(key, ends)?,
            _ => return self.wrong(key, node, "two numbers as [1.5, 2.0], { from = 1.5 } or { to = 2.0 }"),
        };
        match (range.from, range.to) {
            (None, None) => self.refuse(
                node,
                format!("`{key}` has no end"),
                "give { from = … }, { to = … } or [from, to]",
            ),
            (Some(from), Some(to)) if to < from => self.refuse(
                node,
                format!("`{key}` runs from {from} to {to}"),
                format!("write the smaller number first: [{to}, {from}]"),
            ),
            _ => Some(self.at(node, range)),
        }
    }

    fn open_range(&mut self, key: &str, ends: &DeTable<'_>) -> Option<Range> {
        let mut range = Range { from: None, to: None };
        for (name, end) in ends {
            match name.get_ref().as_ref() {
                "from" => range.from = Some(self.number(key, end)?.value),
                "to" => range.to = Some(self.number(key, end)?.value),
                _ => {
                    self.unknown_key(name, &["from", "to"], &format!("`{key}`"));
                    return None;
                }
            }
        }
        Some(range)
    }

    /// A list of texts, or one text.
    pub fn texts(&mut self, key: &str, node: &Node<'_>) -> Option<At<Vec<At<String>>>> {
        let texts = match node.get_ref() {
            DeValue::Array(items) => items.iter().map(|item| self.text(key, item)).collect::<Option<_>>()?,
            DeValue::String(_) => vec![self.text(key, node)?],
            _ => return self.wrong(key, node, "texts as [\"one\", \"two\"]"),
        };
        Some(self.at(node, texts))
    }

    /// A list of texts or whole numbers, as texts.
    pub fn words(&mut self, key: &str, node: &Node<'_>) -> Option<At<Vec<At<String>>>> {
        let Some(items) = node.get_ref().as_array() else { return self.texts(key, node) };
        let words = items.iter().map(|item| match item.get_ref() {
            DeValue::Integer(integer) => Some(self.at(item, integer.as_str().to_owned())),
            _ => self.text(key, item),
        });
        let words = words.collect::<Option<_>>()?;
        Some(self.at(node, words))
    }

    /// The tables under `[[key]]` or `[key]`, each with the line of its heading.
    pub fn tables<'n, 'i>(&mut self, key: &str, node: &'n Node<'i>) -> Vec<(Spot, &'n DeTable<'i>)> {
        let items: Vec<&Node<'i>> = match node.get_ref() {
            DeValue::Array(items) => items.iter().collect(),
            _ => vec![node],
        };
        let mut tables = Vec::new();
        for item in items {
            match item.get_ref().as_table() {
                Some(table) => tables.push((self.spot(&item.span()), table)),
                None => drop(self.wrong::<()>(key, item, &format!("a part of its own, headed [[{key}]]"))),
            }
        }
        tables
    }

    fn at<T>(&self, node: &Node<'_>, value: T) -> At<T> {
        At { value, spot: self.spot(&node.span()) }
    }

    fn wrong<T>(&mut self, key: &str, node: &Node<'_>, wanted: &str) -> Option<T> {
        let kind = node.get_ref().type_str();
        let article = if kind.starts_with(['a', 'i']) { "an" } else { "a" };
        self.refuse(node, format!("`{key}` is {article} {kind}"), format!("give {wanted}"))
    }

    fn refuse<T>(&mut self, node: &Node<'_>, what: impl Into<String>, next: impl Into<String>) -> Option<T> {
        self.fault(node, what, next);
        None
    }
}

fn number(value: &DeValue<'_>) -> Option<f64> {
    match value {
        DeValue::Integer(integer) => integer.as_str().replace('_', "").parse().ok(),
        DeValue::Float(float) => float.as_str().replace('_', "").parse().ok(),
        _ => None,
    }
}
