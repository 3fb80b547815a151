//! Fits and robust statistics.

mod circle;
mod line;
mod plane;
mod statistics;

pub use circle::{CircleFit, circle2};
pub use line::{LineFit, RobustLineFit, line2, line2_robust};
pub use plane::{PlaneFit, plane};
pub use statistics::{MAD_TO_SIGMA, mad, median, percentile};
