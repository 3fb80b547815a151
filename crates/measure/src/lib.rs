//! From aligned scans to readings.

pub mod arch;
pub mod attempt;
pub mod axis;
mod axis_evidence;
pub mod document;
mod error;
pub mod finish_line;
pub mod frame;
pub mod front;
pub mod landmarks;
mod locate;
pub mod measures;
pub mod outline;
pub mod path;
pub mod preparation;
pub mod region;
pub mod relief;
pub mod scene;
pub mod section;
pub mod sheet;
pub mod station;
pub mod stats;
pub mod trace;
mod trend;
pub mod zones;

pub use attempt::{Aligned, Attempt, OpposingFrame, Request, ScanFile};
pub use document::Document;
pub use error::{InputError, MeasureError};
pub use path::PathChoice;
pub use preparation::Preparation;
