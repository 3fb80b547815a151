//! Clearance over jaw movements, against distances taken the long way over given poses.
//!
//! Source of the truth: the phantom's surfaces without noise and in place, every vertex of the prepared occlusal surface
//! against every 1/400 of the path. Source of the tolerance: `common/tolerance.rs`.

use std::f64::consts::TAU;

use kerfwright_jaw::Recording;
use kerfwright_measure::document::Value;
use kerfwright_measure::{Attempt, JawMotion, JawWishes, OpposingFrame, Preparation, Request, jaw_motion};
use kerfwright_phantom::{Phantom, ScanOptions, Scans};
use kerfwright_trial::common::tolerance::Tolerance;
use kerfwright_trial::common::{Files, phantoms, pointed_request};
use nalgebra::{Isometry3, Matrix3, Point3, Rotation3, Translation3, UnitQuaternion, Vector3};

/// A phantom's scans, placed and prepared for measuring.
struct Set {
    scans: Scans,
    files: Files,
}

impl Set {
    fn new(phantom: &Phantom, options: &ScanOptions) -> Self {
        let scans = phantom.scan(options);
        Self { files: Files::of(&scans), scans }
    }

    fn attempt(&self) -> Attempt<'_> {
        Attempt {
            after: &self.files.after,
            before: Some(&self.files.before),
            opposing: Some(&self.files.opposing),
            opposing_frame: OpposingFrame::Before,
        }
    }

    fn request(&self, fdi: u8, recordings: Vec<Recording>) -> Request {
        let jaw = JawWishes { recordings, ..JawWishes::default() };
        Request { jaw, ..pointed_request(fdi, &self.scans) }
    }

    fn preparation(&self, request: &Request) -> Preparation<'_> {
        let attempt = self.attempt();
        attempt.find(attempt.align().unwrap().as_ref(), request).unwrap()
    }
}

/// Poses of the lower jaw in the exact scans' frame: a slide to the side that nears the jaws in its middle.
fn poses(lower_from_upper: f64) -> Vec<Isometry3<f64>> {
    let step = |share: f64| {
        let nearer_mm = 0.5 * lower_from_upper * (0.5 * TAU * share).sin();
        Isometry3::new(Vector3::new(1.2 * share, -share, nearer_mm), Vector3::new(0.01, 0.004, 0.02) * share)
    };
    (0..=30).map(|k| step(f64::from(k) / 30.0)).collect()
}

/// The same jaw in other scans, whose frame is reached by `to`.
fn framed(poses: &[Isometry3<f64>], to: &Isometry3<f64>) -> Vec<Isometry3<f64>> {
    poses.iter().map(|pose| to * pose * to.inverse()).collect()
}

fn check(phantom: &Phantom, seed: u64) {
    let fdi = phantom.spec().fdi;
    let is_upper = fdi < 30;
    let exact = Set::new(phantom, &ScanOptions::exact());
    let preparation = exact.preparation(&exact.request(fdi, vec![]));
    // The teeth's frame has the prepared arch below, whichever jaw it is: the opposing one comes down for an upper tooth.
    let poses = poses(if is_upper { -1.0 } else { 1.0 });
    let mesh = &exact.files.after.surface.mesh;
    let before_from_after = exact.scans.before_from_after;
    let opposing = &exact.files.opposing.surface;
    let motion = kerfwright_jaw::Motion::new(Point3::origin(), poses.clone());
    let mut least_mm = f64::INFINITY;
    for k in 0..=400 {
        let pose = motion.pose(f64::from(k) / 400.0);
        let own = if is_upper { pose.inverse() } else { pose };
        for vertex in &preparation.occlusal.vertices {
            let point = own * (before_from_after * mesh.vertices[vertex.vertex as usize]);
            if let Some(near) = opposing.tree.closest(&point, least_mm.min(8.0)) {
                least_mm = near.distance_mm;
            }
        }
    }
    let noisy = Set::new(phantom, &ScanOptions { seed, ..ScanOptions::default() });
    let to_noisy = rigid(&(noisy.scans.before_from_tooth * exact.scans.tooth_from_before()));
    let recording = Recording { movement: "recorded".into(), poses: framed(&poses, &to_noisy) };
    let request = noisy.request(fdi, vec![recording]);
    let preparation = noisy.preparation(&request);
    let document = noisy.attempt().document(&preparation, &request);
    let id = "clearance.excursion.recorded_mm";
    let reading = &document.readings.get(id).unwrap_or_else(|| panic!("{:?}", document.refused));
    let error_mm = reading.number().unwrap() - least_mm;
    println!("{fdi}: {least_mm:.4} exact, {error_mm:+.4} off, u95 {:?}", reading.u95);
    let tolerance_mm = Tolerance::find(id).unwrap().of(id, least_mm).unwrap();
    assert!(error_mm.abs() <= tolerance_mm, "{fdi}: {error_mm:+.4} mm off {least_mm:.4}");
    let Value::Number(share) = reading.extras["share"] else { panic!("a share is a number") };
    assert!((0.1..0.95).contains(&share), "the least lies inside the path, not at {share}");
    model_moves_the_lower_jaw(&preparation, &document);
}

