//! Every kind of slip is named with its line and a next step.

use kerfwright_exercise::{Shelf, check, check_in, read};

/// A small right exercise; `{}` in the tests below replaces one of its lines.
const RIGHT: &str = r#"schema = "kerfwright-exercise-1"
name = "small"
title = "Small"
teeth = ["molar", 24]
restoration = "complete crown"
material = "cast metal"

[[stage]]
id = "occlusal"
title = "Occlusal"

[[stage.criterion]]
id = "functional"
title = "Functional cusps"
reading = "reduction.occlusal.functional_mm"
ideal_mm = [1.4, 1.8]
acceptable_mm = [1.2, 2.0]
critical = "below"
weight = 2
source = "shillingburg"

[[stage]]
id = "final"
title = "Final"

[[stage.criterion]]
id = "width"
title = "Width"
reading = "finish_line.width.*_mm"
part = "least"
ideal_mm = { from = 0.5 }
acceptable_mm = { from = 0.3 }
source = ["rosenstiel-chapter-8", "common practice, no source"]

[stage.criterion.at.facial]
ideal_mm = { from = 1.0 }

[[stage.criterion]]
id = "kind"
title = "Kind"
reading = "finish_line.kind.facial"
ideal_words = ["chamfer"]
acceptable_words = ["chamfer", "deep chamfer"]
source = "school: our protocol"
"#;

/// The one fault of the small exercise with `from` replaced by `to`: its line, and what is said.
#[track_caller]
fn fault(from: &str, to: &str) -> (usize, String) {
    assert!(RIGHT.contains(from), "{from} is not in the small exercise");
    let faults = check(&RIGHT.replacen(from, to, 1));
    assert_eq!(faults.len(), 1, "{}", faults.iter().map(|fault| format!("{fault}\n")).collect::<String>());
    assert!(!faults[0].next.is_empty());
    (faults[0].line, faults[0].to_string())
}

#[track_caller]
fn expect(from: &str, to: &str, line: usize, words: &[&str]) {
    let (found, told) = fault(from, to);
    assert_eq!(found, line, "{told}");
    for word in words {
        assert!(told.contains(word), "`{word}` is not said: {told}");
    }
}

#[test]
fn the_small_exercise_is_right() {
    assert_eq!(check(RIGHT), []);
}

#[test]
fn keys() {
    expect("weight = 2", "wieght = 2", 19, &["`wieght`", "did you mean `weight`?"]);
    expect("material =", "materials =", 5 + 1, &["`materials`", "`material`"]);
    expect("title = \"Final\"", "title = \"Final\"\ncolour = \"red\"", 25, &["a stage has no key `colour`"]);
    expect("{ from = 1.0 }", "{ form = 1.0 }", 36, &["did you mean `from`?"]);
    expect(
        "[stage.criterion.at.facial]\nideal_mm",
        "[stage.criterion.at.facial]\nidael_mm",
        36,
        &["`ideal_mm`"],
    );
}

#[test]
fn values_of_the_wrong_kind() {
    expect("weight = 2", "weight = \"two\"", 19, &["`weight` is a string", "give a number"]);
    expect("weight = 2", "weight = -1", 19, &["negative", "0 or more"]);
    expect("title = \"Final\"", "title = 5", 24, &["`title` is an integer"]);
    expect("title = \"Final\"", "title = \"\"", 24, &["empty"]);
    expect("ideal_mm = [1.4, 1.8]", "ideal_mm = 1.5", 16, &["[1.5, 2.0]"]);
    expect(
        "ideal_mm = [1.4, 1.8]",
        "ideal_mm = [1.8, 1.4]",
        16,
        &["from 1.8 to 1.4", "smaller number first"],
    );
    expect("{ from = 0.5 }", "[0.5, inf]", 31, &["not a finite number", "{ from = 1.5 }"]);
    expect("{ from = 0.5 }", "{}", 31, &["no end"]);
    expect(
        "critical = \"below\"",
        "critical = \"under\"",
        18,
        &["\"under\"", "known are `below`, `above` and `both`"],
    );
    expect("critical = \"below\"", "critical = \"belwo\"", 18, &["did you mean `below`?"]);
    expect("id = \"functional\"", "id = \"Functional cusps\"", 13, &["\"functional-cusps\""]);
    expect("teeth = [\"molar\", 24]", "teeth = [\"molar\", 19]", 4, &["`19` is no tooth"]);
    expect("kerfwright-exercise-1", "kerfwright-exercise-9", 1, &["kerfwright-exercise-1"]);
}

