//! How long each stage took.

use std::time::Instant;

/// Wall-clock times by stage, in order.
#[derive(Debug)]
pub struct Timings {
    started: Instant,
    stages: Vec<(&'static str, f64)>,
}

impl Timings {
    /// Starts the clock.
    pub fn start() -> Self {
        Self { started: Instant::now(), stages: Vec::new() }
    }

    /// Runs one stage and notes its time.
    pub fn stage<T>(&mut self, name: &'static str, work: impl FnOnce() -> T) -> T {
        let started = Instant::now();
        let done = work();
        self.stages.push((name, started.elapsed().as_secs_f64() * 1000.0));
        done
    }

    /// Prints the stages and the sum to standard error.
    pub fn print(&self) {
        for (name, ms) in &self.stages {
            eprintln!("{name:>12} {ms:8.1} ms");
        }
        eprintln!("{:>12} {:8.1} ms", "all", self.started.elapsed().as_secs_f64() * 1000.0);
    }
}
