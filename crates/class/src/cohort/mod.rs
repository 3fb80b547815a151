//! A class as a whole: its readings against their band, and groups against each other.

mod band;
mod compare;

pub(crate) use band::check_readings;
pub use band::{Band, Distribution, Reading, Standing, distribution};
pub use compare::{Comparison, Groups, Test, compare, compare_groups};
