//! An onlay's target lies where it was asked: held against its planes with rays and closest points, and read as a scan after cutting.

#[allow(dead_code)]
mod common;

use common::{Uncut, measured, uncut};
use kerfwright_exercise::library;
use kerfwright_geometry::Surface;
use kerfwright_geometry::fit::percentile;
use kerfwright_grade::Level;
use kerfwright_mesh::Audit;
use kerfwright_plan::stages::{plan_of_exercise, stage_depths};
use kerfwright_plan::{Channel, ChannelPlace, Onlay, Plan, PlanError, Targets, plan};
use nalgebra::{Point3, Vector3};

/// An upper and a lower molar and premolar, of both sides.
const TEETH: [(u8, u64); 4] = [(26, 1), (35, 2), (47, 3), (14, 5)];

fn channel() -> Channel {
    Channel {
        isthmus_width_mm: 2.0,
        isthmus_depth_mm: 1.0,
        box_width_mm: 3.4,
        box_depth_mm: 1.4,
        box_above_gingiva_mm: 0.7,
        divergence_deg: 8.0,
    }
}

fn targets(channel: Channel) -> Targets {
    let onlay = Onlay { covers_functional: true, covers_nonfunctional: true, channel: Some(channel) };
    Targets { onlay: Some(onlay), ..Targets::complete_crown().unwrap() }
}

fn planned(uncut: &Uncut, targets: &Targets) -> Result<Plan, PlanError> {
    plan(&uncut.before, &uncut.wish, targets)
}

/// The target with rays from a point that lies free within the channel.
struct Held<'a> {
    target: &'a Surface,
    place: ChannelPlace,
    up: Vector3<f64>,
}

impl Held<'_> {
    fn ray_mm(&self, from: &Point3<f64>, way: &Vector3<f64>) -> f64 {
        self.target.tree.ray(from, way, 20.0).map_or(f64::NAN, |hit| hit.distance_mm)
    }

    /// Distance between the walls on both sides of a point.
    fn width_mm(&self, at: &Point3<f64>) -> f64 {
        self.ray_mm(at, &self.place.facially) + self.ray_mm(at, &-self.place.facially)
    }
}

/// The walls' distance at a height over a floor is the width and twice the lean; floors lie a ray below; axial walls lean as asked.
#[test]
fn isthmus_and_boxes_lie_where_they_were_asked() {
    const EXACT_MM: f64 = 1e-6;
    let asked = channel();
    let lean = asked.divergence_deg.to_radians().tan();
    for (fdi, seed) in TEETH {
        let uncut = uncut(fdi, seed);
        let plan = planned(&uncut, &targets(asked)).unwrap();
        let onlay = plan.onlay.as_ref().unwrap();
        let target = Surface::new(plan.target.clone());
        let up = plan.site.frame.occlusal;
        let held = Held { target: &target, place: onlay.channel.unwrap(), up };
        let place = held.place;
        for height_mm in [0.1, 0.3] {
            let at = place.isthmus + up * height_mm;
            assert!(
                (held.width_mm(&at) - asked.isthmus_width_mm - 2.0 * height_mm * lean).abs() < EXACT_MM,
                "{fdi}"
            );
            assert!((held.ray_mm(&at, &-up) - height_mm).abs() < EXACT_MM, "{fdi}");
            for (floor, inwards) in place.boxes.into_iter().zip([-1.0, 1.0]) {
                const OUT_MM: f64 = 0.5;
                let at = floor - place.along * (inwards * OUT_MM) + held.up * height_mm;
                assert!(
                    (held.width_mm(&at) - asked.box_width_mm - 2.0 * height_mm * lean).abs() < EXACT_MM,
                    "{fdi}"
                );
                assert!((held.ray_mm(&at, &-up) - height_mm).abs() < EXACT_MM, "{fdi}");
                let axial_mm = held.ray_mm(&at, &(place.along * inwards));
                assert!((axial_mm - OUT_MM - height_mm * lean).abs() < EXACT_MM, "{fdi}");
                // As deep as asked under the uncut side, which the scan's noise moves.
                let out_mm =
                    uncut.before.tree.ray(&floor, &(place.along * -inwards), 5.0).unwrap().distance_mm;
                assert!((out_mm - asked.box_depth_mm).abs() < 0.02, "{fdi}: {out_mm}");
            }
        }
    }
}

