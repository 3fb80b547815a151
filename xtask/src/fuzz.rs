//! Made-up requests for the server.

use std::env;

use crate::command::{Command, Failure};
use crate::process;
use crate::python;

/// `cargo xtask fuzz`.
pub const COMMAND: Command = Command {
    name: "fuzz",
    summary: "Throw requests made up from the OpenAPI document at kerf serve (needs Python 3)",
    help: "\
Usage: cargo xtask fuzz [--seed N] [--examples N]

Builds kerf, starts kerf serve on this machine with the measured demo tooth, and lets schemathesis make up requests from
its OpenAPI document: no answer may be a fault of the server, nor one that the document does not name. The pinned
schemathesis of crates/server/tests/fuzz/requirements.txt is installed into an environment of its own in the target folder.
With the same seed the same requests are made up; --examples says how many of a kind for each operation (12).
",
    run,
};

fn run(arguments: &[String]) -> Result<(), Failure> {
    process::run(&mut process::cargo(&["build", "--locked", "--package", "kerfwright-cli"]))?;
    let kerf = process::target_dir().join("debug").join(format!("kerf{}", env::consts::EXE_SUFFIX));
    let script = process::workspace_root().join("crates/server/tests/fuzz/fuzz.py");
    python::run_script_with(&script, arguments, &[("KERF", &kerf)])
}