#[test]
fn what_is_missing() {
    expect("material = \"cast metal\"\n", "", 1, &["`material` is missing"]);
    expect("title = \"Kind\"\n", "", 37 + 1, &["criterion `kind`: title", "write title ="]);
    expect("id = \"kind\"\n", "", 38, &["no id"]);
    expect("source = \"shillingburg\"\n", "", 12, &["where its limits come from", "common practice"]);
    expect(
        "ideal_mm = [1.4, 1.8]\nacceptable_mm = [1.2, 2.0]\ncritical = \"below\"\n",
        "",
        12,
        &["no limits", "ideal_mm = [1.5, 2.0]"],
    );
    expect("reading = \"finish_line.kind.facial\"\n", "", 38, &["criterion `kind`: reading"]);
}

#[test]
fn readings_parts_and_places() {
    expect(
        "reduction.occlusal.functional_mm",
        "reduction.oclusal.functional_mm",
        15,
        &["did you mean `reduction.occlusal.functional_mm`?"],
    );
    expect(
        "reading = \"finish_line.width.*_mm\"",
        "reading = \"beauty\"",
        29,
        &["no reading `beauty`", "docs/measures.md"],
    );
    expect("part = \"least\"", "part = \"p50\"", 30, &["no part `p50`", "`least`"]);
    expect("[stage.criterion.at.facial]", "[stage.criterion.at.buccal]", 35, &["`buccal`", "`facial`"]);
    expect(
        "part = \"least\"",
        "part = \"least\"\nplaces = [\"facial\", \"bucal\"]",
        31,
        &["no place `bucal`"],
    );
    expect("part = \"least\"", "part = \"least\"\nplaces = [\"facial\", \"facial\"]", 31, &["twice"]);
    expect("weight = 2", "weight = 2\nplaces = [\"facial\"]", 20, &["needs a *", "reduction.occlusal.*_mm"]);
}

#[test]
fn limits_that_do_not_suit() {
    expect("ideal_mm = [1.4, 1.8]", "ideal_deg = [1.4, 1.8]", 16, &["is in mm", "write ideal_mm"]);
    expect("ideal_words = [\"chamfer\"]", "ideal_mm = [1, 2]", 42, &["says a word", "ideal_words"]);
    expect(
        "ideal_mm = [1.4, 1.8]",
        "ideal_mm = [1.0, 1.8]",
        16,
        &["ideal (1 to 1.8) reaches outside acceptable (1.2 to 2, line 17)"],
    );
    expect(
        "ideal_mm = [1.4, 1.8]",
        "ideal_mm = { from = 1.4 }",
        16,
        &["ideal (at least 1.4) reaches outside acceptable"],
    );
    expect("ideal_words = [\"chamfer\"]", "ideal_words = [\"shoulder\"]", 42, &["ideal but not acceptable"]);
    expect("ideal_words = [\"chamfer\"]", "ideal_words = [\"chanfer\"]", 42, &["did you mean `chamfer`?"]);
    expect(
        "critical = \"below\"",
        "critical = \"both\"\ncredit = \"linear\"\nplaces_score = \"best\"\nnote = \"x\"\nnot_measured = \"sometimes\"",
        22,
        &["\"sometimes\""],
    );
    expect(
        "source = \"school: our protocol\"",
        "source = \"school: our protocol\"\ncritical = \"below\"",
        45,
        &["words have no below"],
    );
    expect("part = \"least\"", "part = \"least\"\ncritical = \"above\"", 31, &["no upper end"]);
    expect(
        "ideal_mm = { from = 0.5 }\nacceptable_mm = { from = 0.3 }",
        "credit = \"linear\"\nideal_mm = [0.5, 0.7]\nacceptable_mm = { from = 0.3 }",
        31,
        &["needs two ends", "upper"],
    );
}

