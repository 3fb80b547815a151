//! Phantoms with prescribed faults, scanned and measured, against shipped exercises: the right sentence, at the right place, with
//! the right instrument; and none for a preparation as the exercise wants it.

mod common;

use common::{aspect, instrument, kit, on, points};
use kerfwright_advice::{Advice, Concern, Language, Urgency, advise};
use kerfwright_exercise::{Exercise, Shelf, library};
use kerfwright_grade::{FindingKind, Grade, Level, Mend, Outcome};
use kerfwright_phantom::{ByAspect, Coverage, Finish, OcclusalReduction, Phantom, SecondPlane, Spec};
use kerfwright_trial::common::Case;

/// A complete cast crown as a school may ask for it on this phantom's short crown: the shipped exercise, with the lower walls
/// and the deeper axial reduction that its bulge leads to, and without excursions, which an average jaw leaves open.
const SHORT_CROWN: &str = r#"schema = "kerfwright-exercise-1"
name = "short-crown"
title = "Cast crown on a short crown"
base = "cast-crown-molar"
teeth = [26]

[[stage]]
id = "final"

[[stage.criterion]]
id = "axial"
ideal_mm = [0.4, 1.6]
acceptable_mm = [0.3, 1.8]
source = "school: short crowns"
at = {}

[[stage.criterion]]
id = "excursions"
remove = true

[[stage.criterion]]
id = "wall-height"
ideal_mm = { from = 2.5 }
acceptable_mm = { from = 2.0 }
source = "school: short crowns"

[[stage.criterion]]
id = "proportion"
ideal = { from = 0.25 }
acceptable = { from = 0.2 }
source = "school: short crowns"
"#;

fn cast() -> Spec {
    Spec {
        fdi: 26,
        taper_deg: ByAspect::all(7.0),
        width_mm: ByAspect::all(0.5),
        line_angle_radius_mm: 0.4,
        ..Spec::default()
    }
}

fn metal_ceramic() -> Spec {
    Spec {
        fdi: 26,
        taper_deg: ByAspect::all(7.0),
        width_mm: ByAspect { mesial: 0.7, facial: 1.2, distal: 0.7, lingual: 0.55 },
        finish: ByAspect { facial: Finish::SHOULDER, ..ByAspect::all(Finish::CHAMFER) },
        occlusal: OcclusalReduction { functional_mm: 2.0, nonfunctional_mm: 1.5, groove_mm: 1.6 },
        second_plane: Some(SecondPlane { angle_deg: 12.0, break_mm: 2.0 }),
        line_angle_radius_mm: 0.4,
        ..Spec::default()
    }
}

fn advice(name: &'static str, spec: &Spec, exercise: &Exercise, language: Language) -> (Grade, Vec<Advice>) {
    let case = Case::new(name, Phantom::new(spec), 5);
    let grade = kerfwright_grade::grade(&case.document, exercise, None).unwrap();
    let advice = advise(&grade, Some(&case.document), Some(&kit()), language);
    (grade, advice)
}

#[test]
fn an_ideal_preparation_gets_no_advice() {
    let exercise = kerfwright_exercise::read("short-crown", SHORT_CROWN, &Shelf::library())
        .unwrap_or_else(|faults| panic!("{faults}"));
    let (grade, advice) = advice("ideal", &cast(), &exercise, Language::En);
    assert!(advice.is_empty(), "{advice:#?}");
    assert!(grade.items().all(|(_, item)| item.finding.is_none()), "{grade:#?}");
    assert_eq!((grade.computed.outcome, grade.computed.pct), (Outcome::Passed, Some(100.0)));
}

