//! One file a subcommand.

pub mod demo;
pub mod measure;
pub mod plan;