#[test]
fn sources() {
    expect("\"shillingburg\"", "\"shilingburg\"", 20, &["did you mean `shillingburg`?"]);
    expect("\"shillingburg\"", "\"my notes\"", 20, &["not in docs/sources.md", "school: your own rule"]);
}

#[test]
fn ids_and_readings_twice() {
    expect("id = \"final\"", "id = \"occlusal\"", 23, &["stage `occlusal` is there twice, first at line 8"]);
    expect("id = \"kind\"", "id = \"width\"", 39, &["criterion `width` is there twice"]);
    let again = "reading = \"finish_line.width.distal_mm\"\npart = \"least\"\nideal_mm = { from = 0.5 }\n";
    let from = "reading = \"finish_line.kind.facial\"\nideal_words = [\"chamfer\"]\nacceptable_words = [\"chamfer\", \"deep chamfer\"]\n";
    expect(from, again, 38, &["asks for `finish_line.width.distal_mm` again, as `width` at line 26 does"]);
}

#[test]
fn grammar() {
    let told = fault("weight = 2", "weight = 2\nweight = 3").1;
    assert!(told.contains(":20: this is not TOML: duplicate key"), "{told}");
    let faults = check("name = \"x\"\ntitle = oops\n");
    assert_eq!(faults[0].line, 2);
}

#[test]
fn bases() {
    let small = |line: &str| format!("{line}\n{RIGHT}");
    let unknown = check(&small("base = \"metal-ceramic-molr\""));
    assert_eq!((unknown.len(), unknown[0].line), (1, 1));
    assert!(unknown[0].next.contains("`metal-ceramic-molar`"), "{}", unknown[0]);
    let mut shelf = Shelf::library();
    shelf.put("a", "name = \"a\"\nbase = \"b\"\n");
    shelf.put("b", "name = \"b\"\n\nbase = \"a\"\n");
    let circle = check_in("a.toml", shelf.text("a").unwrap(), &shelf);
    assert_eq!(circle.len(), 1);
    assert_eq!((circle[0].file.as_str(), circle[0].line), ("b", 3));
    assert!(circle[0].what.contains("a → b → a"), "{}", circle[0]);
    let own = check("name = \"onlay\"\nbase = \"onlay\"\n");
    assert!(own[0].next.contains("a `name` of its own"), "{}", own[0]);
}

/// What the file says of its own is checked without its base too, and nothing is called a slip that the base may make good.
#[test]
fn an_unknown_base_hides_no_other_slip() {
    let sound = HEIR.replace("\"small\"", "\"smal-l\"")
        + "[[stage]]\nid = \"edges\"\ntitle = \"Edges\"\nafter = \"occlusal\"\nincludes = [\"occlusal\"]\n";
    let faults = check_in("heir", &sound, &shelf());
    assert_eq!(faults.len(), 1, "{faults:?}");
    assert!(faults[0].what.contains("no base `smal-l`"), "{}", faults[0]);
    let slips = "[[stage.criterion]]\nid = \"depth\"\nreading = \"reduction.oclusal.groove_mm\"\n\
                 [[stage.criterion]]\nid = \"low\"\nreading = \"wall.height.facial_mm\"\n\
                 ideal_mm = [1, 9]\nacceptable_mm = [2, 8]\n";
    let faults = check_in("heir", &format!("{sound}{slips}teeth = 3\n"), &shelf());
    let told: Vec<&str> = faults.iter().map(|fault| fault.what.as_str()).collect();
    for part in ["no base `smal-l`", "no reading `reduction.oclusal.groove_mm`", "reaches outside acceptable"]
    {
        assert!(told.iter().any(|what| what.contains(part)), "{part} is hidden: {told:?}");
    }
}

