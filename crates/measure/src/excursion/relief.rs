//! The opposing teeth as a map of heights, for quick looks at how far a point stands over them.

use kerfwright_geometry::Surface;
use nalgebra::{Point3, Vector3};
use rayon::prelude::*;

use crate::finish_line::axes;
use crate::scene::Placed;

/// Side of a cell of the height map, mm: less than half of a scan's edge, so that a cusp of 1 mm radius is right to 2 µm.
const CELL_MM: f64 = 0.1;
/// How far from the scanned opponents teeth may still meet, mm.
const REACH_MM: f64 = 7.0;
/// Cells along a side of a block.
const BLOCK: usize = 8;
/// How far the jaw moves until the points worth a look are collected anew, mm: less than a block.
pub(super) const NEARBY_MM: f64 = 0.7;

/// The opposing teeth as heights over a grid, seen from the prepared arch.
#[derive(Debug, Clone)]
pub(super) struct Relief {
    origin: Point3<f64>,
    u: Vector3<f64>,
    v: Vector3<f64>,
    /// Towards the opposing teeth.
    w: Vector3<f64>,
    n_columns: usize,
    n_rows: usize,
    /// Height along `w` of the nearest opposing surface at each node; infinite where there is none.
    heights_mm: Vec<f64>,
    /// The lowest height in each block of cells: a map small enough to stay at hand.
    blocks_mm: Vec<f64>,
    /// The lowest height in each block and the eight around it, with a margin of one block.
    around_mm: Vec<f64>,
    lowest_mm: f64,
}

impl Relief {
    /// From the opposing scan, around a centre, seen along `occlusal`.
    pub(super) fn new(opposing: &Placed<'_>, occlusal: &Vector3<f64>, centre: &Point3<f64>) -> Self {
        let (u, v) = axes(occlusal);
        let mesh = &opposing.surface.mesh;
        let place = |point: Point3<f64>| {
            let at = opposing.after_from_scan * point - centre;
            Vector3::new(at.dot(&u), at.dot(&v), at.dot(occlusal))
        };
        let places: Vec<Vector3<f64>> = mesh.vertices.par_iter().map(|&point| place(point)).collect();
        let mut low = Vector3::repeat(f64::INFINITY);
        let mut high = Vector3::repeat(f64::NEG_INFINITY);
        for place in places.iter().filter(|place| place.iter().all(|x| x.is_finite())) {
            (low, high) = (low.inf(place), high.sup(place));
        }
        // A quadrant is 60 mm long, a whole arch 80: what is far away guides too, as long as the map stays small.
        let [from, to] = [low, high].map(|corner| corner.map(|x| x.clamp(-80.0, 80.0)));
        let nodes = |axis: usize| ((to[axis] - from[axis]) / CELL_MM).max(0.0) as usize + 2;
        let mut relief = Self {
            origin: centre + u * from.x + v * from.y,
            u,
            v,
            w: *occlusal,
            n_columns: nodes(0),
            n_rows: nodes(1),
            heights_mm: Vec::new(),
            blocks_mm: Vec::new(),
            around_mm: Vec::new(),
            lowest_mm: low.z,
        };
        relief.heights_mm = vec![f64::INFINITY; relief.n_columns * relief.n_rows];
        relief.draw(opposing.surface, &places, [from.x, from.y]);
        relief.blocks_mm = relief.lowest_of_blocks();
        relief.around_mm = relief.lowest_around();
        relief
    }

    /// The lowest of each block and its neighbours, a row and a column of blocks more on each side.
    fn lowest_around(&self) -> Vec<f64> {
        let (n_columns, n_rows) = (self.n_blocks_a_row(), self.n_rows.div_ceil(BLOCK));
        let mut around = vec![f64::INFINITY; (n_columns + 2) * (n_rows + 2)];
        for (block, &lowest_mm) in self.blocks_mm.iter().enumerate() {
            let (row, column) = (block / n_columns, block % n_columns);
            for near in row..row + 3 {
                for value_mm in &mut around[near * (n_columns + 2) + column..][..3] {
                    *value_mm = value_mm.min(lowest_mm);
                }
            }
        }
        around
    }

    fn n_blocks_a_row(&self) -> usize {
        self.n_columns.div_ceil(BLOCK)
    }

