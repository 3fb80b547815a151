//! Isthmus and boxes of phantom onlays against the shipped exercises: none of the criteria on the inner form finds anything on an ideal
//! one; a prescribed fault is told with its place, an instrument of the kit, how it is held, whether it can be mended, and no points.

mod common;

use common::{instrument, kit, on};
use kerfwright_advice::{Advice, Language, Urgency, advise};
use kerfwright_exercise::library;
use kerfwright_grade::{FindingKind, Grade, Level};
use kerfwright_phantom::{Coverage, OcclusalReduction, Onlay, Phantom, Spec};
use kerfwright_trial::common::Case;
use kerfwright_trial::common::onlay::with_isthmus_depth;

/// How far the isthmus floor lies under the uncut surface: 1.0 mm off the groove and 1.0 mm of isthmus, a little deeper.
const DEPTH_MM: f64 = 2.3;

fn cast() -> Onlay {
    Onlay {
        isthmus_mm: 1.5,
        depth_mm: 4.2,
        box_width_mm: 3.5,
        box_depth_mm: 5.5,
        box_axial_mm: 2.0,
        divergence_deg: 5.0,
        box_divergence_deg: None,
        covers_functional: true,
        covers_nonfunctional: true,
    }
}

fn ceramic() -> Onlay {
    Onlay { isthmus_mm: 2.3, divergence_deg: 8.0, ..cast() }
}

/// Cut `depth_mm` under the uncut groove, scanned, measured, and held against the stage that cuts the inner form.
fn graded(exercise: &str, fdi: u8, onlay: Onlay, depth_mm: f64) -> (Grade, Vec<Advice>) {
    // As the stage before leaves the cusps.
    let [functional_mm, nonfunctional_mm] = if exercise == "onlay-cast" { [1.2, 0.8] } else { [1.4, 1.2] };
    let occlusal = OcclusalReduction { functional_mm, nonfunctional_mm, groove_mm: nonfunctional_mm };
    // Without the adjacent teeth, behind whose contacts no scanner sees the rim of a box.
    let missing = vec![fdi - 1, fdi + 1];
    let plain = Spec { fdi, occlusal, missing, ..Spec::default() };
    let spec = |onlay: Onlay| Spec { coverage: Coverage::Onlay(onlay), ..plain.clone() };
    let onlay = with_isthmus_depth(&Phantom::new(&spec(onlay)), onlay, depth_mm);
    let case = Case::new("onlay", Phantom::new(&spec(onlay)), 5);
    for (id, reading) in case.document.readings.iter().filter(|(id, _)| is_inner(id)) {
        println!("{fdi} {id}: {:?} ± {:?} {:?}", reading.value, reading.u95, reading.extras);
    }
    for (id, reason) in case.document.refused.iter().filter(|(id, _)| is_inner(id)) {
        println!("{fdi} {id}: {reason}");
    }
    let exercise = library::exercise(exercise).unwrap();
    let grade = kerfwright_grade::grade(&case.document, &exercise, Some("boxes")).unwrap();
    let advice = advise(&grade, Some(&case.document), Some(&kit()), Language::En);
    (grade, advice.into_iter().filter(|one| one.readings.iter().any(|id| is_inner(id))).collect())
}

fn is_inner(id: &str) -> bool {
    id.starts_with("isthmus.") || id.starts_with("box.")
}

fn points(grade: &Grade, id: &str) -> [f64; 2] {
    let criterion = grade.criteria.iter().find(|criterion| criterion.id == id).unwrap();
    [criterion.points, criterion.possible]
}

#[test]
fn ideal_inner_forms_get_no_finding() {
    for (exercise, fdi, onlay) in
        [("onlay-cast", 26, cast()), ("onlay-cast", 36, cast()), ("onlay-ceramic", 26, ceramic())]
    {
        let (grade, advice) = graded(exercise, fdi, onlay, DEPTH_MM);
        let inner: Vec<_> = grade.items().filter(|(_, item)| is_inner(&item.reading)).collect();
        assert_eq!(inner.len(), 11);
        for (_, item) in inner {
            assert_eq!(item.level, Level::Ideal, "{exercise} {fdi}: {item:#?}");
        }
        assert!(advice.is_empty(), "{exercise} {fdi}: {advice:#?}");
    }
}

/// Nothing but `told` is proven off in the inner form, and nothing of it was left unread.
fn is_all(advice: &[Advice], told: &[&Advice]) {
    let others: Vec<&Advice> = advice
        .iter()
        .filter(|one| one.urgency != Urgency::Better && !told.iter().any(|known| known == one))
        .collect();
    assert!(others.is_empty(), "{others:#?}");
}

#[test]
fn a_narrow_isthmus_can_be_widened() {
    let (grade, advice) = graded("onlay-cast", 26, Onlay { isthmus_mm: 0.8, ..cast() }, DEPTH_MM);
    let narrow = on(&advice, "isthmus.width_mm");
    assert_eq!((narrow.kind, narrow.urgency), (Some(FindingKind::TooLittle), Urgency::Mend), "{narrow:#?}");
    assert!(narrow.can_be_mended && narrow.place.is_some(), "{narrow:#?}");
    assert_eq!(instrument(narrow), "taper-flat-rounded-012");
    // 0.8 of 1.2 mm. The walls are to lean by 5.5 degrees, of which the instrument has 2.
    assert!(narrow.sentence.starts_with("The isthmus is 0.4"), "{}", narrow.sentence);
    assert!(narrow.sentence.contains(") tipped 3.5° towards the wall, "), "{}", narrow.sentence);
    is_all(&advice, &[narrow]);
    assert_eq!(points(&grade, "isthmus-width"), [0.0, 2.0]);
    assert_eq!(points(&grade, "isthmus-depth"), [2.0, 2.0]);
}

