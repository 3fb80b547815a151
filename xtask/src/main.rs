//! The chores of the workspace: `cargo xtask COMMAND`.
//!
//! Standard library only and no shell scripts, so that each chore runs the same on Linux, macOS and Windows.
//! A command lives in one module that declares its name, help and code as one [`command::Command`].

mod accuracy;
mod bench;
mod command;
mod demo;
mod figures;
mod files;
mod fuzz;
mod hygiene;
mod json;
mod licences;
mod postgres;
mod process;
mod python;
mod reference;
mod rust_version;
mod spdx;
mod test;
mod web;

use std::env;
use std::process::ExitCode;

use command::{Command, Failure};

/// Every command, in the order of the help.
const COMMANDS: &[Command] = &[
    demo::COMMAND,
    web::COMMAND,
    test::COMMAND,
    licences::COMMAND,
    hygiene::COMMAND,
    bench::COMMAND,
    accuracy::COMMAND,
    fuzz::COMMAND,
    figures::COMMAND,
    reference::COMMAND,
];

fn main() -> ExitCode {
    let arguments: Vec<String> = env::args().skip(1).collect();
    match run(&arguments) {
        Ok(()) => ExitCode::SUCCESS,
        Err(Failure::Work(line)) => {
            eprintln!("xtask: {line}");
            ExitCode::FAILURE
        }
        Err(Failure::Usage(line)) => {
            eprintln!("xtask: {line}");
            ExitCode::from(2)
        }
    }
}

fn run(arguments: &[String]) -> Result<(), Failure> {
    let (name, rest) = match arguments {
        [] => ("--help", &[][..]),
        [name, rest @ ..] => (name.as_str(), rest),
    };
    if matches!(name, "--help" | "-h" | "help") {
        print!("{}", overview());
        return Ok(());
    }
    let Some(command) = COMMANDS.iter().find(|command| command.name == name) else {
        return Err(Failure::Usage(format!("no command \"{name}\": see cargo xtask --help")));
    };
    let own = rest.split(|argument| argument == "--").next().unwrap_or_default();
    if own.iter().any(|argument| matches!(argument.as_str(), "--help" | "-h")) {
        println!("{}\n\n{}", command.summary, command.help.trim_end());
        return Ok(());
    }
    (command.run)(rest)
}

fn overview() -> String {
    let mut text =
        String::from("Chores of the Kerfwright workspace.\n\nUsage: cargo xtask COMMAND [OPTIONS]\n\n");
    for command in COMMANDS {
        text.push_str(&format!("  {:<10} {}\n", command.name, command.summary));
    }
    text.push_str(
        "\nEach command explains itself: cargo xtask COMMAND --help\n\
         Exit status: 0 done, 1 something failed (one line says what), 2 wrong usage.\n",
    );
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn help_names_every_command() {
        let text = overview();
        for command in COMMANDS {
            assert!(text.contains(command.name), "{}", command.name);
            assert!(command.help.contains("Usage: cargo xtask"), "{}", command.name);
        }
    }

    #[test]
    fn unknown_commands_are_wrong_usage() {
        assert!(matches!(run(&["polish".to_owned()]), Err(Failure::Usage(_))));
    }
}
