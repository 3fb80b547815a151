//! Preparations cut to the numbers that a shipped exercise calls ideal get no finding, on each group of teeth; the same with prescribed
//! faults get the right ones, with place, instrument and grade.

mod common;

use common::kit;
use kerfwright_advice::{Advice, Concern, Language, Urgency, advise};
use kerfwright_exercise::library;
use kerfwright_grade::{Decision, FindingKind, Grade, Level, Outcome};
use kerfwright_measure::{Attempt, OpposingFrame};
use kerfwright_phantom::{
    ByAspect, Coverage, Finish, IncisalReduction, OcclusalReduction, Phantom, ScanOptions, SecondPlane, Spec,
};
use kerfwright_trial::common::{Case, Files, pointed_request};

/// The chamfer of a round end 2.1 mm across.
const CHAMFER: Finish = Finish::Chamfer { tip_radius_mm: Some(1.05) };
/// A rounded shoulder that falls outwards by as much as makes it square on the bulging tooth.
const SHOULDER: Finish = Finish::SlopedShoulder { declination_deg: 11.0, internal_radius_mm: 0.5 };

/// Walls of 6 degrees and round edges, all else as the phantom has it.
fn walls(fdi: u8, width_mm: f64, finish: Finish) -> Spec {
    let plain = if fdi % 10 < 4 { Spec::front(fdi) } else { Spec { fdi, ..Spec::default() } };
    Spec {
        width_mm: ByAspect::all(width_mm),
        taper_deg: ByAspect::all(6.0),
        above_gingiva_mm: ByAspect::all(if fdi % 10 < 4 { 0.55 } else { 0.7 }),
        finish: ByAspect::all(finish),
        line_angle_radius_mm: 0.5,
        ..plain
    }
}

/// The ideal cast crown of a premolar: 0.4 to 0.7 mm, 1.4 to 1.8 and 0.9 to 1.3 mm off the cusps.
fn cast_premolar(fdi: u8) -> Spec {
    let occlusal = OcclusalReduction { functional_mm: 1.6, nonfunctional_mm: 1.1, groove_mm: 1.1 };
    Spec { occlusal, ..walls(fdi, 0.48, CHAMFER) }
}

/// The ideal metal-ceramic crown of a front tooth: facial shoulder of 1.0 to 1.4 mm, chamfer elsewhere, 1.5 to 2.0 mm off the edge.
fn metal_ceramic_front(fdi: u8) -> Spec {
    Spec {
        width_mm: ByAspect { mesial: 0.6, facial: 1.2, distal: 0.6, lingual: 0.5 },
        finish: ByAspect { facial: SHOULDER, ..ByAspect::all(CHAMFER) },
        incisal: IncisalReduction { incisal_mm: 1.9, fossa_mm: 0.8 },
        second_plane: Some(SecondPlane { angle_deg: 6.0, break_mm: 3.0 }),
        ..walls(fdi, 0.6, CHAMFER)
    }
}

/// The ideal ceramic crown of a front tooth: 1 mm and more all round, 1.5 to 2.0 mm off the edge.
fn ceramic_front(fdi: u8, width_mm: f64) -> Spec {
    Spec {
        incisal: IncisalReduction { incisal_mm: 1.75, fossa_mm: 1.05 },
        second_plane: Some(SecondPlane { angle_deg: 7.0, break_mm: 3.0 }),
        ..walls(fdi, width_mm, SHOULDER)
    }
}

fn graded(exercise: &str, spec: &Spec) -> (Grade, Vec<Advice>) {
    let exercise = library::exercise(exercise).unwrap();
    let case = Case::new("ideal", Phantom::new(spec), 5);
    let grade = kerfwright_grade::grade(&case.document, &exercise, None).unwrap();
    let advice = advise(&grade, Some(&case.document), Some(&kit()), Language::En);
    (grade, advice)
}

