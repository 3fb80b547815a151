//! `kerf plan EXERCISE --kit`, advice from a kit, and an instructor's word, as a user runs them.

mod measurement;
mod program;

use program::{folder, kerf};
use serde_json::{Value, json};

/// A measurement with three readings.
fn measurement(folder: &std::path::Path) -> String {
    measurement::write(
        folder,
        &json!({
            "reduction.occlusal.functional_mm": { "value": 1.02, "unit": "mm", "u95": 0.03 },
            "reduction.occlusal.nonfunctional_mm": { "value": 1.2, "unit": "mm", "u95": 0.03 },
            "finish_line.width.lingual_mm": { "value": 0.2, "unit": "mm", "u95": 0.03 }
        }),
    )
}

/// An exercise that cuts the top alone.
const FLAT: &str = r#"schema = "kerfwright-exercise-1"
name = "flat"
title = "Flat"
teeth = ["molar"]
restoration = "tabletop"
material = "ceramic"

[[stage]]
id = "top"
title = "Top"

[[stage.criterion]]
id = "functional"
title = "Functional cusps"
reading = "reduction.occlusal.functional_mm"
ideal_mm = [1.0, 1.4]
acceptable_mm = [0.8, 1.6]
source = "school: an example"
"#;

#[test]
fn a_kit_is_held_against_an_exercise() {
    let path = folder("plan-kit").join("tools.json");
    let (status, out, _) =
        kerf(&["plan", "cast-crown-molar", "--kit", "quayside", "--json", path.to_str().unwrap()]);
    assert_eq!(status, 0, "{out}");
    assert!(
        out.contains("best  taper-round-016: Round-end taper, medium, ISO 6360 806 314 198 524 016"),
        "{out}"
    );
    assert!(out.contains("this point can cut 0.1 mm at most before it leaves a lip"), "{out}");
    assert!(out.contains("The kit has an instrument for every cut."), "{out}");
    let written: Value = serde_json::from_slice(&std::fs::read(path).unwrap()).unwrap();
    assert_eq!((&written["covered"], &written["stages"][0]["stage"]), (&json!(true), &json!("occlusal")));
    assert_eq!(written["stages"][2]["cuts"][0]["fits"][0]["instrument"], "needle-010");
}

#[test]
fn a_stage_without_an_instrument_is_status_1_and_names_the_cut() {
    let log = folder("plan-log").join("log.toml");
    std::fs::write(&log, "[[entry]]\ninstrument = \"needle-010\"\nuses = 12\n").unwrap();
    let log = log.to_str().unwrap();
    let (status, out, _) = kerf(&["plan", "cast-crown-molar", "--kit", "quayside", "--log", log]);
    assert_eq!(status, 1, "{out}");
    assert!(
        out.contains("not   needle-010: it is retired: used 12 times; the kit retires it after 10"),
        "{out}"
    );
    assert!(
        out.contains(
            "no instrument for: through the contact (stage `contact`, criterion `gap`: thinner than the gap"
        ),
        "{out}"
    );
    assert!(out.contains("kerf kit copy") && out.contains("kerf exercise copy"), "{out}");
}

#[test]
fn what_cannot_be_planned_is_said_in_one_line() {
    let folder = folder("plan-wrong");
    let broken = folder.join("broken.toml");
    std::fs::write(&broken, "schema = \"kerfwright-kit-1\"\n").unwrap();
    let broken = broken.to_str().unwrap();
    let flat = folder.join("flat.toml");
    std::fs::write(&flat, FLAT).unwrap();
    let flat = flat.to_str().unwrap();
    for (arguments, says) in [
        (vec!["plan"], "nothing to plan with"),
        (vec!["plan", "cast-crown-moler", "--kit", "quayside"], "did you mean `cast-crown-molar`?"),
        (vec!["plan", "cast-crown-molar", "--kit", "quaysid"], "did you mean `quayside`?"),
        (vec!["plan", "cast-crown-molar", "--kit", broken], "is missing"),
        (vec!["plan", "cast-crown-molar"], "add --kit NAME"),
        (vec!["plan", "--kit", "quayside"], "name one first"),
        (vec!["plan", "before.stl", "--tooth", "26", "--at", "1,2,3"], "--before"),
        (vec!["plan", "before.stl", "--kit", "quayside"], "looks like a scan; give it with --before"),
        (vec!["plan", "cast-crown-molar", "--before", "absent.stl"], "--tooth"),
        (
            vec!["plan", "cast-crown-molar", "--before", "absent.stl", "--tooth", "26", "--at", "1,2,3"],
            "absent.stl: cannot be read",
        ),
        (
            vec!["plan", "quayside-26", "--before", "absent.stl", "--tooth", "21", "--at", "1,2,3"],
            "the tooth is 21",
        ),
        (
            vec!["plan", flat, "--before", "absent.stl", "--tooth", "26", "--at", "1,2,3"],
            "complete crowns and onlays; leave out --before, or give an exercise with criteria on taper.*_deg",
        ),
        (
            vec!["plan", "onlay-cast", "--before", "absent.stl", "--tooth", "21", "--at", "1,2,3"],
            "the tooth is 21",
        ),
        (vec!["plan", "cast-crown-molar", "--kit", "quayside", "--log", "absent.toml"], "cannot be read"),
    ] {
        let (status, out, fault) = kerf(&arguments);
        assert!(
            status == 2 && out.is_empty() && fault.lines().count() == 1 && fault.contains(says),
            "{arguments:?}: {status} {fault}"
        );
    }
}

