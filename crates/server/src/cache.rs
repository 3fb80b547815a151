//! What is kept in memory, bounded in bytes: what was not asked for longest goes first.

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, PoisonError};

/// Shared values by key, each with its size.
#[derive(Debug)]
pub struct Cache<T> {
    most_bytes: usize,
    inner: Mutex<Inner<T>>,
}

#[derive(Debug)]
struct Inner<T> {
    entries: BTreeMap<String, Entry<T>>,
    clock: u64,
}

#[derive(Debug)]
struct Entry<T> {
    value: Arc<T>,
    n_bytes: usize,
    last: u64,
}

impl<T> Cache<T> {
    /// An empty cache for so many bytes.
    pub fn new(most_bytes: usize) -> Self {
        Self { most_bytes, inner: Mutex::new(Inner { entries: BTreeMap::new(), clock: 0 }) }
    }

    /// A value, if it is still there.
    pub fn get(&self, key: &str) -> Option<Arc<T>> {
        let mut inner = self.inner.lock().unwrap_or_else(PoisonError::into_inner);
        inner.clock += 1;
        let now = inner.clock;
        let entry = inner.entries.get_mut(key)?;
        entry.last = now;
        Some(entry.value.clone())
    }

    /// Lets go of everything.
    pub fn clear(&self) {
        self.inner.lock().unwrap_or_else(PoisonError::into_inner).entries.clear();
    }

    /// Keeps a value; the newest stays even if it is larger than the whole cache.
    pub fn put(&self, key: String, value: Arc<T>, n_bytes: usize) {
        let mut inner = self.inner.lock().unwrap_or_else(PoisonError::into_inner);
        inner.clock += 1;
        let last = inner.clock;
        inner.entries.insert(key, Entry { value, n_bytes, last });
        while inner.entries.len() > 1 && inner.n_bytes() > self.most_bytes {
            let oldest = inner.entries.iter().min_by_key(|(_, entry)| entry.last).map(|(key, _)| key.clone());
            oldest.and_then(|key| inner.entries.remove(&key));
        }
    }
}

impl<T> Inner<T> {
    fn n_bytes(&self) -> usize {
        self.entries.values().map(|entry| entry.n_bytes).sum()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_not_asked_for_longest_goes_first() {
        let cache = Cache::new(25);
        for key in ["a", "b"] {
            cache.put(key.into(), Arc::new(key.to_owned()), 10);
        }
        assert!(cache.get("a").is_some());
        cache.put("c".into(), Arc::new("c".to_owned()), 10);
        assert!(cache.get("b").is_none() && cache.get("a").is_some() && cache.get("c").is_some());
        cache.put("huge".into(), Arc::new("d".to_owned()), 100);
        assert!(cache.get("huge").is_some() && cache.get("a").is_none());
    }
}
