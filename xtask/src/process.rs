//! Starting other programs, always in the root of the workspace.

use std::env;
use std::ffi::OsString;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use crate::command::Failure;

/// The root of the workspace: the folder above this crate.
pub fn workspace_root() -> PathBuf {
    // The built program knows where it was built; cargo says it again at run time, in case the folder was moved.
    let manifest =
        env::var_os("CARGO_MANIFEST_DIR").unwrap_or_else(|| OsString::from(env!("CARGO_MANIFEST_DIR")));
    let manifest = PathBuf::from(manifest);
    manifest.parent().map_or(manifest.clone(), Path::to_path_buf)
}

/// Where cargo puts what it builds.
pub fn target_dir() -> PathBuf {
    env::var_os("CARGO_TARGET_DIR").map_or_else(|| workspace_root().join("target"), PathBuf::from)
}

/// The cargo that started this program, with arguments.
pub fn cargo(arguments: &[&str]) -> Command {
    let mut command = Command::new(env::var_os("CARGO").unwrap_or_else(|| OsString::from("cargo")));
    command.args(arguments).current_dir(workspace_root());
    command
}

/// Runs a program with its output shown as it comes.
pub fn run(command: &mut Command) -> Result<(), Failure> {
    let line = shown(command);
    match command.status() {
        Ok(status) if status.success() => Ok(()),
        Ok(status) => Err(Failure::Work(format!("`{line}` failed ({status})"))),
        Err(error) => Err(Failure::Work(format!("cannot start `{line}`: {error}"))),
    }
}

/// Runs a program and returns what it printed; its error output is shown.
pub fn capture(command: &mut Command) -> Result<String, Failure> {
    let line = shown(command);
    let output = command.stderr(Stdio::inherit()).output();
    let output = output.map_err(|error| Failure::Work(format!("cannot start `{line}`: {error}")))?;
    if !output.status.success() {
        return Err(Failure::Work(format!("`{line}` failed ({})", output.status)));
    }
    String::from_utf8(output.stdout).map_err(|_| Failure::Work(format!("`{line}` printed no valid UTF-8")))
}

/// The command as one would type it, without the path of the program.
fn shown(command: &Command) -> String {
    let program = Path::new(command.get_program());
    let mut words = vec![program.file_stem().unwrap_or(program.as_os_str()).to_string_lossy().into_owned()];
    words.extend(command.get_args().map(|argument| argument.to_string_lossy().into_owned()));
    words.join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn commands_are_shown_as_typed() {
        let mut command = Command::new(Path::new("bin").join("cargo"));
        command.args(["test", "--workspace"]);
        assert_eq!(shown(&command), "cargo test --workspace");
    }

    #[test]
    fn the_root_holds_the_workspace() {
        assert!(workspace_root().join("xtask").join("Cargo.toml").is_file());
    }

    #[test]
    fn a_failing_program_is_a_failure_with_its_command_line() {
        let failure = run(cargo(&["no-such-subcommand"]).stderr(Stdio::null())).unwrap_err();
        assert!(
            matches!(failure, Failure::Work(line) if line.starts_with("`cargo no-such-subcommand` failed"))
        );
    }
}