/// Nothing is amiss, nothing is missing, nothing is proven to lie beside ideal, and nothing but `open` asks for another look.
fn check_ideal(exercise: &str, spec: &Spec, open: &[&str]) {
    let (grade, advice) = graded(exercise, spec);
    // Between front teeth no scan tells the gap: the bar does.
    let is_untold = |id: &str, level: Level| level == Level::NotMeasured && id == "gap" && spec.fdi % 10 <= 3;
    let is_open =
        |id: &str, level: Level| is_untold(id, level) || level == Level::TooClose && open.contains(&id);
    let off: Vec<String> = grade
        .items()
        .filter(|(criterion, item)| {
            let is_met = matches!(item.level, Level::Ideal | Level::Acceptable);
            !is_met && !is_open(&criterion.id, item.level) || item.ideal == Some(Decision::DoesNotMeet)
        })
        .map(|(criterion, item)| {
            format!("{} {} {:?} ± {:?}", criterion.id, item.reading, item.value, item.u95)
        })
        .collect();
    assert!(off.is_empty(), "{exercise} on {}: {off:#?}", spec.fdi);
    let is_gap = |one: &Advice| one.concern == Concern::NotMeasured && one.criteria == ["gap"];
    let told: Vec<&Advice> =
        advice.iter().filter(|one| one.urgency != Urgency::Better && !is_gap(one)).collect();
    let told: Vec<&&Advice> =
        told.iter().filter(|one| open.is_empty() || one.concern != Concern::TooClose).collect();
    assert!(told.is_empty(), "{exercise} on {}: {told:#?}", spec.fdi);
    assert_eq!((grade.computed.outcome, grade.computed.pct), (Outcome::Passed, Some(100.0)));
}

#[test]
fn ideal_cast_crowns_of_premolars_get_no_finding() {
    check_ideal("cast-crown-premolar", &cast_premolar(24), &[]);
    check_ideal("cast-crown-premolar", &cast_premolar(35), &[]);
}

/// Where a scan with edges of 0.15 mm cannot tell the radius of an incisor's edge, it says so.
#[test]
fn ideal_metal_ceramic_crowns_of_an_incisor_and_a_canine_get_no_finding() {
    check_ideal("metal-ceramic-incisor", &metal_ceramic_front(22), &["sharp-edges"]);
    check_ideal("metal-ceramic-canine", &metal_ceramic_front(13), &[]);
}

#[test]
fn ideal_ceramic_crowns_of_canines_get_no_finding() {
    check_ideal("zirconia-layered-canine", &ceramic_front(23, 0.97), &[]);
    check_ideal("lithium-disilicate-canine", &ceramic_front(13, 1.06), &[]);
}

/// On the thinner edge of an incisor, whose planes meet more sharply.
#[test]
fn an_ideal_monolithic_crown_of_an_incisor_gets_no_finding() {
    let spec = Spec {
        incisal: IncisalReduction { incisal_mm: 1.6, fossa_mm: 0.8 },
        second_plane: Some(SecondPlane { angle_deg: 8.0, break_mm: 3.0 }),
        line_angle_radius_mm: 0.6,
        ..walls(21, 0.6, CHAMFER)
    };
    check_ideal("zirconia-monolithic-incisor", &spec, &[]);
}

/// Points of one criterion.
fn points(grade: &Grade, id: &str) -> f64 {
    grade.criteria.iter().find(|criterion| criterion.id == id).unwrap().points
}

fn aspect(advice: &Advice) -> &str {
    advice.place.as_ref().map_or("", |place| place.aspect.as_str())
}

/// The readings of all other advice on what is proven off, sorted.
fn amiss_elsewhere(advice: &[Advice], told: &[&Advice]) -> Vec<String> {
    let others = advice.iter().filter(|one| one.concern == Concern::Amiss && !told.contains(one));
    let mut readings: Vec<String> = others.flat_map(|one| one.readings.clone()).collect();
    readings.sort();
    readings
}

/// What is said of one reading that is proven off.
fn on<'a>(advice: &'a [Advice], reading: &str) -> &'a Advice {
    let found = advice.iter().find(|one| one.concern == Concern::Amiss && one.readings == [reading]);
    found.unwrap_or_else(|| panic!("nothing on {reading} in {advice:#?}"))
}

