//! The scan's own noise, read from the scan.

use nalgebra::{Matrix6, Point3, Vector3, Vector6};
use rayon::prelude::*;

use crate::fit::{MAD_TO_SIGMA, median};
use crate::{Plane, Surface, fit};

/// Scan noise estimated from the scan itself.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Noise {
    /// Standard deviation of the vertices along the normal, mm.
    pub sigma_mm: f64,
    /// How many vertices the estimate rests on.
    pub n_vertices: usize,
}

/// Vertices looked at, at most: the estimate then scatters by about 2 %.
const MOST_VERTICES: usize = 4096;
/// Fewer usable vertices give no estimate.
const LEAST_VERTICES: usize = 30;
/// Neighbours needed to fit the six coefficients of a quadric.
const LEAST_NEIGHBOURS: usize = 10;
/// Curvature times the reach of the neighbours above which a quadric is no longer trusted.
const MOST_BEND: f64 = 0.5;

/// Standard deviation of the scan's noise along the normal in mm, from the given vertices.
///
/// See [`noise`]; not a number where that gives `None`.
pub fn noise_mm(surface: &Surface, vertices: &[u32]) -> f64 {
    noise(surface, vertices).map_or(f64::NAN, |noise| noise.sigma_mm)
}

/// Noise of the scan at the given vertices, from how far each lies off a smooth patch through its neighbours.
///
/// For each vertex a quadric height field is fitted to the vertices up to two edges away, without the vertex
/// itself, in the frame of their mean plane. The vertex's height over it, divided by the standard deviation
/// that unit noise would give it (its own and that of the fit), has the scan's standard deviation; the median
/// of the absolute values gives a scale that edges and steps do not pull. Vertices at the boundary, and
/// those whose patch bends too much for a quadric, are left out.
///
/// It sees what differs from vertex to vertex: waves longer than a few edges count as shape.
///
/// `None` if fewer than 30 vertices can be used.
pub fn noise(surface: &Surface, vertices: &[u32]) -> Option<Noise> {
    let usable: Vec<u32> =
        vertices.iter().copied().filter(|&vertex| !surface.topology.is_boundary_vertex(vertex)).collect();
    let n = usable.len().min(MOST_VERTICES);
    let departures: Vec<f64> = (0..n)
        .into_par_iter()
        .with_min_len(64)
        .filter_map(|k| departure(surface, usable[k * usable.len() / n]))
        .collect();
    if departures.len() < LEAST_VERTICES {
        return None;
    }
    let sigma_mm = MAD_TO_SIGMA * median(&departures)?;
    Some(Noise { sigma_mm, n_vertices: departures.len() })
}

/// How far a vertex lies off the quadric through its neighbours, in units of what unit noise would give.
fn departure(surface: &Surface, vertex: u32) -> Option<f64> {
    let centre = surface.mesh.vertices[vertex as usize];
    let neighbours = two_ring(surface, vertex)?;
    let points: Vec<Point3<f64>> = neighbours.iter().map(|&v| surface.mesh.vertices[v as usize]).collect();
    let normal = fit::plane(&points)?.normal;
    let folded = |&v: &u32| surface.vertex_normals[v as usize].dot(&normal).abs() < 0.5;
    if neighbours.iter().any(folded) {
        return None;
    }
    let (u, v) = Plane { point: centre, normal }.axes();
    let offsets = points.iter().map(|point| point - centre);
    let local: Vec<Vector3<f64>> =
        offsets.map(|d| Vector3::new(d.dot(&u), d.dot(&v), d.dot(&normal))).collect();
    let reach = local.iter().map(|p| p.xy().norm()).fold(0.0, f64::max);
    let (mut normal_matrix, mut right) = (Matrix6::zeros(), Vector6::zeros());
    for p in &local {
        let (x, y) = (p.x / reach, p.y / reach);
        let row = Vector6::new(1.0, x, y, x * x, x * y, y * y);
        // The lower triangle is all that is looked at.
        for j in 0..6 {
            for i in j..6 {
                normal_matrix[(i, j)] += row[i] * row[j];
            }
        }
        right += row * p.z;
    }
    let inverse = normal_matrix.cholesky()?.inverse();
    let quadric = inverse * right;
    // Heights over a reach of one: the second derivatives are bend × reach.
    let (xx, xy, yy) = (2.0 * quadric[3], quadric[4], 2.0 * quadric[5]);
    let largest = 0.5 * (xx + yy).abs() + (0.25 * (xx - yy).powi(2) + xy * xy).sqrt();
    if largest / reach > MOST_BEND {
        return None;
    }
    let slope_squared = (quadric[1].powi(2) + quadric[2].powi(2)) / (reach * reach);
    // The vertex is at the origin of the frame, so only the constant and its variance matter there.
    let height = quadric[0].abs() / (1.0 + slope_squared).sqrt();
    Some(height / (1.0 + inverse[(0, 0)]).sqrt())
}

/// Vertices one or two edges away, ascending; `None` if one lies on the boundary or there are too few.
fn two_ring(surface: &Surface, vertex: u32) -> Option<Vec<u32>> {
    let topology = &surface.topology;
    let ring = topology.vertex_neighbours(vertex);
    let second = ring.iter().flat_map(|&neighbour| topology.vertex_neighbours(neighbour));
    let mut all: Vec<u32> = ring.iter().chain(second).copied().filter(|&v| v != vertex).collect();
    all.sort_unstable();
    all.dedup();
    let usable = all.len() >= LEAST_NEIGHBOURS && !all.iter().any(|&v| topology.is_boundary_vertex(v));
    usable.then_some(all)
}
