//! `kerf`: a thin shell over the core. It reads files, calls, prints and writes; it computes nothing clinical.

mod advice_text;
mod agree_table;
mod args;
mod calibration_table;
mod columns;
mod commands;
mod exercise_table;
mod grade_table;
mod kit_table;
mod report_table;
mod table;
mod timings;
mod tools_table;

use std::ffi::OsString;
use std::process::ExitCode;

use clap::error::ErrorKind::DisplayHelpOnMissingArgumentOrSubcommand;
use clap::{CommandFactory, Parser};

/// Exit status: 0 done, 1 done but something has faults or does not meet an exercise, 2 could not be done.
fn main() -> ExitCode {
    let arguments = match args::Arguments::try_parse() {
        Ok(arguments) => arguments,
        Err(error) if error.use_stderr() && error.kind() != DisplayHelpOnMissingArgumentOrSubcommand => {
            eprintln!(
                "kerf: {}; see {} --help",
                one_line(&error.to_string()),
                meant(std::env::args_os().skip(1))
            );
            return ExitCode::from(2);
        }
        Err(error) => error.exit(),
    };
    let result = match &arguments.command {
        args::Command::Measure(measure) => commands::measure::run(measure),
        args::Command::Demo(demo) => commands::demo::run(demo).map(|()| ExitCode::SUCCESS),
        args::Command::Exercise(exercise) => commands::exercise::run(exercise),
        args::Command::Grade(grade) => commands::grade::run(grade),
        args::Command::Kit(kit) => commands::kit::run(kit),
        args::Command::Plan(plan) => commands::plan::run(plan),
        args::Command::Serve(serve) => commands::serve::run(serve).map(|()| ExitCode::SUCCESS),
        args::Command::Account(account) => commands::account::run(account).map(|()| ExitCode::SUCCESS),
        args::Command::Class(class) => commands::class::run(class),
        args::Command::Watch(watch) => commands::class::run::watch(watch),
    };
    match result {
        Ok(status) => status,
        Err(error) => {
            // One line: the fault, its causes, the next step.
            eprintln!("kerf: {error:#}");
            ExitCode::from(2)
        }
    }
}

/// The command that was meant, as far as it is known: its help is nearer to the fault than that of the whole program.
fn meant(given: impl Iterator<Item = OsString>) -> String {
    let mut command = args::Arguments::command();
    let mut words = vec![command.get_name().to_owned()];
    for word in given {
        if let Some(sub) = word.to_str().and_then(|word| command.find_subcommand(word)).cloned() {
            words.push(sub.get_name().to_owned());
            command = sub;
        }
    }
    words.join(" ")
}

/// The fault of a usage message, without its usage paragraph.
fn one_line(message: &str) -> String {
    let fault = message.split("\n\n").next().unwrap_or(message).trim_start_matches("error: ");
    fault.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn help_is_that_of_the_command_that_was_meant() {
        let told = |line: &str| meant(line.split(' ').map(OsString::from));
        assert_eq!(told("class report --cohrt spring"), "kerf class report");
        assert_eq!(told("exercise chek"), "kerf exercise");
        assert_eq!(told("mesure after.stl"), "kerf");
        // A file may be called like a command elsewhere.
        assert_eq!(told("exercise check grade"), "kerf exercise check");
    }
}
