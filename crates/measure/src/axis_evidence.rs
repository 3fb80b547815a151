//! What speaks for the tooth's axis in the scans.

use kerfwright_geometry::{Surface, fit};
use nalgebra::{Isometry3, Point3, Vector3};
use rayon::prelude::*;

use crate::axis::{self, Axis, Opinion};
use crate::finish_line::Ring;
use crate::scene::Scene;
use crate::section::Section;

/// The last resort among the evidence.
const FINISH_LINE: &str = "the plane of the finish line";

/// Evidence for the axis: what the scan faces, the uncut teeth's sides and their occlusal plane, the gingiva line (the
/// finish line where no gingiva was scanned). The expected errors are engineering judgement (no source): a gingiva line
/// may lie 3° askew, crowns bulge more on one side than on the other; how far a border can be trusted it says itself.
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
    add("the side the scan faces", axis::facing(uncut, |_| true), facing_sigma_deg(uncut));
    add("the sides of the uncut teeth", axis::balance(uncut, &own_up, is_tooth), 6.0);
    add("the occlusal plane", axis::occlusal_plane(uncut, &own_up, is_tooth), 3.5);
    let gingiva = gingiva_points(uncut, &to_after.inverse(), ring, first_up);
    let (from, points) = if gingiva.len() * 10 > ring.points.len() * 7 {
        ("the plane in which the gingiva meets the tooth", gingiva)
    } else {
        let own = to_after.inverse();
        (FINISH_LINE, ring.points.iter().map(|point| own * point).collect())
    };
    let plane = fit::plane(&points)
        .map(|plane| if plane.normal.dot(&own_up) < 0.0 { -plane.normal } else { plane.normal });
    // The rim of a cut that is no finish line says nothing of the tooth's axis.
    let is_line = from != FINISH_LINE || ring.seen.contains(&true);
    add(from, plane.filter(|_| is_line), 3.0);
    axis::agree(opinions).unwrap_or(Axis { direction: *first_up, sigma_deg: 10.0, opinions: Vec::new() })
}

/// How far the side that a scan faces may lie askew, degrees: it depends on the scan's border alone, which is as even as
/// the hand that scanned or trimmed.
///
/// An edge that wanders by `rms` about its plane, in about ten independent stretches, and whose two sides end 0.15 mm
/// uneven even where the edge looks straight, tips a scan of half-width `w` by `√(rms²/10 + 0.15²) / w` (engineering
/// judgement, no source). A narrow strip says little of the tilt across it.
fn facing_sigma_deg(surface: &Surface) -> f64 {
    const STRETCHES: f64 = 10.0;
    const UNEVEN_MM: f64 = 0.15;
    let points: Vec<Point3<f64>> =
        main_border(surface).into_iter().map(|vertex| surface.mesh.vertices[vertex as usize]).collect();
    match fit::plane(&points) {
        Some(plane) => {
            (plane.rms_mm / STRETCHES.sqrt()).hypot(UNEVEN_MM).atan2(plane.spread_mm[0]).to_degrees()
        }
        None => f64::INFINITY,
    }
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
