//! `kerf class agree` as a user runs it.

mod program;

use std::path::PathBuf;

use program::{folder, kerf};

fn agree(arguments: &[&str]) -> (i32, String, String) {
    kerf(&[&["class", "agree"], arguments].concat())
}

fn file(name: &str, text: &[u8]) -> PathBuf {
    let path = folder(&format!("class-{name}")).join(name);
    std::fs::write(&path, text).unwrap();
    path
}

/// The six targets and four judges of `docs/sources.md#shrout-and-fleiss-1979`.
fn targets() -> String {
    let rows = [[9, 2, 5, 8], [6, 1, 3, 2], [8, 4, 6, 8], [7, 1, 2, 6], [10, 5, 6, 9], [6, 2, 4, 7]];
    let mut text = String::from("examiner,attempt,criterion,value\n");
    for (attempt, row) in rows.iter().enumerate() {
        for (examiner, value) in row.iter().enumerate() {
            text += &format!("E{},Q{},finish line,{value}\n", examiner + 1, attempt + 1);
        }
    }
    text
}

#[test]
fn a_published_example_comes_out_of_the_command_line() {
    let path = file("targets.csv", targets().as_bytes());
    let json = path.with_extension("json");
    let (status, out, fault) = agree(&[path.to_str().unwrap(), "--json", json.to_str().unwrap()]);
    assert_eq!((status, fault.as_str()), (0, ""));
    assert!(
        out.starts_with("finish line: 6 attempts, 6 of them rated by all examiners (E1, E2, E3, E4)"),
        "{out}"
    );
    let value = |name: &str| -> f64 {
        let line = out.lines().find(|line| line.trim_start().starts_with(name)).unwrap();
        line[name.len() + line.find(name).unwrap()..]
            .split_whitespace()
            .find_map(|word| word.parse().ok())
            .unwrap()
    };
    for (model, printed) in [
        ("ICC(1,1), one-way random, single rating", 0.17),
        ("ICC(2,1), two-way random, absolute agreement, single rating", 0.29),
        ("ICC(3,1), two-way mixed, consistency, single rating", 0.71),
        ("ICC(3,k), two-way mixed, consistency, mean of k ratings", 0.91),
    ] {
        // Half of the last printed digit, and half of the last one shown.
        assert!((value(model) - printed).abs() <= 0.0055, "{model}: {out}");
    }
    assert!(!out.contains("-0.000"), "{out}");
    let written: serde_json::Value = serde_json::from_slice(&std::fs::read(json).unwrap()).unwrap();
    assert_eq!(written["schema"], "kerfwright-agreement-1");
    let icc = written["criteria"][0]["iccs"][1]["value"].as_f64().unwrap();
    assert!((icc - 0.28976).abs() < 0.5e-5);
}

#[test]
fn examiners_are_held_against_what_was_measured() {
    // Judge 4 of the published example stands for the measuring: differences of the first are 1, 4, 0, 1, 1, −1.
    let path = file("measured.csv", targets().as_bytes());
    let path = path.to_str().unwrap();
    let (status, out, fault) = agree(&[path, "--measured-by", "E4"]);
    assert_eq!((status, fault.as_str()), (0, ""));
    assert!(
        out.starts_with("finish line: 6 attempts, 6 of them rated by all examiners (E1, E2, E3)"),
        "{out}"
    );
    let line = out.lines().find(|line| line.contains("E1 less what was measured, mean")).unwrap();
    // Mean 1, standard deviation √2.8; Student's t at 97.5 % with five degrees of freedom is 2.5706.
    let reach = 2.5706 * (2.8_f64 / 6.0).sqrt();
    assert!(
        line.contains("1.000") && line.contains(&format!("{:.2} to {:.2}", 1.0 - reach, 1.0 + reach)),
        "{line}"
    );
    let limit = 1.0 + 1.96 * 2.8_f64.sqrt();
    let line = out.lines().find(|line| line.contains("E1 less what was measured, upper limit")).unwrap();
    assert!(line.contains(&format!("{limit:.3}")), "{line}");
    let (status, _, fault) = agree(&[path, "--measured-by", "E9"]);
    assert!(status == 2 && fault.contains("no line of") && fault.contains("has `E9`"), "{fault}");
}

#[test]
fn too_few_attempts_are_said_so() {
    let few: String = targets().lines().take(9).map(|line| line.to_owned() + "\n").collect();
    let (status, out, _) = agree(&[file("few.csv", few.as_bytes()).to_str().unwrap()]);
    assert_eq!(status, 0);
    assert!(out.contains("–  2 attempts that all examiners rated, 3 needed"), "{out}");
}

#[test]
fn faults_name_file_line_and_fault() {
    for (name, text, expected) in [
        (
            "no-number.csv",
            targets().replacen(",5\n", ",five\n", 1).into_bytes(),
            "line 4: value `five` is not a number",
        ),
        ("no-column.csv", targets().replacen("value", "points", 1).into_bytes(), "line 1: no column `value`"),
        ("twice.csv", (targets() + "E1,Q1,finish line,8\n").into_bytes(), "line 26: the same examiner"),
        (
            "other-letters.csv",
            b"examiner,attempt,criterion,value\nE\xfc,Q1,x,1\n".to_vec(),
            "line 2: is no UTF-8",
        ),
        ("heading.csv", b"examiner,attempt,criterion,value\n".to_vec(), "holds no rating"),
    ] {
        let path = file(name, &text);
        let (status, out, fault) = agree(&[path.to_str().unwrap()]);
        let expected = format!("kerf: {}: {expected}", path.display());
        assert!(status == 2 && out.is_empty() && fault.starts_with(&expected), "{fault}");
        assert_eq!(fault.lines().count(), 1, "{fault}");
    }
    let path = file("criterion.csv", targets().as_bytes());
    let (status, _, fault) = agree(&[path.to_str().unwrap(), "--criterion", "depth"]);
    assert!(status == 2 && fault.contains("has no `depth`; it has finish line"), "{fault}");
    let (status, _, fault) = agree(&[path.to_str().unwrap(), "--confidence", "95"]);
    assert!(status == 2 && fault.contains("95 is not a confidence between 0 and 1"), "{fault}");
}