const HEIR: &str = r#"name = "heir"
title = "Heir"
base = "small"

[[stage]]
id = "final"

[[stage.criterion]]
id = "width"
acceptable_mm = { from = 0.4 }

[[stage.criterion]]
id = "kind"
remove = true
"#;

fn shelf() -> Shelf {
    let mut shelf = Shelf::library();
    shelf.put("small", RIGHT);
    shelf
}

#[test]
fn an_heir_overrides_field_by_field() {
    let heir = read("heir", HEIR, &shelf()).unwrap();
    assert_eq!(heir.stages.len(), 2);
    let last = &heir.stages[1];
    assert_eq!((last.title.as_str(), last.criteria.len()), ("Final", 1));
    let told = format!("{:?}", last.criteria[0]);
    assert!(told.contains("from: Some(0.4)") && last.criteria[0].part.as_deref() == Some("least"), "{told}");
    assert_eq!(heir.material, "cast metal");
}

#[test]
fn an_heir_places_and_removes_stages() {
    let with = |more: &str| read("heir", &format!("{HEIR}\n{more}"), &shelf());
    let stage = "[[stage]]\nid = \"edges\"\ntitle = \"Edges\"\nincludes = [\"occlusal\"]\n";
    let placed = with(&format!("{stage}after = \"occlusal\"\n")).unwrap();
    let ids: Vec<&str> = placed.stages.iter().map(|stage| stage.id.as_str()).collect();
    assert_eq!(ids, ["occlusal", "edges", "final"]);
    assert_eq!(placed.stages[1].criteria, placed.stages[0].criteria);
    let told = with(stage).unwrap_err().to_string();
    assert!(told.contains("heir:17: the base has no stage `edges`") && told.contains("`start`"), "{told}");
    let told = with("[[stage]]\nid = \"oclusal\"\nremove = true\n").unwrap_err().to_string();
    assert!(told.contains("no stage `oclusal` to remove; did you mean `occlusal`?"), "{told}");
    let told = with(&format!("{stage}after = \"occlussal\"\n")).unwrap_err().to_string();
    assert!(told.contains("no other stage `occlussal`"), "{told}");
    let gone = with("[[stage]]\nid = \"occlusal\"\nremove = true\n").unwrap();
    assert_eq!(gone.stages.len(), 1);
    let told =
        read("heir", &HEIR.replace("id = \"kind\"", "id = \"kinds\""), &shelf()).unwrap_err().to_string();
    assert!(
        told.contains("heir:13: there is no criterion `kinds` to remove; did you mean `kind`?"),
        "{told}"
    );
}

#[test]
fn a_fault_that_inheritance_makes_names_both_files() {
    let told = read("heir", &HEIR.replace("from = 0.4", "from = 0.6"), &shelf()).unwrap_err().to_string();
    assert!(told.contains("small:31:") && told.contains("line 10 of heir"), "{told}");
}

#[test]
fn a_stage_includes_earlier_ones_and_may_change_them() {
    let text = RIGHT.replace(
        "id = \"final\"\ntitle = \"Final\"",
        "id = \"final\"\ntitle = \"Final\"\nincludes = [\"occlusal\"]\n\n[[stage.criterion]]\nid = \"functional\"\nweight = 5",
    );
    let exercise = read("mine", &text, &Shelf::library()).unwrap();
    let last = &exercise.stages[1].criteria;
    assert_eq!((last[0].id.as_str(), last[0].weight, last.len()), ("functional", 5.0, 3));
    assert_eq!(exercise.stages[0].criteria[0].weight, 2.0);
    let told = read("mine", &text.replace("[\"occlusal\"]", "[\"final\"]"), &Shelf::library())
        .unwrap_err()
        .to_string();
    assert!(told.contains("no earlier stage `final`"), "{told}");
}

