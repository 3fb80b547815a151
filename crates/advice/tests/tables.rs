//! Languages, rules and readings fit each other.

use std::collections::BTreeSet;

use kerfwright_advice::rules::{Rule, rules};
use kerfwright_advice::{Language, head_keys};
use kerfwright_exercise::library;
use kerfwright_exercise::readings::{self, MoreCutting, Row};

/// Ids of readings as the shipped exercises ask for them.
fn asked_by_the_library() -> BTreeSet<String> {
    let exercises = library::exercise_names().filter_map(library::exercise);
    let criteria = exercises.flat_map(|exercise| exercise.stages).flat_map(|stage| stage.criteria);
    let asked = criteria
        .flat_map(|criterion| criterion.asked().into_iter().map(|asked| asked.reading).collect::<Vec<_>>());
    asked.collect()
}

/// Whether a rule has an answer for each way in which a row's readings can be off.
fn is_whole(rule: &Rule, row: &Row) -> bool {
    match row.more_cutting {
        MoreCutting::Raises | MoreCutting::Lowers => rule.too_little.is_some() && rule.too_much.is_some(),
        _ if row.is_words() => rule.other.is_some(),
        MoreCutting::Either | MoreCutting::Nothing => rule.below.is_some() && rule.above.is_some(),
    }
}

#[test]
fn every_language_has_every_key_with_the_same_gaps() {
    let english = Language::En.gaps().expect("en.toml");
    for language in Language::ALL {
        let other = language.gaps().unwrap_or_else(|fault| panic!("{}: {fault}", language.code()));
        let missing: Vec<&String> = english.keys().filter(|key| !other.contains_key(*key)).collect();
        let extra: Vec<&String> = other.keys().filter(|key| !english.contains_key(*key)).collect();
        assert!(missing.is_empty() && extra.is_empty(), "{}: {missing:?} {extra:?}", language.code());
        for (key, gaps) in &english {
            assert_eq!(&other[key], gaps, "{}: {key}", language.code());
        }
    }
}

#[test]
fn every_reading_that_exercises_limit_has_a_rule_each_way() {
    let asked = asked_by_the_library();
    assert!(asked.len() > 40, "{}", asked.len());
    for id in &asked {
        let (row, _) = readings::find(id).unwrap_or_else(|| panic!("{id} is no reading"));
        let rule = rules().find(id).unwrap_or_else(|| panic!("{id} has no rule: add one to data/rules.toml"));
        assert!(is_whole(rule, row), "{id}: its rule lacks a way");
    }
}

#[test]
fn every_key_that_rules_name_is_in_the_files_and_every_text_is_used() {
    let keys: BTreeSet<String> = Language::En.gaps().unwrap().into_keys().collect();
    let has = |key: String| assert!(keys.contains(&key), "{key} is in no language file");
    let mut used = BTreeSet::new();
    for rule in &rules().rule {
        has(format!("subject.{}", rule.subject));
        has(format!("check.{}", rule.check));
        for step in rule.steps() {
            has(format!("advice.{}", step.text));
            used.insert(format!("advice.{}", step.text));
        }
    }
    rules().role.keys().for_each(|role| has(format!("role.{role}")));
    rules().cause.iter().for_each(|cause| has(format!("cause.{}", cause.text)));
    head_keys().iter().for_each(|head| has(format!("head.{head}")));
    let idle: Vec<&String> =
        keys.iter().filter(|key| key.starts_with("advice.") && !used.contains(*key)).collect();
    assert!(idle.is_empty(), "no rule uses {idle:?}");
}

/// A word that a reading says is said in the language, not in the code's own words.
#[test]
fn every_word_of_a_reading_is_translated() {
    let keys: BTreeSet<String> = Language::Es.gaps().unwrap().into_keys().collect();
    for row in readings::table() {
        for word in &row.words {
            let table = if row.id.ends_with("toward") { "toward" } else { "wall" };
            let known = [format!("word.{}", word.replace(' ', "_")), format!("{table}.{word}")];
            assert!(known.iter().any(|key| keys.contains(key)), "{}: {word}", row.id);
        }
    }
}

/// Reasons as the measures give them. A new one that no cause knows still gets advice, but a general one.
#[test]
fn reasons_have_their_causes() {
    for (reason, cause) in [
        ("needs the scan before cutting: give it with --before", "before"),
        ("the uncut surface over the preparation was not scanned", "before"),
        ("needs the opposing teeth: give their scan with --opposing", "opposing"),
        ("no opposing tooth stands over the prepared occlusal surface", "opposing_short"),
        ("no adjacent tooth was scanned on this side", "neighbour"),
        ("no adjacent tooth within 4 mm of the finish line", "neighbour"),
        ("needs at least two prepared teeth: name them with --tooth", "abutments"),
        ("front teeth have no cusp inclines", "other_tooth"),
        ("no fossae between two cusp rows were found on the uncut tooth", "other_tooth"),
        ("no line where gingiva meets the tooth was seen below the finish line here", "gingiva"),
        ("there is no shoulder: no part of the finish line has a shoulder's form", "no_shoulder"),
        ("the floor or the uncut surface next to the edge is too narrow to fit", "floor"),
        ("the finish line was seen on less than half of its length", "finish_line"),
        ("no axial wall was found in the middle of this aspect", "wall"),
        ("one of the two opposing walls was not found", "wall"),
        ("the wall or the uncut surface beside it was not scanned here", "wall"),
        ("axial walls were found on less than half of the circumference", "wall"),
        ("needs the wall height facially and lingually", "wall"),
        ("too little axial wall shows between fillet and occlusal line angle", "wall"),
        ("no occlusal line angle was found over the wall here", "edges"),
        ("fewer than 20 vertices of the prepared surface lie in this zone", "occlusal"),
        ("the prepared occlusal surface is too ragged for a least distance", "occlusal"),
        ("the document has no such reading; if an earlier version wrote it, measure again", "version"),
        ("the uncut surface over the isthmus was not scanned", "before"),
        (
            "no channel with a wall on both sides of the groove was found; what a three-quarter crown has inside \
             (grooves, an offset) is not read",
            "no_channel",
        ),
        ("no box was found at this end: no floor lies below that of the isthmus", "no_channel"),
        ("the walls of the isthmus are too low or too short to be read", "low_channel"),
        ("the axial wall of this box is too low or too short to be read", "low_channel"),
        (
            "a complete crown has no isthmus and no boxes; they are read on teeth covered in part, as by an onlay",
            "no_onlay",
        ),
        ("the finish line was not seen before this box: expose it and scan again", "finish_line"),
        ("something that no measure says", "unknown"),
    ] {
        assert_eq!(rules().cause(reason), cause, "{reason}");
    }
}
