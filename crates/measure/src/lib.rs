//! From aligned scans to readings.

pub mod arch;
pub mod attempt;
pub mod axis;
mod axis_evidence;
mod displaced;
pub mod document;
mod error;
mod extent;
pub mod finish_line;
pub mod frame;
mod hidden;
mod joint;
mod locate;
pub mod measures;
pub mod outline;
mod partial;
pub mod path;
pub mod preparation;
pub mod region;
pub mod scene;
pub mod section;
pub mod sheet;
mod start;
pub mod station;
pub mod stats;
pub mod trace;
mod trend;
pub mod zones;

pub use attempt::{Aligned, Attempt, OpposingFrame, Request, ScanFile};
pub use document::Document;
pub use error::{InputError, MeasureError};
pub use joint::{Abutments, JointDocument};
pub use path::PathChoice;
pub use preparation::Preparation;
