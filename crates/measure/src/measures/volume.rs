//! `reduction.volume_mm3` and `reduction.crown_pct`: how much tooth was taken away.

use kerfwright_geometry::Surface;
use nalgebra::{Isometry3, Point3, Vector3};
use rayon::prelude::*;

use super::NO_BEFORE;
use crate::finish_line::axes;
use crate::outline::Outline;
use crate::preparation::Preparation;
use crate::region::reached_from;
use crate::scene::Placed;
use crate::sheet::{Sheet, expanded, number};

/// The volume between the uncut and the cut surface inside the finish line.
///
/// By the divergence theorem: the flux of a field of divergence 1 through the uncut surface less that through the
/// cut one. The field is the height over the finish line, along the path; so it vanishes along the finish line,
/// where the two patches end at slightly different triangles, and the mismatch costs nothing.
///
/// The crown that the share refers to is the uncut tooth above the level of the nearest place of the finish line, seen
/// along the path: the flux through the uncut surface alone, of the height over that place. Where a contact hides that
/// surface it is upright, and upright surface has no flux.
pub fn take(preparation: &Preparation<'_>, sheet: &mut Sheet) {
    let (id, share_id) = ("reduction.volume_mm3", "reduction.crown_pct");
    let Some(before) = &preparation.scene.before else {
        [id, share_id].iter().for_each(|&id| sheet.refuse(id, NO_BEFORE));
        return;
    };
    let outline = Outline::new(&preparation.ring, &preparation.path);
    let Some(removed) = uncut_patch(preparation, &outline) else {
        let reason = "the uncut surface over the preparation was not scanned";
        [id, share_id].iter().for_each(|&id| sheet.refuse(id, reason));
        return;
    };
    let over_outline = |point: &Point3<f64>| {
        let (_, height_mm, (_, edge_mm)) = outline.place(point);
        height_mm - edge_mm
    };
    let path = &preparation.path;
    let uncut = flux(before.surface, &before.after_from_scan, &removed, path, &over_outline);
    let after = preparation.scene.after;
    let cut = flux(after, &Isometry3::identity(), &preparation.inside, path, &over_outline);
    let value = uncut.volume_mm3 - cut.volume_mm3;
    // A shift along the path moves the whole projected area; rotations and noise matter less. Edges chopped by the
    // triangles cost about an eighth of their length squared times the finish line and the occlusal edge.
    let chopped = preparation.ring.length_mm() * preparation.edge_mm.powi(2) / 8.0;
    let u95 = expanded(&[preparation.pose_sigma_mm() * uncut.area_mm2, chopped, 0.0025 * value]);
    sheet.write(id, number(value, "mm3", u95));
    // The crown's volume errs with the removed one where the uncut surface is wrong, so that the share errs by less.
    let levels = Levels::new(preparation);
    let over_nearest = |point: &Point3<f64>| levels.height_mm(point);
    let crown = flux(before.surface, &before.after_from_scan, &removed, path, &over_nearest);
    let pct = 100.0 * value / crown.volume_mm3;
    let share_u95 = pct * expanded(&[0.5 * u95 / value, 0.002]);
    let reading = number(pct, "pct", share_u95).with("crown_mm3", crown.volume_mm3);
    sheet.write(share_id, reading);
}

struct Flux {
    volume_mm3: f64,
    area_mm2: f64,
}

/// Flux of a height along `up` through the chosen part of a surface, and that part's area.
fn flux(
    surface: &Surface,
    after_from_scan: &Isometry3<f64>,
    chosen: &[bool],
    up: &Vector3<f64>,
    height_mm: &(dyn Fn(&Point3<f64>) -> f64 + Sync),
) -> Flux {
    let part = Part::of(surface, chosen);
    // Once a vertex, not once a corner: some heights are found by a search.
    let corners: Vec<(Point3<f64>, f64)> = part
        .vertices
        .par_iter()
        .map(|&vertex| after_from_scan * surface.mesh.vertices[vertex as usize])
        .map(|point| (point, height_mm(&point)))
        .collect();
    let (mut volume_mm3, mut area_mm2) = (0.0, 0.0);
    for (places, share) in &part.triangles {
        let [(a, over_a), (b, over_b), (c, over_c)] = places.map(|place| corners[place as usize]);
        let doubled = (b - a).cross(&(c - a));
        volume_mm3 += share * 0.5 * doubled.dot(up) * (over_a + over_b + over_c) / 3.0;
        area_mm2 += share * 0.5 * doubled.norm();
    }
    Flux { volume_mm3, area_mm2 }
}

