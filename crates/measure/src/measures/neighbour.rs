//! `finish_line.neighbour.*`: how far the adjacent teeth stand from the finish line.

use kerfwright_geometry::TriangleTree;
use kerfwright_mesh::Mesh;
use nalgebra::{Point3, Vector3};

use crate::outline::Outline;
use crate::preparation::Preparation;
use crate::region::{pooled_normal, regions};
use crate::sheet::{Sheet, expanded, number};
use crate::stats::smooth_ring;

/// Farther than this from the finish line stands no adjacent tooth, mm.
const REACH_MM: f64 = 6.0;

/// Why nothing is said of the gap between front teeth: the steep flank of the high papilla faces the finish line from a
/// few tenths of a millimetre and would pass for the adjacent tooth.
pub(super) const PAPILLA: &str =
    "between front teeth the papilla cannot be told from the adjacent tooth yet: check the gap with a probe";

/// A side of the tooth.
pub(super) struct Side {
    /// `mesial` or `distal`.
    pub name: &'static str,
    /// +1 mesial, −1 distal.
    pub sign: f64,
}

/// Both sides.
pub(super) const SIDES: [Side; 2] = [Side { name: "mesial", sign: 1.0 }, Side { name: "distal", sign: -1.0 }];

/// Distances on both sides.
pub fn take(preparation: &Preparation<'_>, sheet: &mut Sheet) {
    let smooth = smooth_normals(preparation);
    let outline = Outline::new(&preparation.ring, &preparation.path);
    for side in SIDES {
        let facing = facing_vertices(preparation, &side, &outline, &smooth);
        distance(preparation, sheet, &side, &facing);
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
            let outside = || {
                let (radius_mm, _, edge) = outline.place(&after.mesh.vertices[vertex]);
                radius_mm > edge.0 - 0.1
            };
            place.x * side.sign > 0.0
                && components.z < STEEP
                && -components.x * side.sign > TOWARD
                && outside()
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
    if preparation.tooth.is_front() {
        sheet.refuse(id, PAPILLA);
        return;
    }
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
    let seen = found.iter().zip(&preparation.ring.seen).map(|(found, seen)| found.filter(|_| *seen));
    let distances: Vec<Option<f64>> = seen.map(|found| found.map(|found| found.distance_mm)).collect();
    let smooth = smooth_ring(&distances, 4);
    let least = smooth
        .iter()
        .enumerate()
        .filter_map(|(place, value)| Some((distances[place].and(*value)?, place)))
        .min_by(|a, b| a.0.total_cmp(&b.0));
    match least {
        Some((least, place)) => {
            // Without a before scan the finish line itself rests on few triangles.
            let share = if preparation.pose.is_some() { 0.1 } else { 0.2 };
            let reading = number(least, "mm", expanded(&[preparation.noise_mm, share * preparation.edge_mm]))
                .at(Some(preparation.place_of(&preparation.ring.points[place])));
            sheet.write(id, reading);
        }
        None => sheet.refuse(id, format!("no adjacent tooth within {REACH_MM} mm of the finish line")),
    }
}
