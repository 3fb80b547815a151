//! The shipped exercises: each is right, resolves, asks for readings that exist, and survives being written out.

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

use kerfwright_exercise::{Exercise, Shelf, Source, check_in, library, read, readings, to_toml};

fn exercises() -> Vec<Exercise> {
    library::exercise_names().map(|name| library::exercise(name).expect(name)).collect()
}

#[test]
fn every_file_of_the_folder_is_shipped_and_right() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("library");
    let mut files: Vec<String> = fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    files.sort();
    let mut shipped: Vec<String> = library::names().map(|name| format!("{name}.toml")).collect();
    shipped.sort();
    assert_eq!(files, shipped);
    for name in library::names() {
        let text = library::text(name).unwrap();
        let faults = check_in(name, text, &Shelf::library());
        assert!(faults.is_empty(), "{}", faults.iter().map(|fault| format!("{fault}\n")).collect::<String>());
        assert!(text.contains(&format!("\nname = \"{name}\"\n")), "{name}: file and name differ");
    }
}

#[test]
fn templates_are_no_exercises_and_all_others_are() {
    assert!(library::exercise("crown-posterior").is_none());
    let error = read("mine", library::text("crown-posterior").unwrap(), &Shelf::library()).unwrap_err();
    assert!(error.to_string().contains("template"), "{error}");
    assert!(exercises().len() >= 24);
}

#[test]
fn the_library_covers_what_it_promises() {
    let names: BTreeSet<&str> = library::exercise_names().collect();
    for restoration in ["metal-ceramic", "zirconia-layered", "zirconia-monolithic", "lithium-disilicate"] {
        for tooth in ["molar", "premolar", "canine", "incisor"] {
            assert!(names.contains(format!("{restoration}-{tooth}").as_str()), "{restoration}-{tooth}");
        }
    }
    for name in ["cast-crown-molar", "cast-crown-premolar", "onlay-ceramic", "onlay-cast"] {
        assert!(names.contains(name), "{name}");
    }
    assert!(names.iter().any(|name| name.starts_with("three-unit-bridge")));
}

#[test]
fn an_exercise_survives_being_written_out_whole() {
    for exercise in exercises() {
        let text = to_toml(&exercise);
        let again =
            read(&exercise.name, &text, &Shelf::library()).unwrap_or_else(|error| panic!("{error}\n{text}"));
        assert_eq!(again, exercise);
    }
}

/// The published schema's ids, its alternatives written out: `a.(b|c)_mm` is two ids.
fn schema_ids() -> Vec<String> {
    let schema: serde_json::Value =
        serde_json::from_str(include_str!("../../../docs/measurement.schema.json")).unwrap();
    let kinds = ["single", "several"].map(|kind| &schema["$defs"][kind]["properties"]);
    kinds
        .iter()
        .flat_map(|kind| [&kind["readings"], &kind["abutments"]["properties"]["readings"]])
        .flat_map(ids_of)
        .collect()
}

fn ids_of(readings: &serde_json::Value) -> Vec<String> {
    let mut ids: Vec<String> =
        readings["properties"].as_object().into_iter().flat_map(|named| named.keys()).cloned().collect();
    for pattern in readings["patternProperties"].as_object().into_iter().flat_map(|patterns| patterns.keys())
    {
        let plain = pattern.trim_start_matches('^').trim_end_matches('$').replace("\\.", ".");
        ids.extend(written_out(&plain));
    }
    ids
}

fn written_out(pattern: &str) -> Vec<String> {
    let Some((front, rest)) = pattern.split_once('(') else { return vec![pattern.to_owned()] };
    let (choices, back) = rest.split_once(')').expect("a closing bracket");
    choices.split('|').flat_map(|choice| written_out(&format!("{front}{choice}{back}"))).collect()
}

/// Whether the schema has this id: as it stands, or by a pattern with a free word in it, as `space.[a-z]*_mm`.
fn is_published(id: &str, published: &[String]) -> bool {
    published.iter().any(|known| match known.split_once('[') {
        None => known == id,
        Some((front, rest)) => {
            let back = rest.rsplit(['+', '*', '}']).next().expect("a last part");
            id.strip_prefix(front).is_some_and(|word| word.len() > back.len() && word.ends_with(back))
        }
    })
}