/// Boxes end over the phantom's exact gingiva, the covered cusps as deep under the uncut surface as asked, wherever no edge, bevel or
/// channel is near.
#[test]
fn boxes_keep_off_the_gingiva_and_cusps_are_covered_as_deep_as_asked() {
    let asked = channel();
    for (fdi, seed) in TEETH {
        let uncut = uncut(fdi, seed);
        let targets = Targets {
            occlusal: kerfwright_plan::Occlusal { bevel_deg: None, ..targets(asked).occlusal },
            ..targets(asked)
        };
        let plan = planned(&uncut, &targets).unwrap();
        let (place, up) = (plan.onlay.as_ref().unwrap().channel.unwrap(), plan.site.frame.occlusal);
        for (floor, sense) in place.boxes.into_iter().zip([1.0, -1.0]) {
            let before = |point: &&Point3<f64>| {
                let off = *point - place.isthmus;
                off.dot(&place.along) * sense > 0.0
                    && off.dot(&place.facially).abs() < 0.5 * asked.box_width_mm
            };
            let highest = uncut.gingiva.iter().filter(before).map(|point| (floor - point).dot(&up));
            let above_mm = highest.fold(f64::INFINITY, f64::min);
            // The gingiva line is found to about a tenth.
            assert!((above_mm - asked.box_above_gingiva_mm).abs() < 0.15, "{fdi}: {above_mm}");
        }
        let target = Surface::new(plan.target.clone());
        let functional = plan.site.tooth.functional_side().unwrap() == kerfwright_tooth::Side::Facial;
        for (is_functional, asked_mm) in
            [(true, targets.occlusal.functional_mm), (false, targets.occlusal.nonfunctional_mm)]
        {
            let sign = if is_functional == functional { 1.0 } else { -1.0 };
            // Of the new surface beside the channel, what faces up and is farther from its rim than from the uncut surface.
            let line = &plan.onlay.as_ref().unwrap().line;
            let is_off_rim =
                |point: &Point3<f64>| line.iter().all(|pair| (pair[0] - point).norm() > asked_mm);
            let over_cusp = |vertex: &usize| {
                let point = &target.mesh.vertices[*vertex];
                let off = point - place.isthmus;
                target.vertex_normals[*vertex].dot(&up) > 0.6
                    && off.dot(&up) > 0.1
                    && (0.5 * asked.isthmus_width_mm..3.0).contains(&(off.dot(&place.facially) * sign))
                    && off.dot(&place.along).abs() < 3.0
                    && is_off_rim(point)
            };
            let depths: Vec<f64> = (0..target.mesh.vertices.len())
                .filter(over_cusp)
                .filter_map(|vertex| {
                    Some(uncut.before.tree.closest(&target.mesh.vertices[vertex], 5.0)?.distance_mm)
                })
                .collect();
            assert!(depths.len() > 20, "{fdi}: {}", depths.len());
            let median_mm = percentile(&depths, 50.0).unwrap();
            println!("{fdi} {is_functional} {asked_mm} {median_mm}");
            assert!((median_mm - asked_mm).abs() < 0.01, "{fdi}: {asked_mm} asked, {median_mm}");
        }
    }
}

/// What is not cut is the scan itself, and the new surface closes it: no edge is open that was not, none has three triangles.
#[test]
fn the_rest_of_the_scan_stays_and_the_seam_holds() {
    let uncut = uncut(26, 1);
    let plan = planned(&uncut, &targets(channel())).unwrap();
    let audit = Audit::of(&plan.target);
    assert_eq!((audit.n_non_manifold_edges, audit.n_inconsistent_edges), (0, 0));
    assert!(audit.n_open_edges <= Audit::of(&uncut.before.mesh).n_open_edges);
    let kept: std::collections::BTreeSet<[u64; 3]> =
        plan.target.vertices.iter().map(|at| [at.x, at.y, at.z].map(f64::to_bits)).collect();
    let is_there = |at: &Point3<f64>| kept.contains(&[at.x, at.y, at.z].map(f64::to_bits));
    for (vertex, at) in uncut.before.mesh.vertices.iter().enumerate() {
        assert_eq!(is_there(at), !plan.is_cut[vertex]);
    }
    // Each point of the finish line has one neighbour on each side, but where a contact leaves the scan open.
    let line = &plan.onlay.as_ref().unwrap().line;
    assert!(line.len() > 300, "{}", line.len());
}