#[test]
fn an_onlays_inner_form() {
    let onlay = "[onlay]\nstage = \"occlusal\"\nisthmus_width_mm = 2\nisthmus_depth_mm = 1.0\nbox_width_mm = 3.5\n\
                 box_depth_mm = 1.5\ndivergence_deg = 8\nsource = \"shillingburg\"\n\n[[stage]]\nid = \"occlusal\"";
    let whole = RIGHT.replacen("[[stage]]\nid = \"occlusal\"", onlay, 1);
    assert_eq!(check(&whole), []);
    for (from, to, line, words) in [
        ("stage = \"occlusal\"", "stage = \"oclusal\"", 9, "did you mean `occlusal`?"),
        ("isthmus_width_mm = 2", "isthmus_width_mm = \"two\"", 10, "`isthmus_width_mm` is a string"),
        ("isthmus_depth_mm = 1.0", "isthmus_depth_mm = -1.0", 11, "`isthmus_depth_mm` is negative"),
        (
            "box_width_mm = 3.5",
            "box_width_mm = 1.5",
            12,
            "boxes 1.5 mm wide are narrower than the isthmus of 2 mm",
        ),
        ("box_depth_mm = 1.5\n", "", 8, "`onlay: box_depth_mm` is missing"),
        ("divergence_deg = 8", "divergence_deg = 0", 14, "`divergence_deg` is 0"),
        ("divergence_deg = 8", "divergance_deg = 8", 14, "did you mean `divergence_deg`?"),
        (
            "source = \"shillingburg\"\n\n[[stage]]",
            "[[stage]]",
            8,
            "[onlay] does not say where its numbers come from",
        ),
        (
            "source = \"shillingburg\"\n\n[[stage]]",
            "source = \"shilingburg\"\n\n[[stage]]",
            15,
            "did you mean `shillingburg`?",
        ),
    ] {
        assert!(whole.contains(from), "{from}");
        let faults = check(&whole.replacen(from, to, 1));
        assert!(
            faults.len() == 1 && faults[0].line == line && faults[0].to_string().contains(words),
            "{to}: {faults:?}"
        );
    }
}

/// A target that its own exercise would find fault with is told with both numbers; the isthmus' depth together with the groove's.
#[test]
fn an_onlays_inner_form_is_ideal_by_its_own_criteria() {
    let own = |key: &str| {
        let text = format!("name = \"mine\"\ntitle = \"Mine\"\nbase = \"onlay-cast\"\n\n[onlay]\n{key}\n");
        check(&text).iter().map(|fault| fault.to_string()).collect::<Vec<_>>()
    };
    assert_eq!(own("isthmus_width_mm = 1.7\nisthmus_depth_mm = 1.2"), Vec::<String>::new());
    for (key, words) in [
        (
            "isthmus_width_mm = 2.0",
            "isthmus_width_mm is 2, and `isthmus-width` of `boxes` calls 1.2 to 1.8 ideal",
        ),
        (
            "isthmus_depth_mm = 1.7",
            "isthmus_depth_mm with the depth of the groove is 2.7, and `isthmus-depth` of",
        ),
        ("box_width_mm = 4.5", "box_width_mm is 4.5, and `box-width` of `boxes` calls 3 to 4 ideal"),
        ("box_depth_mm = 2.0", "box_depth_mm is 2, and `box-depth` of `boxes`"),
        ("divergence_deg = 9", "divergence_deg is 9, and `isthmus-divergence` of `boxes` calls 3 to 8 ideal"),
    ] {
        let faults = own(key);
        assert!(faults.len() == 1 && faults[0].contains(words), "{key}: {faults:?}");
    }
}
