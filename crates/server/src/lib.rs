//! The app at the bench: an HTTP server over the core, for a browser on the same machine.
//!
//! A shell: it keeps scans and attempts ([`kerfwright_store`]), runs the core as jobs, and hands out what `measure`, `view`, `grade` and
//! `advice` give. It computes nothing clinical itself. Without accounts it listens on this machine alone and answers no one else: no
//! foreign host name, no foreign origin, no path from the user's hand, no learner's data in messages.

mod aim;
mod app;
mod assets;
mod cache;
mod config;
mod describe;
mod error;
mod guard;
mod handlers;
mod jobs;
mod pipeline;
mod router;
mod scene;
mod serve;
mod watch;
mod wire;
mod wishes;

pub use app::App;
pub use config::{Config, ConfigError};
pub use describe::{openapi, typescript};
pub use router::router;
pub use serve::{ServeError, Server, bind};