#[test]
fn advice_names_instruments_of_the_kit_or_says_that_it_has_none() {
    let folder = folder("lesson-advice");
    let document = measurement(&folder);
    let log = folder.join("log.json");
    std::fs::write(&log, r#"{"entry": [{"instrument": "taper-round-021", "uses": 10}]}"#).unwrap();
    let grade = |more: &[&str]| {
        let start = ["grade", &document, "--exercise", "quayside-26", "--stage", "occlusal", "--advice"];
        kerf(&[&start, more].concat()).1
    };
    // Without a kit the exercise's own: 014 and 016 for this stage, 016 the thicker.
    assert!(grade(&[]).contains("the 1.6 mm round-end taper (ISO 806 314 198 524 016, taper-round-016)"));
    let own = grade(&["--kit", "quayside"]);
    assert!(own.contains("the 2.1 mm round-end taper (ISO 806 314 199 524 021, taper-round-021)"), "{own}");
    let worn = grade(&["--kit", "quayside", "--log", log.to_str().unwrap()]);
    assert!(worn.contains("taper-round-018)") && !worn.contains("taper-round-021"), "{worn}");
    let spanish = grade(&["--kit", "quayside", "--language", "es"]);
    assert!(spanish.contains("(ISO 806 314 199 524 021, taper-round-021)"), "{spanish}");
}

#[test]
fn a_grade_tells_what_the_measurement_warns_of() {
    let folder = folder("lesson-warning");
    let document = measurement(&folder);
    let path = folder.join("grade.json");
    let start = ["grade", &document, "--exercise", "quayside-26", "--stage", "occlusal"];
    let (_, out, _) = kerf(&[&start[..], &["--json", path.to_str().unwrap()]].concat());
    assert!(out.contains(&format!("The measurement warns:\n  {}\n", measurement::WARNING)), "{out}");
    let written: Value = serde_json::from_slice(&std::fs::read(path).unwrap()).unwrap();
    assert_eq!(written["warnings"], json!([measurement::WARNING]));
}

#[test]
fn the_same_attempt_is_graded_alike_byte_by_byte() {
    let folder = folder("lesson-twice");
    let document = measurement(&folder);
    let once = |name: &str| {
        let path = folder.join(name);
        let (_, out, _) = kerf(&[
            "grade",
            &document,
            "--exercise",
            "quayside-26",
            "--stage",
            "occlusal",
            "--advice",
            "--kit",
            "quayside",
            "--json",
            path.to_str().unwrap(),
        ]);
        (out, std::fs::read(path).unwrap())
    };
    assert_eq!(once("one.json"), once("two.json"));
}

#[test]
fn an_instructor_overrides_with_a_reason_and_both_are_kept() {
    let folder = folder("lesson-override");
    let document = measurement(&folder);
    let path = folder.join("grade.json");
    let start = ["grade", &document, "--exercise", "quayside-26", "--stage", "occlusal"];
    let own = ["--points", "functional=2", "--by", "T7", "--reason", "a void of the scan lies there"];
    let (_, out, _) = kerf(&[&start[..], &own, &["--json", path.to_str().unwrap()]].concat());
    assert!(
        out.contains("Computed, not passed") && out.contains("2 points for `functional` by T7: a void"),
        "{out}"
    );
    let written: Value = serde_json::from_slice(&std::fs::read(path).unwrap()).unwrap();
    assert_eq!(written["computed"]["points"], json!(3.0));
    assert_eq!(written["standing"]["points"], json!(5.0));
    assert_eq!(written["overrides"][0]["by"], "T7");
    for (own, says) in [
        (vec!["--points", "functional=9", "--by", "T7", "--reason", "kind"], "choose from 0 to 3"),
        (vec!["--points", "functional", "--by", "T7", "--reason", "kind"], "CRITERION=POINTS"),
        (vec!["--points", "functional=1"], "--by"),
        (vec!["--waive", "functional", "--by", "T7", "--reason", "kind"], "no critical error"),
        (vec!["--by", "T7", "--reason", "kind"], "go with a decision"),
        (
            vec!["--points", "functional=1", "--by", "Maria Lopez", "--reason", "kind"],
            "digits, hyphens, underscores or dots, as QS-07",
        ),
        (vec!["--point", "functional=1"], "see kerf grade --help"),
    ] {
        let (status, _, fault) = kerf(&[&start[..], &own].concat());
        assert!(
            status == 2 && fault.contains(says) && fault.lines().count() == 1,
            "{own:?}: {status} {fault}"
        );
    }
}

#[test]
fn what_is_shipped_is_checked_by_its_name() {
    for (arguments, says) in [
        (["exercise", "check", "quayside-26"], "quayside-26: in order, "),
        (["exercise", "check", "cast-crown"], "cast-crown: in order, a template"),
        (["kit", "check", "quayside"], "quayside: in order, "),
    ] {
        let (status, out, fault) = kerf(&arguments);
        assert!(
            status == 0 && fault.is_empty() && out.contains(says),
            "{arguments:?}: {status} {out}{fault}"
        );
    }
    for (arguments, says) in [
        (["exercise", "check", "quayside-62"], "did you mean `quayside-26`?"),
        (["exercise", "check", "no-such.toml"], "no-such.toml: cannot be read"),
        (["exercise", "chek", "quayside-26"], "see kerf exercise --help"),
        (["kit", "check", "quaysid"], "did you mean `quayside`?"),
    ] {
        let (status, out, fault) = kerf(&arguments);
        assert!(
            status == 2 && out.is_empty() && fault.lines().count() == 1 && fault.contains(says),
            "{arguments:?}: {status} {fault}"
        );
    }
}

/// The target of an onlay on an uncut molar: meshes, depths and forecast are written, and what is not foreseen is named.
#[test]
fn an_onlay_is_planned_on_the_uncut_tooth() {
    use kerfwright_phantom::{quayside_demo, quayside_scan};
    use nalgebra::Point3;
    let folder = folder("plan-onlay");
    let scans = quayside_demo().scan(&quayside_scan());
    let [above, below] =
        [20.0, 0.0].map(|up| scans.before_from_tooth.transform_point(&Point3::new(0.3, 0.4, up)));
    let surface = kerfwright_geometry::Surface::new(scans.before.clone());
    let at = surface.tree.ray(&above, &(below - above).normalize(), 30.0).unwrap().point;
    let before = folder.join("before.stl");
    std::fs::write(&before, kerfwright_mesh::write_stl_binary(&scans.before)).unwrap();
    let out = folder.join("plan");
    let at = format!("--at={},{},{}", at.x, at.y, at.z);
    let start = ["plan", "onlay-cast", "--before", before.to_str().unwrap(), "--tooth", "26", &at, "--out"];
    let (status, told, fault) = kerf(&[&start[..], &[out.to_str().unwrap()]].concat());
    assert!(status == 0 && fault.is_empty(), "{fault}");
    assert!(told.contains("not foreseen of an onlay") && !told.contains("limiting taper"), "{told}");
    let plan: Value = serde_json::from_slice(&std::fs::read(out.join("plan.json")).unwrap()).unwrap();
    assert_eq!(plan["targets"]["onlay"]["channel"]["isthmus_depth_mm"], 1.0);
    assert_eq!(plan["finish_line"], json!([]));
    assert!(plan["onlay"]["finish_line"].as_array().unwrap().len() > 300);
    assert!(
        plan["forecast"]["readings"]["reduction.occlusal.functional_mm"]["value"].as_f64().unwrap() > 1.0
    );
    for file in ["target.stl", "depth.ply", "index-1.stl", "index-2.stl"] {
        assert!(out.join(file).is_file(), "{file}");
    }
    for stage in plan["stages"].as_array().unwrap() {
        assert!(out.join(stage["depths"].as_str().unwrap()).is_file());
    }
    // What does not fit is one line that names the part of the exercise.
    let wide = folder.join("wide.toml");
    std::fs::write(
        &wide,
        r#"name = "wide"
title = "Wide"
base = "onlay-cast"

[onlay]
isthmus_depth_mm = 4.0

[[stage]]
id = "boxes"

[[stage.criterion]]
id = "isthmus-depth"
ideal_mm = [4.5, 5.5]
acceptable_mm = [4.0, 6.0]
source = "school: as deep as it gets"
"#,
    )
    .unwrap();
    let (status, _, fault) =
        kerf(&[&["plan", wide.to_str().unwrap()], &start[2..], &[out.to_str().unwrap()]].concat());
    assert!(
        status == 2 && fault.lines().count() == 1 && fault.contains("`[onlay]` (isthmus_depth_mm 4 mm)"),
        "{fault}"
    );
}
