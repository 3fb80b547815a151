//! A scan thinned to evenly spread points with smooth normals and a weight each.

use crate::cells::Cells;
use kerfwright_geometry::Surface;
use nalgebra::{Point3, Unit, Vector3};
use rayon::prelude::*;

/// Radius over which the bending of the surface is taken, mm: about one cusp.
const RELIEF_RADIUS_MM: f64 = 2.0;
/// Bending at which a point counts in full; a ball of 5 mm radius has about this much.
const FULL_RELIEF: f64 = 0.06;
/// Radius within which low and high are told apart, mm: about half a tooth and the gum beside it.
const HEIGHT_RADIUS_MM: f64 = 6.0;
/// Difference of level below which a neighbourhood has no tooth standing out of it, mm.
const LEAST_STEP_MM: f64 = 3.0;
/// What flat, low surface still counts, so that no scan is without weight.
const LEAST_WEIGHT: f64 = 0.05;
/// A closed body's normals cancel out and give no occlusal direction; an open scan's do not.
const LEAST_OPENNESS: f64 = 0.2;

/// One cell's surface, averaged by area.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Sample {
    pub(crate) point: Point3<f64>,
    pub(crate) normal: Vector3<f64>,
    pub(crate) area_mm2: f64,
    /// 0.05 (flat or low) to 1 (bent and standing out), times the caller's weight.
    pub(crate) weight: f64,
    /// The cell touches the open border of the scan.
    pub(crate) on_border: bool,
}

/// A thinned scan.
#[derive(Debug)]
pub(crate) struct Cloud {
    pub(crate) samples: Vec<Sample>,
    pub(crate) cells: Cells,
    /// The sample each vertex went into; `u32::MAX` for vertices of no triangle.
    pub(crate) sample_of_vertex: Vec<u32>,
    /// Area-weighted mean normal of an open scan: the occlusal direction. None for a closed body.
    pub(crate) up: Option<Unit<Vector3<f64>>>,
}

impl Cloud {
    /// Thins `surface` to one sample a cell of `spacing_mm` (two where opposite walls share the cell).
    pub(crate) fn new(surface: &Surface, spacing_mm: f64, caller: Option<&[f64]>) -> Self {
        let areas = vertex_areas(surface);
        let (mut samples, sample_of_vertex) = thin(surface, &areas, spacing_mm, caller);
        let up = occlusal_direction(&samples);
        let points = samples.iter().map(|sample| sample.point).collect();
        let cells = Cells::new(points, RELIEF_RADIUS_MM);
        let natural: Vec<f64> =
            samples.par_iter().map(|sample| natural_weight(&samples, &cells, sample, up)).collect();
        for (sample, natural) in samples.iter_mut().zip(natural) {
            sample.weight *= natural;
        }
        Self { samples, cells, sample_of_vertex, up }
    }

    /// The mirror image (x → −x), normals still outward.
    pub(crate) fn mirrored(&self) -> Self {
        let flip = |v: Vector3<f64>| Vector3::new(-v.x, v.y, v.z);
        let samples: Vec<Sample> = self
            .samples
            .iter()
            .map(|s| Sample { point: flip(s.point.coords).into(), normal: flip(s.normal), ..s.clone() })
            .collect();
        let points = samples.iter().map(|sample| sample.point).collect();
        Self {
            cells: Cells::new(points, RELIEF_RADIUS_MM),
            samples,
            sample_of_vertex: self.sample_of_vertex.clone(),
            up: self.up.map(|up| Unit::new_unchecked(flip(up.into_inner()))),
        }
    }

    /// Area-weighted centre of the weighted surface.
    pub(crate) fn centre(&self) -> Point3<f64> {
        let (sum, total) = self.samples.iter().fold((Vector3::zeros(), 0.0), |(sum, total), s| {
            let mass = s.area_mm2 * s.weight;
            (sum + s.point.coords * mass, total + mass)
        });
        Point3::from(if 0.0 < total { sum / total } else { sum })
    }

    /// Area of the samples, mm².
    pub(crate) fn area_mm2(&self) -> f64 {
        self.samples.iter().map(|sample| sample.area_mm2).sum()
    }

    /// Unit direction in which the weighted surface is longest: along the arch for a quadrant.
    pub(crate) fn long_axis(&self) -> Unit<Vector3<f64>> {
        let centre = self.centre();
        let scatter = self.samples.iter().fold(nalgebra::Matrix3::zeros(), |scatter, s| {
            let arm = s.point - centre;
            scatter + arm * arm.transpose() * (s.area_mm2 * s.weight)
        });
        let eigen = nalgebra::SymmetricEigen::new(scatter);
        Unit::new_normalize(eigen.eigenvectors.column(eigen.eigenvalues.imax()).into_owned())
    }
}

