//! The main job on scans that the program makes itself.

use crate::command::{Command, Failure};
use crate::process;

/// `cargo xtask demo`.
pub const COMMAND: Command = Command {
    name: "demo",
    summary: "Build kerf and run the whole job on demo scans that it makes itself",
    help: "\
Usage: cargo xtask demo [-- OPTIONS OF kerf demo]

Builds the optimised program, makes the demo scans, measures them, prints the readings and says where
the report is. The demo is invented; its geometry is exactly known.
",
    run,
};

fn run(arguments: &[String]) -> Result<(), Failure> {
    let arguments = arguments.strip_prefix(&["--".to_owned()]).unwrap_or(arguments);
    let mut command =
        process::cargo(&["run", "--release", "--locked", "--package", "kerfwright-cli", "--", "demo"]);
    process::run(command.args(arguments))
}