#[test]
fn every_reading_asked_for_is_published() {
    let published = schema_ids();
    for exercise in exercises() {
        for criterion in exercise.stages.iter().flat_map(|stage| &stage.criteria) {
            for asked in criterion.asked() {
                let id = &asked.reading;
                assert!(is_published(id, &published), "{}: {id} is no reading", exercise.name);
            }
        }
    }
    assert!(
        !is_published("space.total_deg", &published) && !is_published("reduction.points._mm", &published)
    );
}

/// When this fails, `data/readings.toml` needs a row: what more cutting does to the new reading.
#[test]
fn every_published_reading_has_its_row() {
    for id in schema_ids().iter().filter(|id| !id.contains('[')) {
        let (row, _) = readings::find(id).unwrap_or_else(|| panic!("data/readings.toml has no row for {id}"));
        let ending = readings::unit_of(id);
        assert!(ending.is_none_or(|unit| unit == row.unit()), "{id}: unit {:?}", row.unit());
    }
}

#[test]
fn every_number_says_where_it_comes_from() {
    for exercise in exercises() {
        for criterion in exercise.stages.iter().flat_map(|stage| &stage.criteria) {
            assert!(!criterion.source.is_empty(), "{}: {}", exercise.name, criterion.id);
            let own_rule = criterion.source.iter().any(|source| matches!(source, Source::School(_)));
            assert!(
                !own_rule || exercise.name.starts_with("quayside"),
                "{}: {}",
                exercise.name,
                criterion.id
            );
        }
    }
}

/// docs/sources.md#goodacre-2001 and #shillingburg: the figures themselves, against a slip of the pen.
#[test]
fn published_figures_are_kept() {
    let find = |name: &str, id: &str| {
        let exercise = library::exercise(name).unwrap();
        let stage = exercise.stages.last().unwrap().clone();
        stage.criteria.into_iter().find(|criterion| criterion.id == id).expect(id).wanted
    };
    let holds = |name: &str, id: &str, value: f64| match find(name, id) {
        kerfwright_exercise::Wanted::Number { ideal, .. } => ideal.holds(value),
        kerfwright_exercise::Wanted::Words { .. } => false,
    };
    for (name, functional, nonfunctional) in [
        ("cast-crown-molar", 1.5, 1.0),
        ("metal-ceramic-molar", 2.0, 1.5),
        ("zirconia-layered-premolar", 2.0, 1.5),
        ("lithium-disilicate-molar", 1.5, 1.5),
        ("zirconia-monolithic-molar", 1.0, 1.0),
        ("onlay-cast", 1.5, 1.0),
    ] {
        assert!(holds(name, "functional", functional), "{name}");
        assert!(holds(name, "nonfunctional", nonfunctional), "{name}");
    }
    assert!(holds("metal-ceramic-incisor", "incisal", 2.0));
    assert!(holds("cast-crown-molar", "convergence", 10.0) && holds("cast-crown-molar", "convergence", 20.0));
    assert!(holds("cast-crown-molar", "wall-height", 4.0) && !holds("cast-crown-molar", "wall-height", 3.9));
    assert!(
        holds("cast-crown-premolar", "proportion", 0.4) && !holds("cast-crown-premolar", "proportion", 0.39)
    );
}

/// Limits of one reading after the last stage.
fn limits(name: &str, reading: &str) -> (kerfwright_exercise::Range, kerfwright_exercise::Range) {
    let exercise = library::exercise(name).unwrap();
    let stage = exercise.stages.last().unwrap();
    let mut asked = stage.criteria.iter().flat_map(|criterion| criterion.asked());
    let asked = asked.find(|asked| asked.reading == reading).unwrap_or_else(|| panic!("{name}: {reading}"));
    match asked.wanted {
        kerfwright_exercise::Wanted::Number { ideal, acceptable } => (*ideal, *acceptable),
        kerfwright_exercise::Wanted::Words { .. } => panic!("{name}: {reading} is a word"),
    }
}

