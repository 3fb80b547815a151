//! The search: at which height the bar goes farthest, and how far.

use nalgebra::{Point3, Vector3};
use rayon::prelude::*;

use super::{GaugeAnswer, GaugeTouch};
use crate::body::{Body, Which};
use crate::view::coordinates;

/// Room that is not told from contact, mm.
pub const TOUCH_MM: f64 = 0.002;
/// The end is pushed on by at least this, mm: the answer's resolution.
pub const STEP_MM: f64 = 0.01;
/// Heights tried in one round.
const N_HEIGHTS: usize = 16;

/// A push between bodies.
#[derive(Debug)]
pub struct Push<'a> {
    pub bodies: Vec<(Which, &'a Body)>,
    pub point: Point3<f64>,
    pub direction: Vector3<f64>,
    pub across: Vector3<f64>,
    /// From which to which height over the starting point the bar's middle may be held.
    pub heights_mm: [f64; 2],
    pub radius_mm: f64,
    pub length_mm: f64,
}

impl Push<'_> {
    /// Pushes.
    pub fn answer(&self) -> GaugeAnswer {
        let entry = self.entry();
        let best = entry.map(|entry| self.best(entry));
        let (height_mm, way_mm) = best.unwrap_or((self.radius_mm, 0.0));
        let start = self.point + self.across * height_mm;
        let end = start + self.direction * way_mm;
        let fits = best.is_some() && way_mm >= self.length_mm - 1e-9;
        GaugeAnswer {
            fits,
            enters: best.is_some(),
            stops_at_mm: way_mm,
            length_mm: self.length_mm,
            start: coordinates(&start),
            end: coordinates(&end),
            touches: if fits { Vec::new() } else { self.touches(&end) },
        }
    }

    /// Room round a place for the bar's middle, mm; negative where it does not fit.
    fn room_mm(&self, at: &Point3<f64>) -> f64 {
        // Beyond this nothing is near enough to matter for the next step.
        let within_mm = self.radius_mm + 1.5;
        let distance =
            |body: &Body| body.signed(at, within_mm).map_or(within_mm, |signed| signed.distance_mm);
        self.bodies.iter().map(|(_, body)| distance(body)).fold(f64::INFINITY, f64::min) - self.radius_mm
    }

    /// Between which heights the bar fits where it starts; `None` if at none.
    fn entry(&self) -> Option<[f64; 2]> {
        // The room changes by no more than the height does: between two steps it cannot rise by more than half of one, so that
        // no height at which the bar just fits lies between two at which more than that is wanting.
        const COARSE_MM: f64 = 0.02;
        const FINE_MM: f64 = 0.002;
        let room = |height_mm: f64| self.room_mm(&(self.point + self.across * height_mm));
        let [low_mm, high_mm] = self.heights_mm;
        let n = ((high_mm - low_mm) / COARSE_MM) as usize;
        let coarse: Vec<(f64, f64)> = (0..=n)
            .map(|k| low_mm + COARSE_MM * k as f64)
            .map(|height_mm| (height_mm, room(height_mm)))
            .collect();
        let fit: Vec<f64> =
            coarse.iter().filter(|(_, mm)| *mm >= -TOUCH_MM).map(|(height, _)| *height).collect();
        if let (Some(first), Some(last)) = (fit.first(), fit.last()) {
            return Some([*first, *last]);
        }
        let near = coarse.iter().filter(|(_, mm)| *mm >= -COARSE_MM);
        let fine =
            near.flat_map(|&(height_mm, _)| (-10..=10).map(move |k| height_mm + FINE_MM * f64::from(k)));
        fine.into_iter().find(|&height_mm| room(height_mm) >= -TOUCH_MM).map(|height_mm| [height_mm; 2])
    }

    /// The height that goes farthest, and how far; of heights that go as far, the middle.
    fn best(&self, [low_mm, high_mm]: [f64; 2]) -> (f64, f64) {
        let (mut low_mm, mut high_mm) = (low_mm, high_mm);
        let mut best = (low_mm, -1.0);
        for _ in 0..3 {
            let step_mm = (high_mm - low_mm) / (N_HEIGHTS - 1) as f64;
            let ways: Vec<(f64, f64)> = (0..N_HEIGHTS)
                .into_par_iter()
                .with_max_len(2)
                .map(|k| {
                    let height_mm = low_mm + step_mm * k as f64;
                    (height_mm, self.way_mm(height_mm))
                })
                .collect();
            let farthest_mm = ways.iter().map(|way| way.1).fold(f64::NEG_INFINITY, f64::max);
            let far: Vec<f64> =
                ways.iter().filter(|way| way.1 >= farthest_mm - 1e-9).map(|way| way.0).collect();
            if farthest_mm > best.1 {
                best = (far[far.len() / 2], farthest_mm);
            }
            if step_mm < 1e-3 || farthest_mm >= self.length_mm {
                break;
            }
            (low_mm, high_mm) = (best.0 - step_mm, best.0 + step_mm);
        }
        (best.0, best.1.max(0.0))
    }

    /// How far the bar goes at a height, mm; −1 if it does not fit where it starts.
    fn way_mm(&self, height_mm: f64) -> f64 {
        let start = self.point + self.across * height_mm;
        let mut way_mm = 0.0;
        loop {
            let room_mm = self.room_mm(&(start + self.direction * way_mm));
            if room_mm < -TOUCH_MM {
                return if way_mm > 0.0 { (way_mm - STEP_MM).max(0.0) } else { -1.0 };
            }
            if way_mm >= self.length_mm {
                return self.length_mm;
            }
            // As far as there is room all round, nothing can be met.
            way_mm = (way_mm + room_mm.max(STEP_MM)).min(self.length_mm);
        }
    }

    fn touches(&self, end: &Point3<f64>) -> Vec<GaugeTouch> {
        const NEAR_MM: f64 = 0.05;
        let touch = |(which, body): &(Which, &Body)| {
            let signed = body.signed(end, self.radius_mm + NEAR_MM)?;
            let point = body.screen_from_own * signed.closest.point;
            Some(GaugeTouch { body: *which, point: coordinates(&point) })
        };
        self.bodies.iter().filter_map(touch).collect()
    }
}
