//! The scan's own vertices, station by station, in the section's plane coordinates.
//!
//! A section runs over the triangles, which cut every corner short; vertices lie on the surface that was scanned.

use kerfwright_geometry::Plane;
use nalgebra::{Point2, Point3};

use crate::finish_line::axes;
use crate::preparation::Preparation;

/// A prepared vertex at the station whose section passes nearest to it.
#[derive(Debug, Clone, Copy)]
pub struct Near {
    /// In the after scan.
    pub vertex: u32,
    /// In the section's plane.
    pub flat: Point2<f64>,
}

/// The prepared vertices of every station.
#[derive(Debug)]
pub struct ByStation(Vec<Vec<Near>>);

impl ByStation {
    /// Sorts the prepared vertices under their stations.
    pub fn new(preparation: &Preparation<'_>) -> Self {
        let stations = &preparation.stations;
        let mut sorted: Vec<Vec<Near>> = vec![Vec::new(); stations.len()];
        if stations.is_empty() {
            return Self(sorted);
        }
        let compass = Compass::new(preparation);
        for (vertex, point) in preparation.scene.after.mesh.vertices.iter().enumerate() {
            if preparation.inside[vertex] {
                let station = compass.nearest(point);
                let flat = stations[station].section.frame.flat(point);
                sorted[station].push(Near { vertex: vertex as u32, flat });
            }
        }
        Self(sorted)
    }

    /// The vertices of a station and of `reach` stations to each side.
    pub fn pooled(&self, station: usize, reach: usize) -> impl Iterator<Item = &Near> {
        let n = self.0.len();
        let reach = reach.min(n.saturating_sub(1) / 2);
        (0..=2 * reach).flat_map(move |step| &self.0[(station + n + step - reach) % n])
    }
}

/// Stations by direction from the middle of the finish line.
struct Compass {
    centre: Point3<f64>,
    axes: [nalgebra::Vector3<f64>; 2],
    first: Vec<usize>,
    planes: Vec<Plane>,
}

impl Compass {
    const N: usize = 360;

    fn new(preparation: &Preparation<'_>) -> Self {
        let (u, v) = axes(&preparation.path);
        let planes = preparation.stations.iter().map(|station| station.section.frame.plane()).collect();
        let mut compass = Self { centre: preparation.ring.centre(), axes: [u, v], first: Vec::new(), planes };
        let places: Vec<usize> =
            preparation.stations.iter().map(|station| compass.place(&station.edge())).collect();
        compass.first = (0..Self::N)
            .map(|place| {
                let off = |other: usize| {
                    let apart = place.abs_diff(other);
                    apart.min(Self::N - apart)
                };
                (0..places.len()).min_by_key(|&station| off(places[station])).unwrap_or(0)
            })
            .collect();
        compass
    }

    fn place(&self, point: &Point3<f64>) -> usize {
        let at = point - self.centre;
        let turn = at.dot(&self.axes[1]).atan2(at.dot(&self.axes[0])) / std::f64::consts::TAU;
        (turn.rem_euclid(1.0) * Self::N as f64) as usize % Self::N
    }

    /// The station whose plane passes nearest, among those in about the point's direction.
    fn nearest(&self, point: &Point3<f64>) -> usize {
        const AROUND: usize = 14;
        let n = self.planes.len();
        let start = self.first[self.place(point)];
        let reach = AROUND.min((n - 1) / 2);
        let mut nearest = (f64::INFINITY, start);
        for station in (0..=2 * reach).map(|step| (start + n + step - reach) % n) {
            let off_mm = self.planes[station].signed_distance(point).abs();
            if off_mm < nearest.0 {
                nearest = (off_mm, station);
            }
        }
        nearest.1
    }
}
