//! A kept run: what was measured, and everything needed to judge it later.

use std::fs;
use std::process::Command;
use std::time::{SystemTime, UNIX_EPOCH};

use crate::command::Failure;
use crate::process;

/// Writes the output of a bench run to `benches/runs/<date>-<machine>/`.
pub fn keep(command: &str, output: &str) -> Result<(), Failure> {
    let days = SystemTime::now().duration_since(UNIX_EPOCH).map_or(0, |time| time.as_secs() / 86_400);
    let date = date_of(days);
    let cpu = cpu();
    let cores = std::thread::available_parallelism().map_or(1, usize::from);
    let folder =
        process::workspace_root().join("benches").join("runs").join(format!("{date}-{}", folder_name(&cpu)));
    let summary = format!(
        "# Bench run of {date}\n\n- command: `cargo {command}`\n- commit: {}\n- machine: {cpu}, {cores} threads, {}\n\
         - compiler: {}\n\nThe raw output is in `output.txt`.\n",
        first_line("git", &["describe", "--always", "--dirty"]),
        std::env::consts::OS,
        first_line("rustc", &["--version"]),
    );
    let failed = |error| Failure::Work(format!("cannot write {}: {error}", folder.display()));
    fs::create_dir_all(&folder).map_err(failed)?;
    fs::write(folder.join("README.md"), summary).map_err(failed)?;
    // Where the checkout lies is the machine's own business.
    let output = output.replace(&process::workspace_root().display().to_string(), ".");
    fs::write(folder.join("output.txt"), trimmed_lines(&output)).map_err(failed)?;
    println!("kept in {}", folder.display());
    Ok(())
}

/// The civil date, `2026-03-01`, some days after 1970-01-01, in the Gregorian calendar.
fn date_of(days: u64) -> String {
    let is_leap =
        |year: u64| year.is_multiple_of(4) && (!year.is_multiple_of(100) || year.is_multiple_of(400));
    let (mut year, mut rest) = (1970, days);
    while rest >= 365 + u64::from(is_leap(year)) {
        rest -= 365 + u64::from(is_leap(year));
        year += 1;
    }
    let february = 28 + u64::from(is_leap(year));
    let mut month = 1;
    for length in [31, february, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31] {
        if rest < length {
            break;
        }
        rest -= length;
        month += 1;
    }
    format!("{year}-{month:02}-{:02}", rest + 1)
}

/// The name of the processor as far as the system tells it.
fn cpu() -> String {
    let linux = fs::read_to_string("/proc/cpuinfo").unwrap_or_default();
    let model =
        linux.lines().find(|line| line.starts_with("model name")).and_then(|line| line.split_once(": "));
    if let Some((_, name)) = model {
        return name.trim().to_owned();
    }
    let windows = std::env::var("PROCESSOR_IDENTIFIER");
    windows.unwrap_or_else(|_| first_line("sysctl", &["-n", "machdep.cpu.brand_string"]))
}

fn folder_name(cpu: &str) -> String {
    let words = cpu.split(|letter: char| !letter.is_ascii_alphanumeric()).filter(|word| !word.is_empty());
    words.take(6).collect::<Vec<_>>().join("-").to_lowercase()
}

fn first_line(program: &str, arguments: &[&str]) -> String {
    let output = Command::new(program).args(arguments).current_dir(process::workspace_root()).output();
    let text = output.map(|output| String::from_utf8_lossy(&output.stdout).into_owned()).unwrap_or_default();
    text.lines().next().map_or_else(|| "unknown".to_owned(), |line| line.trim().to_owned())
}

fn trimmed_lines(text: &str) -> String {
    text.lines().map(|line| format!("{}\n", line.trim_end())).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn days_become_dates() {
        let cases = [
            (0, "1970-01-01"),
            (58, "1970-02-28"),
            (59, "1970-03-01"),
            (789, "1972-02-29"),
            (11_016, "2000-02-29"),
            (19_723, "2024-01-01"),
            (20_453, "2025-12-31"),
        ];
        for (days, date) in cases {
            assert_eq!(date_of(days), date);
        }
    }

    #[test]
    fn folder_names_are_plain() {
        assert_eq!(folder_name("Some(R) CPU @ 2.50GHz"), "some-r-cpu-2-50ghz");
    }
}
