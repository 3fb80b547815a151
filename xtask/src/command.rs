//! What a command is and how it fails.

/// One chore, declared in one place.
pub struct Command {
    /// What is typed after `cargo xtask`.
    pub name: &'static str,
    /// One line for the overview.
    pub summary: &'static str,
    /// Usage and options.
    pub help: &'static str,
    /// Does it; gets what follows the name.
    pub run: fn(&[String]) -> Result<(), Failure>,
}

/// Why a command did not succeed, in one line.
#[derive(Debug, PartialEq, Eq)]
pub enum Failure {
    /// The work was tried and failed: exit status 1.
    Work(String),
    /// The command line asks for something that does not exist: exit status 2.
    Usage(String),
}

impl Failure {
    /// For closures that turn an error into a failure of the work.
    pub fn work(line: impl Into<String>) -> Self {
        Self::Work(line.into())
    }
}

/// Refuses arguments where none are taken.
pub fn expect_no_arguments(command: &str, arguments: &[String]) -> Result<(), Failure> {
    match arguments.first() {
        None => Ok(()),
        Some(first) => {
            Err(Failure::Usage(format!("{command} takes no \"{first}\": see cargo xtask {command} --help")))
        }
    }
}
