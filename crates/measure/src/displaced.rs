//! A tooth that was taken out of the typodont and put back may sit differently from its neighbours. Then its own uncut
//! surface, below the finish line, is moved as a rigid body against the before scan, though the other teeth fit.

use nalgebra::{Matrix6, Point3, Vector3, Vector6};

use crate::preparation::Preparation;

/// How a tooth moved.
#[derive(Debug, Clone, Copy)]
pub struct Displacement {
    /// How far the middle of the preparation moved, mm.
    pub shift_mm: f64,
    /// How far the tooth turned, degrees.
    pub turn_deg: f64,
}

/// Between the finish line and this depth below it uncut tooth is looked at, mm along the surface.
const DEPTH_MM: f64 = 2.0;
/// Next to the finish line the triangles cut the corner, mm.
const CHOPPED_MM: f64 = 0.15;
/// Kept clear of the crease where gingiva meets the tooth, mm.
const CREASE_MM: f64 = 0.25;
/// Fewer samples hold no pose.
const LEAST_SAMPLES: usize = 120;
/// A motion that changes the samples' distances by less than this is not told from none, mm (root mean square; scans of
/// phantoms and of real crowns whose tooth did not move leave up to 0.001), beside what pose and noise may do.
const LEAST_EFFECT_MM: f64 = 0.005;
/// About every sixth sample is independent: neighbours share triangles.
const SAMPLES_EACH: f64 = 6.0;
/// Share of the mean square distance that a rigid motion must explain ...
const LEAST_EXPLAINED: f64 = 0.7;
/// ... unless it leaves no more than this many times the noise.
const LEFT_IN_NOISE: f64 = 2.0;
/// Radius at which turns count as shifts, mm.
const ARM_MM: f64 = 4.0;

/// How the tooth moved, if that is beyond doubt; `None` where nothing moved or too little uncut tooth shows to tell.
pub fn find(preparation: &Preparation<'_>) -> Option<Displacement> {
    let samples = samples(preparation)?;
    let centre = preparation.ring.centre();
    let row = |sample: &Sample| {
        let turn = (sample.point - centre).cross(&sample.normal) / ARM_MM;
        Vector6::new(sample.normal.x, sample.normal.y, sample.normal.z, turn.x, turn.y, turn.z)
    };
    let by_noise_mm = preparation.noise_mm / (samples.len() as f64 / SAMPLES_EACH).sqrt();
    let least_mm = LEAST_EFFECT_MM + 3.0 * preparation.pose_sigma_mm() + 4.0 * by_noise_mm;
    let mut motion = Vector6::zeros();
    let mut scale_mm = f64::INFINITY;
    for _ in 0..6 {
        let (mut normal, mut right, mut total) = (Matrix6::zeros(), Vector6::zeros(), 0.0);
        for sample in &samples {
            let row = row(sample);
            let off_mm = (sample.distance_mm - row.dot(&motion)) / (3.0 * scale_mm);
            let weight = if off_mm.abs() < 1.0 { (1.0 - off_mm * off_mm).powi(2) } else { 0.0 };
            normal += row * row.transpose() * weight;
            right += row * (sample.distance_mm * weight);
            total += weight;
        }
        let eigen = (normal / total.max(1e-9)).symmetric_eigen();
        let right = right / total.max(1e-9);
        motion = Vector6::zeros();
        for (k, &value) in eigen.eigenvalues.iter().enumerate() {
            let mode = eigen.eigenvectors.column(k);
            let amount = mode.dot(&right) / value.max(1e-9);
            // What the mode does to the distances, as a root mean square.
            if amount.abs() * value.max(0.0).sqrt() > least_mm {
                motion += mode * amount;
            }
        }
        let left: Vec<f64> = samples.iter().map(|s| (s.distance_mm - row(s).dot(&motion)).abs()).collect();
        scale_mm = (1.4826 * crate::stats::median(&left)?).max(0.01);
    }
    let square = |value: f64| value * value;
    let before: f64 = samples.iter().map(|sample| square(sample.distance_mm.clamp(-0.6, 0.6))).sum();
    let left: f64 =
        samples.iter().map(|s| square((s.distance_mm - row(s).dot(&motion)).clamp(-0.6, 0.6))).sum();
    let left_mm = (left / samples.len() as f64).sqrt();
    let is_rigid = left < (1.0 - LEAST_EXPLAINED) * before || left_mm < LEFT_IN_NOISE * preparation.noise_mm;
    if motion.norm() == 0.0 || !is_rigid {
        return None;
    }
    let turn = Vector3::new(motion[3], motion[4], motion[5]) / ARM_MM;
    // Half-way up the walls.
    let arm = preparation.path * 2.0;
    let shift = Vector3::new(motion[0], motion[1], motion[2]) + turn.cross(&arm);
    Some(Displacement { shift_mm: shift.norm(), turn_deg: turn.norm().to_degrees() })
}

impl Displacement {
    /// In words.
    pub fn warning(&self) -> String {
        format!(
            "the prepared tooth does not sit where it sat before: its uncut surface below the finish line is moved by \
             {:.2} mm and turned by {:.1} deg against the other teeth (taken out and put back?); readings against the before \
             scan carry that in their uncertainty, better seat the tooth and scan again",
            self.shift_mm, self.turn_deg
        )
    }
}

/// A point of uncut tooth and its distance from the before scan.
struct Sample {
    point: Point3<f64>,
    normal: Vector3<f64>,
    distance_mm: f64,
}

/// Points of the tooth's uncut surface between gingiva and finish line, from at least seven of its eight sectors.
fn samples(preparation: &Preparation<'_>) -> Option<Vec<Sample>> {
    let before = preparation.scene.before.as_ref()?;
    let shows_gingiva = preparation.stations.iter().filter(|station| station.gingiva.is_some()).count() * 2
        > preparation.stations.len();
    let mut points = Vec::new();
    let mut sectors = [0; 8];
    for station in preparation.stations.iter().filter(|station| station.seen) {
        let floor_mm = match station.gingiva {
            Some(gingiva) => gingiva.y + CREASE_MM,
            None if shows_gingiva => continue,
            None => f64::NEG_INFINITY,
        };
        // From the edge outward and down, until the crease.
        let outside = station.section.points.iter().zip(&station.section.arc_mm).rev();
        let outside = outside.filter(|(_, arc_mm)| **arc_mm < -CHOPPED_MM);
        let own =
            outside.take_while(|(point, arc_mm)| **arc_mm > -DEPTH_MM && point.y > floor_mm && point.y < 0.3);
        let own: Vec<Point3<f64>> = own.map(|(point, _)| station.section.frame.solid(point)).collect();
        sectors[(station.angle_deg / 45.0) as usize % 8] += own.len();
        points.extend(own);
    }
    if points.len() < LEAST_SAMPLES || sectors.iter().filter(|count| **count >= 8).count() < 7 {
        return None;
    }
    let near = before.nearest(&points, 1.0);
    let samples: Vec<Sample> = points
        .into_iter()
        .zip(near)
        .filter_map(|(point, near)| {
            let near = near.filter(|near| !near.on_border)?;
            Some(Sample { point, normal: near.normal, distance_mm: near.signed_mm })
        })
        .collect();
    (samples.len() >= LEAST_SAMPLES).then_some(samples)
}
