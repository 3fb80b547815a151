//! One exercise walked from its first stage to its last, as a learner's scans come, by both rubrics that schools use: a critical error
//! fails the whole, or points alone add up. Then scans that went wrong.

mod program;

use std::path::{Path, PathBuf};

use kerfwright_mesh::{Mesh, write_stl_binary};
use kerfwright_phantom::{ByAspect, Coverage, OcclusalReduction, Phantom, ScanOptions, Spec};
use program::{folder, kerf};
use serde_json::{Value, json};

/// The two rubrics, by what a critical error does.
const RUBRICS: [&str; 2] = ["fails", "counts"];

/// The shipped exercise with a rubric of the school's own.
fn exercise(folder: &Path, critical_error: &str) -> PathBuf {
    let path = folder.join(format!("{critical_error}.toml"));
    let text = format!(
        "schema = \"kerfwright-exercise-1\"\nname = \"walk-{critical_error}\"\ntitle = \"Walk\"\n\
         base = \"cast-crown-molar\"\nteeth = [26]\n\n\
         [scoring]\ncritical_error = \"{critical_error}\"\npass_pct = 60\n"
    );
    std::fs::write(&path, text).unwrap();
    path
}

#[derive(Clone)]
struct Scans {
    after: String,
    before: String,
    opposing: String,
}

fn scans(folder: &Path, name: &str, spec: &Spec) -> Scans {
    let scans = Phantom::new(spec).scan(&ScanOptions { seed: 5, ..ScanOptions::default() });
    let write = |what: &str, mesh: &Mesh| {
        let path = folder.join(format!("{name}-{what}.stl"));
        std::fs::write(&path, write_stl_binary(mesh)).unwrap();
        path.to_str().unwrap().to_owned()
    };
    Scans {
        after: write("after", &scans.after),
        before: write("before", &scans.before),
        opposing: write("opposing", &scans.opposing),
    }
}

/// Measured for a stage of an exercise: where the document lies, or what was said.
fn measured(scans: &Scans, exercise: &Path, stage: &str) -> Result<String, String> {
    let path = scans.after.replace("-after.stl", &format!("-{stage}.json"));
    let (status, _, fault) = kerf(&[
        "measure",
        &scans.after,
        "--before",
        &scans.before,
        "--opposing",
        &scans.opposing,
        "--tooth",
        "26",
        "--exercise",
        exercise.to_str().unwrap(),
        "--stage",
        stage,
        "--json",
        &path,
        "--quiet",
    ]);
    if status < 2 { Ok(path) } else { Err(fault) }
}

/// Exit status, what was printed, and the grade as it was written.
fn graded(document: &str, exercise: &Path, stage: &str) -> (i32, String, Value) {
    let path = document.replace(".json", "-grade.json");
    let exercise = exercise.to_str().unwrap();
    let start = ["grade", document, "--exercise", exercise, "--stage", stage];
    let (status, out, fault) =
        kerf(&[&start[..], &["--advice", "--kit", "quayside", "--json", &path]].concat());
    assert!(fault.is_empty(), "{fault}");
    (status, out, serde_json::from_slice(&std::fs::read(path).unwrap()).unwrap())
}

const INTERIM: OcclusalReduction =
    OcclusalReduction { functional_mm: 1.2, nonfunctional_mm: 0.8, groove_mm: 0.8 };

/// As the exercise wants it in the end.
fn good() -> Spec {
    Spec {
        taper_deg: ByAspect::all(6.5),
        width_mm: ByAspect::all(0.5),
        occlusal: OcclusalReduction { functional_mm: 1.6, nonfunctional_mm: 1.1, groove_mm: 1.1 },
        line_angle_radius_mm: 0.5,
        ..Spec::default()
    }
}

/// After occlusal reduction, after facial and lingual reduction, after the contacts were broken.
fn first() -> Spec {
    Spec { coverage: Coverage::TopAlone, occlusal: INTERIM, ..good() }
}

fn second() -> Spec {
    let coverage = Coverage::ContactsStanding { within_mm: 3.6 };
    Spec { coverage, ..third() }
}

fn third() -> Spec {
    Spec { occlusal: INTERIM, width_mm: ByAspect::all(0.4), ..good() }
}

#[test]
fn good_work_passes_every_stage_by_either_rubric() {
    let folder = folder("rubrics-good");
    let rubrics = RUBRICS.map(|rubric| exercise(&folder, rubric));
    let [first, second, third, good] =
        [("first", first()), ("second", second()), ("third", third()), ("good", good())]
            .map(|(name, spec)| scans(&folder, name, &spec));
    for (scans, stage) in [
        (&first, "occlusal"),
        (&second, "axial"),
        (&third, "contact"),
        (&third, "taper"),
        (&good, "finish-line"),
        (&good, "edges"),
        (&good, "final"),
    ] {
        let document = measured(scans, &rubrics[0], stage).unwrap_or_else(|fault| panic!("{stage}: {fault}"));
        for rubric in &rubrics {
            let (status, out, grade) = graded(&document, rubric, stage);
            let computed = &grade["computed"];
            assert_eq!(
                (&computed["outcome"], &computed["critical_errors"]),
                (&json!("passed"), &json!([])),
                "{out}"
            );
            // In the end this short crown lacks height for its width, and nothing else is amiss.
            let is_last = stage == "final";
            assert_eq!(status, i32::from(is_last), "{stage}: {out}");
            assert!(out.contains(if is_last { "low for its width" } else { "Result, passed: " }), "{out}");
            assert!(is_last || computed["pct"] == json!(100.0), "{stage}: {out}");
            assert!(!out.contains("Beyond recall:"), "{stage}: {out}");
        }
    }
}

