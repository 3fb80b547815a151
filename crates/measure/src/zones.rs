//! The occlusal surface of a preparation and its zones.

use nalgebra::{Point3, Vector3};

use crate::frame::ToothFrame;
use crate::region::pooled_normal;
use crate::scene::Placed;
use crate::stats::weighted_quantile;

/// Normal within this of the path: occlusal.
const OCCLUSAL_COS: f64 = 0.5;
/// Height over the highest point of the finish line from which surface counts as occlusal, mm.
const ABOVE_FINISH_LINE_MM: f64 = 1.5;
/// Half the width of the groove band, mm.
const GROOVE_BAND_MM: f64 = 0.8;
/// Depth of the marginal ridge zone from the mesial and distal end, mm.
const RIDGE_MM: f64 = 1.5;

/// The occlusal vertices of a preparation with their place in the tooth frame.
#[derive(Debug, Clone, Default)]
pub struct Occlusal {
    /// Vertices of the after scan.
    pub vertices: Vec<OcclusalVertex>,
    /// The groove line, if there are two cusp rows.
    pub groove: Option<Groove>,
    /// Whether the zone begins at half the wall's height because the preparation is short.
    pub is_short: bool,
    mesial_end_mm: f64,
    distal_end_mm: f64,
}

/// The groove line through the fossae.
#[derive(Debug, Clone, Copy)]
pub struct Groove {
    /// Facial coordinate, mm.
    pub at_mm: f64,
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
    /// The surface on which the groove is sought: uncut if there is one.
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
        let groove = Groove::find(source, &vertices);
        Self { vertices, groove, is_short, mesial_end_mm, distal_end_mm }
    }

    /// The vertices of a zone. `functional_sign` is +1 where the functional cusps lie facially.
    pub fn zone(&self, zone: Zone, functional_sign: f64) -> Vec<OcclusalVertex> {
        let side =
            |place: &Vector3<f64>| self.groove.map(|groove| (place.y - groove.at_mm) * functional_sign);
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

impl Groove {
    /// The valley between the two cusp rows, followed along the middle of the tooth.
    fn find(source: &Source<'_>, vertices: &[OcclusalVertex]) -> Option<Self> {
        const STEP_MM: f64 = 0.15;
        const LEAST_DEPTH_MM: f64 = 0.1;
        let (low_x, high_x) = extent(vertices.iter().map(|vertex| vertex.place.x));
        let (low_y, high_y) = extent(vertices.iter().map(|vertex| vertex.place.y));
        let n_columns = 13;
        let mut valley = Vec::new();
        for column in 0..n_columns {
            let share = 0.2 + 0.6 * f64::from(column) / f64::from(n_columns - 1);
            let x = low_x + (high_x - low_x) * share;
            let n_steps = ((high_y - low_y) / STEP_MM) as usize;
            let profile: Vec<(f64, f64)> = (0..=n_steps)
                .filter_map(|step| {
                    let y = low_y + step as f64 * STEP_MM;
                    Some((y, source.height_at(x, y)?))
                })
                .collect();
            if let Some((y, depth_mm)) = deepest(&profile)
                && depth_mm > LEAST_DEPTH_MM
            {
                valley.push((y, depth_mm));
            }
        }
        if valley.len() < 5 {
            return None;
        }
        // The fossae lie along the arch: the columns whose valley is nearly as deep as the deepest.
        let deepest_mm = valley.iter().map(|column| column.1).fold(0.0, f64::max);
        valley.retain(|column| column.1 >= 0.6 * deepest_mm);
        let at_mm = weighted_quantile(&valley, 0.5)?;
        Some(Self { at_mm })
    }
}

impl Source<'_> {
    /// Height of the uncut surface over a place in the tooth frame, mm.
    fn height_at(&self, mesial_mm: f64, facial_mm: f64) -> Option<f64> {
        let frame = self.frame;
        let above: Point3<f64> =
            frame.origin + frame.mesial * mesial_mm + frame.facial * facial_mm + frame.occlusal * 15.0;
        let own = self.uncut.after_from_scan.inverse();
        let hit = self.uncut.surface.tree.ray(&(own * above), &(own * -frame.occlusal), 20.0)?;
        Some(15.0 - hit.distance_mm)
    }
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
    // The bottom of a valley is flat and noisy: the vertex of a parabola through it is steadier than its lowest sample.
    let at = profile[lowest].0;
    let near: Vec<(f64, f64)> = profile
        .iter()
        .map(|point| (point.0 - at, point.1))
        .filter(|point| point.0.abs() <= BOTTOM_MM)
        .collect();
    let [_, slope, bend] = crate::stats::quadratic(&near, &vec![1.0; near.len()])?;
    let shift =
        if bend > 1e-3 { (-0.5 * slope / bend).clamp(-0.5 * BOTTOM_MM, 0.5 * BOTTOM_MM) } else { 0.0 };
    Some((at + shift, depth(lowest)))
}

/// Half the width of a valley's bottom, mm.
const BOTTOM_MM: f64 = 0.8;

fn extent(values: impl Iterator<Item = f64>) -> (f64, f64) {
    values.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| (low.min(value), high.max(value)))
}
