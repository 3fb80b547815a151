//! A reduction index to print: a shell that stands at a chosen gap over the uncut teeth, open towards the gingiva, cut in
//! two by a plane through the tooth. Laid on after cutting, a probe between shell and tooth reads the gap plus what was cut.
//!
//! Each side of the shell is a level of the distance to the uncut teeth, with everything filled in that lies under another
//! part of it, so that the shell lifts off along the tooth's axis.

use kerfwright_geometry::Surface;
use kerfwright_mesh::Mesh;
use manifold_rust::linalg::Vec3;
use manifold_rust::manifold::Manifold;
use manifold_rust::types::{Box as Bounds, Error, MeshGL64};
use nalgebra::{Point3, Vector3};

use crate::Plan;

/// Triangle edge of the shell, mm.
const EDGE_MM: f64 = 0.35;
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
    let outer = teeth.grown(outer_mm, teeth.bounds(outer_mm, 0.0));
    let inner = teeth.grown(inner_mm, teeth.bounds(outer_mm, 1.5));
    let shell = outer.difference(&inner).trim_by_plane(Vec3::new(0.0, 0.0, 1.0), teeth.low_mm);
    let middle = match wish.split {
        Split::Whole => return Ok(vec![teeth.mesh(&shell)?]),
        Split::Faciolingual => Vec3::new(1.0, 0.0, 0.0),
        Split::Mesiodistal => Vec3::new(0.0, teeth.facial, 0.0),
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
    origin: Point3<f64>,
    axes: [Vector3<f64>; 3],
    /// +1 where the second axis points facially, −1 lingually.
    facial: f64,
    /// The lowest and highest coordinates of the crown to be cut.
    crown: [Vector3<f64>; 2],
    /// Lower end of the shell.
    low_mm: f64,
    /// The highest place of the scan nearby.
    top_mm: f64,
}

impl<'a> Teeth<'a> {
    fn new(before: &'a Surface, plan: &Plan) -> Self {
        let frame = &plan.site.frame;
        let facial = frame.mesial.cross(&frame.facial).dot(&frame.occlusal).signum();
        let axes = [frame.mesial, frame.facial * facial, frame.occlusal];
        let mut teeth = Self {
            before,
            origin: frame.origin,
            axes,
            facial,
            crown: [Vector3::repeat(f64::INFINITY), Vector3::repeat(f64::NEG_INFINITY)],
            low_mm: 0.0,
            top_mm: 0.0,
        };
        for (point, is_cut) in before.mesh.vertices.iter().zip(&plan.is_cut) {
            let at = teeth.coordinates(point);
            teeth.top_mm = teeth.top_mm.max(at.z);
            if *is_cut {
                teeth.crown = [teeth.crown[0].inf(&at), teeth.crown[1].sup(&at)];
            }
        }
        let gingiva = plan.site.gingiva.iter().map(|point| teeth.coordinates(point).z);
        teeth.low_mm = gingiva.fold(f64::NEG_INFINITY, f64::max) + OVER_GINGIVA_MM;
        teeth
    }

    fn coordinates(&self, point: &Point3<f64>) -> Vector3<f64> {
        let from_origin = point - self.origin;
        Vector3::from(self.axes.map(|axis| from_origin.dot(&axis)))
    }

    fn place(&self, at: &Vec3) -> Point3<f64> {
        self.origin + self.axes[0] * at.x + self.axes[1] * at.y + self.axes[2] * at.z
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

    /// Everything within `grown_mm` of the scan or under such a place.
    fn grown(&self, grown_mm: f64, bounds: Bounds) -> Manifold {
        Manifold::level_set(|at| grown_mm - self.least_distance(&at, grown_mm), bounds, EDGE_MM)
    }

    /// The least distance to the scan from a place and all places over it, told within a millimetre of `about_mm`.
    fn least_distance(&self, at: &Vec3, about_mm: f64) -> f64 {
        const NEAR_MM: f64 = 1.0;
        const LEAST_STEP_MM: f64 = 0.01;
        let limit_mm = about_mm + NEAR_MM;
        let (mut least_mm, mut over_mm, start) = (limit_mm, 0.0, self.place(at));
        while at.z + over_mm < self.top_mm + limit_mm && least_mm > (about_mm - NEAR_MM).max(0.0) {
            let point = start + self.axes[2] * over_mm;
            let closest = self.before.tree.closest(&point, limit_mm);
            let distance_mm = closest.map_or(limit_mm, |closest| closest.distance_mm);
            // A place nearer than the nearest so far lies at least the difference away.
            over_mm += (distance_mm - least_mm).max(if distance_mm < limit_mm { LEAST_STEP_MM } else { NEAR_MM });
            least_mm = least_mm.min(distance_mm);
        }
        least_mm
    }

    /// The body in the scan's frame.
    fn mesh(&self, body: &Manifold) -> Result<Mesh, IndexError> {
        if body.status() != Error::NoError || body.is_empty() {
            return Err(IndexError::NotClosed { because: format!("{:?}", body.status()) });
        }
        let out: MeshGL64 = body.get_mesh_gl64(-1);
        let n_properties = out.num_prop as usize;
        let vertices = out.vert_properties.chunks(n_properties);
        let vertices = vertices.map(|at| self.place(&Vec3::new(at[0], at[1], at[2]))).collect();
        let triangles = out.tri_verts.chunks(3).map(|t| [t[0] as u32, t[1] as u32, t[2] as u32]).collect();
        Ok(Mesh { vertices, triangles })
    }
}
