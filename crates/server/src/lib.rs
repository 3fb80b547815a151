//! The app at the bench: an HTTP server over the core, for a browser on the same machine.
//!
//! A shell: it keeps scans and attempts ([`kerfwright_store`]), runs the core as jobs, and hands out what `measure`, `view`, `grade` and
//! `advice` give. It computes nothing clinical itself. Without accounts it listens on this machine alone and answers no one else; on a
//! network it asks for accounts and encryption ([`accounts`]). No foreign host name, no foreign origin, no path from the user's hand, no
//! learner's data in messages.

pub mod accounts;
mod aim;
mod app;
mod assets;
mod cache;
mod common_answers;
mod config;
mod describe;
mod error;
mod guard;
mod handlers;
mod jobs;
mod pipeline;
mod receive;
mod router;
mod scene;
mod serve;
mod tls;
mod watch;
mod wire;
mod wishes;

pub use app::App;
pub use config::{Config, ConfigError};
pub use describe::{openapi, typescript};
pub use router::router;
pub use serve::{ServeError, Server, bind, bind_at};
pub use tls::{Tls, TlsError};
