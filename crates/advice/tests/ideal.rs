//! A preparation cut to the very numbers of an exercise gets no finding.

mod common;

use common::kit;
use kerfwright_advice::{Language, advise};
use kerfwright_exercise::library;
use kerfwright_phantom::{ByAspect, Finish, IncisalReduction, OcclusalReduction, Phantom, SecondPlane, Spec};
use kerfwright_plan::Targets;
use kerfwright_tooth::Tooth;
use kerfwright_trial::common::Case;

/// The phantom of a tooth cut to the middle of what an exercise calls ideal.
fn ideal(exercise: &str, fdi: u8) -> Spec {
    let exercise = library::exercise(exercise).unwrap();
    let targets = Targets::of_exercise(&exercise, Tooth::from_fdi(fdi).unwrap()).unwrap().targets;
    let by = |of: kerfwright_plan::ByAspect<f64>| ByAspect {
        mesial: of.mesial,
        facial: of.facial,
        distal: of.distal,
        lingual: of.lingual,
    };
    let edges = &targets.edges;
    let form = |finish| match finish {
        kerfwright_plan::Finish::Chamfer => {
            Finish::Chamfer { tip_radius_mm: Some(edges.chamfer_tip_radius_mm) }
        }
        kerfwright_plan::Finish::Shoulder => {
            Finish::Shoulder { internal_radius_mm: edges.internal_radius_mm }
        }
        kerfwright_plan::Finish::SlopedShoulder => {
            Finish::SlopedShoulder { declination_deg: 25.0, internal_radius_mm: edges.internal_radius_mm }
        }
    };
    let finish = &targets.finish;
    let plain = if fdi % 10 < 4 { Spec::front(fdi) } else { Spec { fdi, ..Spec::default() } };
    Spec {
        taper_deg: by(targets.taper_deg),
        width_mm: by(targets.width_mm),
        above_gingiva_mm: by(targets.above_gingiva_mm),
        finish: ByAspect {
            mesial: form(finish.mesial),
            facial: form(finish.facial),
            distal: form(finish.distal),
            lingual: form(finish.lingual),
        },
        occlusal: OcclusalReduction {
            functional_mm: targets.occlusal.functional_mm,
            nonfunctional_mm: targets.occlusal.nonfunctional_mm,
            groove_mm: targets.occlusal.groove_mm,
        },
        incisal: IncisalReduction {
            incisal_mm: targets.front.incisal_mm,
            fossa_mm: targets.front.lingual_fossa_mm,
        },
        second_plane: targets
            .second_plane
            .map(|plane| SecondPlane { angle_deg: plane.angle_deg, break_mm: plane.break_mm }),
        line_angle_radius_mm: edges.occlusal_radius_mm,
        ..plain
    }
}

#[test]
fn probe() {
    let list = std::env::var("PROBE").unwrap();
    for one in list.split(',') {
        let (name, fdi) = one.split_once(':').unwrap();
        let fdi: u8 = fdi.parse().unwrap();
        let exercise = library::exercise(name).unwrap();
        let case = Case::new("probe", Phantom::new(&ideal(name, fdi)), 5);
        let grade = kerfwright_grade::grade(&case.document, &exercise, None).unwrap();
        println!(
            "== {name} {fdi}: {:?} {:?} {:?}",
            grade.computed.outcome, grade.computed.pct, grade.computed.critical_errors
        );
        for (criterion, item) in grade.items() {
            if item.level != kerfwright_grade::Level::Ideal {
                println!(
                    "{:?} {} {} {:?} u95 {:?} wanted {:?} | {:?}",
                    item.level,
                    criterion.id,
                    item.reading,
                    item.value,
                    item.u95,
                    item.wanted,
                    item.not_measured
                );
            }
        }
        for one in advise(&grade, Some(&case.document), Some(&kit()), Language::En) {
            println!("  > {}", one.sentence);
        }
    }
}
