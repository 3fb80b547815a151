//! How deep a patch of a surface lies in what surrounds it: seen on one scan alone.

use kerfwright_geometry::{Plane, Surface};
use nalgebra::{Point3, Vector3, Vector6};

use crate::region::vertices_near;
use crate::stats::{quadratic_surface, surface_terms};

/// Width of the surroundings that are looked at, mm.
const RING_MM: f64 = 0.8;
/// Surroundings whose normal turns away by more belong to another side, as a cosine.
const SAME_SIDE: f64 = 0.5;
const LEAST_RING: usize = 20;

/// A patch held against the quadratic surface through its surroundings.
#[derive(Debug, Clone, Copy)]
pub struct Dent {
    /// How far its deepest vertices lie under that surface, mm: the second deepest.
    pub depth_mm: f64,
    /// Root mean square distance of the surroundings from it, mm.
    pub rms_mm: f64,
}

/// The dent that the vertices `inside` make. `None` where too little surrounds them.
pub fn dent(surface: &Surface, inside: &[bool]) -> Option<Dent> {
    let own: Vec<usize> = (0..inside.len()).filter(|&vertex| inside[vertex]).collect();
    let sum = own.iter().map(|&vertex| surface.mesh.vertices[vertex].coords).sum::<Vector3<f64>>();
    let centre = Point3::from(sum / own.len().max(1) as f64);
    let normal =
        own.iter().map(|&vertex| surface.vertex_normals[vertex]).sum::<Vector3<f64>>().try_normalize(1e-9)?;
    let radius_mm = own.iter().map(|&v| (surface.mesh.vertices[v] - centre).norm()).fold(0.0, f64::max);
    let (u, v) = Plane { point: centre, normal }.axes();
    let local = |vertex: usize| {
        let at = surface.mesh.vertices[vertex] - centre;
        Vector3::new(at.dot(&u), at.dot(&v), at.dot(&normal))
    };
    let ring: Vec<Vector3<f64>> = vertices_near(surface, &centre, radius_mm + RING_MM)
        .into_iter()
        .map(|vertex| vertex as usize)
        .filter(|&vertex| !inside[vertex] && surface.vertex_normals[vertex].dot(&normal) > SAME_SIDE)
        .map(local)
        .collect();
    let (fit, rms_mm) = smooth_form(&ring)?;
    let mut below: Vec<f64> =
        own.iter().map(|&vertex| local(vertex)).map(|at| surface_terms(&at).dot(&fit) - at.z).collect();
    below.sort_by(|a, b| b.total_cmp(a));
    below.get(1).or(below.first()).map(|&depth_mm| Dent { depth_mm, rms_mm })
}

/// The quadratic surface through points, and the root mean square of what is left. Points far off count less.
fn smooth_form(points: &[Vector3<f64>]) -> Option<(Vector6<f64>, f64)> {
    const N_ROUNDS: usize = 4;
    if points.len() < LEAST_RING {
        return None;
    }
    let (mut fit, mut scale_mm) = (Vector6::zeros(), f64::INFINITY);
    for _ in 0..N_ROUNDS {
        let off_mm = |at: &Vector3<f64>| at.z - surface_terms(at).dot(&fit);
        let next = quadratic_surface(points, |at| (2.0 * scale_mm / off_mm(at).abs().max(1e-9)).min(1.0))?;
        fit = next;
        let square = points.iter().map(|at| (at.z - surface_terms(at).dot(&fit)).powi(2)).sum::<f64>();
        scale_mm = (square / points.len() as f64).sqrt().max(0.002);
    }
    Some((fit, scale_mm))
}

#[cfg(test)]
mod tests {
    use kerfwright_mesh::Mesh;

    use super::*;

    /// A ball's top, 5 mm in radius, with a hollow of a given depth and 0.4 mm radius in the middle.
    fn hollowed(depth_mm: f64) -> (Surface, Vec<bool>) {
        const N: usize = 41;
        const STEP_MM: f64 = 0.1;
        let place = |k: usize| (k as f64 - 20.0) * STEP_MM;
        let (mut vertices, mut inside) = (Vec::new(), Vec::new());
        for k in 0..N * N {
            let (x, y) = (place(k / N), place(k % N));
            let share = (1.0 - x.hypot(y) / 0.4).max(0.0);
            vertices.push(Point3::new(x, y, (25.0 - x * x - y * y).sqrt() - depth_mm * share.min(1.0)));
            inside.push(share > 0.1);
        }
        let corner = |i: usize, j: usize| (i * N + j) as u32;
        let cells = (0..N - 1).flat_map(|i| (0..N - 1).map(move |j| (i, j)));
        let triangles = cells
            .flat_map(|(i, j)| {
                let [a, b, c, d] = [corner(i, j), corner(i + 1, j), corner(i + 1, j + 1), corner(i, j + 1)];
                [[a, b, c], [a, c, d]]
            })
            .collect();
        (Surface::new(Mesh { vertices, triangles }), inside)
    }

    #[test]
    fn a_hollow_has_its_depth_and_a_ball_has_none() {
        for depth_mm in [0.0, 0.1, 0.2] {
            let (surface, inside) = hollowed(depth_mm);
            let found = dent(&surface, &inside).unwrap();
            // The second deepest vertex lies a triangle's edge beside the deepest: a quarter of the cone higher.
            assert!((found.depth_mm - 0.75 * depth_mm).abs() < 0.01, "{depth_mm}: {found:?}");
            assert!(found.rms_mm < 0.01, "{found:?}");
        }
    }
}
