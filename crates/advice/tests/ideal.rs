//! Preparations cut to the numbers that a shipped exercise calls ideal get no finding, on each group of teeth; the same with prescribed
//! faults get the right ones, with place, instrument and grade.

mod common;

use common::{aspect, instrument, kit, on, points};
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

/// The ideal cast crown: 0.4 to 0.7 mm, 1.4 to 1.8 and 0.9 to 1.3 mm off the cusps.
fn cast(fdi: u8) -> Spec {
    let occlusal = OcclusalReduction { functional_mm: 1.6, nonfunctional_mm: 1.1, groove_mm: 1.1 };
    Spec { occlusal, ..walls(fdi, 0.48, CHAMFER) }
}

/// The ideal metal-ceramic crown of a back tooth: facial shoulder of 1.0 to 1.4 mm and second plane, chamfer elsewhere, 1.8 to
/// 2.2 and 1.3 to 1.7 mm off the cusps.
fn metal_ceramic(fdi: u8, break_mm: f64) -> Spec {
    Spec {
        taper_deg: ByAspect::all(5.0),
        width_mm: ByAspect { mesial: 0.7, facial: 1.15, distal: 0.7, lingual: 0.5 },
        finish: ByAspect { facial: SHOULDER, ..ByAspect::all(CHAMFER) },
        occlusal: OcclusalReduction { functional_mm: 2.0, nonfunctional_mm: 1.5, groove_mm: 1.5 },
        second_plane: Some(SecondPlane { angle_deg: 10.0, break_mm }),
        ..walls(fdi, 0.6, CHAMFER)
    }
}

/// A ceramic crown of a back tooth with a rounded shoulder all round.
fn ceramic(fdi: u8, width_mm: f64, functional_mm: f64, nonfunctional_mm: f64) -> Spec {
    Spec {
        taper_deg: ByAspect::all(5.0),
        occlusal: OcclusalReduction { functional_mm, nonfunctional_mm, groove_mm: nonfunctional_mm },
        line_angle_radius_mm: 0.6,
        ..walls(fdi, width_mm, SHOULDER)
    }
}

