//! `kerf class run`, `kerf watch` and what hangs on them, as a user runs them, on a phantom's scans.

#[allow(dead_code, reason = "other tests write more formats")]
mod files;
mod program;

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use files::scans;
use kerfwright_mesh::write_stl_binary;
use program::{folder, kerf};
use serde_json::Value;

const EXERCISE: &str = "cast-crown-molar";

fn text(path: &Path) -> &str {
    path.to_str().unwrap()
}

/// A lab: scans of learners, their baseline beside, a folder for the data.
struct Lab(PathBuf);

impl Lab {
    fn new(name: &str) -> Self {
        let lab = Self(folder(name));
        fs::create_dir(lab.at("scans")).unwrap();
        fs::write(lab.at("before.stl"), write_stl_binary(&scans().before)).unwrap();
        fs::write(lab.at("opposing.stl"), write_stl_binary(&scans().opposing)).unwrap();
        lab
    }

    fn at(&self, name: &str) -> PathBuf {
        self.0.join(name)
    }

    /// A learner's scan. Each is another file: the first bytes of a binary STL are free.
    fn scan(&self, name: &str, mark: u8) -> Vec<u8> {
        let mut bytes = write_stl_binary(&scans().after);
        bytes[79] = mark;
        fs::write(self.at("scans").join(name), &bytes).unwrap();
        bytes
    }

    fn options(&self) -> Vec<String> {
        let (before, opposing, data) = (self.at("before.stl"), self.at("opposing.stl"), self.at("data"));
        ["--before", text(&before), "--opposing", text(&opposing), "--tooth", "26", "--exercise", EXERCISE]
            .into_iter()
            .chain(["--session", "week-1", "--date", "2026-11-02", "--data", text(&data)])
            .map(str::to_owned)
            .collect()
    }

    fn run(&self, from: &str, more: &[&str]) -> (i32, String, String) {
        let (from, options) = (self.at(from), self.options());
        let options: Vec<&str> = options.iter().map(String::as_str).collect();
        kerf(&[&["class", "run", text(&from)], &options[..], more].concat())
    }

    /// `kerf class` on the lab's data.
    fn class(&self, arguments: &[&str]) -> String {
        let data = self.at("data");
        let (status, out, fault) = kerf(&[&["class"], arguments, &["--data", text(&data)]].concat());
        assert_eq!((status, fault.as_str()), (0, ""), "{arguments:?}");
        out
    }
}

#[test]
fn a_class_is_measured_whatever_one_file_holds_and_only_once() {
    let lab = Lab::new("class-run");
    let first = lab.scan("QS-01_26.stl", 1);
    lab.scan("QS-02_26.stl", 2);
    fs::write(lab.at("scans/QS-03_26.stl"), "no scan at all").unwrap();
    fs::write(lab.at("scans/QS-04_26.stl"), write_stl_binary(&scans().before)).unwrap();
    fs::write(lab.at("scans/notes.txt"), "not asked for").unwrap();
    let (status, out, progress) = lab.run("scans", &[]);
    assert_eq!(status, 1, "{out}");
    assert!(out.starts_with("2 measured, 0 kept already, 2 failed"), "{out}");
    assert!(out.contains("  QS-03_26.stl: ") && out.contains("QS-04_26.stl"), "{out}");
    assert_eq!(progress.lines().count(), 4, "{progress}");
    assert!(progress.lines().any(|line| line.contains(" left")), "{progress}");

    // Again, with a file twice under another name: nothing is measured.
    fs::write(lab.at("scans/QS-01_again.stl"), &first).unwrap();
    let (_, out, _) = lab.run("scans", &["--quiet"]);
    assert!(out.starts_with("0 measured, 3 kept already, 2 failed"), "{out}");

    // The document is the one of kerf measure, byte for byte, on any number of threads.
    let (json, bundle) = (lab.at("measured.json"), lab.at("attempt.zip"));
    let (after, before, opposing) =
        (lab.at("scans/QS-01_26.stl"), lab.at("before.stl"), lab.at("opposing.stl"));
    let measured = kerf(&[
        "measure",
        text(&after),
        "--before",
        text(&before),
        "--opposing",
        text(&opposing),
        "--tooth",
        "26",
        "--json",
        text(&json),
        "--quiet",
    ]);
    assert_eq!(measured.0, 0, "{}", measured.2);
    let list = lab.class(&["list", "attempts"]);
    let line = list.lines().find(|line| line.contains("QS-01")).unwrap();
    assert!(line.contains("2026-11-02") && line.contains("week-1") && line.contains("done"), "{line}");
    let number = line.split_whitespace().next().unwrap();
    lab.class(&["export", "attempt", number, "--to", text(&bundle)]);
    let (_, files) = kerfwright_exchange::bundle::read(&fs::read(&bundle).unwrap()).unwrap();
    assert_eq!(files["document-1.json"], fs::read(&json).unwrap());
    assert_eq!(files["after.scan"], first);

    // Another copy opens it.
    let other = lab.at("other");
    let (status, out, fault) = kerf(&["class", "open", text(&bundle), "--data", text(&other)]);
    assert_eq!((status, fault.as_str()), (0, ""), "{out}");
    let (_, list, _) = kerf(&["class", "list", "attempts", "--data", text(&other)]);
    assert!(list.contains("QS-01") && list.contains("done"), "{list}");

    exports(&lab);
    reports(&lab);
    calibrates(&lab);
    copied(&lab);
    gone(&lab);
}

