//! A reduction index to print: a shell that stands at a chosen gap over the uncut teeth, open towards the gingiva, cut in
//! two by a plane through the tooth. Laid on after cutting, a probe between shell and tooth reads the gap plus what was cut.
//!
//! Each side of the shell is a level of the distance to the uncut teeth, with everything filled in that lies under another
//! part of it, so that the shell lifts off along the tooth's axis.

use std::collections::BTreeMap;

use kerfwright_geometry::Surface;
use kerfwright_mesh::Mesh;
use manifold_rust::linalg::Vec3;
use manifold_rust::manifold::Manifold;
use manifold_rust::types::{Box as Bounds, Error, MeshGL64};
use nalgebra::{Point3, Vector3};
use rayon::prelude::*;

use crate::Plan;
use crate::axes::Axes;

/// Triangle edge of the shell, mm.
const EDGE_MM: f64 = 0.35;
/// Spacing of the grid on which distances are taken, mm: over a cusp of 1 mm radius they are 8 µm off between.
const GRID_MM: f64 = 0.25;
/// Edges shorter than this are drawn together, mm: in a file of single precision their ends might fall on one point.
const SHORTEST_MM: f64 = 0.002;
/// How far the shell reaches beyond the tooth along the arch, in widths of the tooth: over the adjacent teeth.
const ALONG: f64 = 1.2;
/// How far it reaches beside the tooth, gap and wall not counted, mm: the adjacent teeth stand farther out or in.
const BESIDE_MM: f64 = 2.0;
/// How far over the gingiva line the shell ends, mm.
const OVER_GINGIVA_MM: f64 = 1.0;

/// Which way the index is cut in two.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Split {
    /// Not at all.
    Whole,
    /// From facial to lingual, through the middle of the tooth: shows the section across it.
    Faciolingual,
    /// From mesial to distal, through the middle of the tooth.
    Mesiodistal,
}

/// How an index is made.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct IndexWish {
    /// Gap between shell and uncut tooth, mm, 0 to 3.
    pub gap_mm: f64,
    /// What the printer adds on each surface, mm: taken off the shell's inner side beforehand.
    pub printer_mm: f64,
    /// Least wall, mm.
    pub wall_mm: f64,
    /// Where it is cut.
    pub split: Split,
}

impl Default for IndexWish {
    /// Laid on without a gap, 2 mm thick, cut from facial to lingual, for a printer that adds 0.05 mm (common practice, no
    /// source).
    fn default() -> Self {
        Self { gap_mm: 0.0, printer_mm: 0.05, wall_mm: 2.0, split: Split::Faciolingual }
    }
}

/// Why there is no index.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum IndexError {
    /// A value that cannot be made.
    #[error("index: {what} is {value} mm; give {allowed}")]
    OutOfRange {
        /// Which.
        what: &'static str,
        /// What was asked, mm.
        value: f64,
        /// What can be made.
        allowed: &'static str,
    },
    /// The solids could not be cut.
    #[error("index: the shell cannot be closed ({because}); try another gap or wall")]
    NotClosed {
        /// What the boolean operation says.
        because: String,
    },
}

/// The index, one closed mesh a part: whole, or the part on the mesial (facial) side of the plane first.
///
/// # Errors
/// See [`IndexError`].
pub fn index(before: &Surface, plan: &Plan, wish: &IndexWish) -> Result<Vec<Mesh>, IndexError> {
    check(wish)?;
    let teeth = Teeth::new(before, plan);
    let inner_mm = wish.gap_mm + wish.printer_mm;
    let outer_mm = inner_mm + wish.wall_mm;
    // The inner body is longer and reaches lower, so that the shell is open at its ends and below.
    let covered = Covered::new(&teeth, &teeth.bounds(outer_mm, 1.5), outer_mm + 1.0);
    let outer = covered.grown(outer_mm, teeth.bounds(outer_mm, 0.0));
    let inner = covered.grown(inner_mm, teeth.bounds(outer_mm, 1.5));
    let shell = outer.difference(&inner).trim_by_plane(Vec3::new(0.0, 0.0, 1.0), teeth.low_mm);
    let middle = match wish.split {
        Split::Whole => return Ok(vec![teeth.mesh(&shell)?]),
        Split::Faciolingual => Vec3::new(1.0, 0.0, 0.0),
        Split::Mesiodistal => Vec3::new(0.0, teeth.axes.facial, 0.0),
    };
    let (first, second) = shell.split_by_plane(middle, 0.0);
    Ok(vec![teeth.mesh(&first)?, teeth.mesh(&second)?])
}

