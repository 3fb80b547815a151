//! A surface seen from the occlusal, as heights on a grid: where its cusp tips and its fossae lie.

use nalgebra::{Point3, Vector3};
use rayon::prelude::*;

use crate::frame::ToothFrame;
use crate::scene::Placed;

/// Spacing of the grid over one tooth, mm.
pub const STEP_MM: f64 = 0.12;
/// How far above the frame's origin the rays start, and how far they go, mm.
const START_MM: f64 = 16.0;
const REACH_MM: f64 = 22.0;
/// Standard deviation of the smoothing, mm: noise of 8 µm falls to 2 µm, a groove's bottom hardly moves.
const SMOOTHING_MM: f64 = 0.12;

/// Heights over a grid in the tooth frame; NaN where there is nothing to see.
#[derive(Debug, Clone)]
pub struct Relief {
    corner: [f64; 2],
    step_mm: f64,
    size: [usize; 2],
    heights: Vec<f64>,
}

/// A cusp tip or a fossa.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Extreme {
    /// Coordinates (mesial, facial, occlusal) in the tooth frame, mm.
    pub place: Vector3<f64>,
    /// How far one must go down from a tip to reach a higher one, or up from a fossa to leave it, mm.
    pub prominence_mm: f64,
}

impl Relief {
    /// The uppermost surface over `low..high` (mesial, facial; mm), looked at along the tooth's axis, where `in_view`.
    pub fn of(
        surface: &Placed<'_>,
        frame: &ToothFrame,
        [low, high]: [[f64; 2]; 2],
        step_mm: f64,
        in_view: impl Fn(f64, f64) -> bool + Sync,
    ) -> Self {
        let size = [0, 1].map(|k| ((high[k] - low[k]) / step_mm).max(0.0) as usize + 1);
        let own = surface.after_from_scan.inverse();
        let down = own * -frame.occlusal;
        let height = |cell: usize| {
            let (x, y) =
                (low[0] + step_mm * (cell / size[1]) as f64, low[1] + step_mm * (cell % size[1]) as f64);
            if !in_view(x, y) {
                return f64::NAN;
            }
            let above: Point3<f64> =
                frame.origin + frame.mesial * x + frame.facial * y + frame.occlusal * START_MM;
            let hit = surface.surface.tree.ray(&(own * above), &down, REACH_MM);
            hit.map_or(f64::NAN, |hit| START_MM - hit.distance_mm)
        };
        let heights: Vec<f64> = (0..size[0] * size[1]).into_par_iter().map(height).collect();
        Self { corner: low, step_mm, size, heights }.smoothed()
    }

    /// Cusp tips that stand at least `prominence_mm` over the way to a higher one, the most prominent first.
    pub fn tips(&self, prominence_mm: f64) -> Vec<Extreme> {
        self.extremes(1.0, prominence_mm)
    }

    /// Fossae that lie at least `prominence_mm` under the way out, the deepest enclosed first.
    pub fn fossae(&self, prominence_mm: f64) -> Vec<Extreme> {
        self.extremes(-1.0, prominence_mm)
    }

    /// The highest place of each column (across the tooth) and its height, from distal to mesial.
    pub fn ridge(&self) -> Vec<Vector3<f64>> {
        let column = |i: usize| {
            let cells = i * self.size[1]..(i + 1) * self.size[1];
            let top = cells.filter(|&cell| self.heights[cell].is_finite());
            top.max_by(|&a, &b| self.heights[a].total_cmp(&self.heights[b])).map(|cell| self.refined(cell))
        };
        (0..self.size[0]).filter_map(column).collect()
    }

    /// The columns across the tooth, from distal to mesial: facial coordinate and height from lingual to facial.
    pub fn columns(&self) -> Vec<Vec<(f64, f64)>> {
        let seen = |&cell: &usize| self.heights[cell].is_finite();
        let column = |i: usize| {
            let cells = (i * self.size[1]..(i + 1) * self.size[1]).filter(seen);
            cells.map(|cell| self.place(cell)).map(|place| (place.y, place.z)).collect()
        };
        (0..self.size[0]).map(column).collect()
    }