/// Two attempts with known readings, one of them twice.
fn calibrates(lab: &Lab) {
    let wish = ["calibrate", "propose", "--exercise", EXERCISE, "--n", "2", "--seed", "7"];
    let proposal = lab.class(&wish);
    assert!(proposal.starts_with("2 of 2 attempts with known readings"), "{proposal}");
    assert!(proposal.contains("Nothing is set up"), "{proposal}");
    let more = ["--repeats", "1", "--gap", "2", "--title", "Known", "--examiner", "QS-E1,QS-E2"];
    let set_up = lab.class(&[&wish[..], &more[..]].concat());
    assert!(
        set_up.starts_with(proposal.split("\n\nNothing").next().unwrap()),
        "the same is proposed: {set_up}"
    );
    let results = lab.class(&["calibrate", "results", "Known"]);
    assert!(results.contains("Still grading: QS-E1, QS-E2."), "{results}");
    let data = lab.at("data");
    let (status, _, fault) = kerf(&["class", "calibrate", "results", "Other", "--data", text(&data)]);
    assert!(status == 2 && fault.contains("no calibration is called `Other`"), "{fault}");
}

/// Everything in another folder, and nothing over anything.
fn copied(lab: &Lab) {
    let copy = lab.at("copy");
    let told = lab.class(&["copy", "--to", text(&copy), "--quiet"]);
    assert!(told.contains("and checked: 3 attempts"), "{told}");
    let (_, list, _) = kerf(&["class", "list", "attempts", "--data", text(&copy)]);
    assert_eq!(list, lab.class(&["list", "attempts"]));
    let data = lab.at("data");
    let (status, _, fault) = kerf(&["class", "copy", "--to", text(&copy), "--data", text(&data)]);
    assert!(status == 2 && fault.contains("holds learners already"), "{fault}");
}

/// Tables with their dictionaries.
fn exports(lab: &Lab) {
    let (grades, readings, parquet) =
        (lab.at("grades.csv"), lab.at("readings.csv"), lab.at("readings.parquet"));
    lab.class(&["export", "grades", "--to", text(&grades)]);
    let csv = fs::read_to_string(&grades).unwrap();
    assert!(
        csv.starts_with("learner,name,roster_id,exercise,stage,attempt,date,grade_pct,outcome,"),
        "{csv}"
    );
    assert_eq!(csv.lines().count(), 3, "{csv}");
    assert!(csv.lines().nth(1).unwrap().starts_with("QS-01,,,cast-crown-molar,final,"), "{csv}");
    lab.class(&["export", "readings", "--to", text(&readings)]);
    let csv = fs::read_to_string(&readings).unwrap();
    let heading = csv.lines().next().unwrap();
    let dictionary = fs::read_to_string(lab.at("readings.dictionary.csv")).unwrap();
    let explained: Vec<&str> = dictionary.lines().skip(1).filter_map(|line| line.split(',').next()).collect();
    assert_eq!(heading.split(',').collect::<Vec<_>>(), explained, "every column is explained");
    lab.class(&["export", "readings", "--to", text(&parquet)]);
    assert_eq!(&fs::read(&parquet).unwrap()[..4], b"PAR1");
}

/// The report on the class.
fn reports(lab: &Lab) {
    let (json, csv, svg) = (lab.at("report.json"), lab.at("report.csv"), lab.at("plots"));
    let out = lab.class(&[
        "report",
        "--learner",
        "QS-01",
        "--json",
        text(&json),
        "--csv",
        text(&csv),
        "--svg",
        text(&svg),
    ]);
    assert!(out.contains("QS-01 over 1 attempts"), "{out}");
    let reports: Value = serde_json::from_slice(&fs::read(&json).unwrap()).unwrap();
    let report = &reports[0];
    assert_eq!((&report["exercise"], &report["n_learners"]), (&EXERCISE.into(), &1.into()));
    assert!(
        report["items"]["Refused"].is_object() || report["items"]["reason"].is_string(),
        "{}",
        report["items"]
    );
    assert!(fs::read_to_string(&csv).unwrap().lines().count() > 10);
    for what in ["readings", "places", "learner"] {
        let plot = fs::read_to_string(svg.join(format!("{EXERCISE}-final-{what}.svg"))).unwrap();
        assert!(plot.starts_with("<svg") && plot.ends_with("</svg>\n"), "{what}");
    }
}