fn check(wish: &IndexWish) -> Result<(), IndexError> {
    let within = |what, value: f64, low: f64, high: f64, allowed| {
        let fits = (low..=high).contains(&value);
        if fits { Ok(()) } else { Err(IndexError::OutOfRange { what, value, allowed }) }
    };
    within("the gap", wish.gap_mm, 0.0, 3.0, "0 to 3 mm")?;
    within("the printer's tolerance", wish.printer_mm, 0.0, 0.5, "0 to 0.5 mm")?;
    within("the wall", wish.wall_mm, 0.8, 6.0, "0.8 to 6 mm")
}

/// The uncut teeth, in coordinates along mesial, across, and up the tooth's axis.
struct Teeth<'a> {
    before: &'a Surface,
    axes: Axes,
    /// The lowest and highest coordinates of the crown to be cut.
    crown: [Vector3<f64>; 2],
    /// Lower end of the shell.
    low_mm: f64,
    /// The highest place of the scan nearby.
    top_mm: f64,
}

impl<'a> Teeth<'a> {
    fn new(before: &'a Surface, plan: &Plan) -> Self {
        let mut teeth = Self {
            before,
            axes: Axes::new(&plan.site.frame),
            crown: [Vector3::repeat(f64::INFINITY), Vector3::repeat(f64::NEG_INFINITY)],
            low_mm: 0.0,
            top_mm: 0.0,
        };
        for (point, is_cut) in before.mesh.vertices.iter().zip(&plan.is_cut) {
            let at = teeth.axes.at(point);
            teeth.top_mm = teeth.top_mm.max(at.z);
            if *is_cut {
                teeth.crown = [teeth.crown[0].inf(&at), teeth.crown[1].sup(&at)];
            }
        }
        let gingiva = plan.site.gingiva.iter().map(|point| teeth.axes.at(point).z);
        teeth.low_mm = gingiva.fold(f64::NEG_INFINITY, f64::max) + OVER_GINGIVA_MM;
        teeth
    }

    /// The box in which a body is made; `more_mm` longer along the arch and downward.
    fn bounds(&self, grown_mm: f64, more_mm: f64) -> Bounds {
        let [low, high] = self.crown;
        let reach_mm = ALONG * (high.x - low.x) + more_mm;
        let beside_mm = BESIDE_MM + grown_mm + more_mm;
        Bounds {
            min: Vec3::new(low.x - reach_mm, low.y - beside_mm, self.low_mm - 1.0 - more_mm),
            max: Vec3::new(high.x + reach_mm, high.y + beside_mm, self.top_mm + grown_mm + 1.0),
        }
    }

    /// Distance to the scan, negative within the teeth; beyond `limit_mm` that much. At a border of the scan, where inside
    /// and outside mean nothing, it is positive.
    fn distance(&self, point: &Point3<f64>, limit_mm: f64) -> f64 {
        let Some(signed) = self.before.signed(point, limit_mm) else { return limit_mm };
        if self.before.on_boundary(&signed.closest) { signed.closest.distance_mm } else { signed.distance_mm }
    }

    /// The body in the scan's frame.
    fn mesh(&self, body: &Manifold) -> Result<Mesh, IndexError> {
        if body.status() != Error::NoError || body.is_empty() {
            return Err(IndexError::NotClosed { because: format!("{:?}", body.status()) });
        }
        let out: MeshGL64 = body.simplify(SHORTEST_MM).get_mesh_gl64(-1);
        let n_properties = out.num_prop as usize;
        let vertices = out.vert_properties.chunks(n_properties);
        let vertices = vertices.map(|at| self.axes.point(&Vector3::new(at[0], at[1], at[2]))).collect();
        let triangles = out.tri_verts.chunks(3).map(|t| [t[0] as u32, t[1] as u32, t[2] as u32]).collect();
        Ok(apart(Mesh { vertices, triangles }))
    }
}

