//! Instruments, how they are held, gauges, order, and what happens without a kit, a measurement or a rule.

mod common;

use common::{criterion, document, exercise, graded, kit, number};
use kerfwright_advice::{Advice, Concern, Language, Urgency, advise};
use kerfwright_instrument::{Kit, LogEntry, in_hand};
use serde_json::json;

fn first(reading: &str, value: f64, unit: &str, limits: &str, kit: Option<&Kit>) -> Advice {
    let (grade, document) = graded(26, reading, number(value, unit, 0.002, None), limits);
    advise(&grade, Some(&document), kit, Language::En).remove(0)
}

fn id(advice: &Advice) -> &str {
    advice.instrument.as_ref().map_or("none", |tool| tool.id.as_str())
}

/// By the kit's numbers round ends reach 0.42, 0.52, 0.62 and 0.77 mm before they leave a lip, the cylinder of 2.1 mm 1.05 mm.
#[test]
fn a_chamfer_takes_the_thinnest_round_end_that_leaves_no_lip() {
    for (wanted, expected) in [
        (0.4, "taper-round-014"),
        (0.5, "taper-round-016"),
        (0.6, "taper-round-018"),
        (0.75, "taper-round-021"),
        (0.85, "cylinder-round-021"),
    ] {
        let advice = width("lingual", wanted, Some(&kit()));
        assert_eq!(id(&advice), expected, "{wanted}");
    }
    let narrow = kit().only(&["taper-round-014", "needle-010"]);
    let advice = width("lingual", 0.6, Some(&narrow));
    assert_eq!(id(&advice), "none");
    let says = "a round-end taper with a tip of at least 1.2 mm (the kit has none that can)";
    assert!(advice.sentence.contains(says), "{advice:#?}");
    // Without a kit nothing is said of one.
    assert!(!width("lingual", 0.6, None).sentence.contains("the kit"));
}

fn width(side: &str, wanted_mm: f64, kit: Option<&Kit>) -> Advice {
    let limits = format!("ideal_mm = [{wanted_mm}, 1.5]\nacceptable_mm = [{}, 1.6]", wanted_mm - 0.05);
    first(&format!("finish_line.width.{side}_mm"), 0.2, "mm", &limits, kit)
}

#[test]
fn an_instrument_is_named_by_its_code_and_in_plain_words() {
    let advice = width("lingual", 0.5, Some(&kit()));
    let says = "the 1.6 mm round-end taper (ISO 806 314 198 524 016, taper-round-016)";
    assert!(advice.sentence.contains(says), "{advice:#?}");
    let instrument = advice.instrument.unwrap();
    assert_eq!(instrument.iso.as_deref(), Some("806 314 198 524 016"));
    assert_eq!(instrument.name, "Round-end taper, medium");
}

/// Worn to 1.52 mm the medium round end reaches 0.48 mm and is passed over for 0.5 mm; retired it is not named at all.
#[test]
fn wear_decides_with() {
    let log = |uses, diameter_mm| {
        [LogEntry { instrument: "taper-round-016".into(), uses, diameter_mm, ..LogEntry::default() }]
    };
    assert_eq!(id(&width("lingual", 0.5, Some(&in_hand(&kit(), &log(1, Some(1.52)))))), "taper-round-018");
    assert_eq!(id(&width("lingual", 0.5, Some(&in_hand(&kit(), &log(10, None))))), "taper-round-018");
    assert_eq!(id(&width("lingual", 0.45, Some(&in_hand(&kit(), &log(1, Some(1.52)))))), "taper-round-016");
}

/// The wider flat end needs the fewer passes: 1.0 mm takes two of 016 and three of 012.
#[test]
fn a_shoulder_takes_a_flat_end_with_rounded_edge() {
    assert_eq!(id(&width("facial", 1.0, Some(&kit()))), "taper-flat-rounded-016");
    let sharp = kit().only(&["taper-round-016", "cylinder-round-021"]);
    assert_eq!(id(&width("facial", 1.0, Some(&sharp))), "none");
}

/// A wall of 3° takes the 2° instrument upright, one of 9° the same and 7° of lean; without a kit the sentence gives the angle.
#[test]
fn an_instrument_is_leaned_by_what_its_own_taper_lacks() {
    let held = |from: f64, kit: Option<&Kit>| {
        let limits = format!("ideal_deg = [{from}, 12]\nacceptable_deg = [0.4, 15]");
        first("taper.facial_deg", 0.0, "deg", &limits, kit).sentence
    };
    assert!(held(3.0, Some(&kit())).contains("taper-round-014-fine) parallel to the path of placement"));
    assert!(held(9.0, Some(&kit())).contains("taper-round-014-fine) tipped 7.0° inwards from the path"));
    let outwards = held(0.5, Some(&kit()));
    assert!(outwards.contains("-fine) tipped 1.5° outwards from the path"), "{outwards}");
    assert!(held(9.0, None).contains("a fine round-end taper so that its side stands 9.0° inwards"));
}

