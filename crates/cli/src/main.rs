//! `kerf`: a thin shell over the core. It reads files, calls, prints and writes; it computes nothing clinical.

mod args;
mod commands;
mod table;
mod timings;

use std::process::ExitCode;

use clap::Parser;

/// Exit status: 0 measured, 1 something does not meet an exercise (none can be given yet), 2 could not be measured.
fn main() -> ExitCode {
    let arguments = args::Arguments::parse();
    let result = match &arguments.command {
        args::Command::Measure(measure) => commands::measure::run(measure),
        args::Command::Demo(demo) => commands::demo::run(demo),
    };
    match result {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            // One line: the fault, its causes, the next step.
            eprintln!("kerf: {error:#}");
            ExitCode::from(2)
        }
    }
}