/// The triangles with a chosen corner.
struct Part {
    /// Their vertices.
    vertices: Vec<u32>,
    /// Corners, as places in `vertices`; a triangle on the rim counts by the share of its chosen corners.
    triangles: Vec<([u32; 3], f64)>,
}

impl Part {
    fn of(surface: &Surface, chosen: &[bool]) -> Self {
        let mut place_of = vec![u32::MAX; chosen.len()];
        let (mut vertices, mut triangles) = (Vec::new(), Vec::new());
        for corners in &surface.mesh.triangles {
            let n_chosen = corners.iter().filter(|&&vertex| chosen[vertex as usize]).count();
            if n_chosen == 0 {
                continue;
            }
            let places = corners.map(|vertex| {
                let place = &mut place_of[vertex as usize];
                if *place == u32::MAX {
                    *place = vertices.len() as u32;
                    vertices.push(vertex);
                }
                *place
            });
            triangles.push((places, n_chosen as f64 / 3.0));
        }
        Self { vertices, triangles }
    }
}

/// The finish line seen along the path, with its heights.
struct Levels {
    origin: Point3<f64>,
    across: [Vector3<f64>; 2],
    path: Vector3<f64>,
    /// Place across the path and along it.
    points: Vec<Vector3<f64>>,
}

impl Levels {
    fn new(preparation: &Preparation<'_>) -> Self {
        let (u, v) = axes(&preparation.path);
        let mut levels = Self {
            origin: preparation.frame.origin,
            across: [u, v],
            path: preparation.path,
            points: Vec::new(),
        };
        levels.points = preparation.ring.points.iter().map(|point| levels.flat(point)).collect();
        levels
    }

    fn flat(&self, point: &Point3<f64>) -> Vector3<f64> {
        let at = point - self.origin;
        Vector3::new(at.dot(&self.across[0]), at.dot(&self.across[1]), at.dot(&self.path))
    }

    /// Height over the nearest place of the finish line.
    fn height_mm(&self, point: &Point3<f64>) -> f64 {
        let at = self.flat(point);
        let mut nearest = (f64::INFINITY, at.z);
        for other in &self.points {
            let off = (other.x - at.x).powi(2) + (other.y - at.y).powi(2);
            if off < nearest.0 {
                nearest = (off, other.z);
            }
        }
        at.z - nearest.1
    }
}

/// The vertices of the before scan that were cut away: outside the after body or over its top, connected.
fn uncut_patch(preparation: &Preparation<'_>, outline: &Outline) -> Option<Vec<bool>> {
    const BULGE_MM: f64 = 3.0;
    const HIGH_MM: f64 = 15.0;
    let before = preparation.scene.before.as_ref()?;
    // Under the finish line of a tooth covered in part a fossa was cut away too.
    let below_mm = if preparation.uncovered.is_empty() { 0.2 } else { 4.0 };
    let mut may = vec![false; before.surface.mesh.vertices.len()];
    let (mut asked, mut points) = (Vec::new(), Vec::new());
    for vertex in 0..may.len() as u32 {
        let point = before.vertex(vertex);
        if !outline.may_reach(&point, BULGE_MM, [-below_mm, HIGH_MM]) {
            continue;
        }
        let (radius_mm, height_mm, edge) = outline.place(&point);
        if !(radius_mm < edge.0 + BULGE_MM && height_mm > edge.1 - below_mm && height_mm < edge.1 + HIGH_MM) {
            continue;
        }
        // Spots left uncut on top belong to both patches and cancel; adjacent teeth stand outside the finish line.
        if preparation.uncovered.is_empty() && radius_mm < edge.0 - 0.3 && height_mm > edge.1 + 0.5 {
            may[vertex as usize] = true;
        } else {
            asked.push(vertex);
            points.push(point);
        }
    }
    let after = Placed::in_place(preparation.scene.after);
    let threshold_mm = (2.5 * preparation.noise_mm).max(0.015);
    for (&vertex, found) in asked.iter().zip(after.nearest(&points, 8.0)) {
        may[vertex as usize] = found.is_some_and(|found| found.signed_mm > threshold_mm);
    }
    let own = before.after_from_scan.inverse();
    let above = preparation.ring.centre() + preparation.path * 14.0;
    let top = before.surface.tree.ray(&(own * above), &(own * -preparation.path), 25.0)?;
    Some(reached_from(before.surface, top.triangle, &may))
}