    fn lowest_of_blocks(&self) -> Vec<f64> {
        let n_blocks_a_row = self.n_blocks_a_row();
        let lowest = |block: usize| {
            let (row, column) = (block / n_blocks_a_row * BLOCK, block % n_blocks_a_row * BLOCK);
            // The nodes of the last cells lie in the next block.
            let columns = column..(column + BLOCK + 1).min(self.n_columns);
            (row..(row + BLOCK + 1).min(self.n_rows))
                .flat_map(|row| &self.heights_mm[row * self.n_columns..][columns.clone()])
                .fold(f64::INFINITY, |lowest, &height| lowest.min(height))
        };
        (0..n_blocks_a_row * self.n_rows.div_ceil(BLOCK)).map(lowest).collect()
    }

    fn draw(&mut self, surface: &Surface, places: &[Vector3<f64>], from: [f64; 2]) {
        let to_grid = |place: &Vector3<f64>| {
            Vector3::new((place.x - from[0]) / CELL_MM, (place.y - from[1]) / CELL_MM, place.z)
        };
        for corners in &surface.mesh.triangles {
            let corner = |k: usize| to_grid(&places[corners[k] as usize]);
            let (a, b, c) = (corner(0), corner(1), corner(2));
            let area = (b.x - a.x) * (c.y - a.y) - (b.y - a.y) * (c.x - a.x);
            if area.abs() < 1e-12 {
                continue;
            }
            let span = |axis: usize, n: usize| {
                let (low, high) = (a[axis].min(b[axis]).min(c[axis]), a[axis].max(b[axis]).max(c[axis]));
                (low.max(0.0).ceil() as usize, (high.min(n as f64 - 1.0) + 1.0).max(0.0) as usize)
            };
            let (columns, rows) = (span(0, self.n_columns), span(1, self.n_rows));
            for row in rows.0..rows.1 {
                for column in columns.0..columns.1 {
                    let (x, y) = (column as f64 - a.x, row as f64 - a.y);
                    let s = (x * (c.y - a.y) - y * (c.x - a.x)) / area;
                    let t = (y * (b.x - a.x) - x * (b.y - a.y)) / area;
                    if s >= -1e-9 && t >= -1e-9 && s + t <= 1.0 + 1e-9 {
                        let height_mm = a.z + s * (b.z - a.z) + t * (c.z - a.z);
                        let node = &mut self.heights_mm[row * self.n_columns + column];
                        *node = node.min(height_mm);
                    }
                }
            }
        }
    }

    /// Whether a point may stand over the opposing surface by more than `least_mm`: a quick look, to be followed by
    /// [`over`](Self::over) where it says yes.
    #[inline]
    pub(super) fn may_be_over(&self, point: &Point3<f64>, least_mm: f64) -> bool {
        let at = point - self.origin;
        let (x, y) = (at.dot(&self.u) / CELL_MM, at.dot(&self.v) / CELL_MM);
        if !(x >= 0.0 && y >= 0.0) {
            return false;
        }
        let (column, row) = (x as usize, y as usize);
        if column >= self.n_columns || row >= self.n_rows {
            return false;
        }
        // A trace more, for what rounding does between the nodes.
        at.dot(&self.w) - self.blocks_mm[row / BLOCK * self.n_blocks_a_row() + column / BLOCK]
            > least_mm - 1e-9
    }

    /// Whether a point may come to stand over the opposing surface by more than `least_mm`, less what it rises, while it
    /// moves by [`NEARBY_MM`] at most.
    #[inline]
    pub(super) fn may_come_over(&self, point: &Point3<f64>, least_mm: f64) -> bool {
        let at = point - self.origin;
        let block = |along: f64| (along / (CELL_MM * BLOCK as f64)).floor() + 1.0;
        let (x, y) = (block(at.dot(&self.u)), block(at.dot(&self.v)));
        let (n_columns, n_rows) = (self.n_blocks_a_row() + 2, self.n_rows.div_ceil(BLOCK) + 2);
        if !(x >= 0.0 && y >= 0.0 && x < n_columns as f64 && y < n_rows as f64) {
            return false;
        }
        at.dot(&self.w) - self.around_mm[y as usize * n_columns + x as usize] > least_mm - 1e-6
    }

