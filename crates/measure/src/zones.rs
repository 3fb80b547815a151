//! The occlusal surface of a preparation and its zones.

use nalgebra::Vector3;

use crate::finish_line::Ring;
use crate::frame::ToothFrame;
pub use crate::landmarks::Groove;
use crate::landmarks::Landmarks;
use crate::outline::Outline;
use crate::region::pooled_normal;
use crate::relief::{Relief, STEP_MM};
use crate::scene::Placed;
use crate::stats::weighted_quantile;

/// Normal within this of the path: occlusal.
pub const OCCLUSAL_COS: f64 = 0.5;
/// Height over the highest point of the finish line from which surface counts as occlusal, mm.
const ABOVE_FINISH_LINE_MM: f64 = 1.5;
/// Half the width of the groove band, mm.
pub const GROOVE_BAND_MM: f64 = 0.8;
/// Depth of the marginal ridge zone from the mesial and distal end, mm.
const RIDGE_MM: f64 = 1.5;

/// The occlusal vertices of a preparation with their place in the tooth frame.
#[derive(Debug, Clone, Default)]
pub struct Occlusal {
    /// Vertices of the after scan.
    pub vertices: Vec<OcclusalVertex>,
    /// The groove line, if there are two cusp rows.
    pub groove: Option<Groove>,
    /// Cusp tips and fossae of the uncut tooth (without a before scan, of the prepared one).
    pub landmarks: Landmarks,
    /// Whether the zone begins at half the wall's height because the preparation is short.
    pub is_short: bool,
    mesial_end_mm: f64,
    distal_end_mm: f64,
}

/// One vertex of the occlusal surface.
#[derive(Debug, Clone, Copy)]
pub struct OcclusalVertex {
    /// Index in the after scan.
    pub vertex: u32,
    /// Coordinates (mesial, facial, occlusal) in the tooth frame, mm.
    pub place: Vector3<f64>,
    /// A third of the area of the triangles around it, mm².
    pub area_mm2: f64,
}

/// A part of the occlusal surface.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Zone {
    /// All of it.
    All,
    /// To the functional side of the groove.
    Functional,
    /// To the other side.
    Nonfunctional,
    /// The band along the groove.
    Groove,
    /// The mesial and distal ends.
    MarginalRidge,
}

/// What the zones are cut from.
pub struct Source<'a> {
    /// The after scan.
    pub after: &'a kerfwright_geometry::Surface,
    /// Its prepared vertices.
    pub inside: &'a [bool],
    /// A third of the area around each vertex.
    pub areas: &'a [f64],
    /// The tooth's frame.
    pub frame: &'a ToothFrame,
    /// The path.
    pub path: &'a Vector3<f64>,
    /// Highest point of the finish line over the frame's origin, mm.
    pub finish_line_top_mm: f64,
    /// Lowest occlusal line angle over the highest point of the finish line, mm.
    pub least_wall_mm: f64,
    /// The finish line.
    pub ring: &'a Ring,
    /// The surface on which the fossae are sought: uncut if there is one.
    pub uncut: Placed<'a>,
}

impl Occlusal {
    /// Finds the occlusal surface and its groove.
    pub fn find(source: &Source<'_>) -> Self {
        let is_short = source.least_wall_mm < ABOVE_FINISH_LINE_MM;
        let above_mm = if is_short { 0.5 * source.least_wall_mm.max(0.0) } else { ABOVE_FINISH_LINE_MM };
        let from_mm = source.finish_line_top_mm + above_mm;
        let mesh = &source.after.mesh;
        let faces_up = |vertex: u32| {
            let mean = pooled_normal(source.after, vertex);
            // A vertex on the occlusal edge belongs to neither side: most triangles around it must face up.
            let around = source.after.topology.vertex_triangles(vertex);
            let up = around.iter().filter(|&&triangle| {
                source.after.triangle_normals[triangle as usize].dot(source.path) > OCCLUSAL_COS
            });
            mean.dot(source.path) > OCCLUSAL_COS * mean.norm() && 5 * up.count() >= 4 * around.len()
        };
        let vertices: Vec<OcclusalVertex> = (0..mesh.vertices.len() as u32)
            .filter(|&vertex| {
                let height_mm = (mesh.vertices[vertex as usize] - source.frame.origin).dot(source.path);
                source.inside[vertex as usize] && height_mm > from_mm && faces_up(vertex)
            })
            .map(|vertex| OcclusalVertex {
                vertex,
                place: source.frame.coordinates(&mesh.vertices[vertex as usize]),
                area_mm2: source.areas[vertex as usize],
            })
            .collect();
        let (distal_end_mm, mesial_end_mm) = extent(vertices.iter().map(|vertex| vertex.place.x));
        let (landmarks, groove) = rows(source);
        Self { vertices, groove, landmarks, is_short, mesial_end_mm, distal_end_mm }
    }

