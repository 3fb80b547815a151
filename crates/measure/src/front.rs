//! The two places where a front tooth is cut under the bite: its incisal edge and its lingual fossa.

use std::collections::{BTreeMap, BTreeSet};

use nalgebra::Vector3;

use crate::frame::Aspect;
use crate::preparation::Preparation;
use crate::station::Station;
use crate::zones::OcclusalVertex;

/// Cosine of 45°: the incisal edge faces within that of the path. The lingual fossa is steeper, a canine's slopes and a
/// lingual bevel are less steep.
const FACING_COS: f64 = std::f64::consts::FRAC_1_SQRT_2;
/// How far below the highest such place of its column the incisal edge reaches, mm.
const INCISAL_DEPTH_MM: f64 = 1.0;
/// Width of a column across the tooth, mm.
const COLUMN_MM: f64 = 0.3;
/// How far the fossa lies inside the line of the cingulum's wall, mm: more than that line's own roughness.
const INSIDE_WALL_MM: f64 = 0.15;
/// How far to both sides of the lingual direction the fossa reaches, degrees.
const FOSSA_HALF_ANGLE_DEG: f64 = 45.0;

/// Prepared vertices of a front tooth's two zones.
#[derive(Debug, Clone, Default)]
pub struct FrontZones {
    /// Surface within 45° of the path, more than half-way up from the highest point of the finish line to the highest
    /// prepared place, less than 1 mm below the highest such place at the same mesiodistal place.
    pub incisal: Vec<OcclusalVertex>,
    /// Lingual surface, the incisal edge left out, that has left the line of the cingulum's wall by 0.15 mm inwards.
    pub fossa: Vec<OcclusalVertex>,
}

impl FrontZones {
    /// Sorts the prepared surface.
    pub fn of(preparation: &Preparation<'_>) -> Self {
        let mesh = &preparation.scene.after.mesh;
        let normals = &preparation.scene.after.vertex_normals;
        let prepared: Vec<OcclusalVertex> = (0..mesh.vertices.len() as u32)
            .filter(|&vertex| preparation.inside[vertex as usize])
            .map(|vertex| preparation.placed(vertex))
            .collect();
        // Along the path: of a front tooth the axis is known to several degrees only.
        let height_mm = |vertex: &OcclusalVertex| {
            (mesh.vertices[vertex.vertex as usize] - preparation.frame.origin).dot(&preparation.path)
        };
        let highest_mm = prepared.iter().map(height_mm).fold(f64::NEG_INFINITY, f64::max);
        // The rim of a cut that took the top alone lies just below it and says nothing of how far the edge reaches.
        let from_mm = match preparation.is_early {
            true => f64::NEG_INFINITY,
            false => 0.5 * (preparation.finish_line_top_mm() + highest_mm),
        };
        let faces = |vertex: &&OcclusalVertex| {
            normals[vertex.vertex as usize].dot(&preparation.path) > FACING_COS && height_mm(vertex) > from_mm
        };
        let up: Vec<OcclusalVertex> = prepared.iter().filter(faces).copied().collect();
        let tops = column_tops(up.iter().map(|vertex| (vertex.place.x, height_mm(vertex))));
        let is_edge =
            |vertex: &&OcclusalVertex| height_mm(vertex) > top_at(&tops, vertex.place.x) - INCISAL_DEPTH_MM;
        let incisal: Vec<OcclusalVertex> = up.iter().filter(is_edge).copied().collect();
        let taken: BTreeSet<u32> = incisal.iter().map(|vertex| vertex.vertex).collect();
        let is_rest =
            |vertex: &&OcclusalVertex| !taken.contains(&vertex.vertex) && is_fossa(preparation, vertex);
        let fossa = prepared.iter().filter(is_rest).copied().collect();
        Self { fossa, incisal }
    }

    /// The mesial and the distal end of the prepared incisal edge, mm mesially of the tooth's middle.
    pub fn incisal_ends_mm(&self) -> Option<(f64, f64)> {
        let places = self.incisal.iter().map(|vertex| vertex.place.x);
        let (low, high) =
            places.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), x| (low.min(x), high.max(x)));
        (high > low).then_some((high, low))
    }

    /// The vertex in the middle of the fossa.
    pub fn fossa_middle(&self) -> Option<&OcclusalVertex> {
        let total: f64 = self.fossa.iter().map(|vertex| vertex.area_mm2).sum();
        let sum: Vector3<f64> = self.fossa.iter().map(|vertex| vertex.place * vertex.area_mm2).sum();
        let off = |vertex: &OcclusalVertex| (vertex.place - sum / total).norm_squared();
        self.fossa.iter().min_by(|a, b| off(a).total_cmp(&off(b)))
    }
}

/// Whether a prepared vertex lies lingually and inside the line of the wall under it.
fn is_fossa(preparation: &Preparation<'_>, vertex: &OcclusalVertex) -> bool {
    let angle_deg = vertex.place.y.atan2(vertex.place.x).to_degrees();
    let off_deg = |other_deg: f64| ((other_deg - angle_deg + 180.0).rem_euclid(360.0) - 180.0).abs();
    if off_deg(Aspect::Lingual.centre_deg()) > FOSSA_HALF_ANGLE_DEG {
        return false;
    }
    let near = preparation
        .stations
        .iter()
        .filter(|station| station.wall.is_some())
        .min_by(|a, b| off_deg(a.angle_deg).total_cmp(&off_deg(b.angle_deg)));
    let point = preparation.scene.after.mesh.vertices[vertex.vertex as usize];
    near.is_some_and(|station: &Station| {
        let Some(wall) = &station.wall else { return false };
        let at = station.section.frame.flat(&point);
        let line = &wall.line;
        let wall_mm = line.point.x + (at.y - line.point.y) * line.direction.x / line.direction.y;
        // Below the middle of the fitted stretch lie fillet and floor, which are inside the line as well.
        at.y > line.point.y && at.x - wall_mm > INSIDE_WALL_MM
    })
}

/// The highest prepared place of each column: column number and height, by rising number.
fn column_tops(places: impl Iterator<Item = (f64, f64)>) -> BTreeMap<i32, f64> {
    let mut tops = BTreeMap::new();
    for (mesial_mm, height_mm) in places {
        let top = tops.entry(column(mesial_mm)).or_insert(f64::NEG_INFINITY);
        *top = f64::max(*top, height_mm);
    }
    tops
}

fn top_at(tops: &BTreeMap<i32, f64>, mesial_mm: f64) -> f64 {
    tops.get(&column(mesial_mm)).copied().unwrap_or(f64::INFINITY)
}

fn column(mesial_mm: f64) -> i32 {
    (mesial_mm / COLUMN_MM).floor() as i32
}