/// Read as a scan after cutting: the boxes' floors over the gingiva and the channel's walls.
#[test]
fn a_target_reads_as_an_onlay() {
    let uncut = uncut(26, 1);
    let plan = planned(&uncut, &targets(channel())).unwrap();
    let document = measured(&uncut, &plan.target, &plan.site.frame.occlusal);
    assert!(document.warnings.iter().any(|warning| warning.starts_with("covered in part")));
    let number = |id: &str| document.readings[id].number().unwrap();
    for side in ["mesial", "distal"] {
        let above_mm = number(&format!("finish_line.above_gingiva.{side}_mm"));
        assert!((above_mm - 0.7).abs() < 0.12, "{side}: {above_mm}");
    }
    assert!((number("reduction.occlusal.nonfunctional_mm") - 1.0).abs() < 0.05);
}

/// Distances and leans of the target, from its planes, against what is read on it as on a scan after cutting.
#[test]
fn isthmus_boxes_and_covered_cusps_are_read_as_they_were_laid() {
    const EXACT_MM: f64 = 0.005;
    const SEAM_MM: f64 = 0.02;
    for (k, (fdi, seed)) in TEETH.into_iter().enumerate() {
        let asked = Channel {
            isthmus_width_mm: [2.0, 1.5, 2.4, 1.5][k],
            // A lower molar's crown is short: its boxes need room under the isthmus.
            isthmus_depth_mm: [1.0, 1.0, 0.8, 1.2][k],
            divergence_deg: [8.0, 5.0, 10.0, 6.0][k],
            ..channel()
        };
        let uncut = uncut(fdi, seed);
        let plan = planned(&uncut, &targets(asked)).unwrap();
        let document = measured(&uncut, &plan.target, &plan.site.frame.occlusal);
        let place = plan.onlay.as_ref().unwrap().channel.unwrap();
        let off = |id: &str, exact: f64, most: f64| {
            let refusal = || document.refused.get(id).cloned().unwrap_or_default();
            let reading = document.readings.get(id).unwrap_or_else(|| panic!("{fdi} {id}: {}", refusal()));
            let read = reading.number().unwrap();
            println!("{fdi} {id}: {read:.3}, off {:+.3} {:?}", read - exact, reading.extras);
            assert!((read - exact).abs() <= most, "{fdi} {id}: {read} of {exact}");
        };
        off("isthmus.width_mm", asked.isthmus_width_mm, EXACT_MM);
        off("isthmus.divergence_deg", asked.divergence_deg, 0.05);
        let up = plan.site.frame.occlusal;
        let steps = if fdi % 10 > 5 { -25..=25 } else { -12..=12 };
        let depths: Vec<f64> = steps
            .filter_map(|k| {
                let at = place.isthmus + place.along * (0.1 * f64::from(k));
                Some(uncut.before.tree.ray(&at, &up, 9.0)?.distance_mm)
            })
            .collect();
        // Along a part of the isthmus that need not be exactly the one that was read.
        off("isthmus.depth_mm", percentile(&depths, 50.0).unwrap(), 0.1);
        // As the contract asks of these medians.
        off("reduction.occlusal.functional_mm", 1.5, 0.03);
        off("reduction.occlusal.nonfunctional_mm", 1.0, 0.03);
        for (side, floor) in ["mesial", "distal"].into_iter().zip(place.boxes) {
            off(&format!("box.{side}.width_mm"), asked.box_width_mm, EXACT_MM);
            let height_mm = (place.isthmus - floor).dot(&plan.site.frame.occlusal);
            off(&format!("box.{side}.height_mm"), height_mm, EXACT_MM);
            off(&format!("box.{side}.depth_mm"), asked.box_depth_mm, SEAM_MM);
            off(&format!("box.{side}.divergence_deg"), asked.divergence_deg, 0.05);
        }
    }
}

