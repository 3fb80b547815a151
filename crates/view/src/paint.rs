//! Which vertices belong to the prepared surface, and averaging over it: under every picture of it, on paper and on screen.

use kerfwright_geometry::Surface;
use kerfwright_measure::outline::Outline;
use kerfwright_measure::preparation::Preparation;
use nalgebra::Vector3;
use rayon::prelude::*;

/// Rounds of averaging over neighbours, about half a millimetre in all: lines through scan noise would be tangles.
const SMOOTHING_ROUNDS: usize = 3;
/// A wall that leans more than this is floor or occlusal surface, degrees.
pub const WALL_MOST_DEG: f32 = 30.0;
/// A wall that leans less than this is undercut beyond what noise on one triangle does, degrees.
pub const UNDERCUT_DEG: f32 = -1.5;

/// Where each vertex of the after scan lies against the finish line.
#[derive(Debug, Clone)]
pub struct Insets {
    /// How far inside the finish line, mm; negative outside the prepared surface.
    pub inset_mm: Vec<f32>,
    /// Height over the finish line at its side of the tooth, along the path, mm.
    pub above_mm: Vec<f32>,
}

/// Signed, so that the rim of the paint runs along the finish line and not along triangles.
///
/// A floor, which faces up, may dip below the level of its edge; the farther inside, the more it may.
pub fn insets(preparation: &Preparation<'_>) -> Insets {
    const DIP_MM: f64 = 0.02;
    const DIP_SLOPE: f64 = 0.3;
    const TALLEST_MM: f64 = 15.0;
    let outline = Outline::new(&preparation.ring, &preparation.path);
    let after = preparation.scene.after;
    let vertices = after.mesh.vertices.par_iter().zip(&after.vertex_normals).with_min_len(4096);
    let (mut inset_mm, above_mm): (Vec<f32>, Vec<f32>) = vertices
        .map(|(point, normal)| {
            let (radius_mm, height_mm, edge) = outline.place(point);
            let (inward_mm, up_mm) = (edge.0 - radius_mm, height_mm - edge.1);
            let slope = if normal.dot(&preparation.path) > 0.2 { DIP_SLOPE } else { 0.0 };
            let dip_mm = DIP_MM + slope * inward_mm.clamp(0.0, 1.0);
            let inset_mm = (inward_mm + DIP_MM).min(up_mm + dip_mm).min(TALLEST_MM - up_mm);
            (inset_mm as f32, up_mm as f32)
        })
        .unzip();
    keep_connected(after, &preparation.inside, &mut inset_mm);
    Insets { inset_mm, above_mm }
}

/// Averages over the neighbours that are prepared and known, a few rounds; what is NaN stays so.
pub fn smooth(after: &Surface, inset_mm: &[f32], mut values: Vec<f32>) -> Vec<f32> {
    for _ in 0..SMOOTHING_ROUNDS {
        let last = &values;
        let vertices = (0..last.len()).into_par_iter().with_min_len(4096);
        values = vertices
            .map(|vertex| {
                if inset_mm[vertex] <= 0.0 || last[vertex].is_nan() {
                    return last[vertex];
                }
                let (mut sum, mut n) = (2.0 * last[vertex], 2.0);
                for &other in after.topology.vertex_neighbours(vertex as u32) {
                    let value = last[other as usize];
                    if inset_mm[other as usize] > 0.0 && !value.is_nan() {
                        sum += value;
                        n += 1.0;
                    }
                }
                sum / n
            })
            .collect();
    }
    values
}

/// Unit normals, averaged once over neighbours.
pub fn smooth_normals(after: &Surface) -> Vec<Vector3<f32>> {
    let vertices = (0..after.vertex_normals.len()).into_par_iter().with_min_len(4096);
    vertices
        .map(|vertex| {
            let own = after.vertex_normals[vertex];
            let others = after.topology.vertex_neighbours(vertex as u32).iter();
            let sum: Vector3<f64> = others.map(|&other| after.vertex_normals[other as usize]).sum();
            (own + sum).try_normalize(1e-9).unwrap_or(own).cast()
        })
        .collect()
}

/// Angle of the surface to the path at each vertex, degrees: 0 parallel to it, 90 facing up.
pub fn leans_deg(normals: &[Vector3<f32>], path: &Vector3<f64>) -> Vec<f32> {
    let path = path.cast::<f32>();
    normals.iter().map(|normal| normal.dot(&path).clamp(-1.0, 1.0).asin().to_degrees()).collect()
}

/// Takes out what lies inside the finish line but does not hang together with the prepared surface: a neighbour that
/// stands over it.
fn keep_connected(after: &Surface, inside: &[bool], inset_mm: &mut [f32]) {
    let mut reached = inside.to_vec();
    let mut queue: Vec<u32> = (0..inside.len() as u32).filter(|&vertex| inside[vertex as usize]).collect();
    while let Some(vertex) = queue.pop() {
        for &other in after.topology.vertex_neighbours(vertex) {
            if inset_mm[other as usize] > 0.0 && !reached[other as usize] {
                reached[other as usize] = true;
                queue.push(other);
            }
        }
    }
    for (inset_mm, reached) in inset_mm.iter_mut().zip(reached) {
        if !reached {
            *inset_mm = inset_mm.min(-1e-3);
        }
    }
}
