//! Vertices of a scan, evenly spread, on which poses are refined and judged.

use crate::cells::{Cells, bounds};
use crate::cloud::Cloud;
use kerfwright_geometry::Surface;
use nalgebra::{Isometry3, Point3, Vector3};

/// A vertex as the scanner measured it.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Pick {
    pub(crate) point: Point3<f64>,
    pub(crate) normal: Vector3<f64>,
    /// As the [sample](crate::cloud::Sample) it belongs to.
    pub(crate) weight: f64,
}

/// Vertices in an order that keeps neighbours together.
#[derive(Debug, Clone)]
pub(crate) struct Picks {
    pub(crate) all: Vec<Pick>,
    /// Surface that one pick stands for, mm².
    pub(crate) area_each_mm2: f64,
}

impl Picks {
    /// About `count` vertices, one a cell.
    pub(crate) fn new(surface: &Surface, cloud: &Cloud, count: usize) -> Self {
        let area_mm2 = cloud.area_mm2();
        // A sheet meets about 1.5 cells for each cell face it covers.
        let spacing_mm = (1.5 * area_mm2 / count as f64).sqrt();
        let vertices = &surface.mesh.vertices;
        let cells = Cells::new(vertices.clone(), spacing_mm);
        let mut chosen: Vec<u32> = cells
            .groups()
            .filter_map(|group| {
                let used: Vec<u32> = group.iter().copied().filter(|&v| is_used(cloud, v)).collect();
                used.get(used.len() / 2).copied()
            })
            .collect();
        let (low, high) = bounds(vertices);
        let unit = 1023.0 / (high - low).max().max(1e-9);
        chosen.sort_by_key(|&vertex| (morton(&((vertices[vertex as usize] - low) * unit)), vertex));
        let all: Vec<Pick> = chosen.iter().map(|&vertex| pick(surface, cloud, vertex)).collect();
        let area_each_mm2 = area_mm2 / all.len().max(1) as f64;
        Self { all, area_each_mm2 }
    }

    /// Every `n`-th pick, so that about `count` are left.
    pub(crate) fn thinned(&self, count: usize) -> Self {
        let stride = (self.all.len() / count.max(1)).max(1);
        let all = self.all.iter().step_by(stride).copied().collect();
        Self { all, area_each_mm2: self.area_each_mm2 * stride as f64 }
    }

    /// Three in four to fit on, and the fourth kept out of the fit to judge it.
    pub(crate) fn split(&self) -> (Self, Self) {
        let part = |held_out: bool, share: f64| Self {
            all: self
                .all
                .iter()
                .enumerate()
                .filter(|(k, _)| (k % 4 == 3) == held_out)
                .map(|(_, p)| *p)
                .collect(),
            area_each_mm2: self.area_each_mm2 * share,
        };
        (part(false, 4.0 / 3.0), part(true, 4.0))
    }

    /// The mirror image (x → −x), normals still outward.
    pub(crate) fn mirrored(&self) -> Self {
        let mut mirrored = self.clone();
        for pick in &mut mirrored.all {
            pick.point.x = -pick.point.x;
            pick.normal.x = -pick.normal.x;
        }
        mirrored
    }

    pub(crate) fn moved(&self, to_from_here: &Isometry3<f64>) -> Vec<Point3<f64>> {
        self.all.iter().map(|pick| to_from_here * pick.point).collect()
    }
}

fn is_used(cloud: &Cloud, vertex: u32) -> bool {
    cloud.sample_of_vertex[vertex as usize] != u32::MAX
}

fn pick(surface: &Surface, cloud: &Cloud, vertex: u32) -> Pick {
    let vertex = vertex as usize;
    let sample = &cloud.samples[cloud.sample_of_vertex[vertex] as usize];
    Pick {
        point: surface.mesh.vertices[vertex],
        normal: surface.vertex_normals[vertex],
        weight: sample.weight,
    }
}

/// Ten bits an axis, interleaved.
fn morton(cell: &Vector3<f64>) -> u32 {
    let spread = |value: f64| {
        let bits = value as u32 & 1023;
        (0..10).fold(0, |code, bit| code | (bits >> bit & 1) << (3 * bit))
    };
    spread(cell.x) | spread(cell.y) << 1 | spread(cell.z) << 2
}