/// Cusps too high, a finish line too thin lingually, a shoulder too narrow facially, one wall hidden, the neighbour cut.
#[test]
fn what_was_cut_too_little_is_told_with_place_and_instrument() {
    let faults = Spec {
        taper_deg: ByAspect { mesial: -8.0, distal: 1.0, ..ByAspect::all(7.0) },
        width_mm: ByAspect { facial: 0.7, lingual: 0.2, ..ByAspect::all(0.7) },
        occlusal: OcclusalReduction { functional_mm: 1.2, nonfunctional_mm: 1.5, groove_mm: 1.6 },
        nick_distal_mm: 0.35,
        ..metal_ceramic()
    };
    let exercise = library::exercise("quayside-26").unwrap();
    let (grade, advice) = advice("too little", &faults, &exercise, Language::En);

    let undercut = on(&advice, "undercut.depth_mm");
    assert!((undercut.urgency, undercut.can_be_mended) == (Urgency::Endangers, true), "{undercut:#?}");
    assert!(aspect(undercut).starts_with("mesi"), "{undercut:#?}");
    assert!(undercut.sentence.contains("keeps the crown from seating"), "{undercut:#?}");

    let damage = on(&advice, "neighbour.distal.depth_mm");
    assert!((damage.urgency, damage.can_be_mended) == (Urgency::Endangers, false), "{damage:#?}");
    assert!(damage.sentence.starts_with("The distal neighbour has been cut"), "{damage:#?}");

    let cusps = on(&advice, "reduction.occlusal.functional_mm");
    assert!((cusps.urgency, cusps.can_be_mended) == (Urgency::Mend, true), "{cusps:#?}");
    assert_eq!(instrument(cusps), "taper-round-021");
    // Lingual cusps carry the bite of an upper molar; the phantom lacks 0.6 mm to the ideal there.
    assert!(cusps.sentence.contains("lingual"), "{cusps:#?}");
    assert!(cusps.sentence.contains("another 0.6"), "{cusps:#?}");

    let shoulder = on(&advice, "finish_line.width.facial_mm");
    assert_eq!((aspect(shoulder), instrument(shoulder)), ("facial", "taper-flat-rounded-016"));
    let chamfer = on(&advice, "finish_line.width.lingual_mm");
    assert_eq!((aspect(chamfer), instrument(chamfer)), ("lingual", "taper-round-014"));

    let order: Vec<Urgency> = advice.iter().map(|one| one.urgency).collect();
    assert!(order.is_sorted(), "{order:?}");
    assert_eq!(order.iter().filter(|urgency| **urgency == Urgency::Endangers).count(), 2, "{advice:#?}");

    // The undercut is a critical error of this exercise: it fails whatever the points.
    assert_eq!(grade.computed.outcome, Outcome::NotPassed);
    assert_eq!(grade.computed.critical_errors, ["undercut"]);
    assert_eq!([points(&grade, "functional"), points(&grade, "undercut")], [0.0, 0.0]);
}

