//! A target from an exercise: it meets the exercise it was made for, and its stages lead up to it.

#[allow(dead_code)]
mod common;

use common::{measured, uncut, uncut_of};
use kerfwright_exercise::library;
use kerfwright_grade::{Grade, Level};
use kerfwright_mesh::Audit;
use kerfwright_phantom::{Phantom, ScanOptions, Spec, quayside_demo, quayside_scan};
use kerfwright_plan::index::{IndexWish, index};
use kerfwright_plan::stages::{Done, stage_depths};
use kerfwright_plan::{Targets, plan};

/// Not of the target: what a short crown leaves of walls, what jaws and contacts allow, what nobody rounds in a plan.
const OF_THE_TOOTH: [&str; 5] = ["wall-height", "proportion", "clearance", "excursions", "gap"];

/// What the exercise does not accept, apart from what the tooth allows.
fn missed(grade: &Grade) -> Vec<String> {
    grade
        .items()
        .filter(|(criterion, item)| {
            item.level == Level::NotAcceptable && !OF_THE_TOOTH.contains(&criterion.id.as_str())
        })
        .map(|(criterion, item)| format!("{}: {} {:?}", criterion.id, item.reading, item.value))
        .collect()
}

#[test]
fn a_target_read_as_a_scan_meets_the_exercise_it_was_made_for() {
    let exercise = library::exercise("cast-crown-molar").unwrap();
    let uncut = uncut(26, 4);
    let asked = Targets::of_exercise(&exercise, uncut.wish.tooth).unwrap();
    let plan = plan(&uncut.before, &uncut.wish, &asked.targets).unwrap();
    let document = measured(&uncut, &plan.target, &plan.site.frame.occlusal);
    let grade = kerfwright_grade::grade(&document, &exercise, None).unwrap();
    assert_eq!(missed(&grade), [""; 0]);
    let ideal = grade.items().filter(|(_, item)| item.level == Level::Ideal).count();
    assert!(ideal >= 20, "{ideal} readings are ideal");
}

/// After occlusal reduction the top alone is cut, to the interim depth; each stage cuts at least as deep as the one before, and the last is the
/// plan itself.
#[test]
fn depths_grow_from_stage_to_stage_up_to_the_plan() {
    let exercise = library::exercise("cast-crown-molar").unwrap();
    let uncut = uncut(26, 4);
    let stages = stage_depths(&uncut.before, &uncut.wish, &exercise).unwrap();
    let ids: Vec<&str> = stages.iter().map(|stage| stage.stage.as_str()).collect();
    let all: Vec<&str> = exercise.stages.iter().map(|stage| stage.id.as_str()).collect();
    assert_eq!(ids, all);
    let targets = Targets::of_exercise(&exercise, uncut.wish.tooth).unwrap().targets;
    let last = plan(&uncut.before, &uncut.wish, &targets).unwrap();
    assert_eq!(stages.last().unwrap().depth_mm, last.depth_mm);
    let first = &stages[0];
    assert_eq!(first.done, Done::Top);
    // 1.0 to 1.4 mm are ideal over the functional cusps: the middle is 1.2.
    let deepest_mm = first.depth_mm.iter().copied().fold(0.0, f64::max);
    assert!((deepest_mm - 1.2).abs() < 0.1, "{deepest_mm}");
    let up = last.site.frame.occlusal;
    let lowest = |depth_mm: &[f64]| {
        let heights = uncut.before.mesh.vertices.iter().zip(depth_mm).filter(|(_, depth)| **depth > 0.3);
        heights.map(|(vertex, _)| vertex.coords.dot(&up)).fold(f64::INFINITY, f64::min)
    };
    assert!(lowest(&first.depth_mm) > lowest(&last.depth_mm) + 1.0, "the walls are cut in the first stage");
    for pair in stages.windows(2) {
        let loss = pair[0].depth_mm.iter().zip(&pair[1].depth_mm).map(|(a, b)| a - b).fold(0.0, f64::max);
        assert!(loss < 0.15, "{} takes back {loss:.3} mm of {}", pair[1].stage, pair[0].stage);
    }
}

/// The demo's own exercise on the demo's own tooth: a target, each stage's depths and a closed index come of it.
#[test]
fn the_demos_exercise_has_a_target_on_the_demos_tooth() {
    let exercise = library::exercise("quayside-26").unwrap();
    let uncut = uncut_of(&quayside_demo(), 26, &quayside_scan());
    let asked = Targets::of_exercise(&exercise, uncut.wish.tooth).unwrap();
    let plan = plan(&uncut.before, &uncut.wish, &asked.targets).unwrap();
    let stages = stage_depths(&uncut.before, &uncut.wish, &exercise).unwrap();
    assert_eq!(stages.len(), exercise.stages.len());
    let parts = index(&uncut.before, &plan, &IndexWish::default()).unwrap();
    assert!(parts.len() == 2 && parts.iter().all(|part| Audit::of(part).n_open_edges == 0));
    let document = measured(&uncut, &plan.target, &plan.site.frame.occlusal);
    let grade = kerfwright_grade::grade(&document, &exercise, None).unwrap();
    assert_eq!(missed(&grade), [""; 0]);
}

/// On a third molar with 6.5 mm of crown the same numbers leave no wall: told with the place, and with what could hold a crown there.
#[test]
fn on_a_molar_that_is_too_short_the_plan_is_refused_and_says_grooves() {
    let exercise = library::exercise("metal-ceramic-molar").unwrap();
    let spec = Spec { fdi: 28, teeth_distally: 0, ..Spec::default() };
    let uncut = uncut_of(&Phantom::new(&spec), 28, &ScanOptions { seed: 4, ..ScanOptions::default() });
    let asked = Targets::of_exercise(&exercise, uncut.wish.tooth).unwrap();
    let error = plan(&uncut.before, &uncut.wish, &asked.targets).unwrap_err().to_string();
    assert!(error.contains("no wall of the target stands") && error.contains("grooves"), "{error}");
}
