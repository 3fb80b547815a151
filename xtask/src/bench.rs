//! Benches, and runs of them that are kept.

mod record;

use crate::command::{Command, Failure};
use crate::files;
use crate::process;
use crate::python;

/// `cargo xtask bench`.
pub const COMMAND: Command = Command {
    name: "bench",
    summary: "Run the benches, and keep a run with its circumstances",
    help: "\
Usage: cargo xtask bench [--keep] [--peers] [BENCH …] [-- OPTIONS OF THE BENCH]

Runs crates/*/benches/*.rs, or the benches named, optimised.
  --keep    also write the output to benches/runs/<date>-<machine>/ with command, commit and compiler
  --peers   run crates/*/benches/peers/*.py instead: reference libraries at the same work (needs Python 3)
",
    run,
};

/// What the command line asks for.
#[derive(Debug, Default, PartialEq)]
struct Request {
    keeps: bool,
    is_peers: bool,
    names: Vec<String>,
    options: Vec<String>,
}

fn run(arguments: &[String]) -> Result<(), Failure> {
    let request = parse(arguments)?;
    if request.is_peers {
        return run_peers();
    }
    let all = benches();
    if let Some(unknown) = request.names.iter().find(|name| !all.contains(name)) {
        return Err(Failure::Usage(format!("no bench \"{unknown}\"; there are: {}", all.join(", "))));
    }
    let chosen = if request.names.is_empty() { all } else { request.names };
    if chosen.is_empty() {
        return Err(Failure::work("there are no crates/*/benches/*.rs"));
    }
    let mut words: Vec<&str> = vec!["bench", "--workspace", "--locked"];
    words.extend(chosen.iter().flat_map(|name| ["--bench", name.as_str()]));
    if !request.options.is_empty() {
        words.push("--");
        words.extend(request.options.iter().map(String::as_str));
    }
    if !request.keeps {
        return process::run(&mut process::cargo(&words));
    }
    let output = process::capture(&mut process::cargo(&words))?;
    print!("{output}");
    record::keep(&words.join(" "), &output)
}

fn parse(arguments: &[String]) -> Result<Request, Failure> {
    let mut request = Request::default();
    let mut rest = arguments.iter();
    while let Some(argument) = rest.next() {
        match argument.as_str() {
            "--keep" => request.keeps = true,
            "--peers" => request.is_peers = true,
            "--" => request.options = rest.by_ref().cloned().collect(),
            option if option.starts_with('-') => {
                return Err(Failure::Usage(format!("bench has no {option}: see cargo xtask bench --help")));
            }
            name => request.names.push(name.to_owned()),
        }
    }
    Ok(request)
}

/// The names of all benches, sorted.
fn benches() -> Vec<String> {
    let crates = files::folders_in(&process::workspace_root().join("crates"));
    let sources = crates.iter().flat_map(|folder| files::files_ending(&folder.join("benches"), ".rs"));
    let mut names: Vec<String> =
        sources.filter_map(|path| Some(path.file_stem()?.to_string_lossy().into_owned())).collect();
    names.sort();
    names.dedup();
    names
}

fn run_peers() -> Result<(), Failure> {
    let crates = files::folders_in(&process::workspace_root().join("crates"));
    let peers: Vec<_> = crates
        .iter()
        .flat_map(|folder| files::files_ending(&folder.join("benches").join("peers"), ".py"))
        .collect();
    if peers.is_empty() {
        return Err(Failure::work("there are no crates/*/benches/peers/*.py"));
    }
    peers.iter().try_for_each(|script| python::run_script(script))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn options_after_two_dashes_go_to_the_bench() {
        let words = ["--keep", "closest", "--", "--sample-count", "5"].map(str::to_owned);
        let request = parse(&words).unwrap();
        assert!(request.keeps && !request.is_peers);
        assert_eq!(request.names, ["closest"]);
        assert_eq!(request.options, ["--sample-count", "5"]);
        assert!(matches!(parse(&["--fast".to_owned()]), Err(Failure::Usage(_))));
    }
}