/// Backup, then deletion.
fn gone(lab: &Lab) {
    let backup = lab.at("backup");
    // The scan that QS-04 handed in uncut is the one before cutting: the same bytes are kept once.
    assert!(
        lab.class(&["backup", text(&backup)]).contains("3 attempts, 4 scans"),
        "{}",
        lab.class(&["check"])
    );
    let data = lab.at("data");
    let (status, _, fault) = kerf(&["class", "delete", "learner", "QS-01", "--data", text(&data)]);
    assert_eq!(status, 2);
    assert!(fault.contains("--yes"), "{fault}");
    let out = lab.class(&["delete", "learner", "QS-01", "--yes"]);
    assert!(out.starts_with("Gone: 1 learners, 1 attempts, 1 scans."), "{out}");
    assert!(!lab.class(&["list", "attempts"]).contains("QS-01"));
    let restored = lab.at("restored");
    let (status, out, fault) = kerf(&["class", "restore", text(&backup), "--to", text(&restored)]);
    assert_eq!((status, fault.as_str()), (0, ""), "{out}");
    let (_, list, _) = kerf(&["class", "list", "attempts", "--data", text(&restored)]);
    assert!(list.contains("QS-01"), "{list}");
}

fn start(lab: &Lab, arguments: &[&str]) -> Child {
    let options = lab.options();
    Command::new(env!("CARGO_BIN_EXE_kerf"))
        .args(arguments)
        .args(options)
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap()
}

#[test]
fn a_run_that_was_killed_goes_on_where_it_was() {
    let lab = Lab::new("class-killed");
    for number in 1..=4 {
        lab.scan(&format!("QS-0{number}_26.stl"), number);
    }
    let scans = lab.at("scans");
    let mut child = start(&lab, &["class", "run", text(&scans), "--workers", "1"]);
    // As soon as the first is kept.
    let begun = Instant::now();
    while begun.elapsed() < Duration::from_secs(120) {
        std::thread::sleep(Duration::from_millis(50));
        let data = lab.at("data");
        if data.join("kerfwright.sqlite").exists() && kept(&lab) >= 1 {
            break;
        }
    }
    child.kill().unwrap();
    child.wait().unwrap();
    let before = kept(&lab);
    assert!((1..4).contains(&before), "{before} were kept when it was killed");
    lab.class(&["check"]);
    let (status, out, _) = lab.run("scans", &["--quiet"]);
    assert_eq!(status, 0, "{out}");
    assert!(out.starts_with(&format!("{} measured, {before} kept already, 0 failed", 4 - before)), "{out}");
    assert_eq!(kept(&lab), 4);
}

/// Attempts that are kept.
fn kept(lab: &Lab) -> usize {
    let data = lab.at("data");
    let (_, list, _) = kerf(&["class", "list", "attempts", "--data", text(&data)]);
    list.lines().filter(|line| line.contains("done")).count()
}

#[test]
fn a_watched_folder_waits_for_whole_files_and_takes_each_once() {
    let lab = Lab::new("class-watched");
    let whole = lab.scan("QS-01_26.stl", 1);
    let scans = lab.at("scans");
    let child = start(&lab, &["watch", text(&scans), "--idle", "6"]);
    // A file that is written slowly, and the first one again under another name.
    let slow = lab.at("scans/QS-02_26.stl");
    let mut second = whole.clone();
    second[79] = 2;
    for part in 1..=5 {
        fs::write(&slow, &second[..second.len() * part / 5]).unwrap();
        std::thread::sleep(Duration::from_millis(400));
    }
    fs::write(lab.at("scans/QS-01_copy.stl"), &whole).unwrap();
    let output = child.wait_with_output().unwrap();
    let out = String::from_utf8(output.stdout).unwrap();
    let told = |name: &str, what: &str| {
        out.lines().filter(|line| line.contains(name) && line.ends_with(what)).count()
    };
    assert_eq!([told("QS-01_26", ": measured"), told("QS-02_26", ": measured")], [1, 1], "{out}");
    assert_eq!(told("QS-01_copy", ": kept already"), 1, "{out}");
    assert_eq!(out.lines().count(), 3, "{out}");
    assert_eq!(kept(&lab), 2);
}

