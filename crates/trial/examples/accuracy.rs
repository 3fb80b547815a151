//! The trial behind `cargo xtask accuracy`: what it finds on the standard output, how far it is on the other.
//!
//! Without an option the whole page; `--few` compares the small part with the kept table; `--keep` prints that anew.

use std::process::ExitCode;

use kerfwright_trial::batch::{FEW, Plan, WHOLE};
use kerfwright_trial::{kept, page, statistics};

fn main() -> ExitCode {
    let option = std::env::args().nth(1);
    let run = |plan: &Plan| {
        eprintln!("{} sets of scans", plan.n_scans());
        plan.run(|name| eprintln!("  {name}"))
    };
    match option.as_deref() {
        None => print!("{}", page::page(&WHOLE, &run(&WHOLE))),
        Some("--keep") => print!("{}", kept::text(&run(&FEW))),
        Some("--few") => {
            let trials = run(&FEW);
            println!("{}", page::table(&statistics::summaries(&trials)));
            return judge(&trials);
        }
        Some("--few-page") => print!("{}", page::page(&FEW, &run(&FEW))),
        Some(other) => {
            eprintln!("no option {other}: none, --few, --few-page or --keep");
            return ExitCode::from(2);
        }
    }
    ExitCode::SUCCESS
}

fn judge(trials: &[kerfwright_trial::batch::Trial]) -> ExitCode {
    let kept = match kept::parse(kept::KEPT) {
        Ok(kept) => kept,
        Err(error) => {
            eprintln!("the kept table cannot be read: {error}");
            return ExitCode::FAILURE;
        }
    };
    let worse = kept::worse(&kept, trials);
    worse.iter().for_each(|line| eprintln!("worse: {line}"));
    let not_held = kept::not_held(&kept, trials);
    if !not_held.is_empty() {
        eprintln!("not held yet (cargo xtask accuracy --keep): {}", not_held.join(", "));
    }
    if worse.is_empty() { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}
