//! What a plan foretells, and how an attempt is held against it.

#[allow(dead_code)]
mod common;

use common::uncut;
use kerfwright_geometry::Surface;
use kerfwright_plan::deviation::deviation;
use kerfwright_plan::forecast::forecast;
use kerfwright_plan::{Occlusal, Targets, plan};

#[test]
fn a_molar_is_told_its_clearance_and_what_is_left_over_an_average_pulp() {
    let uncut = uncut(26, 6);
    let targets = Targets::complete_crown().unwrap();
    let plan = plan(&uncut.before, &uncut.wish, &targets).unwrap();
    let told = forecast(&uncut.before, Some(&uncut.opposing), &plan).unwrap();
    let number = |id: &str| told.readings[id].number().unwrap();
    println!("{:#?} {:?}", told.warnings, told.over_average_pulp);
    for id in ["clearance.mip_mm", "ratio.oc_fl", "resistance.limiting_taper_deg", "wall.height.facial_mm"] {
        println!("{id} {}", number(id));
    }
    // The bite touches the uncut tooth, so about the reduction is clear, and never much more than the groove's.
    assert!((0.7..1.6).contains(&number("clearance.mip_mm")));
    let pulp = told.over_average_pulp.unwrap();
    assert!((pulp.left_mm + pulp.cut_mm - 6.24).abs() < 1e-9 && (0.9..1.6).contains(&pulp.cut_mm));
}

#[test]
fn a_deeper_attempt_is_over_cut_by_the_difference_and_a_shallower_one_under_cut() {
    let uncut = uncut(26, 7);
    let targets = Targets::complete_crown().unwrap();
    let asked = plan(&uncut.before, &uncut.wish, &targets).unwrap();
    let attempt = |by_mm: f64| {
        let occlusal = Occlusal {
            functional_mm: targets.occlusal.functional_mm + by_mm,
            nonfunctional_mm: targets.occlusal.nonfunctional_mm + by_mm,
            groove_mm: targets.occlusal.groove_mm + by_mm,
            ..targets.occlusal
        };
        let cut = plan(&uncut.before, &uncut.wish, &Targets { occlusal, ..targets.clone() }).unwrap();
        deviation(&Surface::new(cut.target), &asked).parts
    };
    for by_mm in [0.3, -0.3] {
        let parts = attempt(by_mm);
        println!("{by_mm}: {parts:#?}");
        let occlusal = parts.iter().find(|part| part.part == "occlusal").unwrap();
        assert!((occlusal.median_mm + by_mm).abs() < 0.03, "{occlusal:?}");
        // Where a cusp's slope meets a wall the deeper cut is the wall's, which did not move.
        let over_cut_pct = if by_mm > 0.0 { 90.0..=100.0 } else { 0.0..=0.0 };
        assert!(over_cut_pct.contains(&occlusal.over_cut_area_pct), "{occlusal:?}");
        // The walls are the same.
        for wall in parts.iter().filter(|part| part.part != "occlusal") {
            assert!(wall.over_cut_mm < 0.05, "{wall:?}");
            assert!(wall.median_mm.abs() < 0.01, "{wall:?}");
        }
    }
}
