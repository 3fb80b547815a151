//! What speaks for the tooth's axis in the scans.

use kerfwright_geometry::Surface;
use kerfwright_geometry::fit::{self, PlaneFit};
use nalgebra::{Isometry3, Point3, Vector3};
use rayon::prelude::*;

use crate::axis::{self, Axis, Opinion};
use crate::finish_line::Ring;
use crate::scene::Scene;
use crate::section::Section;

/// The last resort among the evidence.
const FINISH_LINE: &str = "the plane of the finish line";

/// Evidence for the axis: where the scan ends, the uncut teeth's sides and their occlusal plane, the gingiva line (the
/// finish line where no gingiva was scanned). The expected errors are engineering judgement (no source): crowns bulge more
/// on one side than on the other; how far a border, a gingiva line or an occlusal plane can be trusted it says itself.
pub fn tooth_axis(scene: &Scene<'_>, ring: &Ring, first_up: &Vector3<f64>) -> Axis {
    let (uncut, to_after) = match scene.before {
        Some(before) => (before.surface, before.after_from_scan),
        None => (scene.after, Isometry3::identity()),
    };
    let own_up = to_after.inverse() * first_up;
    let centre = to_after.inverse() * ring.centre();
    let top = ring.points.iter().map(|point| (point - ring.centre()).dot(first_up)).fold(0.0, f64::max);
    let is_tooth = |vertex: u32| {
        let at = uncut.mesh.vertices[vertex as usize] - centre;
        let height_mm = at.dot(&own_up);
        let near = (at - own_up * height_mm).norm() < 25.0;
        let prepared = scene.before.is_none() && (at - own_up * height_mm).norm() < 6.0;
        near && !prepared && height_mm > top + 0.2
    };
    let mut opinions = Vec::new();
    let mut add = |from, direction: Option<Vector3<f64>>, sigma_deg| {
        if let Some(direction) = direction.filter(|direction| direction.angle(&own_up).to_degrees() < 30.0) {
            opinions.push(Opinion { from, direction: to_after * direction, sigma_deg });
        }
    };
    if let Some((direction, sigma_deg)) = end_of_scan(uncut, &own_up) {
        add("the plane in which the scan ends", Some(direction), sigma_deg);
    }
    add("the sides of the uncut teeth", axis::balance(uncut, &own_up, is_tooth), 10.0);
    if let Some(plane) = axis::occlusal_plane(uncut, &own_up, is_tooth) {
        // Lingual cusps, and whole teeth, stand a quarter of a millimetre higher or lower than others, if not more.
        let sigma_deg = 0.25_f64.atan2(plane.spread_mm[0]).to_degrees().hypot(2.5);
        add("the occlusal plane", Some(plane.normal_towards(&own_up)), sigma_deg);
    }
    let gingiva = gingiva_points(uncut, &to_after.inverse(), ring, first_up);
    let (from, points) = if gingiva.len() * 10 > ring.points.len() * 7 {
        ("the plane in which the gingiva meets the tooth", gingiva)
    } else {
        let own = to_after.inverse();
        (FINISH_LINE, ring.points.iter().map(|point| own * point).collect())
    };
    // The rim of a cut that is no finish line says nothing of the tooth's axis.
    let is_line = from != FINISH_LINE || ring.seen.contains(&true);
    if let Some(plane) = fit::plane(&points).filter(|_| is_line) {
        add(from, Some(plane.normal_towards(&own_up)), scallop_sigma_deg(&plane));
    }
    axis::agree(opinions).unwrap_or(Axis { direction: *first_up, sigma_deg: 10.0, opinions: Vec::new() })
}

/// How far the plane of a line round the tooth may lie askew, degrees: 1.5 where the line is flat, and more where it is
/// scalloped, as one papilla may be a third higher than its fellow (engineering judgement, no source).
fn scallop_sigma_deg(plane: &PlaneFit) -> f64 {
    (0.35 * plane.rms_mm).atan2(plane.spread_mm[0]).to_degrees().hypot(1.5)
}

/// The plane in which the scan's sides end, and how far it may lie askew, degrees: it is as even as the hand that scanned
/// or trimmed.
///
/// Three quarters of the border count: where a row of teeth ends the scan goes up over the ridge, and of a curved row
/// both ends lie on the inner side. An edge that wanders by `rms` about its plane, in about ten independent stretches,
/// and whose two sides end 0.15 mm uneven even where the edge looks straight, tips a scan of half-width `w` by
/// `√(rms²/10 + 0.15²) / w` (engineering judgement, no source). A narrow strip says little of the tilt across it.
fn end_of_scan(surface: &Surface, up: &Vector3<f64>) -> Option<(Vector3<f64>, f64)> {
    const SHARE: f64 = 0.75;
    const STRETCHES: f64 = 10.0;
    const UNEVEN_MM: f64 = 0.15;
    let mut points: Vec<Point3<f64>> =
        main_border(surface).into_iter().map(|vertex| surface.mesh.vertices[vertex as usize]).collect();
    let n_kept = (SHARE * points.len() as f64) as usize;
    let mut plane = fit::plane(&points)?;
    for _ in 0..10 {
        let off_mm = |point: &Point3<f64>| (point - plane.centroid).dot(&plane.normal).abs();
        points.sort_by(|a, b| off_mm(a).total_cmp(&off_mm(b)));
        plane = fit::plane(&points[..n_kept])?;
    }
    let sigma = (plane.rms_mm / STRETCHES.sqrt()).hypot(UNEVEN_MM).atan2(plane.spread_mm[0]);
    Some((plane.normal_towards(up), sigma.to_degrees()))
}

/// The vertices of the longest connected border; shorter ones are holes.
fn main_border(surface: &Surface) -> Vec<u32> {
    let topology = &surface.topology;
    let mut seen = vec![false; surface.mesh.vertices.len()];
    let mut longest = Vec::new();
    for start in 0..seen.len() as u32 {
        if seen[start as usize] || !topology.is_boundary_vertex(start) {
            continue;
        }
        seen[start as usize] = true;
        let mut border = vec![start];
        let mut next = 0;
        while let Some(&vertex) = border.get(next) {
            next += 1;
            for &other in topology.vertex_neighbours(vertex) {
                if topology.is_boundary_vertex(other) && !std::mem::replace(&mut seen[other as usize], true) {
                    border.push(other);
                }
            }
        }
        if border.len() > longest.len() {
            longest = border;
        }
    }
    longest
}

/// Where the gingiva meets the tooth, in the frame of the scan that shows it uncut.
fn gingiva_points(
    uncut: &Surface,
    scan_from_after: &Isometry3<f64>,
    ring: &Ring,
    up: &Vector3<f64>,
) -> Vec<Point3<f64>> {
    let frames = ring.section_frames(up);
    let found: Vec<Option<Point3<f64>>> = frames
        .par_iter()
        .map(|frame| {
            let own = frame.moved(scan_from_after);
            let section = Section::cut_within(uncut, own, 4.0, 1.5)?;
            Some(own.solid(&crate::station::gingiva(&section)?))
        })
        .collect();
    found.into_iter().flatten().collect()
}
