//! Kits.
mod finish_line;
pub mod gauge;
mod head;
mod profile;
mod wall;
pub use finish_line::*;
pub use head::*;
pub use wall::*;