fn instrument(advice: &Advice) -> &str {
    advice.instrument.as_ref().map_or("", |tool| tool.id.as_str())
}

/// A facial shoulder and a lingual chamfer too narrow, an edge too long, the neighbour cut.
#[test]
fn faults_of_an_incisor_are_told_with_place_and_instrument() {
    let faults = Spec {
        width_mm: ByAspect { mesial: 0.6, facial: 0.7, distal: 0.6, lingual: 0.2 },
        incisal: IncisalReduction { incisal_mm: 1.0, fossa_mm: 0.8 },
        nick_mesial_mm: 0.3,
        ..metal_ceramic_front(11)
    };
    let (grade, advice) = graded("metal-ceramic-incisor", &faults);
    let damage = on(&advice, "neighbour.mesial.depth_mm");
    assert!((damage.urgency, damage.can_be_mended) == (Urgency::Endangers, false), "{damage:#?}");
    // 1.0 mm is off, 1.5 are ideal.
    let edge = on(&advice, "reduction.points.i_mm");
    assert!(edge.sentence.starts_with("Shorten the incisal edge by another 0.") && edge.can_be_mended);
    assert_eq!((instrument(edge), edge.kind), ("taper-round-021", Some(FindingKind::TooLittle)), "{edge:#?}");
    let shoulder = on(&advice, "finish_line.width.facial_mm");
    assert_eq!((aspect(shoulder), instrument(shoulder)), ("facial", "taper-flat-rounded-016"));
    assert!(shoulder.sentence.contains("0.3"), "{shoulder:#?}");
    let chamfer = on(&advice, "finish_line.width.lingual_mm");
    assert_eq!((aspect(chamfer), instrument(chamfer)), ("lingual", "taper-round-014"));
    assert_eq!(
        amiss_elsewhere(&advice, &[damage, edge, shoulder, chamfer]),
        ["finish_line.kind.lingual", "reduction.axial.facial.middle_mm"]
    );
    assert_eq!(grade.computed.outcome, Outcome::Passed);
    assert_eq!([points(&grade, "incisal"), points(&grade, "shoulder-width")], [0.0, 0.0]);
}

/// An edge cut too short, beyond recall, and a wall that hides.
#[test]
fn faults_of_a_canine_are_told_with_place_and_instrument() {
    let faults = Spec {
        taper_deg: ByAspect { mesial: 6.0, facial: 6.0, distal: -12.0, lingual: 6.0 },
        incisal: IncisalReduction { incisal_mm: 2.8, fossa_mm: 1.05 },
        ..ceramic_front(23, 0.97)
    };
    let (grade, advice) = graded("zirconia-layered-canine", &faults);
    let tip = on(&advice, "reduction.points.tip_mm");
    assert_eq!(
        (tip.urgency, tip.can_be_mended, instrument(tip)),
        (Urgency::Endangers, false, ""),
        "{tip:#?}"
    );
    let undercut = on(&advice, "undercut.depth_mm");
    assert_eq!((undercut.urgency, undercut.can_be_mended), (Urgency::Endangers, true), "{undercut:#?}");
    assert!(aspect(undercut).starts_with("mes") || aspect(undercut).starts_with("dist"), "{undercut:#?}");
    assert_eq!((grade.computed.outcome, points(&grade, "incisal")), (Outcome::NotPassed, 0.0));
    assert_eq!(grade.computed.critical_errors, ["undercut"]);
}