/// Cusps cut too deep, a finish line too wide lingually and hidden by the gingiva facially: kindly and plainly beyond recall, in Spanish.
#[test]
fn what_was_cut_too_much_is_told_as_beyond_recall() {
    let faults = Spec {
        above_gingiva_mm: ByAspect { facial: -0.5, ..ByAspect::all(0.5) },
        width_mm: ByAspect { lingual: 0.95, ..ByAspect::all(0.5) },
        occlusal: OcclusalReduction { functional_mm: 1.5, nonfunctional_mm: 1.8, groove_mm: 1.5 },
        ..cast()
    };
    let exercise = kerfwright_exercise::read("short-crown", SHORT_CROWN, &Shelf::library()).unwrap();
    let (grade, advice) = advice("too much", &faults, &exercise, Language::Es);

    let cusps = on(&advice, "reduction.occlusal.nonfunctional_mm");
    assert!((cusps.urgency, cusps.can_be_mended) == (Urgency::Endangers, false), "{cusps:#?}");
    // With the place where most is gone.
    assert!(cusps.sentence.contains("de más en las cúspides no funcionales, sobre todo "), "{cusps:#?}");
    assert!(cusps.sentence.contains(", y eso ya no se recupera"), "{cusps:#?}");
    assert!(cusps.place.is_some(), "{cusps:#?}");
    assert!(cusps.instrument.is_none());

    let width = on(&advice, "finish_line.width.lingual_mm");
    assert!((width.urgency, width.can_be_mended) == (Urgency::Endangers, false), "{width:#?}");
    assert!(width.sentence.contains("de anchura por palatino y eso ya no se recupera"), "{width:#?}");

    let hidden = "finish_line.above_gingiva.facial_mm".to_owned();
    let gingiva = advice.iter().find(|one| one.readings.contains(&hidden)).unwrap();
    assert_eq!((gingiva.concern, gingiva.urgency), (Concern::NotMeasured, Urgency::Check));
    assert!(
        gingiva.sentence.starts_with("Escanea otra vez toda la línea de terminación, seca"),
        "{gingiva:#?}"
    );
    assert!(gingiva.sentence.contains("sobre la encía por vestibular"), "{gingiva:#?}");

    // What gingiva hides is uncovered and scanned again, not cut.
    let is_break = |one: &&Advice| one.readings.contains(&"finish_line.steps".to_owned());
    for one in advice.iter().filter(is_break) {
        assert_eq!((one.concern, &one.instrument), (Concern::NotMeasured, &None), "{one:#?}");
        assert!(one.sentence.contains("retira la encía"), "{one:#?}");
    }
    let others: Vec<&Advice> =
        advice.iter().filter(|one| one.concern == Concern::Amiss && ![cusps, width].contains(one)).collect();
    assert!(others.is_empty(), "{others:#?}");

    // Four points lost over the cusps, one around the line (and one not counted, where the gingiva hides it); nothing critical, so
    // that it still passes.
    assert_eq!([points(&grade, "nonfunctional"), points(&grade, "functional")], [0.0, 4.0]);
    assert_eq!(points(&grade, "width"), 2.0);
    assert_eq!(grade.computed.outcome, Outcome::Passed);
}

/// The same with a finish line that is asked for higher up lingually.
const HIGH_LINE: &str = r#"
[[stage.criterion]]
id = "height"

[stage.criterion.at.lingual]
ideal_mm = [0.7, 1.0]
acceptable_mm = [0.6, 1.2]
source = "school: high lines"
"#;

/// A finish line too far from the gingiva facially, too near to it lingually, too thin mesially; two walls too upright.
#[test]
fn a_finish_line_too_high_too_low_or_too_thin_is_told_apart() {
    let faults = Spec {
        above_gingiva_mm: ByAspect { facial: 1.8, lingual: 0.3, ..ByAspect::all(0.5) },
        width_mm: ByAspect { mesial: 0.2, ..ByAspect::all(0.5) },
        // The path shares what there is between opposing walls.
        taper_deg: ByAspect { facial: 0.5, lingual: 0.5, ..ByAspect::all(7.0) },
        ..cast()
    };
    let text = format!("{SHORT_CROWN}{HIGH_LINE}");
    let exercise = kerfwright_exercise::read("short-crown", &text, &Shelf::library())
        .unwrap_or_else(|faults| panic!("{faults}"));
    let (grade, advice) = advice("line", &faults, &exercise, Language::En);

    let high = on(&advice, "finish_line.above_gingiva.facial_mm");
    assert_eq!((high.kind, high.can_be_mended), (Some(FindingKind::TooLittle), true), "{high:#?}");
    // The line there is 0.5 mm wide: the thinnest round end that takes it without a lip.
    assert_eq!(instrument(high), "taper-round-016", "{high:#?}");
    let low = on(&advice, "finish_line.above_gingiva.lingual_mm");
    assert_eq!((low.kind, low.can_be_mended), (Some(FindingKind::TooMuch), false), "{low:#?}");
    assert!(low.instrument.is_none(), "{low:#?}");
    let thin = on(&advice, "finish_line.width.mesial_mm");
    assert_eq!((aspect(thin), instrument(thin), thin.can_be_mended), ("mesial", "taper-round-014", true));
    let upright = on(&advice, "taper.facial_deg");
    assert_eq!((upright.kind, upright.can_be_mended), (Some(FindingKind::TooLittle), true), "{upright:#?}");
    assert!(instrument(upright).ends_with("-fine"), "{upright:#?}");
    assert!(grade.computed.critical_errors.is_empty(), "{:?}", grade.computed);
    // Two of four heights, one of four widths: shares of 3 and of 4 points.
    assert_eq!([points(&grade, "height"), points(&grade, "width")], [1.5, 3.0]);
}