#[test]
fn a_manifest_names_what_differs_and_its_slips_are_told_by_line() {
    let lab = Lab::new("class-manifest");
    lab.scan("one.stl", 1);
    fs::write(
        lab.at("list.csv"),
        "after,learner,tooth\nscans/one.stl,QS-01,26\nscans/missing.stl,QS-02,26\n",
    )
    .unwrap();
    let (status, out, _) = lab.run("list.csv", &["--quiet"]);
    assert_eq!(status, 1);
    assert!(out.starts_with("1 measured, 0 kept already, 1 failed"), "{out}");
    assert!(out.contains("missing.stl: cannot be read"), "{out}");
    fs::write(lab.at("list.csv"), "after,learner\n,QS-01\nscans/one.stl\n").unwrap();
    let (status, _, fault) = lab.run("list.csv", &["--quiet"]);
    assert_eq!(status, 2);
    assert!(
        fault.contains("list.csv: line 2: after is empty") && fault.contains("list.csv: line 3: "),
        "{fault}"
    );
}

/// The first scan takes longest: it has the most to read, and its neighbours are refused at once.
#[test]
fn attempts_are_numbered_as_they_were_asked_for_on_any_number_of_workers() {
    let lab = Lab::new("class-numbers");
    for (name, mark) in [("QS-01_26.stl", 1), ("QS-04_26.stl", 4), ("QS-06_26.stl", 6)] {
        lab.scan(name, mark);
    }
    for (name, mark) in [("QS-02_26.stl", 2), ("QS-03_26.stl", 3), ("QS-05_26.stl", 5)] {
        let mut uncut = write_stl_binary(&scans().before);
        uncut[79] = mark;
        fs::write(lab.at("scans").join(name), uncut).unwrap();
    }
    let (from, options) = (lab.at("scans"), lab.options());
    let numbered = |data: &str, workers: &str| {
        let data = lab.at(data);
        let mut asked: Vec<&str> = vec!["class", "run", text(&from), "--quiet", "--workers", workers];
        asked.extend(options.iter().map(String::as_str).take(options.len() - 1));
        asked.push(text(&data));
        assert_eq!(kerf(&asked).0, 1);
        let (_, list, _) = kerf(&["class", "list", "attempts", "--data", text(&data)]);
        let of = |line: &str| line.split_whitespace().take(3).map(str::to_owned).collect::<Vec<String>>();
        list.lines().skip(1).map(of).collect::<Vec<_>>()
    };
    let alone = numbered("data-1", "1");
    assert_eq!(alone.len(), 6);
    for (place, row) in alone.iter().enumerate() {
        assert_eq!([&row[0], &row[2]], [&format!("{}", place + 1), &format!("QS-{:02}", place + 1)]);
    }
    assert_eq!(numbered("data-4", "4"), alone);
}

#[test]
fn a_roster_with_a_fault_takes_nothing_in() {
    let lab = Lab::new("class-roster");
    fs::write(lab.at("roster.csv"), "learner,cohort,name\nQS-01,spring,Wilhelmina Tide\n,spring,\n").unwrap();
    let (data, roster) = (lab.at("data"), lab.at("roster.csv"));
    let (status, _, fault) = kerf(&["class", "import", text(&roster), "--data", text(&data)]);
    assert_eq!(status, 2);
    assert!(fault.contains("nothing was taken in") && fault.contains("roster.csv: line 3: "), "{fault}");
    assert!(!lab.class(&["list", "learners"]).contains("QS-01"));
    fs::write(&roster, "learner,cohort,name\nQS-01,spring,Wilhelmina Tide\nQS-02,spring,\n").unwrap();
    let trial = lab.class(&["import", text(&roster), "--dry-run"]);
    assert!(trial.starts_with("2 learners new") && trial.contains("new: QS-02"), "{trial}");
    assert!(!lab.class(&["list", "learners"]).contains("QS-01"), "a trial keeps nothing");
    assert!(lab.class(&["import", text(&roster)]).starts_with("2 learners new"), "names left out");
    assert!(!lab.class(&["list", "learners", "--names"]).contains("Wilhelmina"));
    lab.class(&["import", text(&roster), "--names"]);
    assert!(lab.class(&["list", "learners", "--names"]).contains("Wilhelmina"));
    lab.class(&["session", "week-1", "--cohort", "spring", "--instructor", "QS-I1", "--held", "2026-11-02"]);
    assert!(lab.class(&["list", "sessions"]).contains("QS-I1"));
}
