//! Where bases are looked up: files that the caller read, then the shipped library.

use std::collections::BTreeMap;

use crate::library;

/// Exercises by name.
#[derive(Debug, Clone, Default)]
pub struct Shelf {
    own: BTreeMap<String, String>,
}

impl Shelf {
    /// The shipped library alone.
    pub fn library() -> Self {
        Self::default()
    }

    /// Puts a file on the shelf; it goes before a library exercise of the same name.
    pub fn put(&mut self, name: impl Into<String>, text: impl Into<String>) {
        self.own.insert(name.into(), text.into());
    }

    /// The text of an exercise.
    pub fn text(&self, name: &str) -> Option<&str> {
        self.own.get(name).map(String::as_str).or_else(|| library::text(name))
    }

    /// All names.
    pub fn names(&self) -> Vec<&str> {
        let mut names: Vec<&str> = self.own.keys().map(String::as_str).collect();
        for name in library::names() {
            names.push(name);
        }
        names
    }
}
