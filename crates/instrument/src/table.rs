//! Reading TOML tables strictly: every slip is kept with its line, and reading goes on.

use std::ops::Range;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use crate::fault::{Fault, Weight, meant};

/// What was found wrong so far.
#[derive(Debug)]
pub(crate) struct Slips<'a> {
    text: &'a str,
    faults: Vec<Fault>,
}

/// A value's place in the text.
pub(crate) type Place = Range<usize>;

/// One table, and what to call it in a message.
#[derive(Debug, Clone)]
pub(crate) struct Table<'a> {
    entries: &'a DeTable<'a>,
    pub place: Place,
    pub called: String,
}

impl<'a> Slips<'a> {
    pub(crate) fn new(text: &'a str) -> Self {
        Self { text, faults: Vec::new() }
    }

    /// Keeps a fault that makes the kit unusable.
    pub(crate) fn wrong(&mut self, place: &Place, what: String) {
        self.push(place, Weight::Wrong, what);
    }

    /// Keeps something that somebody should look at.
    pub(crate) fn doubtful(&mut self, place: &Place, what: String) {
        self.push(place, Weight::Doubtful, what);
    }

    fn push(&mut self, place: &Place, weight: Weight, what: String) {
        let before = self.text.as_bytes().get(..place.start.min(self.text.len())).unwrap_or_default();
        let line = 1 + before.iter().filter(|byte| **byte == b'\n').count();
        self.faults.push(Fault { line, weight, what });
    }

    /// All, by line.
    pub(crate) fn finish(mut self) -> Vec<Fault> {
        self.faults.sort();
        self.faults
    }
}

impl<'a> Table<'a> {
    pub(crate) fn new(entries: &'a DeTable<'a>, place: Place, called: impl Into<String>) -> Self {
        Self { entries, place, called: called.into() }
    }

    /// Tells each key that is not known; whether all are.
    pub(crate) fn allow(&self, known: &[&str], slips: &mut Slips<'_>) -> bool {
        let mut is_known = true;
        for key in self.entries.keys() {
            let word = key.get_ref();
            if !known.contains(&word.as_ref()) {
                let what = format!("{}: there is no key `{word}` here; {}", self.called, meant(word, known));
                slips.wrong(&key.span(), what);
                is_known = false;
            }
        }
        is_known
    }

    /// The keys.
    pub(crate) fn keys(&self) -> impl Iterator<Item = (&'a str, Place)> {
        self.entries.keys().map(|key| (key.get_ref().as_ref(), key.span()))
    }

    /// A value, if the key is there.
    pub(crate) fn get(&self, key: &str) -> Option<&'a Spanned<DeValue<'a>>> {
        self.entries.iter().find(|(known, _)| known.get_ref() == key).map(|(_, value)| value)
    }

    /// Where a key is written; the table's own place if it is missing.
    pub(crate) fn place_of(&self, key: &str) -> Place {
        self.entries.keys().find(|known| known.get_ref() == key).map_or(self.place.clone(), Spanned::span)
    }

    /// Text that is not empty.
    pub(crate) fn text(&self, key: &str, slips: &mut Slips<'_>) -> Option<String> {
        let value = self.get(key)?;
        match value.get_ref() {
            DeValue::String(text) if !text.trim().is_empty() => Some(text.to_string()),
            DeValue::String(_) => self.slip(key, value, "is empty: write it or leave the key out", slips),
            other => {
                self.slip(key, value, &format!("is {}, not text: put it in quotes", named(other)), slips)
            }
        }
    }

    /// A finite number.
    pub(crate) fn number(&self, key: &str, slips: &mut Slips<'_>) -> Option<f64> {
        let value = self.get(key)?;
        match number(value.get_ref()) {
            Some(number) => Some(number),
            None => self.slip(key, value, &format!("is {}, not a number", named(value.get_ref())), slips),
        }
    }