/// A metal-ceramic crown that bears little over the non-functional cusps, at once and in the end.
const SHALLOW_CUSP: &str = r#"schema = "kerfwright-exercise-1"
name = "shallow-cusp"
title = "Metal-ceramic crown, shallow cusp"
base = "metal-ceramic-molar"
teeth = [26]

[[stage]]
id = "occlusal"

[[stage.criterion]]
id = "nonfunctional"
ideal_mm = [0.8, 1.1]
acceptable_mm = [0.7, 1.2]
source = "school: shallow cusps"

[[stage]]
id = "final"

[[stage.criterion]]
id = "nonfunctional"
ideal_mm = [1.0, 1.3]
acceptable_mm = [0.9, 1.4]
source = "school: shallow cusps"
"#;

/// A scan after occlusal reduction alone: held against that stage, and what the end can no longer mend is told.
#[test]
fn an_early_scan_is_held_against_its_stage_alone() {
    let early = Spec {
        coverage: Coverage::TopAlone,
        occlusal: OcclusalReduction { functional_mm: 1.0, nonfunctional_mm: 2.4, groove_mm: 1.5 },
        ..metal_ceramic()
    };
    let exercise = kerfwright_exercise::read("shallow-cusp", SHALLOW_CUSP, &Shelf::library())
        .unwrap_or_else(|faults| panic!("{faults}"));
    let case = Case::new("early", Phantom::new(&early), 5);
    let grade = kerfwright_grade::grade(&case.document, &exercise, Some("occlusal")).unwrap();
    let ids: Vec<&str> = grade.criteria.iter().map(|criterion| criterion.id.as_str()).collect();
    assert_eq!(ids, ["functional", "nonfunctional"]);
    assert!(grade.items().all(|(_, item)| item.level != Level::NotMeasured), "{grade:#?}");

    let item = |id: &str| grade.items().find(|(criterion, _)| criterion.id == id).unwrap().1;
    let short = item("functional").finding.clone().unwrap();
    assert_eq!((short.kind, short.mend), (FindingKind::TooLittle, Mend::MoreCutting), "{short:#?}");
    // The functional cusps of an upper molar are its lingual ones.
    assert!(short.place.as_ref().is_some_and(|place| place.aspect.contains("lingual")), "{short:#?}");
    // The last stage bears 1.4 mm there.
    let deep = item("nonfunctional").finding.clone().unwrap();
    assert_eq!((deep.kind, deep.mend), (FindingKind::TooMuch, Mend::BeyondRecall), "{deep:#?}");
    let lost: Vec<&str> = grade.lost_ahead.iter().map(|lost| lost.reading.as_str()).collect();
    assert!(lost.contains(&"reduction.occlusal.nonfunctional_mm"), "{lost:?}");
    assert!(!lost.contains(&"reduction.occlusal.functional_mm"), "{lost:?}");
    assert_eq!(grade.computed.outcome, Outcome::NotPassed);

    let advice = advise(&grade, Some(&case.document), Some(&kit()), Language::En);
    let cusps = on(&advice, "reduction.occlusal.functional_mm");
    assert_eq!((instrument(cusps), cusps.can_be_mended), ("taper-round-021", true), "{cusps:#?}");
    let deep = on(&advice, "reduction.occlusal.nonfunctional_mm");
    assert!(!deep.can_be_mended && deep.instrument.is_none(), "{deep:#?}");
}