    /// How far a point stands over the opposing surface, along `w`, and how steep that is: 1 / cos of its slope.
    #[inline]
    pub(super) fn over(&self, point: &Point3<f64>) -> Option<(f64, f64)> {
        let at = point - self.origin;
        let (x, y) = (at.dot(&self.u) / CELL_MM, at.dot(&self.v) / CELL_MM);
        if !(x >= 0.0 && y >= 0.0) {
            return None;
        }
        let (column, row) = (x as usize, y as usize);
        if column + 1 >= self.n_columns || row + 1 >= self.n_rows {
            return None;
        }
        let node = row * self.n_columns + column;
        let (low, high) = (&self.heights_mm[node..node + 2], &self.heights_mm[node + self.n_columns..]);
        let [a, b, c, d] = [low[0], low[1], high[0], high[1]];
        let (s, t) = (x - column as f64, y - row as f64);
        let (near, far) = (a + (b - a) * s, c + (d - c) * s);
        let height_mm = near + (far - near) * t;
        if !height_mm.is_finite() {
            return None;
        }
        let along = ((b - a) * (1.0 - t) + (d - c) * t) / CELL_MM;
        let across = (far - near) / CELL_MM;
        let steepness = (1.0 + along * along + across * across).sqrt();
        Some((at.dot(&self.w) - height_mm, steepness))
    }

    /// Whether a point of the prepared arch can come to an opposing tooth at all.
    pub(super) fn may_meet(&self, point: &Point3<f64>) -> bool {
        let at = point - self.origin;
        let reach = REACH_MM / CELL_MM;
        let (x, y) = (at.dot(&self.u) / CELL_MM, at.dot(&self.v) / CELL_MM);
        x > -reach
            && y > -reach
            && x < self.n_columns as f64 + reach
            && y < self.n_rows as f64 + reach
            && at.dot(&self.w) > self.lowest_mm - 0.5
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use kerfwright_mesh::Mesh;

    /// Waves of 1 mm over a square of 12 mm, lying above the origin and facing down.
    fn waves() -> Surface {
        let n = 60_u32;
        let mut mesh = Mesh::default();
        for place in 0..(n + 1) * (n + 1) {
            let at = |k: u32| 0.2 * f64::from(k) - 6.0;
            let (x, y) = (at(place % (n + 1)), at(place / (n + 1)));
            mesh.vertices.push(Point3::new(x, y, 1.5 + (1.7 * x).sin() * (1.3 * y).cos()));
        }
        for place in (0..n * (n + 1)).filter(|place| place % (n + 1) < n) {
            let above = place + n + 1;
            mesh.triangles.extend([[place, above + 1, place + 1], [place, above, above + 1]]);
        }
        Surface::new(mesh)
    }

    /// Whatever a point does within the distance, the look from afar has seen it coming; and it does leave points out.
    #[test]
    fn nothing_comes_unseen() {
        let waves = waves();
        let relief = Relief::new(&Placed::in_place(&waves), &Vector3::z(), &Point3::new(0.3, -0.2, 0.0));
        let part = |k: u32, by: u32| f64::from(k.wrapping_mul(by) >> 8) / f64::from(1 << 24) - 0.5;
        let (mut n_over, mut n_left_out) = (0, 0);
        for k in 1..40_000_u32 {
            let number = k.wrapping_mul(2_654_435_761);
            let point = Point3::new(
                15.0 * part(number, 1),
                15.0 * part(number, 48_271),
                2.0 + 5.0 * part(number, 69_621),
            );
            let way = Vector3::new(part(number, 16_807), part(number, 39_373), part(number, 40_692));
            let there = point + way.normalize() * (0.999 * NEARBY_MM);
            let is_over = relief.over(&there).is_some_and(|(over_mm, _)| over_mm > -0.6);
            let may_come = relief.may_come_over(&point, -0.6 - NEARBY_MM);
            assert!(may_come || !is_over, "{point} to {there}");
            assert!(relief.may_be_over(&there, -0.6) || !is_over, "{there}");
            n_over += u32::from(is_over);
            n_left_out += u32::from(!may_come);
        }
        assert!(n_over > 3000 && n_left_out > 3000, "{n_over} over, {n_left_out} left out");
    }
}