#[test]
fn shipped_onlays_grow_from_stage_to_stage() {
    for (name, fdi) in [("onlay-cast", 37), ("onlay-ceramic", 24)] {
        let exercise = library::exercise(name).unwrap();
        let uncut = uncut(fdi, 4);
        let asked = Targets::of_exercise(&exercise, uncut.wish.tooth).unwrap();
        let last = plan_of_exercise(&uncut.before, &uncut.wish, &exercise, &asked).unwrap();
        let stages = stage_depths(&uncut.before, &uncut.wish, &exercise).unwrap();
        assert_eq!(stages.len(), exercise.stages.len());
        assert_eq!(stages.last().unwrap().depth_mm, last.depth_mm);
        for pair in stages.windows(2) {
            let loss = pair[0].depth_mm.iter().zip(&pair[1].depth_mm).map(|(a, b)| a - b).fold(0.0, f64::max);
            assert!(loss < 0.05, "{name}: {} takes back {loss:.3} mm of {}", pair[1].stage, pair[0].stage);
        }
        let n_cut = |k: usize| stages[k].depth_mm.iter().filter(|depth| **depth > 0.3).count();
        assert!(n_cut(1) > n_cut(0) + 200, "{name}: the boxes are cut in their stage");
    }
}

#[test]
fn what_does_not_fit_is_refused_in_one_line() {
    let premolar = uncut(35, 2);
    let refused = |channel: Channel| {
        let error = planned(&premolar, &targets(channel)).err().unwrap().to_string();
        assert!(error.lines().count() == 1, "{error}");
        error
    };
    let wide = refused(Channel { isthmus_width_mm: 6.0, box_width_mm: 8.0, ..channel() });
    assert!(wide.contains("box") && wide.contains("8.0 mm wide does not fit"), "{wide}");
    let deep = refused(Channel { isthmus_depth_mm: 4.0, ..channel() });
    assert!(deep.contains("too short"), "{deep}");
    let absurd = refused(Channel { isthmus_width_mm: 20.0, ..channel() });
    assert_eq!(absurd, "targets: onlay.isthmus_width_mm is 20; give 0.5 to 6 mm");
    let front = uncut(21, 4);
    let error = planned(&front, &targets(channel())).err().unwrap().to_string();
    assert!(error.contains("21 is a front tooth"), "{error}");
    // With an exercise, what decided is named.
    let mut exercise = library::exercise("onlay-ceramic").unwrap();
    exercise.onlay.as_mut().unwrap().box_width_mm = 8.0;
    let asked = Targets::of_exercise(&exercise, premolar.wish.tooth).unwrap();
    let error =
        plan_of_exercise(&premolar.before, &premolar.wish, &exercise, &asked).err().unwrap().to_string();
    assert!(error.contains("`[onlay]` (box_width_mm 8 mm)"), "{error}");
}

/// What the exercise asks of isthmus and boxes is what its target has, after the stage that cuts them and after the last.
#[test]
fn targets_of_shipped_onlays_are_ideal_by_their_own_criteria() {
    for (name, fdi, seed) in
        [("onlay-cast", 26, 3), ("onlay-cast", 37, 4), ("onlay-ceramic", 24, 4), ("onlay-ceramic", 16, 6)]
    {
        let exercise = library::exercise(name).unwrap();
        let uncut = uncut(fdi, seed);
        for stage in ["boxes", "final"] {
            let asked = Targets::of_stage(&exercise, Some(stage), uncut.wish.tooth).unwrap();
            let plan = plan_of_exercise(&uncut.before, &uncut.wish, &exercise, &asked).unwrap();
            let document = measured(&uncut, &plan.target, &plan.site.frame.occlusal);
            let grade = kerfwright_grade::grade(&document, &exercise, Some(stage)).unwrap();
            let is_inner = |id: &str| id.starts_with("isthmus.") || id.starts_with("box.");
            let inner: Vec<_> = grade.items().filter(|(_, item)| is_inner(&item.reading)).collect();
            assert_eq!(inner.len(), 11);
            for (criterion, item) in inner {
                println!("{name} {fdi} {stage} {}: {:?} ± {:?}", criterion.id, item.value, item.u95);
                assert_eq!(item.level, Level::Ideal, "{name} {fdi} {stage}: {item:#?}");
            }
        }
    }
}
