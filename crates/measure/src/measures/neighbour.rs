//! `finish_line.neighbour.*` and `neighbour.*.depth_mm`: the adjacent teeth, their distance and their damage.

use kerfwright_geometry::TriangleTree;
use kerfwright_mesh::Mesh;
use nalgebra::{Point3, Vector3};

use super::NO_BEFORE;
use crate::outline::Outline;
use crate::preparation::Preparation;
use crate::region::{pooled_normal, regions};
use crate::sheet::{Sheet, expanded, number};
use crate::stats::{robust_sigma, smooth_ring};

/// Farther than this from the finish line stands no adjacent tooth, mm.
const REACH_MM: f64 = 6.0;
/// Smallest damaged area that is told from scatter, mm².
const LEAST_DAMAGE_MM2: f64 = 0.08;

/// A side of the tooth.
pub(super) struct Side {
    /// `mesial` or `distal`.
    pub name: &'static str,
    /// +1 mesial, −1 distal.
    pub sign: f64,
}

/// Both sides.
pub(super) const SIDES: [Side; 2] = [Side { name: "mesial", sign: 1.0 }, Side { name: "distal", sign: -1.0 }];

/// Distances and damage on both sides.
pub fn take(preparation: &Preparation<'_>, sheet: &mut Sheet) {
    let smooth = smooth_normals(preparation);
    let outline = Outline::new(&preparation.ring, &preparation.path);
    for side in SIDES {
        let facing = facing_vertices(preparation, &side, &outline, &smooth);
        distance(preparation, sheet, &side, &facing);
        damage(preparation, sheet, &side, &outline);
    }
}

/// Vertex normals averaged over the neighbours, near the tooth.
pub(super) fn smooth_normals(preparation: &Preparation<'_>) -> Vec<Vector3<f64>> {
    let after = preparation.scene.after;
    let near = |point: &Point3<f64>| (point - preparation.frame.origin).norm() < 14.0;
    (0..after.mesh.vertices.len() as u32)
        .map(|vertex| {
            if !near(&after.mesh.vertices[vertex as usize]) {
                return Vector3::zeros();
            }
            pooled_normal(after, vertex).try_normalize(1e-9).unwrap_or_else(Vector3::zeros)
        })
        .collect()
}

/// The vertices of the adjacent tooth's surface that face the prepared tooth: steep, turned towards it and beyond
/// its finish line. Gingiva faces occlusally; the prepared tooth's own root faces away.
pub(super) fn facing_vertices(
    preparation: &Preparation<'_>,
    side: &Side,
    outline: &Outline,
    smooth: &[Vector3<f64>],
) -> Vec<bool> {
    const STEEP: f64 = 0.6;
    const TOWARD: f64 = 0.25;
    let after = preparation.scene.after;
    let facing: Vec<bool> = (0..after.mesh.vertices.len())
        .map(|vertex| {
            let normal = smooth[vertex];
            if preparation.inside[vertex] || normal == Vector3::zeros() {
                return false;
            }
            let place = preparation.frame.coordinates(&after.mesh.vertices[vertex]);
            let components = preparation.frame.components(&normal);
            let (radius_mm, _, edge) = outline.place(&after.mesh.vertices[vertex]);
            place.x * side.sign > 0.0
                && radius_mm > edge.0 - 0.1
                && components.z < STEEP
                && -components.x * side.sign > TOWARD
        })
        .collect();
    // Specks of ragged gingiva can face anywhere; an adjacent tooth shows some square millimetres.
    let found = regions(after, |vertex| facing[vertex]);
    let keep = found.into_iter().filter(|region| region.area_mm2 > 2.0);
    let mut kept = vec![false; facing.len()];
    for region in keep {
        for (vertex, inside) in region.inside.iter().enumerate() {
            kept[vertex] |= inside;
        }
    }
    kept
}

/// Least distance from the finish line to the facing surface, smoothed along the line.
fn distance(preparation: &Preparation<'_>, sheet: &mut Sheet, side: &Side, facing: &[bool]) {
    let id = format!("finish_line.neighbour.{}_mm", side.name);
    let after = preparation.scene.after;
    let triangles: Vec<[u32; 3]> = after
        .mesh
        .triangles
        .iter()
        .filter(|corners| corners.iter().all(|&vertex| facing[vertex as usize]))
        .copied()
        .collect();
    if triangles.is_empty() {
        sheet.refuse(id, "no adjacent tooth was scanned on this side");
        return;
    }
    let tree = TriangleTree::new(&Mesh { vertices: after.mesh.vertices.clone(), triangles });
    let found = tree.closest_many(&preparation.ring.points, REACH_MM);
    let distances: Vec<Option<f64>> =
        found.iter().map(|found| found.map(|found| found.distance_mm)).collect();
    let smooth = smooth_ring(&distances, 4);
    let least = smooth
        .iter()
        .enumerate()
        .filter_map(|(place, value)| Some((distances[place].and(*value)?, place)))
        .min_by(|a, b| a.0.total_cmp(&b.0));
    match least {
        Some((least, place)) => {
            let reading = number(least, "mm", expanded(&[preparation.noise_mm, 0.01]))
                .at(Some(preparation.place_of(&preparation.ring.points[place])));
            sheet.write(id, reading);
        }
        None => sheet.refuse(id, format!("no adjacent tooth within {REACH_MM} mm of the finish line")),
    }
}