    /// The vertices of a zone. `functional_sign` is +1 where the functional cusps lie facially.
    pub fn zone(&self, zone: Zone, functional_sign: f64) -> Vec<OcclusalVertex> {
        let side =
            |place: &Vector3<f64>| self.groove.map(|groove| groove.facially_mm(place) * functional_sign);
        let chosen = self.vertices.iter().filter(|vertex| match zone {
            Zone::All => true,
            Zone::Functional => side(&vertex.place).is_some_and(|off_mm| off_mm > GROOVE_BAND_MM),
            Zone::Nonfunctional => side(&vertex.place).is_some_and(|off_mm| off_mm < -GROOVE_BAND_MM),
            Zone::Groove => side(&vertex.place).is_some_and(|off_mm| off_mm.abs() <= GROOVE_BAND_MM),
            Zone::MarginalRidge => {
                vertex.place.x > self.mesial_end_mm - RIDGE_MM
                    || vertex.place.x < self.distal_end_mm + RIDGE_MM
            }
        });
        chosen.copied().collect()
    }
}

/// Cusps and fossae with the line between the rows: seen along the tooth's axis; where that shows no line or a single row, as it may
/// if the axis of a tooth with a low second row is some degrees off, along the path. Beside a single row one fossa or a valley
/// tells no line: it may be the foot of a ridge.
fn rows(source: &Source<'_>) -> (Landmarks, Option<Groove>) {
    let relief_along = |frame: &ToothFrame| tooth_relief(&source.uncut, frame, source.ring);
    let relief = relief_along(source.frame);
    let landmarks = Landmarks::of(&relief);
    let has_one_row = landmarks.lingual.is_empty() && !landmarks.facial.is_empty();
    if let Some(groove) = landmarks.groove().filter(|_| !has_one_row) {
        return (landmarks, Some(groove));
    }
    let tipped = source.frame.tipped(source.path);
    let along_path = Landmarks::faint_of(&relief_along(&tipped));
    if along_path.has_both_fossae() {
        let along_path = along_path.seen_in(source.frame, &tipped);
        let groove = along_path.groove();
        return (along_path, groove);
    }
    let groove = if has_one_row { None } else { valley(&relief) };
    (landmarks, groove)
}

/// One tooth seen from the occlusal: what stands inside its finish line and a little beyond.
pub fn tooth_relief(surface: &Placed<'_>, frame: &ToothFrame, ring: &Ring) -> Relief {
    // The contact lies outside the finish line, and beyond it the adjacent tooth.
    const BEYOND_MM: f64 = 0.35;
    let outline = Outline::new(ring, &frame.occlusal);
    let places = || ring.points.iter().map(|point| frame.coordinates(point));
    let (low_x, high_x) = extent(places().map(|place| place.x));
    let (low_y, high_y) = extent(places().map(|place| place.y));
    let in_view = |x: f64, y: f64| {
        let (radius_mm, _, edge) = outline.place(&(frame.origin + frame.mesial * x + frame.facial * y));
        radius_mm < edge.0 + BEYOND_MM
    };
    let window = [[low_x - BEYOND_MM, low_y - BEYOND_MM], [high_x + BEYOND_MM, high_y + BEYOND_MM]];
    Relief::of(surface, frame, window, STEP_MM, in_view)
}

/// The line between the two cusp rows: through the fossae, or along the valley where there are none.
pub fn groove_of(relief: &Relief) -> Option<Groove> {
    Landmarks::of(relief).groove().or_else(|| valley(relief))
}

/// The valley between the two cusp rows, followed along the middle of the tooth: for a surface without fossae.
fn valley(relief: &Relief) -> Option<Groove> {
    const LEAST_DEPTH_MM: f64 = 0.1;
    let columns = relief.columns();
    let (first, last) = (columns.len() / 5, columns.len() - columns.len() / 5);
    let mut valley: Vec<(f64, f64)> = columns[first..last]
        .iter()
        .filter_map(|column| deepest(column))
        .filter(|bottom| bottom.1 > LEAST_DEPTH_MM)
        .collect();
    if valley.len() < 5 {
        return None;
    }
    // The fossae lie along the arch: the columns whose valley is nearly as deep as the deepest.
    let deepest_mm = valley.iter().map(|bottom| bottom.1).fold(0.0, f64::max);
    valley.retain(|bottom| bottom.1 >= 0.6 * deepest_mm);
    Some(Groove { at_mm: weighted_quantile(&valley, 0.5)?, slope: 0.0 })
}

/// The place in a profile that lies deepest below the lower of the summits on its two sides.
fn deepest(profile: &[(f64, f64)]) -> Option<(f64, f64)> {
    let n = profile.len();
    if n < 7 {
        return None;
    }
    let highest = |range: &[(f64, f64)]| range.iter().map(|point| point.1).fold(f64::NEG_INFINITY, f64::max);
    let depth = |k: usize| highest(&profile[..k]).min(highest(&profile[k + 1..])) - profile[k].1;
    let (first, last) = (n / 6, n - n / 6);
    let lowest = (first.max(1)..last.min(n - 1)).max_by(|&a, &b| depth(a).total_cmp(&depth(b)))?;
    Some((profile[lowest].0, depth(lowest)))
}

fn extent(values: impl Iterator<Item = f64>) -> (f64, f64) {
    values.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| (low.min(value), high.max(value)))
}
