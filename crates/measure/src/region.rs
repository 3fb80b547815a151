//! What the cutting took away: the change at each vertex, and the region of the prepared tooth.

use kerfwright_geometry::Surface;
use nalgebra::{Point3, Vector3};
use rayon::prelude::*;

use crate::MeasureError;
use crate::scene::{Near, Placed};

/// Farthest that the uncut surface is looked for, mm: deeper than any cusp is ever cut.
const REACH_MM: f64 = 6.0;
/// Smallest area of a prepared tooth, mm²: a lower incisor's preparation has about 60.
pub(crate) const LEAST_AREA_MM2: f64 = 15.0;
/// A second region this large beside the first is a second prepared tooth.
const SECOND_TOOTH_SHARE: f64 = 0.35;
/// ... if so much was taken from it, against the largest: a lower incisor beside a molar has a fifth.
const SECOND_TOOTH_VOLUME: f64 = 0.12;

/// Signed change at each vertex of the after scan.
#[derive(Debug, Clone)]
pub struct Change {
    /// Reduction in mm, positive where tooth is gone; NaN where the before scan has no surface to compare with.
    pub reduction_mm: Vec<f64>,
    /// The nearest point of the before scan.
    pub near: Vec<Option<Near>>,
    /// Smallest reduction that counts as cut: max(0.05 mm, 4 × noise).
    pub threshold_mm: f64,
}

/// The vertices of one prepared tooth.
#[derive(Debug, Clone)]
pub struct Region {
    /// One flag a vertex of the after scan.
    pub inside: Vec<bool>,
    /// Area, mm².
    pub area_mm2: f64,
    /// Area-weighted mean normal: walls cancel, so it points occlusally. Unit.
    pub facing: Vector3<f64>,
    /// Area-weighted centroid.
    pub centre: Point3<f64>,
}

impl Change {
    /// Compares every vertex of `after` with the before scan.
    pub fn between(after: &Surface, before: &Placed<'_>, noise_mm: f64) -> Self {
        let near = before.nearest(&after.mesh.vertices, REACH_MM);
        let reduction_mm = near.iter().map(|near| match near {
            Some(near) if !near.on_border => -near.signed_mm,
            _ => f64::NAN,
        });
        Self { reduction_mm: reduction_mm.collect(), near, threshold_mm: (4.0 * noise_mm).max(0.05) }
    }

    /// The prepared teeth, the largest first, and how many more regions were cut.
    ///
    /// # Errors
    /// No region is large enough, or the change goes the other way.
    pub fn prepared_regions(&self, after: &Surface) -> Result<(Vec<Region>, usize), MeasureError> {
        self.regions_from(after, LEAST_AREA_MM2)
    }

    /// The same with regions down to an area, as an incisal edge that was cut is smaller than any prepared tooth.
    pub(crate) fn regions_from(
        &self,
        after: &Surface,
        smallest_mm2: f64,
    ) -> Result<(Vec<Region>, usize), MeasureError> {
        let cut = |vertex: usize| self.reduction_mm[vertex] > self.threshold_mm;
        let mut regions = regions(after, cut);
        regions.retain(|region| region.area_mm2 >= smallest_mm2);
        let lost: f64 = regions.iter().map(|region| self.volume_mm3(after, region)).sum();
        let mut grown_regions = self::regions(after, |vertex| self.reduction_mm[vertex] < -self.threshold_mm);
        grown_regions.retain(|region| region.area_mm2 >= smallest_mm2);
        let grown: f64 = grown_regions.iter().map(|region| self.volume_mm3(after, region)).sum();
        if grown > 4.0 * lost.max(2.0) {
            return Err(MeasureError::Swapped { volume_mm3: grown });
        }
        regions.sort_by(|a, b| b.area_mm2.total_cmp(&a.area_mm2));
        let Some(largest) = regions.first() else {
            return Err(MeasureError::NothingChanged {
                threshold_mm: self.threshold_mm,
                least_area_mm2: smallest_mm2,
            });
        };
        let least_area_mm2 = SECOND_TOOTH_SHARE * largest.area_mm2;
        let least_mm3 = SECOND_TOOTH_VOLUME * self.volume_mm3(after, largest);
        let n_regions = regions.len();
        // Gingiva that moved is as wide as a tooth, but thin.
        regions.retain(|region| {
            region.area_mm2 >= least_area_mm2 && self.volume_mm3(after, region) >= least_mm3
        });
        let n_others = n_regions - regions.len();
        Ok((regions, n_others))
    }