    /// Weighted mean over the cells within three standard deviations.
    fn smoothed(mut self) -> Self {
        let reach = (3.0 * SMOOTHING_MM / self.step_mm).ceil() as isize;
        let weight = |d: isize| (-0.5 * (d as f64 * self.step_mm / SMOOTHING_MM).powi(2)).exp();
        let along = |heights: &[f64], across: bool| -> Vec<f64> {
            let mean = |cell: usize| {
                if heights[cell].is_nan() {
                    return f64::NAN;
                }
                let (mut sum, mut total) = (0.0, 0.0);
                for d in -reach..=reach {
                    let other = if across { self.moved(cell, 0, d) } else { self.moved(cell, d, 0) };
                    let Some(height) = other.map(|other| heights[other]).filter(|h| h.is_finite()) else {
                        continue;
                    };
                    sum += weight(d) * height;
                    total += weight(d);
                }
                sum / total
            };
            (0..heights.len()).map(mean).collect()
        };
        let once = along(&self.heights, false);
        self.heights = along(&once, true);
        self
    }

    /// Summits of `sign` times the height, by flooding from the top: a summit's land grows until it meets that of a
    /// higher one or the end of the view; how far it then has come down is its prominence.
    fn extremes(&self, sign: f64, prominence_mm: f64) -> Vec<Extreme> {
        let mut order: Vec<usize> =
            (0..self.heights.len()).filter(|&cell| self.heights[cell].is_finite()).collect();
        order.sort_by(|&a, &b| (sign * self.heights[b]).total_cmp(&(sign * self.heights[a])).then(a.cmp(&b)));
        let mut lands = Lands::new(self.heights.len());
        let mut found = Vec::new();
        for &cell in &order {
            let level = sign * self.heights[cell];
            lands.claim(cell, level);
            // Fossae run out over the end of the view; a tip's land merely ends there.
            if sign < 0.0 && self.at_end_of_view(cell) {
                lands.claim(cell, f64::INFINITY);
            }
            for other in self.neighbours(cell).filter(|&other| lands.is_claimed(other)).collect::<Vec<_>>() {
                found.extend(lands.join(cell, other, level));
            }
        }
        found.extend(lands.last(order.last().map_or(0.0, |&cell| sign * self.heights[cell])));
        let kept = found
            .into_iter()
            .filter(|summit| summit.prominence_mm >= prominence_mm && !self.near_end_of_view(summit.cell));
        let mut extremes: Vec<Extreme> = kept
            .map(|summit| Extreme { place: self.refined(summit.cell), prominence_mm: summit.prominence_mm })
            .collect();
        extremes.sort_by(|a, b| b.prominence_mm.total_cmp(&a.prominence_mm));
        extremes
    }

    fn place(&self, cell: usize) -> Vector3<f64> {
        let (i, j) = (cell / self.size[1], cell % self.size[1]);
        Vector3::new(
            self.corner[0] + self.step_mm * i as f64,
            self.corner[1] + self.step_mm * j as f64,
            self.heights[cell],
        )
    }

    /// The place of an extreme between the cells: a parabola in each direction.
    fn refined(&self, cell: usize) -> Vector3<f64> {
        let mut place = self.place(cell);
        for (axis, (i, j)) in [(1, 0), (0, 1)].into_iter().enumerate() {
            let near = |sign: isize| Some(self.heights[self.moved(cell, sign * i, sign * j)?]);
            let (Some(before), Some(after)) = (near(-1), near(1)) else { continue };
            let (slope, bend) = (0.5 * (after - before), after + before - 2.0 * self.heights[cell]);
            let shift = -slope / bend;
            if shift.is_finite() && shift.abs() <= 1.0 {
                place[axis] += self.step_mm * shift;
                place.z += 0.5 * slope * shift;
            }
        }
        place
    }

    fn moved(&self, cell: usize, i: isize, j: isize) -> Option<usize> {
        let column = (cell / self.size[1]).checked_add_signed(i).filter(|&at| at < self.size[0])?;
        let row = (cell % self.size[1]).checked_add_signed(j).filter(|&at| at < self.size[1])?;
        Some(column * self.size[1] + row)
    }

