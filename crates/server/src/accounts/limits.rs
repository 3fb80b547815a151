//! How often, and how many at once: small counters in memory, which a restart forgets.

use std::collections::HashMap;
use std::net::IpAddr;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};

use tokio::sync::Semaphore;

/// As many of the largest files may be under way at once.
const UPLOADS_AT_ONCE: usize = 4;

/// The limits of a server. The numbers are our own choice.
#[derive(Debug)]
pub struct Limits {
    /// Wrong passwords for one account.
    pub wrong_for_account: Counter,
    /// Wrong passwords from one machine: a whole class may sit behind one address.
    pub wrong_from_machine: Counter,
    /// Uploads of one account.
    pub uploads: Counter,
    /// Uploads under way, by account.
    pub uploading: Busy,
    /// Memory for uploads under way, in kB; an upload waits for what it says that it will send.
    pub upload_room_kb: Semaphore,
    /// Hashes computed at once, each with 19 MiB.
    pub hashing: Semaphore,
}

impl Limits {
    /// The limits of a server that takes files of so many bytes.
    pub fn new(upload_bytes: usize) -> Self {
        let minutes = |minutes: u64| Duration::from_secs(60 * minutes);
        Self {
            wrong_for_account: Counter::new(10, minutes(5)),
            wrong_from_machine: Counter::new(60, minutes(5)),
            uploads: Counter::new(240, minutes(10)),
            uploading: Busy::new(3),
            upload_room_kb: Semaphore::new(UPLOADS_AT_ONCE * upload_bytes.div_ceil(1024)),
            hashing: Semaphore::new(2),
        }
    }
}

/// Counts by key; the count begins anew when the time since its first is over.
#[derive(Debug)]
pub struct Counter {
    most: u32,
    window: Duration,
    counts: Mutex<HashMap<String, (Instant, u32)>>,
}

impl Counter {
    /// Keys held at once; beyond, new ones wait.
    const MOST_KEYS: usize = 10_000;

    fn new(most: u32, window: Duration) -> Self {
        Self { most, window, counts: Mutex::default() }
    }

    /// Counts one more.
    ///
    /// # Errors
    /// There were enough; the time until the next may come.
    pub fn take(&self, key: &str, now: Instant) -> Result<(), Duration> {
        let mut counts = self.counts.lock().unwrap_or_else(PoisonError::into_inner);
        if !counts.contains_key(key) && counts.len() >= Self::MOST_KEYS {
            counts.retain(|_, (first, _)| now.duration_since(*first) < self.window);
            if counts.len() >= Self::MOST_KEYS {
                return Err(self.window);
            }
        }
        let (first, n) = counts.entry(key.to_owned()).or_insert((now, 0));
        if now.duration_since(*first) >= self.window {
            (*first, *n) = (now, 0);
        }
        if *n >= self.most {
            return Err(self.window.saturating_sub(now.duration_since(*first)));
        }
        *n += 1;
        Ok(())
    }

    /// Takes one count back: what was feared did not come true.
    pub fn give_back(&self, key: &str) {
        let mut counts = self.counts.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some((_, n)) = counts.get_mut(key) {
            *n = n.saturating_sub(1);
        }
    }
}

/// How much is under way, by key.
#[derive(Debug)]
pub struct Busy {
    most: usize,
    running: Arc<Mutex<HashMap<String, usize>>>,
}

/// One thing under way; it ends when this is dropped.
#[derive(Debug)]
pub struct Running {
    key: String,
    running: Arc<Mutex<HashMap<String, usize>>>,
}

impl Busy {
    fn new(most: usize) -> Self {
        Self { most, running: Arc::default() }
    }

    /// Begins one more, if there may be one.
    pub fn begin(&self, key: &str) -> Option<Running> {
        let mut running = self.running.lock().unwrap_or_else(PoisonError::into_inner);
        let n = running.entry(key.to_owned()).or_insert(0);
        if *n >= self.most {
            return None;
        }
        *n += 1;
        Some(Running { key: key.to_owned(), running: self.running.clone() })
    }
}

impl Drop for Running {
    fn drop(&mut self) {
        let mut running = self.running.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(n) = running.get_mut(&self.key) {
            *n -= 1;
            if *n == 0 {
                running.remove(&self.key);
            }
        }
    }
}

/// A machine as a key: an IPv6 address by its network, since one machine may take any address of it.
pub fn machine(address: Option<IpAddr>) -> String {
    match address {
        None => "here".into(),
        Some(IpAddr::V4(address)) => address.to_string(),
        Some(IpAddr::V6(address)) => match address.to_ipv4_mapped() {
            Some(address) => address.to_string(),
            None => format!("{:x?}", &address.segments()[..4]),
        },
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_key_waits_for_its_window_and_no_other_does() {
        let counter = Counter::new(2, Duration::from_secs(60));
        let start = Instant::now();
        let later = |seconds| start + Duration::from_secs(seconds);
        assert_eq!(counter.take("a", start), Ok(()));
        assert_eq!(counter.take("a", later(10)), Ok(()));
        assert_eq!(counter.take("a", later(20)), Err(Duration::from_secs(40)));
        assert_eq!(counter.take("b", later(20)), Ok(()));
        counter.give_back("a");
        assert_eq!(counter.take("a", later(21)), Ok(()));
        assert!(counter.take("a", later(59)).is_err());
        assert_eq!(counter.take("a", later(60)), Ok(()));
    }

    #[test]
    fn many_keys_do_not_fill_the_memory() {
        let counter = Counter::new(1, Duration::from_secs(60));
        let start = Instant::now();
        for k in 0..Counter::MOST_KEYS {
            counter.take(&k.to_string(), start).unwrap();
        }
        assert!(counter.take("one more", start).is_err());
        assert_eq!(counter.take("one more", start + Duration::from_secs(60)), Ok(()));
        assert_eq!(counter.counts.lock().unwrap().len(), 1);
    }

    #[test]
    fn what_has_ended_makes_room() {
        let busy = Busy::new(1);
        let one = busy.begin("a").unwrap();
        assert!(busy.begin("a").is_none() && busy.begin("b").is_some());
        drop(one);
        assert!(busy.begin("a").is_some());
        assert!(busy.running.lock().unwrap().is_empty());
    }

    #[test]
    fn addresses_of_one_machine_are_one_key() {
        let key = |text: &str| machine(Some(text.parse().unwrap()));
        assert_eq!(key("2001:db8:1:2::7"), key("2001:db8:1:2:aaaa::9"));
        assert_ne!(key("2001:db8:1:2::7"), key("2001:db8:1:3::7"));
        assert_eq!(key("::ffff:192.0.2.7"), key("192.0.2.7"));
    }
}