    /// Rough volume of the change in a region: change times vertex area.
    fn volume_mm3(&self, after: &Surface, region: &Region) -> f64 {
        (0..region.inside.len())
            .filter(|&vertex| region.inside[vertex])
            .map(|vertex| self.reduction_mm[vertex].abs() * vertex_area(after, vertex as u32))
            .sum()
    }
}

/// The vertices reached from a triangle over vertices that may be entered; one flag a vertex.
pub fn reached_from(surface: &Surface, triangle: u32, may: &[bool]) -> Vec<bool> {
    let mut reached = vec![false; may.len()];
    let mut queue: Vec<u32> = surface.mesh.triangles[triangle as usize].to_vec();
    queue.retain(|&vertex| may[vertex as usize]);
    queue.iter().for_each(|&vertex| reached[vertex as usize] = true);
    while let Some(vertex) = queue.pop() {
        for &other in surface.topology.vertex_neighbours(vertex) {
            if may[other as usize] && !reached[other as usize] {
                reached[other as usize] = true;
                queue.push(other);
            }
        }
    }
    reached
}

/// The vertices of the triangles within a distance of a point, in rising order.
pub fn vertices_near(surface: &Surface, point: &Point3<f64>, reach_mm: f64) -> Vec<u32> {
    let triangles = surface.tree.triangles_near(point, reach_mm);
    let mut vertices: Vec<u32> =
        triangles.into_iter().flat_map(|triangle| surface.mesh.triangles[triangle as usize]).collect();
    vertices.sort_unstable();
    vertices.dedup();
    vertices
}

/// Sum of a vertex's normal and its neighbours': a single one is noisy by several degrees. Not unit.
pub fn pooled_normal(surface: &Surface, vertex: u32) -> Vector3<f64> {
    let near = surface.topology.vertex_neighbours(vertex).iter();
    let sum: Vector3<f64> = near.map(|&other| surface.vertex_normals[other as usize]).sum();
    sum + surface.vertex_normals[vertex as usize]
}

/// A third of the area of the triangles around each vertex, mm².
pub fn vertex_areas(surface: &Surface) -> Vec<f64> {
    let vertices = (0..surface.mesh.vertices.len() as u32).into_par_iter().with_min_len(4096);
    vertices.map(|vertex| vertex_area(surface, vertex)).collect()
}

/// A third of the area of the triangles around one vertex, mm².
pub fn vertex_area(surface: &Surface, vertex: u32) -> f64 {
    let third = |&triangle: &u32| {
        let [a, b, c] = surface.mesh.corners(triangle);
        (b - a).cross(&(c - a)).norm() / 6.0
    };
    surface.topology.vertex_triangles(vertex).iter().map(third).sum()
}

/// Connected regions of the vertices chosen by `is_in`, in order of their first vertex.
pub fn regions(surface: &Surface, is_in: impl Fn(usize) -> bool) -> Vec<Region> {
    let n_vertices = surface.mesh.vertices.len();
    let mut seen = vec![false; n_vertices];
    let mut found = Vec::new();
    for seed in 0..n_vertices {
        if seen[seed] || !is_in(seed) {
            continue;
        }
        seen[seed] = true;
        let mut members = vec![seed as u32];
        let mut next = 0;
        while next < members.len() {
            for &other in surface.topology.vertex_neighbours(members[next]) {
                if !seen[other as usize] && is_in(other as usize) {
                    seen[other as usize] = true;
                    members.push(other);
                }
            }
            next += 1;
        }
        // A handful of vertices is noise; not keeping their flags saves memory on noisy scans.
        if members.len() >= 12 {
            found.push(region_of(surface, &members));
        }
    }
    found
}

fn region_of(surface: &Surface, members: &[u32]) -> Region {
    let mut inside = vec![false; surface.mesh.vertices.len()];
    let (mut area_mm2, mut facing, mut centre) = (0.0, Vector3::zeros(), Vector3::zeros());
    for &vertex in members {
        let own_mm2 = vertex_area(surface, vertex);
        let vertex = vertex as usize;
        inside[vertex] = true;
        area_mm2 += own_mm2;
        facing += surface.vertex_normals[vertex] * own_mm2;
        centre += surface.mesh.vertices[vertex].coords * own_mm2;
    }
    Region {
        inside,
        area_mm2,
        facing: facing.try_normalize(1e-12).unwrap_or_else(Vector3::z),
        centre: Point3::from(centre / area_mm2.max(1e-12)),
    }
}
