//! What speaks for the tooth's axis in the scans.

use kerfwright_geometry::fit::{self, PlaneFit};
use kerfwright_geometry::{Surface, Topology};
use nalgebra::{Isometry3, Point3, Vector3, center};
use rayon::prelude::*;

use crate::axis::{self, Axis, Opinion};
use crate::finish_line::Ring;
use crate::scene::Scene;
use crate::section::Section;
use crate::zenith::zeniths;

/// The last resort among the evidence.
const FINISH_LINE: &str = "the plane of the finish line";
/// The prepared tooth itself reaches so far from its middle, mm.
const OWN_MM: f64 = 6.0;

/// Evidence for the axis: where the scan ends, the uncut teeth's sides and their occlusal plane, the gingiva's lowest points
/// along the row (on a tooth alone its own gingiva line, or its finish line where no gingiva was scanned). The expected
/// errors are engineering judgement (no source): crowns bulge more on one side than on the other; how far a border, a
/// gingiva line or an occlusal plane can be trusted it says itself.
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
        let prepared = scene.before.is_none() && (at - own_up * height_mm).norm() < OWN_MM;
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
    if let Some((direction, sigma_deg)) = gingiva_of_row(scene, uncut, &own_up, &centre, is_tooth) {
        add("the gingiva's lowest points along the row", Some(direction), sigma_deg);
    } else if let Some((from, direction, sigma_deg)) = own_line(uncut, &to_after, ring, first_up) {
        add(from, Some(direction), sigma_deg);
    }
    axis::agree(opinions).unwrap_or(Axis { direction: *first_up, sigma_deg: 10.0, opinions: Vec::new() })
}

/// The plane through the lowest points of the gingiva beside the row's teeth, and how far it may lie askew, degrees.
///
/// Each point may stand 0.3 mm off, and one side of the row 0.15 mm over the other (engineering judgement, no source).
fn gingiva_of_row(
    scene: &Scene<'_>,
    uncut: &Surface,
    up: &Vector3<f64>,
    centre: &Point3<f64>,
    is_tooth: impl Fn(u32) -> bool,
) -> Option<(Vector3<f64>, f64)> {
    /// Over the middle of the finish line, mm: on the crowns, and near enough to the lowest points.
    const LEVEL_MM: f64 = 0.5;
    const LEAST_POINTS: usize = 5;
    const POINT_MM: f64 = 0.3;
    const UNEVEN_MM: f64 = 0.15;
    let is_occlusal = |vertex: u32| is_tooth(vertex) && uncut.vertex_normals[vertex as usize].dot(up) > 0.5;
    let teeth: Vec<u32> =
        (0..uncut.mesh.vertices.len() as u32).filter(|&vertex| is_occlusal(vertex)).collect();
    let mut points = zeniths(uncut, up, &(centre + up * LEVEL_MM), &teeth);
    // Beside the prepared tooth the corner looked for may be its own floor's.
    let is_beside = |point: &Point3<f64>| (point - centre).cross(up).norm() < OWN_MM;
    points.retain(|point| scene.before.is_some() || !is_beside(point));
    let plane = fit::plane(&points).filter(|_| points.len() >= LEAST_POINTS)?;
    let sigma_mm = (POINT_MM.max(plane.rms_mm) / (points.len() as f64).sqrt()).hypot(UNEVEN_MM);
    Some((plane.normal_towards(up), sigma_mm.atan2(plane.spread_mm[0]).to_degrees()))
}

/// The plane of the line in which the gingiva meets the tooth itself, or of the finish line, with where it comes from and
/// how far it may lie askew, degrees.
fn own_line(
    uncut: &Surface,
    after_from_scan: &Isometry3<f64>,
    ring: &Ring,
    first_up: &Vector3<f64>,
) -> Option<(&'static str, Vector3<f64>, f64)> {
    let scan_from_after = after_from_scan.inverse();
    let gingiva = gingiva_points(uncut, &scan_from_after, ring, first_up);
    let (from, points) = if gingiva.len() * 10 > ring.points.len() * 7 {
        ("the plane in which the gingiva meets the tooth", gingiva)
    } else {
        (FINISH_LINE, ring.points.iter().map(|point| scan_from_after * point).collect())
    };
    // The rim of a cut that is no finish line says nothing of the tooth's axis.
    let is_line = from != FINISH_LINE || ring.seen.contains(&true);
    let plane = fit::plane(&points).filter(|_| is_line)?;
    Some((from, plane.normal_towards(&(scan_from_after * first_up)), scallop_sigma_deg(&plane)))
}

/// How far the plane of a line round the tooth may lie askew, degrees: 1.5 where the line is flat, and more where it is
/// scalloped, as one papilla may be a third higher than its fellow (engineering judgement, no source).
fn scallop_sigma_deg(plane: &PlaneFit) -> f64 {
    (0.35 * plane.rms_mm).atan2(plane.spread_mm[0]).to_degrees().hypot(1.5)
}

/// The plane in which the scan's sides end, and how far it may lie askew, degrees: it is as even as the hand that scanned
/// or trimmed.
///
/// An edge that wanders by `rms` about its plane, in about ten independent stretches, and whose two sides end 0.15 mm
/// uneven even where the edge looks straight, tips a scan of half-width `w` by `√(rms²/10 + 0.15²) / w` (engineering
/// judgement, no source). A narrow strip says little of the tilt across it.
fn end_of_scan(surface: &Surface, up: &Vector3<f64>) -> Option<(Vector3<f64>, f64)> {
    const STRETCHES: f64 = 10.0;
    const UNEVEN_MM: f64 = 0.15;
    let plane = fit::plane(&sides_of_scan(surface, up))?;
    let sigma = (plane.rms_mm / STRETCHES.sqrt()).hypot(UNEVEN_MM).atan2(plane.spread_mm[0]);
    Some((plane.normal_towards(up), sigma.to_degrees()))
}

/// The middles of the border's edges where the scan falls towards them. Where a row of teeth ends the border climbs over
/// the ridge, and the scan runs level up to it; of a curved row both such ends lie on the inner side.
fn sides_of_scan(surface: &Surface, up: &Vector3<f64>) -> Vec<Point3<f64>> {
    /// Sine of 17 degrees: gingiva slopes more, the ridge along the row less.
    const FALL: f64 = 0.3;
    /// The way out is averaged over so much of a border that goes in zigzag, mm.
    const NEAR_MM: f64 = 1.0;
    let mut is_border = vec![false; surface.mesh.vertices.len()];
    main_border(surface).into_iter().for_each(|vertex| is_border[vertex as usize] = true);
    let mut edges: Vec<(Point3<f64>, Vector3<f64>)> = Vec::new();
    for (triangle, corners) in surface.mesh.triangles.iter().enumerate() {
        for k in 0..3 {
            let [a, b] = [corners[k], corners[(k + 1) % 3]];
            if surface.topology.opposite[triangle][k] == Topology::NONE && is_border[a as usize] {
                let [a, b] = [a, b].map(|vertex| surface.mesh.vertices[vertex as usize]);
                edges.push((center(&a, &b), (b - a).cross(&surface.triangle_normals[triangle])));
            }
        }
    }
    let falls = |at: &Point3<f64>| {
        let near = edges.iter().filter(|(other, _)| (other - at).norm_squared() < NEAR_MM * NEAR_MM);
        let outward: Vector3<f64> = near.map(|(_, outward)| outward).sum();
        -outward.dot(up) > FALL * outward.norm()
    };
    edges.par_iter().filter(|(at, _)| falls(at)).map(|(at, _)| *at).collect()
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
