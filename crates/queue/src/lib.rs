//! Attempts that wait on PostgreSQL to be measured, and the workers, on any number of machines, that take them.
//!
//! The queue is that of the library `graphile_worker`, in a schema of its own beside the store's tables. A worker takes an attempt,
//! measures, grades and keeps it as [`kerfwright_batch`] does, and only then takes it off the queue: one that dies in between leaves
//! the attempt to the others. What is measured twice is kept once, since the store knows an attempt by all that was asked of it.
//!
//! - [`hand_in`]: from files to attempts that wait
//! - [`Queue`]: what waits, what failed too often, and another try for it
//! - [`work`]: takes attempts until it is to stop

mod hand_in;
mod queue;
mod waiting;
mod work;

pub use hand_in::{HandedIn, hand_in};
pub use queue::{Count, Dead, Queue, QueueError, TRIES};
pub use waiting::{KeptScan, Waiting};
pub use work::{Hands, Told, work};
