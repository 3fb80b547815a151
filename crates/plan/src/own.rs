//! Which part of the scan belongs to the crown of the tooth, over its finish line.

use kerfwright_geometry::Surface;
use nalgebra::Point3;

use crate::TargetLine;
use crate::site::{N_STATIONS, Polar, Site};

/// How far a crown bulges over its finish line at most, mm.
const BULGE_MM: f64 = 3.0;

/// One flag a vertex: stands over the line and hangs together with a triangle of the crown.
///
/// The facing side of an adjacent tooth, where the scan runs on through the contact, is told by its normal: outside the
/// line a crown's own surface faces away from its middle.
pub fn crown(scan: &Surface, site: &Site, line: &TargetLine, start: u32) -> Vec<bool> {
    let places = Places::new(&site.polar, &line.points);
    let may = |vertex: u32| {
        let point = &scan.mesh.vertices[vertex as usize];
        let (radius_mm, over_mm, line_mm, outward) = places.of(point);
        let faces_away = scan.vertex_normals[vertex as usize].dot(&outward) > -0.15;
        over_mm > 0.0 && (radius_mm < line_mm || (faces_away && radius_mm < line_mm + BULGE_MM))
    };
    let mut taken = vec![false; scan.mesh.vertices.len()];
    let mut todo: Vec<u32> = scan.mesh.triangles[start as usize].to_vec();
    while let Some(vertex) = todo.pop() {
        if !taken[vertex as usize] && may(vertex) {
            taken[vertex as usize] = true;
            todo.extend_from_slice(scan.topology.vertex_neighbours(vertex));
        }
    }
    taken
}

/// Where points lie against a closed line round the tooth.
pub struct Places<'a> {
    polar: &'a Polar,
    /// Radius and height of the line, a station.
    line: Vec<(f64, f64)>,
}

impl<'a> Places<'a> {
    pub fn new(polar: &'a Polar, points: &[Point3<f64>]) -> Self {
        let line = points.iter().map(|point| polar.place(point)).map(|(r, z, _)| (r, z)).collect();
        Self { polar, line }
    }

    /// Radius, height over the line, the line's radius in that direction, and that direction.
    pub fn of(&self, point: &Point3<f64>) -> (f64, f64, f64, nalgebra::Vector3<f64>) {
        let (radius_mm, height_mm, turn) = self.polar.place(point);
        let (from, share) = (turn as usize % N_STATIONS, turn.fract());
        let (a, b) = (self.line[from], self.line[(from + 1) % N_STATIONS]);
        let at = (a.0 + (b.0 - a.0) * share, a.1 + (b.1 - a.1) * share);
        let flat = point - self.polar.centre;
        let outward = (flat - self.polar.up * height_mm).try_normalize(1e-9).unwrap_or_default();
        (radius_mm, height_mm - at.1, at.0, outward)
    }
}
