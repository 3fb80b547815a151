//! `kerf demo --class`: the scans of a made-up class of the Quayside Skills Lab, with its roster and a manifest, so that everything
//! about classes can be tried before there is one.

use std::fmt::Write;
use std::path::Path;

use kerfwright_mesh::write_stl_binary;
use kerfwright_phantom::{ScanOptions, quayside_attempt, quayside_scan};
use rayon::prelude::*;

use crate::args::Demo;
use crate::commands::measure::{make_folder, save};

/// Days of the three sessions.
const DAYS: [&str; 3] = ["2026-11-02", "2026-11-09", "2026-11-16"];

/// Writes the class.
pub fn run(arguments: &Demo, n_learners: u32) -> anyhow::Result<()> {
    let folder = &arguments.out;
    make_folder(&folder.join("scans"))?;
    let options = ScanOptions { edge_mm: 0.2, ..quayside_scan() };
    let uncut = quayside_attempt(1, 1).scan(&options);
    save(&folder.join("before.stl"), &write_stl_binary(&uncut.before))?;
    save(&folder.join("opposing.stl"), &write_stl_binary(&uncut.opposing))?;
    let attempts: Vec<(u32, u32)> = (1..=n_learners)
        .flat_map(|learner| (1..=n_attempts(learner, n_learners)).map(move |k| (learner, k)))
        .collect();
    attempts.par_iter().try_for_each(|&(learner, attempt)| {
        let seed = options.seed + u64::from(100 * learner + attempt);
        let scans = quayside_attempt(learner, attempt).scan(&ScanOptions { seed, ..options.clone() });
        save(&folder.join(file(learner, attempt)), &write_stl_binary(&scans.after))
    })?;
    save(&folder.join("roster.csv"), roster(n_learners).as_bytes())?;
    save(&folder.join("manifest.csv"), manifest(&attempts).as_bytes())?;
    println!(
        "Quayside Skills Lab (made up): {} attempts of {n_learners} learners at tooth 26, one uncut tooth, roster and manifest are in {}.",
        attempts.len(),
        folder.display()
    );
    println!("Take the class in: kerf class import {}", shown(folder, "roster.csv"));
    println!("Measure it:        kerf class run {}", shown(folder, "manifest.csv"));
    println!("Look at it:        kerf class report, or kerf serve");
    Ok(())
}

/// The last learner of all came once.
fn n_attempts(learner: u32, n_learners: u32) -> u32 {
    if learner == n_learners && n_learners > 1 { 1 } else { DAYS.len() as u32 }
}

fn file(learner: u32, attempt: u32) -> String {
    format!("scans/QS-{learner:02}_{attempt}.stl")
}

/// Two cohorts, one after the other.
fn roster(n_learners: u32) -> String {
    let mut table = "learner,cohort,title\n".to_owned();
    for learner in 1..=n_learners {
        let (cohort, title) =
            if 2 * learner <= n_learners { ("spring", "Spring course") } else { ("autumn", "Autumn course") };
        // Writing to a string cannot fail.
        let _ = writeln!(table, "QS-{learner:02},{cohort},{title}");
    }
    table
}

fn manifest(attempts: &[(u32, u32)]) -> String {
    let mut table = "after,learner,tooth,before,opposing,exercise,session,date\n".to_owned();
    for &(learner, attempt) in attempts {
        let day = DAYS[attempt as usize - 1];
        // Writing to a string cannot fail.
        let _ = writeln!(
            table,
            "{},QS-{learner:02},26,before.stl,opposing.stl,cast-crown-molar,week-{attempt},{day}",
            file(learner, attempt)
        );
    }
    table
}

fn shown(folder: &Path, name: &str) -> String {
    folder.join(name).display().to_string()
}