/// Functional cusps too high, a finish line too thin facially and too wide distally.
#[test]
fn faults_of_a_premolar_are_told_with_place_and_instrument() {
    let faults = Spec {
        width_mm: ByAspect { facial: 0.2, distal: 1.1, ..ByAspect::all(0.48) },
        occlusal: OcclusalReduction { functional_mm: 0.9, nonfunctional_mm: 1.1, groove_mm: 1.1 },
        ..cast_premolar(35)
    };
    let (grade, advice) = graded("cast-crown-premolar", &faults);
    let cusps = on(&advice, "reduction.occlusal.functional_mm");
    // The facial cusps of a lower premolar carry the bite; 0.5 mm are missing to ideal.
    assert!(
        cusps.sentence.starts_with("Take another 0.5") && cusps.sentence.contains("facial cusp"),
        "{cusps:#?}"
    );
    assert_eq!((instrument(cusps), cusps.can_be_mended), ("taper-round-021", true), "{cusps:#?}");
    let thin = on(&advice, "finish_line.width.facial_mm");
    assert_eq!((aspect(thin), instrument(thin), thin.can_be_mended), ("facial", "taper-round-014", true));
    let wide = on(&advice, "finish_line.width.distal_mm");
    assert_eq!(
        (wide.urgency, wide.can_be_mended, instrument(wide)),
        (Urgency::Endangers, false, ""),
        "{wide:#?}"
    );
    // The knife edge and the distal wall hang on the widths; nothing else is off.
    assert_eq!(
        amiss_elsewhere(&advice, &[cusps, thin, wide]),
        ["finish_line.kind.facial", "reduction.axial.distal.middle_mm"]
    );
    assert_eq!((grade.computed.outcome, points(&grade, "functional")), (Outcome::Passed, 0.0));
    assert_eq!(points(&grade, "width"), 2.0);
}

/// A scan after the first stage alone, held against that stage.
fn first_cut(exercise: &str, fdi: u8, incisal_mm: f64) -> (Grade, Vec<Advice>) {
    let plain = Spec::front(fdi);
    let incisal = IncisalReduction { incisal_mm, ..plain.incisal };
    let phantom = Phantom::new(&Spec { coverage: Coverage::TopAlone, incisal, ..plain });
    let scans = phantom.scan(&ScanOptions { seed: 5, ..ScanOptions::default() });
    let files = Files::of(&scans);
    let attempt = Attempt {
        after: &files.after,
        before: Some(&files.before),
        opposing: Some(&files.opposing),
        opposing_frame: OpposingFrame::Before,
    };
    let request = pointed_request(fdi, &scans);
    let aligned = attempt.align().unwrap();
    let document = attempt.document(&attempt.find_early(aligned.as_ref(), &request).unwrap(), &request);
    let exercise = library::exercise(exercise).unwrap();
    let grade = kerfwright_grade::grade(&document, &exercise, Some("occlusal")).unwrap();
    let advice = advise(&grade, Some(&document), Some(&kit()), Language::En);
    (grade, advice)
}

/// The edge cut as deep as the stage asks for gets no finding; 0.6 mm less is told; 0.6 mm more is told as beyond recall.
#[test]
fn first_cuts_of_front_teeth_are_held_against_their_stage() {
    for (exercise, fdi) in [("metal-ceramic-incisor", 11), ("metal-ceramic-canine", 13)] {
        let (grade, advice) = first_cut(exercise, fdi, 1.5);
        assert!(advice.is_empty(), "{advice:#?}");
        assert_eq!((grade.computed.outcome, grade.computed.pct), (Outcome::Passed, Some(100.0)));

        let (grade, advice) = first_cut(exercise, fdi, 0.8);
        let reading = if fdi == 11 { "reduction.points.i_mm" } else { "reduction.points.tip_mm" };
        let edge = on(&advice, reading);
        assert_eq!((edge.kind, edge.can_be_mended), (Some(FindingKind::TooLittle), true), "{edge:#?}");
        assert!(!instrument(edge).is_empty(), "{edge:#?}");
        assert_eq!((grade.computed.outcome, advice.len()), (Outcome::NotPassed, 1));
    }
    let (_, advice) = first_cut("metal-ceramic-incisor", 11, 3.0);
    let edge = on(&advice, "reduction.points.i_mm");
    assert_eq!((edge.can_be_mended, instrument(edge)), (false, ""), "{edge:#?}");
}
