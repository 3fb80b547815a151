//! The axial walls as surface: which triangles they are, which way each faces, and how large each is without the noise.
//!
//! Axial wall is prepared surface inside the finish line whose smooth normal stands more than 60° off the path: the
//! counterpart of the occlusal surface, which lies within 60°. A fillet or a round floor belongs to the wall from
//! where it is steeper than that; a rounded occlusal edge up to there. Grooves and boxes belong to it.
//!
//! **Smooth normals.** Triangle normals of a scan are off by several degrees. They are averaged over edge neighbours,
//! round after round, each neighbour weighted by its area and by how nearly it agrees, so that the average forgets the
//! noise but does not reach round an edge.
//!
//! **Area.** A noisy triangle is larger than the surface under it by one over the cosine of its tilt. Counted is its
//! area as seen along the smooth normal. Seen so, a flat patch has the area of its outline, whatever the noise within.

use kerfwright_geometry::{Surface, Topology};
use nalgebra::{Point3, Vector3};
use rayon::prelude::*;

/// Normal farther than this from the path: axial wall; sine and cosine of the limits as in `zones`.
const WALL_COS: f64 = 0.5;
/// Rounds of averaging. Each reaches over one edge; together they spread over about three edges.
const ROUNDS: usize = 16;
/// One minus the cosine of the angle (45°) from which neighbouring triangles have no part in each other's average.
const APART: f64 = 0.3;

/// A triangle of an axial wall.
#[derive(Debug, Clone, Copy)]
pub struct WallPatch {
    /// Its centroid.
    pub centre: Point3<f64>,
    /// Smooth outward normal, unit.
    pub normal: Vector3<f64>,
    /// Area seen along the smooth normal, mm²; on the rim only the share inside the finish line.
    pub area_mm2: f64,
    /// Area of the triangle as it was scanned, mm².
    pub scanned_mm2: f64,
}

/// The axial walls of a surface, in the order of its triangles. `inside` holds a flag a vertex.
///
/// A triangle on the rim counts by the share of its corners inside, with the normal of a wall triangle beside it that lies
/// inside altogether: where the rim is a floor's, or the uncut surface under it begins, there is none.
pub fn axial_walls(surface: &Surface, inside: &[bool], path: &Vector3<f64>) -> Vec<WallPatch> {
    let mesh = &surface.mesh;
    let n_inside = |triangle: u32| {
        mesh.triangles[triangle as usize].iter().filter(|&&vertex| inside[vertex as usize]).count()
    };
    let counts: Vec<usize> = (0..mesh.triangles.len() as u32).map(n_inside).collect();
    let whole: Vec<u32> =
        (0..counts.len() as u32).filter(|&triangle| counts[triangle as usize] == 3).collect();
    let mut smooth: Vec<Option<Vector3<f64>>> = vec![None; counts.len()];
    for (&triangle, normal) in whole.iter().zip(smooth_normals(surface, &whole)) {
        smooth[triangle as usize] = Some(normal).filter(|normal| normal.dot(path).abs() < WALL_COS);
    }
    (0..counts.len() as u32)
        .filter(|&triangle| counts[triangle as usize] > 0)
        .filter_map(|triangle| {
            let beside = surface.topology.opposite[triangle as usize].into_iter();
            let on_rim = counts[triangle as usize] < 3;
            let mut beside = beside.filter(|&other| other != Topology::NONE && on_rim);
            let normal =
                smooth[triangle as usize].or_else(|| beside.find_map(|other| smooth[other as usize]))?;
            Some(WallPatch::of(surface, triangle, normal, counts[triangle as usize] as f64 / 3.0))
        })
        .collect()
}

impl WallPatch {
    fn of(surface: &Surface, triangle: u32, normal: Vector3<f64>, share: f64) -> Self {
        let [a, b, c] = surface.mesh.corners(triangle);
        let vector_area = 0.5 * (b - a).cross(&(c - a));
        Self {
            centre: Point3::from((a.coords + b.coords + c.coords) / 3.0),
            normal,
            area_mm2: share * vector_area.dot(&normal),
            scanned_mm2: share * vector_area.norm(),
        }
    }
}

/// Normals of the chosen triangles, averaged over neighbours among them that face nearly the same way.
fn smooth_normals(surface: &Surface, chosen: &[u32]) -> Vec<Vector3<f64>> {
    let mut place = vec![u32::MAX; surface.mesh.triangles.len()];
    for (k, &triangle) in chosen.iter().enumerate() {
        place[triangle as usize] = k as u32;
    }
    let areas: Vec<f64> = chosen
        .iter()
        .map(|&triangle| {
            let [a, b, c] = surface.mesh.corners(triangle);
            0.5 * (b - a).cross(&(c - a)).norm()
        })
        .collect();
    let neighbours: Vec<[u32; 3]> = chosen
        .iter()
        .map(|&triangle| {
            surface.topology.opposite[triangle as usize].map(|other| match other {
                Topology::NONE => u32::MAX,
                other => place[other as usize],
            })
        })
        .collect();
    let mut normals: Vec<Vector3<f64>> =
        chosen.iter().map(|&triangle| surface.triangle_normals[triangle as usize]).collect();
    for _ in 0..ROUNDS {
        normals = (0..normals.len())
            .into_par_iter()
            .map(|k| {
                let own = normals[k];
                let mut sum = own * areas[k];
                for other in neighbours[k].into_iter().filter(|&other| other != u32::MAX) {
                    let other = other as usize;
                    let apart = (1.0 - own.dot(&normals[other])) / APART;
                    let weight = (1.0 - apart * apart).max(0.0).powi(2);
                    sum += normals[other] * (areas[other] * weight);
                }
                sum.try_normalize(1e-12).unwrap_or(own)
            })
            .collect();
    }
    normals
}