fn vertex_areas(surface: &Surface) -> Vec<f64> {
    let mesh = &surface.mesh;
    let mut areas = vec![0.0; mesh.vertices.len()];
    for triangle in &mesh.triangles {
        let [a, b, c] = mesh.points_of(triangle);
        let third = (b - a).cross(&(c - a)).norm() / 6.0;
        for &vertex in triangle {
            areas[vertex as usize] += third;
        }
    }
    areas
}

fn thin(
    surface: &Surface,
    areas: &[f64],
    spacing_mm: f64,
    caller: Option<&[f64]>,
) -> (Vec<Sample>, Vec<u32>) {
    let vertices = &surface.mesh.vertices;
    let cells = Cells::new(vertices.clone(), spacing_mm);
    let mut samples = Vec::new();
    let mut sample_of_vertex = vec![u32::MAX; vertices.len()];
    for group in cells.groups() {
        for half in split_by_side(surface, areas, group) {
            let Some(sample) = average(surface, areas, &half, caller) else { continue };
            for &vertex in &half {
                sample_of_vertex[vertex as usize] = samples.len() as u32;
            }
            samples.push(sample);
        }
    }
    (samples, sample_of_vertex)
}

/// One group, or two where walls that face each other run through the same cell.
fn split_by_side(surface: &Surface, areas: &[f64], group: &[u32]) -> Vec<Vec<u32>> {
    let used: Vec<u32> = group.iter().copied().filter(|&v| 0.0 < areas[v as usize]).collect();
    let Some(&first) = used.first() else { return Vec::new() };
    let side = surface.vertex_normals[first as usize];
    let (same, other): (Vec<u32>, Vec<u32>) =
        used.into_iter().partition(|&v| -0.2 < surface.vertex_normals[v as usize].dot(&side));
    [same, other].into_iter().filter(|half| !half.is_empty()).collect()
}

fn average(surface: &Surface, areas: &[f64], group: &[u32], caller: Option<&[f64]>) -> Option<Sample> {
    let mut point = Vector3::zeros();
    let (mut normal, mut area_mm2, mut weight) = (Vector3::zeros(), 0.0, 0.0);
    for &vertex in group {
        let vertex = vertex as usize;
        point += surface.mesh.vertices[vertex].coords * areas[vertex];
        normal += surface.vertex_normals[vertex] * areas[vertex];
        area_mm2 += areas[vertex];
        weight += caller.map_or(1.0, |weights| weights[vertex]) * areas[vertex];
    }
    let normal = normal.try_normalize(0.3 * area_mm2)?;
    let on_border = group.iter().any(|&vertex| surface.topology.is_boundary_vertex(vertex));
    let point = Point3::from(point / area_mm2);
    Some(Sample { point, normal, area_mm2, weight: weight / area_mm2, on_border })
}

fn occlusal_direction(samples: &[Sample]) -> Option<Unit<Vector3<f64>>> {
    let (sum, area) = samples.iter().fold((Vector3::zeros(), 0.0), |(sum, area), sample| {
        (sum + sample.normal * sample.area_mm2, area + sample.area_mm2)
    });
    Unit::try_new(sum, LEAST_OPENNESS * area)
}

/// Teeth are bent and stand out; gingiva and palate are smoother and lie lower. No tooth model is needed.
fn natural_weight(samples: &[Sample], cells: &Cells, at: &Sample, up: Option<Unit<Vector3<f64>>>) -> f64 {
    let (mut sum, mut count) = (Vector3::zeros(), 0.0);
    cells.within(&at.point, RELIEF_RADIUS_MM, |index, _| {
        sum += samples[index].normal;
        count += 1.0;
    });
    let relief = ((1.0 - sum.norm() / count) / FULL_RELIEF).min(1.0);
    let standing = up.map_or(1.0, |up| standing_out(samples, cells, at, &up));
    LEAST_WEIGHT + (1.0 - LEAST_WEIGHT) * relief * standing
}

fn standing_out(samples: &[Sample], cells: &Cells, at: &Sample, up: &Vector3<f64>) -> f64 {
    let (mut low, mut high) = (0.0f64, 0.0f64);
    cells.within(&at.point, HEIGHT_RADIUS_MM, |index, _| {
        let height = (samples[index].point - at.point).dot(up);
        low = low.min(height);
        high = high.max(height);
    });
    if high - low < LEAST_STEP_MM {
        return 0.2;
    }
    let level = ((-low / (high - low) - 0.15) / 0.35).clamp(0.0, 1.0);
    0.2 + 0.8 * level * level * (3.0 - 2.0 * level)
}