/// The neighbour cut by more than half a millimetre, and walls that overhang: critical errors with enough points to pass without them.
#[test]
fn critical_errors_fail_the_whole_or_count_by_their_points() {
    let folder = folder("rubrics-critical");
    let rubrics = RUBRICS.map(|rubric| exercise(&folder, rubric));
    let taper_deg = ByAspect { mesial: -9.0, distal: -2.0, ..ByAspect::all(6.5) };
    let scans = scans(&folder, "wrong", &Spec { nick_distal_mm: 0.59, taper_deg, ..good() });
    let document = measured(&scans, &rubrics[0], "final").unwrap();
    let [(failed, fails, strict), (counted, counts, lenient)] =
        rubrics.each_ref().map(|rubric| graded(&document, rubric, "final"));
    assert_eq!((failed, counted), (1, 1));
    let both = json!(["damage-gate", "undercut"]);
    for (grade, outcome) in [(&strict, "not_passed"), (&lenient, "passed")] {
        let computed = &grade["computed"];
        assert_eq!((&computed["critical_errors"], &computed["outcome"]), (&both, &json!(outcome)));
    }
    assert_eq!(strict["computed"]["points"], lenient["computed"]["points"]);
    assert!(fails.contains(
        "critical error, which fails the whole: Adjacent tooth needs recontouring (distal), Undercut."
    ));
    assert!(
        counts.contains("critical error, which counts by its points alone: Adjacent tooth needs recontouring (distal), Undercut;")
    );
    // Which way, where, how much, with what, and what comes first.
    assert!(fails.contains("  Undercut: cut too little (mesi"), "{fails}");
    assert!(fails.contains("  Damage to the adjacent tooth, distal: too much (distal, "), "{fails}");
    let first = fails.find("  1. The distal neighbour has been cut (0.5").unwrap();
    let then = fails.find("  2. An undercut of 0.2").unwrap();
    // No flat end over a chamfer.
    let sentence = fails[then..].lines().next().unwrap();
    assert!(first < then && sentence.contains("taper-round-01") && sentence.contains("-fine)"), "{fails}");

    // The damage is critical as soon as contacts are broken, the undercut once walls are to be even.
    for (stage, critical) in [("axial", json!([])), ("contact", json!(["damage-gate"])), ("taper", both)] {
        let (_, out, grade) = graded(&document, &rubrics[0], stage);
        assert_eq!(grade["computed"]["critical_errors"], critical, "{out}");
    }
}

/// Cut past its stage but not past the last one; past both; scans of something else.
#[test]
fn scans_that_went_wrong_are_told_what_is_wrong_with_them() {
    let folder = folder("rubrics-wrong");
    let fails = exercise(&folder, "fails");
    let good = scans(&folder, "good", &good());
    let (_, out, grade) = graded(&measured(&good, &fails, "occlusal").unwrap(), &fails, "occlusal");
    assert!(out.contains("past ideal; the last stage can still be met"), "{out}");
    assert!(grade["lost_ahead"].is_null(), "{out}");

    let deep = OcclusalReduction { functional_mm: 2.5, nonfunctional_mm: 0.8, groove_mm: 0.8 };
    let deep = scans(&folder, "deep", &Spec { occlusal: deep, ..first() });
    let (status, out, _) = graded(&measured(&deep, &fails, "occlusal").unwrap(), &fails, "occlusal");
    assert_eq!(status, 1);
    let lost = "The last stage can no longer be met:\n  Functional cusps (reduction.occlusal.functional_mm): too much (";
    let then = out.find(lost).unwrap_or_else(|| panic!("{out}"));
    // Lingually, where the functional cusps of an upper molar are.
    let line = out[then + lost.len()..].lines().next().unwrap();
    assert!(line.contains("lingual, ") && line.contains("°): 0.4"), "{out}");

    let swapped = Scans { after: good.before.clone(), before: good.after.clone(), ..good.clone() };
    let opposing = Scans { after: good.opposing.clone(), ..good.clone() };
    let uncut = Scans { after: good.before.clone(), ..good.clone() };
    for (scans, says) in [
        (swapped, "the scans seem swapped"),
        (opposing, "check that both show the same arch, not its opponent"),
        (uncut, "nothing between the two scans changed"),
    ] {
        let fault = measured(&scans, &fails, "final").unwrap_err();
        assert!(fault.contains(says) && fault.lines().count() == 1, "{fault}");
    }
}