/// What holds for every movement of the model.
fn model_moves_the_lower_jaw(preparation: &Preparation<'_>, document: &kerfwright_measure::Document) {
    let up = preparation.frame.occlusal * if preparation.tooth.is_upper() { -1.0 } else { 1.0 };
    let mut most_opened_mm: f64 = 0.0;
    let mip_mm = document.readings["clearance.mip_mm"].number().unwrap();
    for name in ["protrusion", "laterotrusion_right", "laterotrusion_left"] {
        let reading = &document.readings[&format!("clearance.excursion.{name}_mm")];
        assert!(reading.number().unwrap() <= mip_mm + 0.005, "{name}: more than in the closed bite");
        let u95 = reading.u95.expect("a reading has its uncertainty");
        println!("{name}: {:?}, u95 {u95}, {:?}", reading.value, reading.extras);
        let motion = jaw_motion(preparation, name).unwrap();
        teeth_slide(preparation, &motion);
        most_opened_mm = motion.opened_mm.iter().copied().fold(most_opened_mm, f64::max);
        let origin = preparation.frame.origin;
        assert!((motion.lower_pose(0.0) * origin - origin).norm() < 1e-9);
        let moved = motion.lower_pose(1.0) * origin - origin;
        assert!(moved.dot(&up) < 0.0, "{name}: the lower jaw goes down");
        assert!((1.0..9.0).contains(&moved.norm()), "{name}: {moved}");
        assert!((motion.travel_mm(1.0) - 4.0).abs() < 1e-6);
        assert_eq!(reading.extras.contains_key("side"), name != "protrusion");
    }
    assert!(most_opened_mm > 0.3, "the cusps of these teeth guide: {most_opened_mm}");
    let side =
        |name: &str| document.readings[&format!("clearance.excursion.{name}_mm")].extras["side"].clone();
    let own = if preparation.tooth.is_left() { "laterotrusion_left" } else { "laterotrusion_right" };
    let other = if preparation.tooth.is_left() { "laterotrusion_right" } else { "laterotrusion_left" };
    assert_eq!(side(own), Value::Text("working".into()));
    assert_eq!(side(other), Value::Text("nonworking".into()));
}

/// At every stop the unprepared teeth reach into each other no deeper than a contact may, and where they opened the jaw
/// something carries: it is the least opening.
fn teeth_slide(preparation: &Preparation<'_>, motion: &JawMotion) {
    let (after, opposing) = (preparation.scene.after, preparation.scene.opposing.unwrap());
    let from_finish_line = |point: &Point3<f64>| {
        let at = preparation.frame.coordinates(point);
        preparation
            .ring
            .points
            .iter()
            .map(|edge| (preparation.frame.coordinates(edge) - at).xy().norm())
            .fold(9.0, f64::min)
    };
    let unprepared: Vec<Point3<f64>> = (0..after.mesh.vertices.len())
        .filter(|&vertex| {
            after.vertex_normals[vertex].dot(&preparation.frame.occlusal) > 0.2 && !preparation.inside[vertex]
        })
        .map(|vertex| after.mesh.vertices[vertex])
        .filter(|point| preparation.frame.coordinates(point).z > 1.0 && from_finish_line(point) > 0.5)
        .collect();
    let n_stops = motion.opened_mm.len();
    for (stop, opened_mm) in motion.opened_mm.iter().enumerate().step_by(4) {
        let pose = motion.relative.pose(stop as f64 / (n_stops - 1) as f64);
        let moved: Vec<Point3<f64>> = unprepared.iter().map(|point| pose * point).collect();
        let near = opposing.nearest(&moved, 1.0).into_iter().flatten().filter(|near| !near.on_border);
        let mut signed: Vec<f64> = near.map(|near| near.signed_mm).collect();
        signed.sort_by(f64::total_cmp);
        // Contacts reach in by four times the noise (0.032 mm); single vertices by their own noise more.
        let deepest = |rank: usize| signed.get(rank).copied().unwrap_or(1.0);
        assert!(deepest(4) > -0.045, "{} at stop {stop}: {:?}", motion.name, &signed[..8]);
        if *opened_mm > 0.0 {
            assert!(deepest(0) < -0.02, "{} at stop {stop}: opened {opened_mm} for nothing", motion.name);
        }
    }
}

fn rigid(matrix: &nalgebra::Matrix4<f64>) -> Isometry3<f64> {
    let turn: Matrix3<f64> = matrix.fixed_view::<3, 3>(0, 0).into();
    assert!(turn.determinant() > 0.99);
    let rotation = UnitQuaternion::from_rotation_matrix(&Rotation3::from_matrix_unchecked(turn));
    Isometry3::from_parts(Translation3::new(matrix[(0, 3)], matrix[(1, 3)], matrix[(2, 3)]), rotation)
}

#[test]
fn an_upper_molar_while_the_lower_jaw_passes() {
    check(&phantoms::short_arch_26(), 41);
}

#[test]
fn a_lower_premolar_carried_by_its_jaw() {
    check(&phantoms::shoulder_35(), 42);
}
