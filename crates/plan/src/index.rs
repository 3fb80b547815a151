//! A reduction index to print: a shell that stands at a chosen gap over the uncut teeth, open towards the gingiva, cut in
//! two by a plane through the tooth. Laid on after cutting, a probe between shell and tooth reads the gap plus what was cut.
//!
//! Both sides of the shell are heights over a grid along the tooth's axis, so it lifts off without undercut.

use kerfwright_geometry::Surface;
use kerfwright_mesh::Mesh;
use manifold_rust::linalg::Vec3;
use manifold_rust::manifold::Manifold;
use manifold_rust::types::MeshGL;
use nalgebra::{Point3, Vector3};
use rayon::prelude::*;

use crate::Plan;

/// Spacing of the grid, mm.
const STEP_MM: f64 = 0.2;
/// How far the shell reaches beyond the tooth along the arch, in widths of the tooth: over the adjacent teeth.
const ALONG: f64 = 1.2;
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
    let grid = Grid::new(before, plan);
    let inner_mm = wish.gap_mm + wish.printer_mm;
    // A shell can be made only where tooth stands over its lower end.
    let (inner, outer) = (grid.heights(before, inner_mm), grid.heights(before, inner_mm + wish.wall_mm));
    let low_mm = grid.low_mm;
    let block = |heights: &[f64], floor_mm: f64| solid(&grid.block(heights, floor_mm));
    let shell = block(&outer, low_mm)?.difference(&block(&inner, low_mm - 1.0)?);
    let frame = &plan.site.frame;
    let normal = match wish.split {
        Split::Whole => return Ok(vec![grid_mesh(&shell)?]),
        Split::Faciolingual => frame.mesial,
        Split::Mesiodistal => frame.facial,
    };
    let (first, second) = shell.split_by_plane(vec3(&normal), frame.origin.coords.dot(&normal));
    Ok(vec![grid_mesh(&first)?, grid_mesh(&second)?])
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

/// Places over the teeth.
struct Grid {
    /// Where the grid's first place lies, at the height of the frame's origin.
    corner: Point3<f64>,
    along: Vector3<f64>,
    across: Vector3<f64>,
    up: Vector3<f64>,
    size: [usize; 2],
    /// Lower end of the shell over the corner's height, mm.
    low_mm: f64,
}

impl Grid {
    fn new(before: &Surface, plan: &Plan) -> Self {
        const BESIDE_MM: f64 = 4.0;
        let frame = &plan.site.frame;
        let places = before.mesh.vertices.iter().zip(&plan.is_cut);
        let crown: Vec<Vector3<f64>> =
            places.filter(|(_, is_cut)| **is_cut).map(|(point, _)| frame.coordinates(point)).collect();
        let extent = |k: usize| {
            let values = crown.iter().map(|place| place[k]);
            values.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), v| (low.min(v), high.max(v)))
        };
        let ((distal, mesial), (lingual, facial)) = (extent(0), extent(1));
        let reach = ALONG * (mesial - distal);
        let (from, to) = ([distal - reach, lingual - BESIDE_MM], [mesial + reach, facial + BESIDE_MM]);
        let size = [0, 1].map(|k| ((to[k] - from[k]) / STEP_MM).ceil() as usize + 1);
        let highest = plan.site.gingiva.iter().map(|point| frame.coordinates(point).z).fold(f64::MIN, f64::max);
        let (along, across, first) = right_handed(frame, from, to);
        Self { corner: first, along, across, up: frame.occlusal, size, low_mm: highest + OVER_GINGIVA_MM }
    }

    fn place(&self, cell: usize) -> Point3<f64> {
        let (i, j) = (cell / self.size[1], cell % self.size[1]);
        self.corner + self.along * (STEP_MM * i as f64) + self.across * (STEP_MM * j as f64)
    }

    /// How high the scan, grown by a distance, reaches over each place; not below the lower end.
    fn heights(&self, before: &Surface, grown_mm: f64) -> Vec<f64> {
        const TOP_MM: f64 = 22.0;
        const ENOUGH_MM: f64 = 1e-3;
        let height = |cell: usize| {
            let place = self.place(cell);
            let mut height_mm = TOP_MM;
            while height_mm > self.low_mm - 0.5 {
                let point = place + self.up * height_mm;
                let free_mm = match before.tree.closest(&point, TOP_MM) {
                    Some(closest) => closest.distance_mm - grown_mm,
                    None => TOP_MM - grown_mm,
                };
                if free_mm < ENOUGH_MM {
                    break;
                }
                height_mm -= free_mm;
            }
            height_mm
        };
        (0..self.size[0] * self.size[1]).into_par_iter().map(height).collect()
    }

    /// The closed body between a level and the heights; where they do not reach over the level it is a hundredth of a
    /// millimetre thick below it, and cut away by the other body or by the level.
    fn block(&self, heights: &[f64], floor_mm: f64) -> Mesh {
        let n = heights.len();
        let [n_along, n_across] = self.size;
        let top = |cell: usize| self.place(cell) + self.up * heights[cell].max(floor_mm + 0.01);
        let bottom = |cell: usize| self.place(cell) + self.up * floor_mm;
        let vertices = (0..n).map(top).chain((0..n).map(bottom)).collect();
        let mut mesh = Mesh { vertices, triangles: Vec::new() };
        let under = |vertex: usize| (vertex + n) as u32;
        for i in 0..n_along - 1 {
            for j in 0..n_across - 1 {
                let [a, b, c, d] = [(i, j), (i + 1, j), (i + 1, j + 1), (i, j + 1)].map(|(i, j)| i * n_across + j);
                let [ta, tb, tc, td] = [a, b, c, d].map(|vertex| vertex as u32);
                mesh.triangles.extend([[ta, tb, tc], [ta, tc, td]]);
                mesh.triangles.extend([[under(a), under(c), under(b)], [under(a), under(d), under(c)]]);
            }
        }
        let mut side = |from: usize, to: usize| {
            mesh.triangles.extend([[from as u32, under(from), to as u32], [to as u32, under(from), under(to)]]);
        };
        for i in 0..n_along - 1 {
            side(i * n_across, (i + 1) * n_across);
            side((i + 2) * n_across - 1, (i + 1) * n_across - 1);
        }
        for j in 0..n_across - 1 {
            side((n_along - 1) * n_across + j, (n_along - 1) * n_across + j + 1);
            side(j + 1, j);
        }
        mesh
    }
}

/// Directions of the grid so that along × across = occlusal, and its first place.
fn right_handed(
    frame: &kerfwright_measure::frame::ToothFrame,
    from: [f64; 2],
    to: [f64; 2],
) -> (Vector3<f64>, Vector3<f64>, Point3<f64>) {
    let is_right = frame.mesial.cross(&frame.facial).dot(&frame.occlusal) > 0.0;
    let (across, first) = if is_right { (frame.facial, from[1]) } else { (-frame.facial, -to[1]) };
    (frame.mesial, across, frame.origin + frame.mesial * from[0] + across * first)
}

fn vec3(v: &Vector3<f64>) -> Vec3 {
    Vec3::new(v.x, v.y, v.z)
}
