//! `kerf kit` as a user runs it.

mod program;

use program::{folder, kerf};

fn run(arguments: &[&str]) -> (i32, String, String) {
    kerf(&[&["kit"], arguments].concat())
}

#[test]
fn the_shipped_kit_is_listed_and_shown() {
    let (status, out, _) = run(&["list"]);
    assert!(status == 0 && out.contains("quayside"), "{out}");
    let (status, out, _) = run(&["show", "quayside"]);
    assert!(
        status == 0 && out.contains("taper-round-016") && out.contains("bars of 0.5, 1.0, 1.5, 2.0 mm"),
        "{out}"
    );
    let (status, out, _) = run(&["show", "quayside", "--instrument", "cylinder-round-010"]);
    assert!(status == 0 && out.contains("chamfer up to 0.50 mm") && out.contains("0.50 mm deep"), "{out}");
}

#[test]
fn a_copy_is_in_order_and_its_slips_are_told_by_line() {
    let copy = folder("kit-copy").join("own.toml");
    let path = copy.to_str().unwrap();
    assert_eq!(run(&["copy", "quayside", "--to", path]).0, 0);
    let (status, out, _) = run(&["check", path]);
    assert!(status == 0 && out.contains("in order"), "{out}");
    let (status, _, fault) = run(&["copy", "quayside", "--to", path]);
    assert!(status == 2 && fault.contains("is there already"), "{fault}");
    let text = std::fs::read_to_string(&copy).unwrap();
    assert!(text.contains("name = \"own\""));
    std::fs::write(&copy, text.replacen("nose_mm", "noze_mm", 1)).unwrap();
    let line = 1 + text.lines().position(|line| line.starts_with("nose_mm")).unwrap();
    let (status, out, _) = run(&["check", path]);
    assert!(status == 1 && out.starts_with(&format!("{path}:{line}: ")) && out.lines().count() == 1, "{out}");
    let (status, _, fault) = run(&["show", path]);
    assert!(
        status == 2 && fault.lines().count() == 1 && fault.contains("did you mean `nose_mm`?"),
        "{fault}"
    );
    std::fs::write(&copy, text.replacen("806 314 289", "806 314 198", 1)).unwrap();
    let (status, out, _) = run(&["check", path]);
    assert!(status == 0 && out.contains("doubtful: ") && out.contains("can be used"), "{out}");
}

#[test]
fn wear_is_shown_from_a_log() {
    let log = folder("kit-log").join("log.json");
    std::fs::write(
        &log,
        r#"{"entry": [{"instrument": "needle-010", "uses": 10}, {"instrument": "lost", "uses": 1}]}"#,
    )
    .unwrap();
    let (status, out, _) = run(&["show", "quayside", "--log", log.to_str().unwrap()]);
    assert!(status == 0 && out.contains("RETIRE: used 10 times") && out.contains("`lost`"), "{out}");
}

#[test]
fn what_cannot_be_done_is_said_in_one_line() {
    let empty = folder("kit-wrong").join("empty.toml");
    std::fs::write(&empty, "").unwrap();
    for (arguments, says) in [
        (vec!["show", "quaysid"], "did you mean `quayside`?"),
        (vec!["show", "zzz"], "kerf kit list"),
        (vec!["show", "absent.toml"], "cannot be read"),
        (vec!["show", "quayside", "--instrument", "taper-rond-016"], "did you mean `taper-round-016`?"),
        (vec!["show", empty.to_str().unwrap()], "is missing"),
        (vec!["check"], "required"),
    ] {
        let (status, out, fault) = run(&arguments);
        assert!(
            status == 2 && out.is_empty() && fault.lines().count() == 1 && fault.contains(says),
            "{arguments:?}: {fault}"
        );
    }
}
