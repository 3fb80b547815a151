//! Points sorted into cubic cells, for radius queries.

use nalgebra::{Point3, Vector3};

/// Points in cubic cells; neighbours come out in a fixed order.
#[derive(Debug)]
pub(crate) struct Cells {
    low: Point3<f64>,
    size_mm: f64,
    counts: [usize; 3],
    /// Start of each cell's run in `order`, plus one end.
    starts: Vec<u32>,
    order: Vec<u32>,
    points: Vec<Point3<f64>>,
}

impl Cells {
    /// Sorts `points` into cells of about `size_mm`, larger when the box would need too many of them.
    pub(crate) fn new(points: Vec<Point3<f64>>, size_mm: f64) -> Self {
        let (low, high) = bounds(&points);
        let mut size_mm = size_mm;
        let mut counts = cell_counts(&(high - low), size_mm);
        while counts.iter().product::<usize>() > 4_000_000 {
            size_mm *= 1.5;
            counts = cell_counts(&(high - low), size_mm);
        }
        let mut cells = Self { low, size_mm, counts, starts: Vec::new(), order: Vec::new(), points };
        cells.sort();
        cells
    }

    /// Calls `visit(index, squared distance)` for each point within `radius_mm`.
    pub(crate) fn within(&self, centre: &Point3<f64>, radius_mm: f64, mut visit: impl FnMut(usize, f64)) {
        let reach = Vector3::repeat(radius_mm);
        let from = self.cell_of(&(centre - reach));
        let to = self.cell_of(&(centre + reach));
        for z in from[2]..=to[2] {
            for y in from[1]..=to[1] {
                let row = (z * self.counts[1] + y) * self.counts[0];
                let run = self.starts[row + from[0]] as usize..self.starts[row + to[0] + 1] as usize;
                for &index in &self.order[run] {
                    let squared = (self.points[index as usize] - centre).norm_squared();
                    if squared <= radius_mm * radius_mm {
                        visit(index as usize, squared);
                    }
                }
            }
        }
    }

    /// The indices in each cell that is not empty, cell by cell, ascending within one.
    pub(crate) fn groups(&self) -> impl Iterator<Item = &[u32]> {
        let runs = self.starts.windows(2).filter(|ends| ends[0] < ends[1]);
        runs.map(|ends| &self.order[ends[0] as usize..ends[1] as usize])
    }

    fn sort(&mut self) {
        let keys: Vec<u32> = self.points.iter().map(|point| self.key_of(point)).collect();
        let mut starts = vec![0u32; self.counts.iter().product::<usize>() + 1];
        for &key in &keys {
            starts[key as usize + 1] += 1;
        }
        for cell in 1..starts.len() {
            starts[cell] += starts[cell - 1];
        }
        let mut next = starts.clone();
        let mut order = vec![0u32; keys.len()];
        for (index, &key) in keys.iter().enumerate() {
            order[next[key as usize] as usize] = index as u32;
            next[key as usize] += 1;
        }
        self.starts = starts;
        self.order = order;
    }

    fn key_of(&self, point: &Point3<f64>) -> u32 {
        let [x, y, z] = self.cell_of(point);
        ((z * self.counts[1] + y) * self.counts[0] + x) as u32
    }

    fn cell_of(&self, point: &Point3<f64>) -> [usize; 3] {
        std::array::from_fn(|axis| {
            let cell = ((point[axis] - self.low[axis]) / self.size_mm).max(0.0) as usize;
            cell.min(self.counts[axis] - 1)
        })
    }
}

/// Lowest and highest corner; both the origin for no points.
pub(crate) fn bounds(points: &[Point3<f64>]) -> (Point3<f64>, Point3<f64>) {
    let first = points.first().copied().unwrap_or_else(Point3::origin);
    points.iter().fold((first, first), |(low, high), point| (low.inf(point), high.sup(point)))
}

fn cell_counts(extent: &Vector3<f64>, size_mm: f64) -> [usize; 3] {
    std::array::from_fn(|axis| (extent[axis] / size_mm) as usize + 1)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn neighbours_agree_with_trying_every_point() {
        let mut random = crate::random::Random::new(7, 0);
        let mut coordinate = || random.index(10_000) as f64 / 1000.0;
        let points: Vec<_> =
            (0..500).map(|_| Point3::new(coordinate(), coordinate(), coordinate())).collect();
        let cells = Cells::new(points.clone(), 0.7);
        for centre in points.iter().step_by(17) {
            let mut found = Vec::new();
            cells.within(centre, 1.3, |index, _| found.push(index));
            found.sort_unstable();
            let expected: Vec<_> = (0..500).filter(|&i| (points[i] - centre).norm() <= 1.3).collect();
            assert_eq!(found, expected);
        }
    }
}
