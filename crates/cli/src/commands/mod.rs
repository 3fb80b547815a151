//! One file a subcommand.

pub mod demo;
pub mod measure;
