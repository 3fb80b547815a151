//! Trials: phantoms with exactly known geometry, scanned as scanners do, measured as the program does, and what the
//! errors of all readings add up to.
//!
//! The truth shares no code with the measuring. Values in, text out: who runs a trial writes its page.

pub mod batch;
pub mod kept;
pub mod page;
pub mod preparations;
pub mod statistics;

pub mod common;

pub use common::{phantoms, rescan, tolerance, truth};
