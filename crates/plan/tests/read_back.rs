//! What is asked of a target is read on it again, by the code that measures scans after cutting.

#[allow(dead_code)]
mod common;

use common::{measured, uncut};
use kerfwright_geometry::Surface;
use kerfwright_measure::Document;
use kerfwright_measure::document::Value;
use kerfwright_mesh::Audit;
use kerfwright_plan::{ByAspect, Finish, SecondPlane, Site, Targets, plan};
use nalgebra::Point3;

const ASPECTS: [&str; 4] = ["mesial", "facial", "distal", "lingual"];

/// Holds a reading against what was asked; collects what is off.
struct Held<'a> {
    document: &'a Document,
    off: Vec<String>,
}

impl Held<'_> {
    fn number(&mut self, id: &str, asked: f64, tolerance: f64) {
        match self.document.readings.get(id).and_then(|reading| reading.number()) {
            Some(value) => {
                let word = if (value - asked).abs() > tolerance { "OFF" } else { "ok" };
                println!("{id:42} asked {asked:7.3} read {value:7.3} {:+.3} {word}", value - asked);
                if word == "OFF" {
                    self.off.push(format!("{id}: asked {asked}, read {value}"));
                }
            }
            None => self.off.push(format!("{id}: not read: {:?}", self.document.refused.get(id))),
        }
    }

    fn kind(&mut self, id: &str, asked: Finish) {
        let read = self.document.readings.get(id).map(|reading| reading.value.clone());
        let Some(Value::Text(read)) = read else { return self.off.push(format!("{id}: not read")) };
        let right = match asked {
            Finish::Chamfer => read.ends_with("chamfer"),
            Finish::Shoulder => read == "shoulder",
            Finish::SlopedShoulder => read == "sloped shoulder",
        };
        println!("{id:42} asked {asked:?} read {read}");
        if !right {
            self.off.push(format!("{id}: asked {asked:?}, read {read}"));
        }
    }
}

/// How far the found gingiva line lies from the exact one at most, mm.
fn gingiva_off_mm(site: &Site, exact: &[Point3<f64>]) -> f64 {
    let to_segment = |point: &Point3<f64>, k: usize| {
        let (from, to) = (exact[k], exact[(k + 1) % exact.len()]);
        let share = (point - from).dot(&(to - from)) / (to - from).norm_squared();
        (from + (to - from) * share.clamp(0.0, 1.0) - point).norm()
    };
    let distance =
        |point: &Point3<f64>| (0..exact.len()).map(|k| to_segment(point, k)).fold(f64::INFINITY, f64::min);
    site.gingiva.iter().map(distance).fold(0.0, f64::max)
}

fn read_back(fdi: u8, seed: u64, targets: &Targets) {
    let uncut = uncut(fdi, seed);
    let plan = plan(&uncut.before, &uncut.wish, targets).unwrap();
    println!("{fdi}: {:?}", plan.warnings);
    let off_mm = gingiva_off_mm(&plan.site, &uncut.gingiva);
    println!("gingiva line off by at most {off_mm:.3} mm");
    // The seam holds: no open edge touches the finish line.
    let audit = Audit::of(&plan.target);
    assert_eq!((audit.n_non_manifold_edges, audit.n_inconsistent_edges), (0, 0));
    let target = Surface::new(plan.target.clone());
    let is_sound = |vertex: usize| !target.topology.is_boundary_vertex(vertex as u32);
    let on_line = |point: &Point3<f64>| target.mesh.vertices.iter().position(|vertex| vertex == point);
    for point in &plan.line.points {
        assert!(on_line(point).is_some_and(is_sound), "{fdi}: the target is open at its finish line");
    }
    let document = measured(&uncut, &plan.target, &plan.site.frame.occlusal);
    let mut held = Held { document: &document, off: Vec::new() };
    for (k, aspect) in ASPECTS.iter().enumerate() {
        held.number(&format!("finish_line.width.{aspect}_mm"), targets.width_mm.around()[k], 0.05);
        held.number(&format!("taper.{aspect}_deg"), targets.taper_deg.around()[k], 0.6);
        held.kind(&format!("finish_line.kind.{aspect}"), targets.finish.around()[k]);
        let above_mm = targets.above_gingiva_mm.around()[k];
        held.number(&format!("finish_line.above_gingiva.{aspect}_mm"), above_mm, 0.12);
    }
    if uncut.wish.tooth.is_front() {
        held.number("reduction.lingual_fossa_mm", targets.front.lingual_fossa_mm, 0.05);
        held.number("reduction.points.i_mm", targets.front.incisal_mm, 0.05);
    } else {
        held.number("reduction.occlusal.functional_mm", targets.occlusal.functional_mm, 0.05);
        held.number("reduction.occlusal.nonfunctional_mm", targets.occlusal.nonfunctional_mm, 0.05);
        held.number("reduction.occlusal.groove_mm", targets.occlusal.groove_mm, 0.05);
    }
    if off_mm > 0.25 {
        held.off.push(format!("gingiva line: {off_mm:.3} mm off"));
    }
    assert!(held.off.is_empty(), "{fdi}: {:#?}", held.off);
}

#[test]
fn an_upper_molar_reads_as_asked() {
    read_back(26, 1, &Targets::complete_crown().unwrap());
}

#[test]
fn a_lower_premolar_with_other_targets_on_every_side_reads_as_asked() {
    let crown = Targets::complete_crown().unwrap();
    let targets = Targets {
        width_mm: ByAspect { mesial: 0.6, facial: 1.1, distal: 0.7, lingual: 0.5 },
        taper_deg: ByAspect { mesial: 5.0, facial: 8.0, distal: 6.0, lingual: 4.0 },
        finish: ByAspect { facial: Finish::Shoulder, ..crown.finish },
        above_gingiva_mm: ByAspect { facial: 0.3, ..crown.above_gingiva_mm },
        ..crown
    };
    read_back(35, 2, &targets);
}

#[test]
fn a_lower_molar_reads_as_asked() {
    read_back(37, 3, &Targets::complete_crown().unwrap());
}

#[test]
fn an_upper_incisor_in_two_planes_reads_as_asked() {
    let crown = Targets::complete_crown().unwrap();
    let targets = Targets {
        width_mm: ByAspect { facial: 1.0, ..ByAspect::all(0.6) },
        taper_deg: ByAspect::all(5.0),
        finish: ByAspect { facial: Finish::Shoulder, ..crown.finish },
        second_plane: Some(SecondPlane { angle_deg: 14.0, break_mm: 3.0 }),
        ..crown
    };
    read_back(21, 4, &targets);
}