/// The same body where its surface touches itself, in a crevice between teeth: vertices of their own that share a place are drawn a little
/// into the body. In a file that lists corners by place they would be one, and edges would have four triangles.
fn apart(mut mesh: Mesh) -> Mesh {
    const APART_MM: f64 = 0.003;
    let place = |point: &Point3<f64>| [point.x, point.y, point.z].map(|value| (value as f32).to_bits());
    let mut n_at: BTreeMap<[u32; 3], usize> = BTreeMap::new();
    mesh.vertices.iter().for_each(|point| *n_at.entry(place(point)).or_default() += 1);
    let mut outward = vec![Vector3::zeros(); mesh.vertices.len()];
    for corners in &mesh.triangles {
        let [a, b, c] = corners.map(|vertex| mesh.vertices[vertex as usize]);
        let normal = (b - a).cross(&(c - a));
        corners.iter().for_each(|&vertex| outward[vertex as usize] += normal);
    }
    for (point, outward) in mesh.vertices.iter_mut().zip(outward) {
        if n_at[&place(point)] > 1 {
            *point -= outward.try_normalize(1e-12).unwrap_or_default() * APART_MM;
        }
    }
    mesh
}

/// Distances to the teeth on a grid, each the least from there upward, so that nothing stands free under another part.
struct Covered {
    low: Vec3,
    size: [usize; 3],
    /// Positive outside, in columns from below.
    distances_mm: Vec<f64>,
}

impl Covered {
    fn new(teeth: &Teeth<'_>, bounds: &Bounds, limit_mm: f64) -> Self {
        let extent = bounds.max - bounds.min;
        let size = [extent.x, extent.y, extent.z].map(|length| (length / GRID_MM).ceil() as usize + 2);
        let low = Vec3::new(bounds.min.x, bounds.min.y, bounds.min.z);
        let column = |index: usize| {
            let (i, j) = (index / size[1], index % size[1]);
            let at = |k: usize| {
                let [x, y, z] = [i, j, k].map(|step| GRID_MM * step as f64);
                teeth.axes.point(&Vector3::new(low.x + x, low.y + y, low.z + z))
            };
            let mut least_mm = limit_mm;
            let mut distances: Vec<f64> = (0..size[2])
                .rev()
                .map(|k| {
                    least_mm = least_mm.min(teeth.distance(&at(k), limit_mm));
                    least_mm
                })
                .collect();
            distances.reverse();
            distances
        };
        let columns: Vec<Vec<f64>> = (0..size[0] * size[1]).into_par_iter().map(column).collect();
        Self { low, size, distances_mm: columns.concat() }
    }

    /// Everything within `grown_mm` of the scan or under such a place.
    fn grown(&self, grown_mm: f64, bounds: Bounds) -> Manifold {
        Manifold::level_set(|at| grown_mm - self.at(&at), bounds, EDGE_MM)
    }

    /// Interpolated between the eight places around.
    fn at(&self, at: &Vec3) -> f64 {
        let from_low = [at.x - self.low.x, at.y - self.low.y, at.z - self.low.z];
        let mut cell = [0; 3];
        let mut share = [0.0; 3];
        for axis in 0..3 {
            let steps = (from_low[axis] / GRID_MM).clamp(0.0, self.size[axis] as f64 - 1.001);
            (cell[axis], share[axis]) = (steps as usize, steps.fract());
        }
        (0..8)
            .map(|corner| {
                let offset = [corner >> 2 & 1, corner >> 1 & 1, corner & 1];
                let [i, j, k] = [0, 1, 2].map(|axis| cell[axis] + offset[axis]);
                let weight: f64 = (0..3)
                    .map(|axis| if offset[axis] == 1 { share[axis] } else { 1.0 - share[axis] })
                    .product();
                weight * self.distances_mm[(i * self.size[1] + j) * self.size[2] + k]
            })
            .sum()
    }
}
