//! How sure the intervals of a class's figures are to be.

use clap::Args;
use kerfwright_class::Settings;

/// What intervals rest on.
#[derive(Debug, Args)]
pub struct Intervals {
    /// Confidence of the intervals.
    #[arg(long, value_name = "SHARE", default_value_t = 0.95)]
    pub confidence: f64,
    /// Resamples behind an interval that resamples attempts or learners.
    #[arg(long, value_name = "COUNT", default_value_t = 2000, value_parser = clap::value_parser!(u32).range(100..=100_000))]
    pub draws: u32,
    /// Where its random numbers begin; the same seed gives the same interval.
    #[arg(long, value_name = "NUMBER", default_value_t = 1)]
    pub seed: u64,
}

impl Intervals {
    /// The same for the statistics.
    pub fn settings(&self) -> Settings {
        Settings { confidence: self.confidence, draws: self.draws, seed: self.seed }
    }
}