/// Deepest cut into the adjacent tooth.
fn damage(preparation: &Preparation<'_>, sheet: &mut Sheet, side: &Side, outline: &Outline) {
    let id = format!("neighbour.{}.depth_mm", side.name);
    let Some(change) = &preparation.change else {
        sheet.refuse(id, NO_BEFORE);
        return;
    };
    let after = preparation.scene.after;
    let belongs = |vertex: usize| {
        let point = &after.mesh.vertices[vertex];
        let place = preparation.frame.coordinates(point);
        let (radius_mm, height_mm, edge) = outline.place(point);
        let beside = place.x * side.sign > 0.0 && place.x.abs() < 16.0 && place.y.abs() < 9.0;
        // Above the gingiva that a glove or an air jet may have moved.
        beside && !preparation.inside[vertex] && radius_mm > edge.0 + 0.15 && height_mm > edge.1 - 0.5
    };
    let scatter: Vec<f64> = (0..after.mesh.vertices.len())
        .filter(|&vertex| belongs(vertex))
        .map(|vertex| change.reduction_mm[vertex])
        .filter(|mm| mm.is_finite() && mm.abs() < 0.2)
        .collect();
    if scatter.len() < 100 {
        sheet.refuse(id, "no adjacent tooth was scanned on this side before and after");
        return;
    }
    let sigma_mm = robust_sigma(&scatter).unwrap_or(0.0).max(0.002);
    let floor_mm = (3.0 * sigma_mm).max(0.02);
    let cut = |vertex: usize| {
        belongs(vertex) && change.reduction_mm[vertex] > floor_mm && faces_the_same_way(preparation, vertex)
    };
    let deepest = regions(after, cut)
        .into_iter()
        .filter(|region| region.area_mm2 > LEAST_DAMAGE_MM2)
        .filter_map(|region| deepest_of(preparation, &region.inside).map(|found| (found, region.area_mm2)))
        .filter(|((depth_mm, vertex), _)| stood_out_before(preparation, *vertex, *depth_mm))
        .max_by(|a, b| a.0.0.total_cmp(&b.0.0));
    let u95 = expanded(&[sigma_mm, preparation.pose_sigma_mm(), 0.008]);
    let reading = match deepest {
        Some(((depth_mm, vertex), area_mm2)) => number(depth_mm, "mm", u95)
            .with("damaged_mm2", area_mm2)
            .at(Some(preparation.place_of_vertex(vertex))),
        None => number(0.0, "mm", u95).noted(format!(
            "nothing beyond three times the scatter on this tooth ({:.0} um)",
            1000.0 * floor_mm
        )),
    };
    sheet.write(id, reading.with("floor", floor_mm));
}

/// Damage lowers a surface along its normal. Where the scans differ because a contact was bridged before, the nearest
/// uncut point lies to the side.
fn faces_the_same_way(preparation: &Preparation<'_>, vertex: usize) -> bool {
    const ALONG: f64 = 0.6;
    let Some(near) = preparation.change.as_ref().and_then(|change| change.near[vertex]) else { return false };
    let after = preparation.scene.after;
    let way = (near.point - after.mesh.vertices[vertex]).try_normalize(1e-9);
    let normal = after.vertex_normals[vertex];
    near.normal.dot(&normal) > ALONG && way.is_some_and(|way| way.dot(&normal) > ALONG)
}

/// Whether the before scan's own vertices there lie outside the after surface by about as much. In a crease between
/// tooth and gingiva two scans fill the corner differently, and only the chords between their vertices disagree.
fn stood_out_before(preparation: &Preparation<'_>, vertex: u32, depth_mm: f64) -> bool {
    const NEAR_MM: f64 = 0.3;
    let (Some(before), Some(change)) = (&preparation.scene.before, &preparation.change) else { return false };
    let Some(near) = change.near[vertex as usize] else { return false };
    let own = before.after_from_scan.inverse() * near.point;
    let mut vertices: Vec<u32> = before
        .surface
        .tree
        .triangles_near(&own, NEAR_MM)
        .into_iter()
        .flat_map(|triangle| before.surface.mesh.triangles[triangle as usize])
        .collect();
    vertices.sort_unstable();
    vertices.dedup();
    let points: Vec<Point3<f64>> = vertices.into_iter().map(|vertex| before.vertex(vertex)).collect();
    let after = crate::scene::Placed::in_place(preparation.scene.after);
    let most_mm =
        after.nearest(&points, 2.0).into_iter().flatten().map(|near| near.signed_mm).fold(0.0, f64::max);
    most_mm > 0.6 * depth_mm
}

fn deepest_of(preparation: &Preparation<'_>, inside: &[bool]) -> Option<(f64, u32)> {
    let change = preparation.change.as_ref()?;
    let value_at = |vertex: u32| Some(change.reduction_mm[vertex as usize]).filter(|mm| mm.is_finite());
    (0..inside.len() as u32)
        .filter(|&vertex| inside[vertex as usize])
        .filter_map(|vertex| Some((preparation.smooth_at(vertex, &value_at)?, vertex)))
        .max_by(|a, b| a.0.total_cmp(&b.0))
}