#[test]
fn a_bar_is_named_only_if_the_kit_has_just_that_width() {
    let gap = |to: f64| {
        let limits = format!("ideal_mm = {{ from = {to} }}");
        first("clearance.mip_mm", 0.2, "mm", &limits, Some(&kit()))
    };
    let at_one = gap(1.5);
    assert_eq!(at_one.gauge.as_ref().map(|bar| bar.id.as_str()), Some("bar-15"));
    assert!(at_one.sentence.contains("the 1.5 mm bar (bar-15)"));
    let between = gap(1.3);
    assert!(between.gauge.is_none() && !between.sentence.contains("bar"), "{between:#?}");
}

/// Damage first, then what takes a few strokes, then what takes longer, then what was learned.
#[test]
fn what_endangers_comes_first_and_what_is_quick_second() {
    let mut criteria = String::new();
    let mut readings = json!({});
    for (k, (id, value, unit, limits)) in [
        ("taper.facial_deg", 20.0, "deg", "ideal_deg = [3, 10]"),
        ("wall.height.facial_mm", 1.0, "mm", "ideal_mm = { from = 3 }"),
        ("taper.lingual_deg", 0.0, "deg", "ideal_deg = [3, 10]"),
        ("finish_line.lip_mm", 0.3, "mm", "ideal_mm = { to = 0.1 }"),
        ("neighbour.mesial.depth_mm", 0.3, "mm", "ideal_mm = { to = 0.1 }"),
        ("wall.height.lingual_mm", 3.001, "mm", "ideal_mm = { from = 3 }"),
        ("taper.mesial_deg", 2.5, "deg", "ideal_deg = [3, 10]\nacceptable_deg = [2, 12]"),
    ]
    .into_iter()
    .enumerate()
    {
        criteria += &criterion(id, limits).replace("\"one\"", &format!("\"c{k}\""));
        readings[id] = number(value, unit, 0.01, None);
    }
    let grade = kerfwright_grade::grade(&document(26, readings), &exercise(&criteria), None).unwrap();
    let order: Vec<String> = advise(&grade, None, Some(&kit()), Language::En)
        .into_iter()
        .flat_map(|advice| advice.readings)
        .collect();
    assert_eq!(
        order,
        [
            "neighbour.mesial.depth_mm",
            "finish_line.lip_mm",
            "taper.lingual_deg",
            "wall.height.facial_mm",
            "wall.height.lingual_mm",
            "taper.facial_deg",
            "taper.mesial_deg"
        ]
    );
}

#[test]
fn one_reading_that_two_criteria_ask_for_is_told_once() {
    let damage = criterion("neighbour.mesial.depth_mm", "acceptable_mm = { to = 0.1 }");
    let gate = criterion(
        "neighbour.mesial.depth_mm",
        "acceptable_mm = { to = 0.5 }\ncritical = \"above\"\nweight = 0",
    );
    let exercise = exercise(&(damage + &gate.replace("\"one\"", "\"gate\"")));
    let graded = |depth_mm: f64| {
        let document =
            document(26, json!({ "neighbour.mesial.depth_mm": number(depth_mm, "mm", 0.01, None) }));
        let grade = kerfwright_grade::grade(&document, &exercise, None).unwrap();
        advise(&grade, Some(&document), None, Language::En)
    };
    let both = graded(0.7);
    assert_eq!(both.len(), 1, "{both:#?}");
    assert_eq!((both[0].criteria.len(), both[0].urgency), (2, Urgency::Endangers));
    assert_eq!(graded(0.3)[0].criteria, ["one"]);
    assert!(graded(0.05).is_empty());
}

/// A number that the reading's own words do not speak of is told by the criterion's title.
#[test]
fn a_part_in_another_unit_is_told_in_general_words() {
    let mut reading = number(30.0, "deg", 0.1, None);
    reading["past_contact_mm"] = json!(-1.2);
    let limits = "part = \"past_contact_mm\"\nideal_mm = [-0.5, 0.5]";
    let (grade, document) = graded(26, "finish_line.shoulder_from_deg", reading, limits);
    let advice = advise(&grade, Some(&document), Some(&kit()), Language::Es).remove(0);
    assert_eq!(advice.concern, Concern::Amiss);
    assert_eq!(
        advice.sentence,
        "Title: −1,20 mm, 0,70 mm por debajo de lo que se pide; habla con tu docente antes de volver a tallar."
    );
}

/// Without the measurement there are no millimetres for places, but the aspect stays.
#[test]
fn without_the_measurement_places_are_aspects() {
    let value = number(0.2, "mm", 0.01, Some(([0.7, -3.9, 0.0], "lingual")));
    let (grade, document) = graded(26, "undercut.depth_mm", value, "ideal_mm = { to = 0.1 }");
    let said = |document| advise(&grade, document, None, Language::Es).remove(0).sentence;
    assert!(
        said(Some(&document)).starts_with("Una zona retentiva de 0,20 mm, a 0,7 mm hacia mesial del centro")
    );
    assert!(said(None).starts_with("Una zona retentiva de 0,20 mm, por palatino, impide"));
}
