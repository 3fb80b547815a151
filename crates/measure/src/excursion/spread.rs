//! How much a reading would differ if the jaw were another one.

use kerfwright_jaw::{Movement, Parameter};
use nalgebra::{Isometry3, Point3};

use super::guidance::{Among, Guidance, Nearby};
use super::path::{JawMotion, ModelPath, Site};
use crate::preparation::Preparation;

/// Points that are looked at: of those closest at the moment of the least distance.
const N_POINTS: usize = 60;
/// Only points this much farther than the least are among them, mm.
const CLOSE_MM: f64 = 0.3;
/// Points of the teeth that may guide, so many at most.
const N_GUIDING: usize = 150;
/// A moment soon after the closed bite.
const EARLY_SHARE: f64 = 0.12;
/// If the path ends with so much more room than its least, no other jaw has its least there, mm.
const FAR_MM: f64 = 1.0;
/// Teeth that are this near to carrying may carry in another jaw, mm.
const NEAR_MM: f64 = 0.5;

/// Standard deviation of a movement's least distance over the jaws that the settings allow, mm.
///
/// Each setting is moved by its standard deviation, up and down, alone; the teeth guide anew. What is compared is the
/// least distance of the points that came closest, at the moment when they did and at the end of the path: to first
/// order the least over a path changes as the distance at its place and moment does. Half of the two changes of each
/// setting are added as squares.
pub fn model_sigma_mm(
    preparation: &Preparation<'_>,
    site: &Site<'_>,
    guidance: &Guidance<'_>,
    movement: Movement,
    motion: &JawMotion,
    closest: &Closest,
) -> Option<f64> {
    let own = site.model_path(&site.settings, movement).ok()?;
    let points = closest.points(preparation);
    let at_end_mm = site_distance(site, &points, &motion.relative.pose(1.0));
    let mut moments = vec![closest.share];
    if closest.share < 1.0 && at_end_mm < closest.least_mm() + FAR_MM {
        moments.push(1.0);
    }
    if closest.share == 0.0 {
        // Where the jaws move apart slowly, another jaw may bring them closer at first.
        moments.push(EARLY_SHARE);
    }
    let openings: Vec<f64> = moments.iter().map(|&share| opening_rad(site, motion, &own, share)).collect();
    let among: Vec<Vec<u32>> = moments
        .iter()
        .zip(&openings)
        .map(|(&share, &opening_rad)| {
            let moment = own.at(share * own.model.end_mm(movement));
            let near = guidance.carrying(&moment, opening_rad, NEAR_MM, &mut Nearby::default());
            near.iter().copied().step_by(near.len().div_ceil(N_GUIDING).max(1)).collect()
        })
        .collect();
    let least = |path: &ModelPath| -> Option<f64> {
        let mut least_mm = f64::INFINITY;
        for (place, &share) in moments.iter().enumerate() {
            if share == 0.0 {
                least_mm = least_mm.min(site_distance(site, &points, &Isometry3::identity()));
                continue;
            }
            let moment = path.at(share * path.model.end_mm(movement));
            let opening_rad = guidance.opening_rad(&moment, openings[place], Among::These(&among[place]))?;
            least_mm = least_mm.min(site_distance(site, &points, &moment.relative(opening_rad)));
        }
        Some(least_mm)
    };
    let base_mm = least(&own)?;
    let mut variance_mm2 = 0.0;
    for parameter in Parameter::ALL {
        // Another extent is another reading, not another jaw; and without spread nothing moves.
        if site.settings.get(parameter).sd == 0.0 {
            continue;
        }
        let change = |sds: f64| -> Option<f64> {
            let varied = site.model_path(&site.settings.varied(parameter, sds), movement).ok()?;
            Some((least(&varied)? - base_mm).abs())
        };
        variance_mm2 += (0.5 * (change(1.0)? + change(-1.0)?)).powi(2);
    }
    Some(variance_mm2.sqrt())
}

/// Where and when a movement comes closest.
#[derive(Debug, Clone)]
pub struct Closest {
    /// Share of the path.
    pub share: f64,
    /// Vertices of the prepared occlusal surface with their distances at that moment.
    pub distances: Vec<(u32, f64)>,
}

impl Closest {
    fn points(&self, preparation: &Preparation<'_>) -> Vec<Point3<f64>> {
        let mut nearest = self.distances.clone();
        nearest.sort_by(|a, b| a.1.total_cmp(&b.1).then(a.0.cmp(&b.0)));
        nearest.truncate(nearest.partition_point(|near| near.1 < self.least_mm() + CLOSE_MM));
        let step = nearest.len().div_ceil(N_POINTS).max(1);
        let mesh = &preparation.scene.after.mesh;
        nearest.iter().step_by(step).map(|&(vertex, _)| mesh.vertices[vertex as usize]).collect()
    }

    fn least_mm(&self) -> f64 {
        self.distances.iter().map(|near| near.1).fold(f64::INFINITY, f64::min)
    }
}

fn opening_rad(site: &Site<'_>, motion: &JawMotion, path: &ModelPath, share: f64) -> f64 {
    let moment = path.at(share * path.model.end_mm(path.movement));
    motion.opened_mm(share) / moment.lever_plane().at(&site.ball.centre).max(1.0)
}

fn site_distance(site: &Site<'_>, points: &[Point3<f64>], relative: &Isometry3<f64>) -> f64 {
    const FARTHEST_MM: f64 = 8.0;
    // What reaches in deeper than this while another point stays out would have missed the tooth by as much.
    const DEEPEST_MM: f64 = 1.0;
    let surface = site.opposing.surface;
    let own = site.opposing.after_from_scan.inverse() * relative;
    let mut least_mm = f64::INFINITY;
    for point in points {
        // What is farther than the least so far need not be found.
        let within_mm = least_mm.abs().clamp(DEEPEST_MM, FARTHEST_MM);
        let signed = surface.signed(&(own * point), within_mm);
        if let Some(signed) = signed.filter(|signed| !surface.on_boundary(&signed.closest)) {
            least_mm = least_mm.min(signed.distance_mm);
        }
    }
    least_mm
}