    /// A whole number from 1.
    pub(crate) fn count(&self, key: &str, slips: &mut Slips<'_>) -> Option<u32> {
        let value = self.get(key)?;
        let count =
            number(value.get_ref()).filter(|count| count.fract() == 0.0 && (1.0..1e9).contains(count));
        match count {
            Some(count) => Some(count as u32),
            None => self.slip(key, value, "is no whole number from 1", slips),
        }
    }

    /// Several finite numbers.
    pub(crate) fn numbers(&self, key: &str, slips: &mut Slips<'_>) -> Option<Vec<f64>> {
        let value = self.get(key)?;
        let list = value.get_ref().as_array();
        match list.and_then(|list| list.iter().map(|item| number(item.get_ref())).collect()) {
            Some(numbers) => Some(numbers),
            None => self.slip(key, value, "is no list of numbers, as [1, 2, 3]", slips),
        }
    }

    /// Several texts.
    pub(crate) fn texts(&self, key: &str, slips: &mut Slips<'_>) -> Option<Vec<String>> {
        let value = self.get(key)?;
        let list = value.get_ref().as_array();
        match list
            .and_then(|list| list.iter().map(|item| item.get_ref().as_str().map(str::to_owned)).collect())
        {
            Some(texts) => Some(texts),
            None => self.slip(key, value, "is no list of texts, as [\"one\", \"two\"]", slips),
        }
    }

    /// A table below this one.
    pub(crate) fn table(&self, key: &str, slips: &mut Slips<'_>) -> Option<Table<'a>> {
        let value = self.get(key)?;
        let called = format!("{}, {key}", self.called);
        match value.get_ref() {
            DeValue::Table(entries) => Some(Table::new(entries, value.span(), called)),
            other => self.slip(key, value, &format!("is {}, not a table", named(other)), slips),
        }
    }

    /// Tables that are repeated, `[[key]]`; none if there are none.
    pub(crate) fn tables(&self, key: &str, slips: &mut Slips<'_>) -> Vec<Table<'a>> {
        let Some(value) = self.get(key) else { return Vec::new() };
        let tables = value.get_ref().as_array().and_then(|list| {
            let table = |(k, item): (usize, &'a Spanned<DeValue<'a>>)| {
                let entries = item.get_ref().as_table()?;
                Some(Table::new(entries, item.span(), format!("{key} {}", k + 1)))
            };
            list.iter().enumerate().map(table).collect()
        });
        tables
            .or_else(|| self.slip(key, value, &format!("begin each with [[{key}]]"), slips))
            .unwrap_or_default()
    }

    /// Tells that a key is missing.
    pub(crate) fn need<T>(&self, key: &str, value: Option<T>, slips: &mut Slips<'_>) -> Option<T> {
        // A key that is there with a wrong value has been told already.
        if value.is_none() && self.get(key).is_none() {
            slips.wrong(&self.place, format!("{}: `{key}` is missing", self.called));
        }
        value
    }

    fn slip<T>(
        &self,
        key: &str,
        value: &Spanned<DeValue<'_>>,
        what: &str,
        slips: &mut Slips<'_>,
    ) -> Option<T> {
        slips.wrong(&value.span(), format!("{}: `{key}` {what}", self.called));
        None
    }
}

fn number(value: &DeValue<'_>) -> Option<f64> {
    let text = match value {
        DeValue::Float(float) => float.as_str().to_owned(),
        DeValue::Integer(integer) if integer.radix() == 10 => integer.as_str().to_owned(),
        _ => return None,
    };
    text.replace('_', "").parse().ok().filter(|number: &f64| number.is_finite())
}

fn named(value: &DeValue<'_>) -> &'static str {
    match value {
        DeValue::String(_) => "text",
        DeValue::Integer(_) | DeValue::Float(_) => "a number of no use here",
        DeValue::Boolean(_) => "true or false",
        DeValue::Datetime(_) => "a date",
        DeValue::Array(_) => "a list",
        DeValue::Table(_) => "a table",
    }
}
