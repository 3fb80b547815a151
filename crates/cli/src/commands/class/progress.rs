//! What is said of a run while it goes on, and at its end.

use std::io::{IsTerminal, Write};
use std::path::Path;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};

use kerfwright_batch::{Ended, Job, Kept, Watcher};

/// Counts on standard error, with the time that is left.
pub struct Progress {
    n_jobs: usize,
    quiet: bool,
    stop: Arc<AtomicBool>,
    /// When the work began.
    pub begun: Instant,
    done: Mutex<Done>,
}

#[derive(Default)]
struct Done {
    new: usize,
    known: usize,
    failed: usize,
}

impl Progress {
    /// Nothing is done yet.
    pub fn new(n_jobs: usize, quiet: bool, stop: Arc<AtomicBool>) -> Self {
        Self { n_jobs, quiet, stop, begun: Instant::now(), done: Mutex::default() }
    }

    /// Wipes the line that counts.
    pub fn clear(&self) {
        if !self.quiet && std::io::stderr().is_terminal() {
            eprint!("\r{:60}\r", "");
        }
    }
}

impl Watcher for Progress {
    fn ended(&self, job: &Job, ended: &Result<Kept, String>) {
        let mut done = self.done.lock().unwrap_or_else(PoisonError::into_inner);
        match ended {
            Ok(Kept::New) => done.new += 1,
            Ok(Kept::Known) => done.known += 1,
            Err(_) => done.failed += 1,
        }
        if self.quiet {
            return;
        }
        let n_done = done.new + done.known + done.failed;
        let line = format!(
            "{n_done} of {}, {} failed{}",
            self.n_jobs,
            done.failed,
            time_left(self.begun.elapsed(), done.new + done.failed, self.n_jobs - n_done)
        );
        let mut out = std::io::stderr().lock();
        // Where nobody reads it, it is not missed.
        let _ = if out.is_terminal() {
            write!(out, "\r{line:60}").and_then(|()| out.flush())
        } else {
            writeln!(out, "{line}: {}", job.after.display())
        };
    }

    fn is_to_stop(&self) -> bool {
        self.stop.load(Ordering::Relaxed)
    }
}

/// As long for each that is left as for those that were measured; what was kept already took no time.
fn time_left(spent: Duration, n_measured: usize, n_left: usize) -> String {
    if n_measured == 0 || n_left == 0 {
        return String::new();
    }
    let seconds = (spent.as_secs_f64() / n_measured as f64 * n_left as f64).ceil() as u64;
    match seconds {
        0..=99 => format!(", about {seconds} s left"),
        _ => format!(", about {} min left", seconds.div_ceil(60)),
    }
}

/// What all came to, and what failed why.
pub fn summary(ended: &Ended, spent: Duration) -> String {
    let mut out = format!(
        "{} measured, {} kept already, {} failed, in {:.1} s.\n",
        ended.new,
        ended.known,
        ended.failures.len(),
        spent.as_secs_f64()
    );
    if ended.left > 0 {
        out += &format!("{} not begun: run the same command again to go on.\n", ended.left);
    }
    for failure in &ended.failures {
        out += &format!("  {}\n", named(&failure.file, &failure.why));
    }
    out
}

/// A fault with its file, which most faults name already.
pub fn named(file: &Path, why: &str) -> String {
    let name = file.file_name().map_or_else(String::new, |name| name.to_string_lossy().into_owned());
    if why.contains(&name) { why.to_owned() } else { format!("{}: {why}", file.display()) }
}

/// Says each attempt of a watched folder on a line of its own.
pub struct Said {
    /// Whether no further job is to be begun.
    pub stop: Arc<AtomicBool>,
}

impl Watcher for Said {
    fn ended(&self, job: &Job, ended: &Result<Kept, String>) {
        match ended {
            Ok(Kept::New) => println!("{}: measured", job.after.display()),
            Ok(Kept::Known) => println!("{}: kept already", job.after.display()),
            Err(why) => println!("failed: {}", named(&job.after, why)),
        }
        // Whoever reads along sees it at once.
        let _ = std::io::stdout().flush();
    }

    fn is_to_stop(&self) -> bool {
        self.stop.load(Ordering::Relaxed)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_time_left_follows_what_was_measured() {
        assert_eq!(time_left(Duration::from_secs(10), 5, 20), ", about 40 s left");
        assert_eq!(time_left(Duration::from_secs(10), 5, 100), ", about 4 min left");
        assert_eq!(time_left(Duration::from_secs(10), 0, 100), "");
    }
}