/// Published targets, value by value, each ideal in the exercise that cites them (anchors of docs/sources.md).
#[test]
fn published_targets_are_ideal() {
    for (name, reading, value, source) in [
        ("cast-crown-molar", "reduction.occlusal.functional_mm", 1.5, "rosenstiel-chapter-8"),
        ("cast-crown-molar", "finish_line.width.lingual_mm", 0.5, "rosenstiel-chapter-8"),
        ("cast-crown-molar", "reduction.axial.lingual.middle_mm", 0.5, "rosenstiel-chapter-8"),
        ("cast-crown-molar", "finish_line.neighbour.mesial_mm", 0.6, "rosenstiel-chapter-8"),
        ("cast-crown-molar", "toc.mesiodistal_deg", 10.0, "goodacre-2001"),
        ("cast-crown-molar", "toc.faciolingual_deg", 20.0, "goodacre-2001"),
        ("cast-crown-molar", "finish_line.above_gingiva.facial_mm", 0.5, "podhorsky-2015"),
        ("metal-ceramic-molar", "reduction.occlusal.functional_mm", 2.0, "shillingburg"),
        ("metal-ceramic-molar", "finish_line.width.facial_mm", 1.2, "murbay-2021"),
        ("metal-ceramic-molar", "finish_line.width.lingual_mm", 0.5, "murbay-2021"),
        ("metal-ceramic-molar", "reduction.axial.facial.middle_mm", 1.2, "murbay-2021"),
        ("metal-ceramic-molar", "reduction.axial.facial.middle_mm", 1.5, "murbay-2021"),
        ("metal-ceramic-molar", "facial.planes", 2.0, "murbay-2021"),
        ("metal-ceramic-incisor", "reduction.points.i_mm", 1.5, "murbay-2021"),
        ("metal-ceramic-incisor", "reduction.points.i_mm", 2.0, "shillingburg"),
        ("metal-ceramic-canine", "reduction.points.tip_mm", 2.0, "shillingburg"),
        ("metal-ceramic-incisor", "reduction.lingual_fossa_mm", 0.7, "murbay-2021"),
        ("metal-ceramic-incisor", "reduction.axial.facial.middle_mm", 1.5, "murbay-2021"),
        ("zirconia-layered-molar", "finish_line.width.facial_mm", 1.0, "goodacre-as-taught"),
        ("lithium-disilicate-molar", "finish_line.width.facial_mm", 1.0, "goodacre-as-taught"),
    ] {
        let (ideal, _) = limits(name, reading);
        assert!(ideal.holds(value), "{name}: {reading} {value} of {source} is not in {ideal}");
    }
}

/// Ram, Shah and Agrawal 2015 (docs/sources.md#ram-2015): mean labial and incisal depth that 90 learners cut on a typodont's 21 for metal-ceramic,
/// freehand, with an index, with depth-gauge instruments. All three are acceptable by the exercise that cites Murbay 2021.
#[test]
fn depths_that_learners_cut_are_acceptable_on_average() {
    for (labial_mm, incisal_mm) in [(1.23, 1.72), (1.45, 1.96), (1.47, 1.95)] {
        let (_, labial) = limits("metal-ceramic-incisor", "reduction.axial.facial.middle_mm");
        let (_, incisal) = limits("metal-ceramic-incisor", "reduction.points.i_mm");
        assert!(labial.holds(labial_mm) && incisal.holds(incisal_mm), "{labial_mm}, {incisal_mm}");
    }
}

/// docs/sources.md#virdee-2018: mean convergence of learners' clinical dies, from mesial to distal 24.7, molars 31.6, premolars 20.7,
/// canines 19.4, incisors 17.0 degrees: the study calls the back teeth too tapered, and so do the exercises.
#[test]
fn mean_convergences_of_learners_are_called_as_their_study_calls_them() {
    for (name, mean_deg, is_acceptable) in [
        ("cast-crown-molar", 31.6, false),
        ("metal-ceramic-molar", 24.7, false),
        ("metal-ceramic-premolar", 20.7, false),
        ("metal-ceramic-canine", 19.4, true),
        ("metal-ceramic-incisor", 17.0, true),
    ] {
        let (_, acceptable) = limits(name, "toc.mesiodistal_deg");
        assert_eq!(acceptable.holds(mean_deg), is_acceptable, "{name}: {mean_deg} in {acceptable}");
    }
}

/// Edge of an incisor, tip of a canine: readings that the tooth at hand has.
#[test]
fn front_teeth_are_asked_for_points_that_they_have() {
    for exercise in exercises() {
        let ids: BTreeSet<String> = exercise
            .stages
            .iter()
            .flat_map(|stage| &stage.criteria)
            .flat_map(|criterion| criterion.asked())
            .map(|asked| asked.reading)
            .collect();
        let [incisor, canine] =
            [21, 13].map(|fdi| exercise.is_for(kerfwright_tooth::Tooth::from_fdi(fdi).unwrap()));
        assert_eq!(ids.contains("reduction.points.i_mm"), incisor, "{}", exercise.name);
        assert_eq!(ids.contains("reduction.points.tip_mm"), canine, "{}", exercise.name);
        assert!(!ids.contains("reduction.incisal_mm"), "{}", exercise.name);
    }
}
