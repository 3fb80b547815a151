//! Plots as SVG: whole ones for files, and their parts, which pages place beside the numbers. Form, numbers and words carry what
//! colour says.

mod agreement;
mod courses;
mod draw;
mod places;
mod readings;

pub use agreement::{agreement, interval};
pub use courses::{course, courses};
pub use places::{places, ring};
pub use readings::{distribution, distributions};
