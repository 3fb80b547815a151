//! A grid that knows the nearest sample of a scan to each of its cells, so that a pose is tried in microseconds.

use crate::cells::bounds;
use crate::cloud::Cloud;
use nalgebra::{Point3, Vector3};

const CELL_MM: f64 = 0.6;
/// How far from the surface the field reaches, mm.
pub(crate) const REACH_MM: f64 = 1.8;

/// Nearest samples by cell.
pub(crate) struct Field {
    low: Point3<f64>,
    counts: [usize; 3],
    nearest: Vec<u32>,
}

impl Field {
    pub(crate) fn new(cloud: &Cloud) -> Self {
        let points: Vec<_> = cloud.samples.iter().map(|sample| sample.point).collect();
        let (low, high) = bounds(&points);
        let low = low - Vector3::repeat(REACH_MM);
        let extent = high - low;
        let counts = std::array::from_fn(|axis| ((extent[axis] + REACH_MM) / CELL_MM) as usize + 1);
        let size = counts.iter().product();
        let mut field = Self { low, counts, nearest: vec![u32::MAX; size] };
        let mut squared = vec![(REACH_MM * REACH_MM) as f32; size];
        for (index, point) in points.iter().enumerate() {
            field.splat(index as u32, point, &mut squared);
        }
        field
    }

    /// The sample nearest to the centre of the cell that holds `point`.
    pub(crate) fn nearest(&self, point: &Point3<f64>) -> Option<usize> {
        let mut cell = [0; 3];
        for axis in 0..3 {
            let place = (point[axis] - self.low[axis]) / CELL_MM;
            if place < 0.0 || self.counts[axis] as f64 <= place {
                return None;
            }
            cell[axis] = place as usize;
        }
        let sample = self.nearest[(cell[2] * self.counts[1] + cell[1]) * self.counts[0] + cell[0]];
        (sample != u32::MAX).then_some(sample as usize)
    }

    fn splat(&mut self, index: u32, point: &Point3<f64>, squared: &mut [f32]) {
        let place = (point - self.low) / CELL_MM;
        let reach = REACH_MM / CELL_MM;
        let range = |axis: usize| {
            let from = (place[axis] - reach).max(0.0) as usize;
            from..((place[axis] + reach) as usize + 1).min(self.counts[axis])
        };
        let square = |axis: usize, cell: usize| ((cell as f64 + 0.5 - place[axis]) * CELL_MM).powi(2);
        for z in range(2) {
            for y in range(1) {
                let partial = square(2, z) + square(1, y);
                let row = (z * self.counts[1] + y) * self.counts[0];
                for x in range(0) {
                    let distance = (partial + square(0, x)) as f32;
                    if distance < squared[row + x] {
                        squared[row + x] = distance;
                        self.nearest[row + x] = index;
                    }
                }
            }
        }
    }
}
