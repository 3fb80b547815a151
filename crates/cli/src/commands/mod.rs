//! One file a subcommand.

pub mod demo;
pub mod kit;
pub mod measure;
