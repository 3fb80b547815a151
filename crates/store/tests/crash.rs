//! A program that is killed at any moment loses nothing that was acknowledged and leaves nothing half done.
//!
//! The child is this same program: it keeps one thing after the other and says so, line by line, once a call has come back. The
//! test kills it and looks at the folder. Killing a program leaves what the system holds in memory; a power cut is beyond this test
//! (the store brings everything onto the disk before it acknowledges).

mod common;

use std::collections::BTreeSet;
use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Duration;

use common::{attempt, class, hash, keep_scan};
use kerfwright_exchange::{Roster, RosterCohort, RosterLearner};
use kerfwright_store::{Chosen, Store};

/// The folder in which the child works.
const CHILD: &str = "KERF_CRASH_CHILD";
/// Learners of each roster that the child takes in.
const ROSTER: usize = 40;
/// Times that a child is killed.
const KILLS: u64 = 24;

fn scan_bytes(number: u32) -> Vec<u8> {
    format!("scan {number} ").repeat(40_000).into_bytes()
}

/// Says what was acknowledged.
fn say(what: &str) {
    println!("kept {what}");
}

/// What the child does until it is killed. Without the variable there is nothing to do.
#[tokio::test]
async fn child() {
    let Some(folder) = std::env::var_os(CHILD) else { return };
    let (store, exercise) = class(Path::new(&folder)).await;
    let begun = store.class_attempts(&Chosen::default()).await.unwrap().len() as u32;
    for number in begun.. {
        let bytes = scan_bytes(number);
        let scan = keep_scan(&store, &format!("{number}.stl"), &bytes).await;
        say(&format!("scan {scan}"));
        let new = attempt("QS-01", &scan, &exercise, f64::from(number));
        store.keep_measured(&new).await.unwrap();
        say(&format!("attempt {}", new.identity));
        let cohort = format!("cohort-{number}");
        let learner = |n: usize| RosterLearner { code: Some(format!("{cohort}-{n}")), ..Default::default() };
        let roster = Roster {
            learners: (0..ROSTER).map(learner).collect(),
            cohorts: vec![RosterCohort { code: cohort.clone(), title: cohort.clone(), roster_id: None }],
            members: (0..ROSTER).map(|n| (0, n)).collect(),
            leaving: Vec::new(),
        };
        store.take_roster(&roster, &common::OPTIONS).await.unwrap();
        say(&format!("cohort {cohort}"));
        if number % 3 == 2 {
            store.delete_cohort(&cohort, "QS-D1").await.unwrap();
            say(&format!("gone {cohort}"));
        }
    }
}

/// Starts the child, kills it after a while, and gives what it said.
fn run_and_kill(folder: &Path, after: Duration) -> Vec<String> {
    let mut child = Command::new(std::env::current_exe().unwrap())
        .args(["child", "--exact", "--nocapture", "--test-threads=1"])
        .env(CHILD, folder)
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let out = BufReader::new(child.stdout.take().unwrap());
    let said = std::thread::spawn(move || out.lines().map_while(Result::ok).collect::<Vec<String>>());
    std::thread::sleep(after);
    child.kill().unwrap();
    child.wait().unwrap();
    said.join().unwrap().iter().filter_map(|line| Some(line.split_once("kept ")?.1.to_owned())).collect()
}

#[tokio::test]
async fn what_was_acknowledged_survives_being_killed() {
    let folder = tempfile::tempdir().unwrap();
    let mut said = BTreeSet::new();
    for round in 0..KILLS {
        // From the opening of the store to the middle of its work, never at the same point.
        let after = Duration::from_millis(30 + round * 37 % 400);
        said.extend(run_and_kill(folder.path(), after));
        look(folder.path(), &said).await;
    }
    let count = |what: &str| said.iter().filter(|line| line.starts_with(what)).count();
    assert!(
        count("scan") >= 10 && count("attempt") >= 10 && count("gone") >= 2,
        "the child hardly came to anything: {said:?}"
    );
}

/// Everything that was said is there, and what is there is whole.
async fn look(folder: &Path, said: &BTreeSet<String>) {
    let store = Store::open(folder).await.unwrap();
    store.check().await.unwrap();
    for line in said {
        let (what, id) = line.split_once(' ').unwrap();
        match what {
            "scan" => assert_eq!(hash(&store.scan_bytes(id).await.unwrap().unwrap()), id),
            "attempt" => assert!(store.settled(id, common::VERSION).await.unwrap().is_some(), "{line}"),
            "gone" => assert!(store.members(id).await.unwrap().is_empty(), "{line}"),
            _ => {
                let n = store.members(id).await.unwrap().len();
                let is_gone = n == 0 && id.rsplit('-').next().unwrap().parse::<u32>().unwrap() % 3 == 2;
                assert!(n == ROSTER || is_gone, "{line}: {n} members");
            }
        }
    }
    // Nothing half done: an attempt has its document, rows and grade; a cohort all its learners.
    for attempt in store.class_attempts(&Chosen::default()).await.unwrap() {
        assert_eq!(attempt.state, "done");
        assert!(store.document(&attempt.id).await.unwrap().is_some());
        assert_eq!(store.grades(&attempt.id).await.unwrap().len(), 1);
    }
    let n_rows = store.class_readings(&Chosen::default(), None).await.unwrap().len();
    assert_eq!(n_rows, 5 * store.class_attempts(&Chosen::default()).await.unwrap().len());
    for cohort in store.cohorts().await.unwrap().iter().filter(|cohort| cohort.code.starts_with("cohort-")) {
        assert_eq!(cohort.n_learners as usize, ROSTER, "{}", cohort.code);
    }
    store.close().await;
}
