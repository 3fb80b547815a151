//! `kerf`: a thin shell over the core. It reads files, calls, prints and writes; it computes nothing clinical.

mod args;
mod commands;
mod table;
mod timings;

use std::process::ExitCode;

use clap::Parser;
use clap::error::ErrorKind::DisplayHelpOnMissingArgumentOrSubcommand;

/// Exit status: 0 measured, 1 something does not meet an exercise (none can be given yet), 2 could not be measured.
fn main() -> ExitCode {
    let arguments = match args::Arguments::try_parse() {
        Ok(arguments) => arguments,
        Err(error) if error.use_stderr() && error.kind() != DisplayHelpOnMissingArgumentOrSubcommand => {
            eprintln!("kerf: {}; see kerf --help", one_line(&error.to_string()));
            return ExitCode::from(2);
        }
        Err(error) => error.exit(),
    };
    let result = match &arguments.command {
        args::Command::Measure(measure) => commands::measure::run(measure),
        args::Command::Demo(demo) => commands::demo::run(demo),
        args::Command::Plan(plan) => commands::plan::run(plan),
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

/// The fault of a usage message, without its usage paragraph.
fn one_line(message: &str) -> String {
    let fault = message.split("\n\n").next().unwrap_or(message).trim_start_matches("error: ");
    fault.split_whitespace().collect::<Vec<_>>().join(" ")
}