    fn neighbours(&self, cell: usize) -> impl Iterator<Item = usize> + '_ {
        AROUND.iter().filter_map(move |&(i, j)| self.moved(cell, i, j))
    }

    fn at_end_of_view(&self, cell: usize) -> bool {
        AROUND.iter().any(|&(i, j)| self.moved(cell, i, j).is_none_or(|other| self.heights[other].is_nan()))
    }

    fn near_end_of_view(&self, cell: usize) -> bool {
        self.at_end_of_view(cell) || self.neighbours(cell).any(|other| self.at_end_of_view(other))
    }
}

const AROUND: [(isize, isize); 8] = [(-1, -1), (-1, 0), (-1, 1), (0, -1), (0, 1), (1, -1), (1, 0), (1, 1)];

/// A summit whose land met that of a higher one.
struct Summit {
    cell: usize,
    prominence_mm: f64,
}

/// Lands of summits, joined as the flood falls. Each cell points towards the summit it belongs to.
struct Lands {
    parent: Vec<usize>,
    /// Level of the summit; infinite for land that runs out of view.
    top: Vec<f64>,
}

impl Lands {
    const NONE: usize = usize::MAX;

    fn new(n_cells: usize) -> Self {
        Self { parent: vec![Self::NONE; n_cells], top: vec![f64::NEG_INFINITY; n_cells] }
    }

    fn claim(&mut self, cell: usize, level: f64) {
        self.parent[cell] = cell;
        self.top[cell] = level;
    }

    fn is_claimed(&self, cell: usize) -> bool {
        self.parent[cell] != Self::NONE
    }

    fn summit(&mut self, mut cell: usize) -> usize {
        while self.parent[cell] != cell {
            self.parent[cell] = self.parent[self.parent[cell]];
            cell = self.parent[cell];
        }
        cell
    }

    /// Joins two lands at a level; the lower summit is told.
    fn join(&mut self, one: usize, other: usize, level: f64) -> Option<Summit> {
        let (one, other) = (self.summit(one), self.summit(other));
        if one == other {
            return None;
        }
        let (high, low) = if self.top[one] >= self.top[other] { (one, other) } else { (other, one) };
        self.parent[low] = high;
        Some(Summit { cell: low, prominence_mm: self.top[low] - level }).filter(|s| s.prominence_mm > 0.0)
    }

    /// The summits that met no higher one.
    fn last(&mut self, lowest: f64) -> Vec<Summit> {
        (0..self.parent.len())
            .filter(|&cell| self.parent[cell] == cell && self.top[cell].is_finite())
            .map(|cell| Summit { cell, prominence_mm: self.top[cell] - lowest })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn relief(height: impl Fn(f64, f64) -> f64) -> Relief {
        let size = [81, 61];
        let at = |cell: usize| (-4.0 + 0.1 * (cell / 61) as f64, -3.0 + 0.1 * (cell % 61) as f64);
        let heights = (0..81 * 61).map(|cell| height(at(cell).0, at(cell).1)).collect();
        Relief { corner: [-4.0, -3.0], step_mm: 0.1, size, heights }
    }

    #[test]
    fn two_hills_have_two_tips_and_the_prominence_of_the_lower_is_that_over_the_saddle() {
        // Along x: 1 at ±2 (0.9 at −2), 0 between, falling away sideways.
        let hills = relief(|x, y| {
            let top = if x < 0.0 { 0.9 } else { 1.0 };
            top * (0.25 * x * std::f64::consts::PI).sin().powi(2) - 0.3 * y * y
        });
        let tips = hills.tips(0.1);
        assert_eq!(tips.len(), 2, "{tips:?}");
        assert!((tips[1].place - Vector3::new(-2.0, 0.0, 0.9)).norm() < 0.02, "{tips:?}");
        assert!((tips[1].prominence_mm - 0.9).abs() < 1e-6, "{tips:?}");
        assert!(hills.fossae(0.1).is_empty());
    }

    #[test]
    fn a_bowl_is_a_fossa_and_a_valley_that_runs_out_is_none() {
        let bowl = relief(|x, y| 0.2 * ((x - 1.03).powi(2) + (y + 0.52).powi(2)));
        let fossae = bowl.fossae(0.2);
        assert_eq!(fossae.len(), 1);
        assert!((fossae[0].place.xy() - nalgebra::Vector2::new(1.03, -0.52)).norm() < 1e-6, "{fossae:?}");
        assert!(relief(|x, y| 0.3 * y * y + 0.01 * x).fossae(0.01).is_empty());
    }
}