/// The ideal monolithic zirconia crown of a back tooth: 0.5 to 0.8 mm, 1.0 to 1.5 mm off the top.
fn monolithic(fdi: u8) -> Spec {
    Spec { finish: ByAspect::all(CHAMFER), ..ceramic(fdi, 0.6, 1.25, 1.25) }
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

/// A criterion that an ideal preparation need not meet: which, how far off it may be, and why.
struct Open {
    id: &'static str,
    worst: Level,
    why: &'static str,
}

const EDGE_OF_INCISOR: Open = Open {
    id: "sharp-edges",
    worst: Level::TooClose,
    why: "a scan with edges of 0.15 mm cannot tell the radius of this incisor's edge, and says so",
};
const EDGE_OF_PREMOLAR: Open = Open {
    id: "sharp-edges",
    worst: Level::TooClose,
    why: "where the distal wall of a small tooth meets its marginal ridge the scan tells the radius to half a millimetre only, and says so",
};
const CREST: Open = Open {
    id: "edge-radius",
    worst: Level::TooClose,
    why: "the phantom rounds the crests of its cusps by 0.2 mm, however round its line angles: where the wall of a thick crown meets \
          a crest the edge is about as sharp as that, and the limit is 0.25 mm",
};
const ENDS_OF_EDGE: Open = Open {
    id: "edge-radius",
    worst: Level::TooClose,
    why: "at the ends of an incisal edge three faces meet, and the reading of the sharpest edge says that it cannot tell their radius",
};
const GAP: Open = Open {
    id: "gap",
    worst: Level::NotMeasured,
    why: "between front teeth no scan tells the gap: the bar does",
};
const AVERAGE_JAW: Open = Open {
    id: "excursions",
    worst: Level::TooClose,
    why: "how an average jaw moves is known to half a millimetre, and the bar has to tell",
};
const SHORT_WALL: Open = Open {
    id: "wall-height",
    worst: Level::NotAcceptable,
    why: "an average molar's crown of 7.0 to 7.5 mm leaves no walls of 4 mm under the occlusal reduction",
};
const LOW: Open = Open {
    id: "proportion",
    worst: Level::NotAcceptable,
    why: "nor is it 0.4 as high as it is wide then: advice on grooves is right",
};

/// How far off a level is.
fn rank(level: Level) -> usize {
    let order = [Level::Ideal, Level::Acceptable, Level::TooClose, Level::NotAcceptable, Level::NotMeasured];
    order.iter().position(|one| *one == level).unwrap()
}

/// Nothing is amiss, nothing is missing, and nothing is proven to lie beside ideal or asks for another look but `open`, each of
/// which has to be needed.
fn check_ideal(exercise: &str, spec: &Spec, open: &[Open]) {
    let (grade, advice) = graded(exercise, spec);
    let mut needed: Vec<&str> = Vec::new();
    let mut off: Vec<String> = Vec::new();
    for (criterion, item) in grade.items() {
        let is_ideal = matches!(item.level, Level::Ideal | Level::Acceptable)
            && item.ideal != Some(Decision::DoesNotMeet);
        if is_ideal {
            continue;
        }
        match open.iter().find(|one| one.id == criterion.id && rank(item.level) <= rank(one.worst)) {
            Some(known) => needed.push(known.id),
            None => {
                off.push(format!("{} {} {:?} ± {:?}", criterion.id, item.reading, item.value, item.u95));
            }
        }
    }
    assert!(off.is_empty(), "{exercise} on {}: {off:#?}", spec.fdi);
    for one in open {
        assert!(
            needed.contains(&one.id),
            "{exercise} on {}: no need to leave out that {}",
            spec.fdi,
            one.why
        );
    }
    let told: Vec<&Advice> = advice
        .iter()
        .filter(|one| one.urgency != Urgency::Better)
        .filter(|one| one.criteria.iter().any(|id| !needed.contains(&id.as_str())))
        .collect();
    assert!(told.is_empty(), "{exercise} on {}: {told:#?}", spec.fdi);
    for criterion in grade.criteria.iter().filter(|criterion| !needed.contains(&criterion.id.as_str())) {
        assert_eq!(criterion.points, criterion.possible, "{exercise} on {}: {}", spec.fdi, criterion.id);
    }
    assert_eq!(grade.computed.outcome, Outcome::Passed);
}

#[test]
fn ideal_cast_crowns_of_premolars_get_no_finding() {
    check_ideal("cast-crown-premolar", &cast(24), &[]);
    check_ideal("cast-crown-premolar", &cast(35), &[]);
}

#[test]
fn ideal_metal_ceramic_crowns_of_premolars_get_no_finding() {
    check_ideal("metal-ceramic-premolar", &Spec { line_angle_radius_mm: 0.7, ..metal_ceramic(24, 2.7) }, &[]);
    // On this short tooth rounder line angles, and more off the top, leave the distal wall too low to tell its taper.
    let occlusal = OcclusalReduction { functional_mm: 1.9, nonfunctional_mm: 1.38, groove_mm: 1.38 };
    let low = Spec { line_angle_radius_mm: 0.4, occlusal, ..metal_ceramic(45, 2.5) };
    check_ideal("metal-ceramic-premolar", &low, &[EDGE_OF_PREMOLAR]);
}

/// On lower premolars the crests of the lingual cusps, as sharp as the phantom leaves them, stand in the wall of a crown as thick as
/// this: they are no ideal preparations, and not tried.
#[test]
fn ideal_ceramic_crowns_of_premolars_get_no_finding() {
    let disilicate = ceramic(25, 1.1, 1.75, 1.75);
    check_ideal("lithium-disilicate-premolar", &disilicate, &[]);
    let second_plane = Some(SecondPlane { angle_deg: 8.0, break_mm: 3.2 });
    let layered = Spec { second_plane, ..ceramic(25, 1.03, 1.95, 1.5) };
    check_ideal("zirconia-layered-premolar", &layered, &[CREST]);
    check_ideal("zirconia-monolithic-premolar", &monolithic(35), &[]);
}

/// All but what an average molar is too short for.
#[test]
fn ideal_metal_crowns_of_molars_get_no_other_finding() {
    check_ideal("cast-crown-molar", &cast(36), &[AVERAGE_JAW, SHORT_WALL, LOW]);
    check_ideal("metal-ceramic-molar", &metal_ceramic(26, 2.0), &[AVERAGE_JAW, SHORT_WALL, LOW]);
}

/// All but what an average molar is too short for.
#[test]
fn ideal_ceramic_crowns_of_molars_get_no_other_finding() {
    // Rounder line angles leave the mesial wall too low to tell its taper.
    let molar = |spec: Spec| Spec { line_angle_radius_mm: 0.5, taper_deg: ByAspect::all(6.0), ..spec };
    let disilicate = molar(ceramic(26, 1.1, 1.75, 1.75));
    check_ideal("lithium-disilicate-molar", &disilicate, &[CREST, SHORT_WALL, LOW]);
    let second_plane = Some(SecondPlane { angle_deg: 8.0, break_mm: 2.0 });
    let layered = molar(Spec { second_plane, ..ceramic(16, 1.1, 2.0, 1.6) });
    check_ideal("zirconia-layered-molar", &layered, &[AVERAGE_JAW, CREST, SHORT_WALL, LOW]);
    // On the shortest molar rounder line angles leave the distal wall too low to tell its taper.
    let low = Spec { line_angle_radius_mm: 0.45, ..molar(monolithic(37)) };
    check_ideal("zirconia-monolithic-molar", &low, &[SHORT_WALL, LOW]);
}

#[test]
fn ideal_metal_ceramic_crowns_of_an_incisor_and_a_canine_get_no_finding() {
    check_ideal("metal-ceramic-incisor", &metal_ceramic_front(22), &[GAP, EDGE_OF_INCISOR]);
    check_ideal("metal-ceramic-canine", &metal_ceramic_front(13), &[GAP]);
}

#[test]
fn ideal_ceramic_crowns_of_canines_get_no_finding() {
    check_ideal("zirconia-layered-canine", &ceramic_front(23, 0.97), &[GAP]);
    check_ideal("lithium-disilicate-canine", &ceramic_front(13, 1.06), &[GAP]);
}

#[test]
fn ideal_ceramic_crowns_of_incisors_get_no_finding() {
    let round = |fdi: u8, width_mm: f64, incisal_mm: f64| {
        let incisal = IncisalReduction { incisal_mm, fossa_mm: 1.05 };
        Spec { incisal, line_angle_radius_mm: 0.6, ..ceramic_front(fdi, width_mm) }
    };
    check_ideal("zirconia-layered-incisor", &round(11, 1.0, 1.7), &[GAP, ENDS_OF_EDGE]);
    check_ideal("lithium-disilicate-incisor", &round(21, 1.02, 1.6), &[GAP, ENDS_OF_EDGE]);
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
    check_ideal("zirconia-monolithic-incisor", &spec, &[GAP]);
}

/// The readings of all other advice on what is proven off, sorted.
fn amiss_elsewhere(advice: &[Advice], told: &[&Advice]) -> Vec<String> {
    let others = advice.iter().filter(|one| one.concern == Concern::Amiss && !told.contains(one));
    let mut readings: Vec<String> = others.flat_map(|one| one.readings.clone()).collect();
    readings.sort();
    readings
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
        ..cast(35)
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
