//! One file a subcommand.

pub mod account;
pub mod class;
pub mod demo;
mod demo_class;
pub mod exercise;
pub mod grade;
pub mod kit;
pub mod measure;
pub mod plan;
pub mod plan_tooth;
pub mod serve;