#[test]
fn what_is_too_wide_and_too_deep_is_beyond_recall() {
    let faults = Onlay { isthmus_mm: 3.8, box_width_mm: 5.4, box_axial_mm: 3.0, ..ceramic() };
    let (grade, advice) = graded("onlay-ceramic", 26, faults, 3.3);
    let mut told = Vec::new();
    for (reading, urgency, says) in [
        ("isthmus.width_mm", Urgency::Lesson, "The isthmus is 0."),
        ("isthmus.depth_mm", Urgency::Endangers, "The floor of the isthmus lies 0."),
        ("box.mesial.width_mm", Urgency::Lesson, "The mesial box is 0."),
        ("box.distal.width_mm", Urgency::Lesson, "The distal box is 0."),
        ("box.mesial.depth_mm", Urgency::Endangers, "The mesial box reaches 0."),
        ("box.distal.depth_mm", Urgency::Endangers, "The distal box reaches 0."),
    ] {
        let one = on(&advice, reading);
        assert_eq!((one.kind, one.urgency), (Some(FindingKind::TooMuch), urgency), "{one:#?}");
        assert!(!one.can_be_mended && one.instrument.is_none() && one.sentence.starts_with(says), "{one:#?}");
        assert!(one.sentence.contains("cannot be put back"), "{one:#?}");
        told.push(one);
    }
    is_all(&advice, &told);
    for id in ["isthmus-width", "isthmus-depth", "box-width", "box-depth"] {
        assert_eq!(points(&grade, id)[0], 0.0, "{id}");
    }
}

#[test]
fn undercut_walls_are_told_first() {
    let (grade, advice) =
        graded("onlay-cast", 26, Onlay { box_divergence_deg: Some(-5.0), ..cast() }, DEPTH_MM);
    let boxes = ["mesial", "distal"].map(|side| on(&advice, &format!("box.{side}.divergence_deg")));
    for (side, one) in ["mesial", "distal"].into_iter().zip(boxes) {
        assert_eq!((one.kind, one.urgency), (Some(FindingKind::Below), Urgency::Endangers), "{one:#?}");
        assert!(one.can_be_mended && one.place.is_some(), "{one:#?}");
        assert_eq!(instrument(one), "taper-flat-rounded-016-fine");
        assert!(one.sentence.starts_with(&format!("The {side} box is undercut (−")), "{}", one.sentence);
        // To 3 degrees, of which the instrument has 2: within what a hand can do.
        assert!(one.sentence.contains(") parallel to the path of placement, "), "{}", one.sentence);
    }
    is_all(&advice, &boxes);
    assert_eq!(points(&grade, "box-divergence"), [0.0, 2.0]);
    assert_eq!(points(&grade, "isthmus-divergence"), [2.0, 2.0]);

    let undercut = Onlay { divergence_deg: -5.0, box_divergence_deg: Some(5.0), ..cast() };
    let (grade, advice) = graded("onlay-cast", 26, undercut, DEPTH_MM);
    let isthmus = on(&advice, "isthmus.divergence_deg");
    assert_eq!((isthmus.urgency, isthmus.can_be_mended), (Urgency::Endangers, true), "{isthmus:#?}");
    assert!(isthmus.sentence.starts_with("The isthmus is undercut (−"), "{}", isthmus.sentence);
    is_all(&advice, &[isthmus]);
    assert_eq!(points(&grade, "isthmus-divergence"), [0.0, 2.0]);
}

#[test]
fn what_is_too_shallow_narrow_and_flared_is_told_with_its_instrument() {
    let faults =
        Onlay { isthmus_mm: 1.5, box_width_mm: 2.0, box_axial_mm: 1.1, divergence_deg: 16.0, ..cast() };
    let (grade, advice) = graded("onlay-cast", 26, faults, 1.35);
    let mut told = Vec::new();
    for (reading, kind, tool, says) in [
        (
            "isthmus.depth_mm",
            FindingKind::TooLittle,
            "taper-flat-rounded-012",
            "The floor of the isthmus lies 0.4",
        ),
        (
            "isthmus.divergence_deg",
            FindingKind::Above,
            "taper-flat-rounded-016-fine",
            "The walls of the isthmus flare",
        ),
        ("box.mesial.width_mm", FindingKind::TooLittle, "taper-flat-rounded-012", "The mesial box is 1.0"),
        ("box.distal.width_mm", FindingKind::TooLittle, "taper-flat-rounded-012", "The distal box is 1.0"),
        (
            "box.mesial.depth_mm",
            FindingKind::TooLittle,
            "taper-flat-rounded-012",
            "The mesial box needs another 0.",
        ),
        (
            "box.distal.depth_mm",
            FindingKind::TooLittle,
            "taper-flat-rounded-012",
            "The distal box needs another 0.",
        ),
        (
            "box.mesial.divergence_deg",
            FindingKind::Above,
            "taper-flat-rounded-016-fine",
            "The walls of the mesial box flare",
        ),
        (
            "box.distal.divergence_deg",
            FindingKind::Above,
            "taper-flat-rounded-016-fine",
            "The walls of the distal box flare",
        ),
    ] {
        let one = on(&advice, reading);
        assert_eq!((one.kind, instrument(one)), (Some(kind), tool), "{one:#?}");
        assert!(one.can_be_mended && one.sentence.starts_with(says), "{one:#?}");
        told.push(one);
    }
    is_all(&advice, &told);
    for id in ["isthmus-depth", "isthmus-divergence", "box-width", "box-depth", "box-divergence"] {
        assert_eq!(points(&grade, id)[0], 0.0, "{id}");
    }
}
