//! Python scripts that compare us with reference libraries, each in its own environment with pinned packages.

use std::env;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use crate::command::Failure;
use crate::process;

/// Runs a script in its own folder with the packages of the `requirements.txt` nearest above it.
///
/// The environment lies in the target folder and is made anew when the requirements change.
pub fn run_script(script: &Path) -> Result<(), Failure> {
    run_script_with(script, &[], &[])
}

/// The same with arguments and paths in the environment.
pub fn run_script_with(script: &Path, arguments: &[String], named: &[(&str, &Path)]) -> Result<(), Failure> {
    let requirements = nearest_requirements(script)?;
    let python = environment(&requirements)?;
    let folder = script.parent().unwrap_or(Path::new("."));
    let mut command = Command::new(python);
    process::run(command.arg(script).args(arguments).envs(named.iter().copied()).current_dir(folder))
}

fn nearest_requirements(script: &Path) -> Result<PathBuf, Failure> {
    let root = process::workspace_root();
    let above = script.ancestors().skip(1).take_while(|folder| folder.starts_with(&root));
    let mut candidates = above.map(|folder| folder.join("requirements.txt"));
    candidates.find(|file| file.is_file()).ok_or_else(|| {
        Failure::Work(format!(
            "no requirements.txt beside or above {}: add one, with versions",
            script.display()
        ))
    })
}

/// The interpreter of an environment that holds exactly these requirements.
fn environment(requirements: &Path) -> Result<PathBuf, Failure> {
    let root = process::workspace_root();
    let relative = requirements.strip_prefix(&root).unwrap_or(requirements);
    let parts: Vec<_> = relative.iter().map(|part| part.to_string_lossy()).collect();
    let folder = process::target_dir().join("reference").join(parts.join("-").replace('.', "-"));
    let python = if cfg!(windows) { folder.join("Scripts/python.exe") } else { folder.join("bin/python") };
    let wanted = fs::read(requirements)
        .map_err(|error| Failure::Work(format!("cannot read {}: {error}", requirements.display())))?;
    let stamp = folder.join("installed.txt");
    if fs::read(&stamp).is_ok_and(|installed| installed == wanted) && python.is_file() {
        return Ok(python);
    }
    make_environment(&folder)?;
    let mut pip = Command::new(&python);
    pip.args(["-m", "pip", "install", "--quiet", "--disable-pip-version-check", "-r"]).arg(requirements);
    process::run(&mut pip).map_err(|_| {
        Failure::Work(format!(
            "packages are missing: with a way to PyPI, `python -m pip install -r {}`",
            relative.display()
        ))
    })?;
    fs::write(&stamp, wanted)
        .map_err(|error| Failure::Work(format!("cannot write {}: {error}", stamp.display())))?;
    Ok(python)
}

fn make_environment(folder: &Path) -> Result<(), Failure> {
    let interpreter = interpreter().ok_or_else(|| {
        Failure::work("no Python found: install Python 3, or name it in the environment variable PYTHON")
    })?;
    process::run(Command::new(interpreter).args(["-m", "venv", "--clear"]).arg(folder)).map_err(|_| {
        Failure::work(
            "cannot make a Python environment: on Debian and Ubuntu, install the package python3-venv",
        )
    })
}

/// The first interpreter that starts.
fn interpreter() -> Option<String> {
    let named = env::var("PYTHON").ok();
    let usual = ["python3", "python", "py"].map(str::to_owned);
    named.into_iter().chain(usual).find(|name| {
        let version =
            Command::new(name).arg("--version").stdout(Stdio::null()).stderr(Stdio::null()).status();
        version.is_ok_and(|status| status.success())
    })
}
