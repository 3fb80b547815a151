//! The lowest points of the gingiva along a row of teeth.

use kerfwright_geometry::{Surface, fit};
use nalgebra::{Matrix3, Point2, Point3, Vector2, Vector3};
use rayon::prelude::*;

use crate::finish_line::axes;
use crate::section::{Section, SectionFrame};
use crate::station::gingiva;

/// Distance from section to section, mm.
const STEP_MM: f64 = 0.3;
/// How far outside of the row the scan is looked at from, mm: beyond the widest crown's half.
const OUTSIDE_MM: f64 = 12.0;
/// The gingiva is looked for so far down the crown, mm.
const DOWN_MM: f64 = 4.0;

/// Seen from above, the row's middle: a parabola.
struct Middle {
    start: Point2<f64>,
    along: Vector2<f64>,
    across: Vector2<f64>,
    parabola: Vector3<f64>,
    ends: [f64; 2],
}

impl Middle {
    fn through(points: &[Point2<f64>]) -> Option<Self> {
        let line = fit::line2(points)?;
        let (start, along) = (line.point, line.direction);
        let across = Vector2::new(-along.y, along.x);
        let (mut normal, mut right) = (Matrix3::zeros(), Vector3::zeros());
        let mut ends = [f64::INFINITY, f64::NEG_INFINITY];
        for point in points {
            let place = (point - start).dot(&along);
            let row = Vector3::new(1.0, place, place * place);
            normal += row * row.transpose();
            right += row * (point - start).dot(&across);
            ends = [ends[0].min(place), ends[1].max(place)];
        }
        Some(Self { start, along, across, parabola: normal.cholesky()?.solve(&right), ends })
    }

    /// The middle at a place along the row, and the unit direction across the row there.
    fn at(&self, place: f64) -> (Point2<f64>, Vector2<f64>) {
        let [shift, slope, bend]: [f64; 3] = self.parabola.into();
        let across = shift + slope * place + bend * place * place;
        let lean = self.along * -(slope + 2.0 * bend * place);
        (self.start + self.along * place + self.across * across, (self.across + lean).normalize())
    }
}

/// The gingiva's lowest points beside the teeth of a row, on both its sides: one beside each tooth where the line comes
/// down and rises again.
///
/// `teeth` are the vertices of the teeth's occlusal surfaces; `level` is a point over the gingiva, at the height of the
/// crowns' gingival third. `up` is roughly their occlusal direction.
pub fn zeniths(surface: &Surface, up: &Vector3<f64>, level: &Point3<f64>, teeth: &[u32]) -> Vec<Point3<f64>> {
    let (u, v) = axes(up);
    let flat = |vertex: &u32| {
        let at = surface.mesh.vertices[*vertex as usize] - level;
        Point2::new(at.dot(&u), at.dot(&v))
    };
    let Some(middle) = Middle::through(&teeth.iter().map(flat).collect::<Vec<_>>()) else {
        return Vec::new();
    };
    let n_sections = ((middle.ends[1] - middle.ends[0]) / STEP_MM) as usize;
    let lowest = |side: f64| {
        let crease = |k: usize| {
            let (at, across) = middle.at(middle.ends[0] + STEP_MM * k as f64);
            let outward = (u * across.x + v * across.y) * side;
            let from = level + u * at.x + v * at.y + outward * OUTSIDE_MM;
            let hit = surface.tree.ray(&from, &-outward, OUTSIDE_MM)?;
            let frame = SectionFrame { origin: hit.point, inward: -outward, up: *up };
            let section = Section::cut_within(surface, frame, DOWN_MM, 1.5)?;
            Some(frame.solid(&gingiva(&section)?))
        };
        let line: Vec<Option<Point3<f64>>> = (0..n_sections).into_par_iter().map(crease).collect();
        lowest_of(&line, up, level)
    };
    [1.0, -1.0].into_iter().flat_map(lowest).collect()
}

/// The low points of a line given at equal steps: lower than all within a third of a tooth, with the line higher on both
/// sides of them.
fn lowest_of(line: &[Option<Point3<f64>>], up: &Vector3<f64>, level: &Point3<f64>) -> Vec<Point3<f64>> {
    const NEAR_MM: f64 = 2.5;
    const RISE_MM: [f64; 2] = [1.0, 4.0];
    const LEAST_RISE_MM: f64 = 0.15;
    const MEAN_MM: f64 = 0.7;
    let steps = |mm: f64| (mm / STEP_MM).round() as isize;
    let points = |from: usize, range: std::ops::RangeInclusive<isize>| {
        range.filter_map(move |by| *line.get(from.checked_add_signed(by)?)?)
    };
    let height_mm = |point: &Point3<f64>| (point - level).dot(up);
    let mut found = Vec::new();
    for (k, point) in line.iter().enumerate() {
        let Some(own_mm) = point.as_ref().map(height_mm) else { continue };
        let is_lowest = points(k, -steps(NEAR_MM)..=steps(NEAR_MM)).all(|other| height_mm(&other) >= own_mm);
        let [near, far] = RISE_MM.map(steps);
        let rises = [-far..=-near, near..=far]
            .into_iter()
            .all(|range| points(k, range).any(|other| height_mm(&other) > own_mm + LEAST_RISE_MM));
        if is_lowest && rises {
            let around: Vec<Point3<f64>> = points(k, -steps(MEAN_MM)..=steps(MEAN_MM)).collect();
            let sum: Vector3<f64> = around.iter().map(|at| at.coords).sum();
            found.push(Point3::from(sum / around.len() as f64));
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_scalloped_line_has_a_low_point_beside_each_whole_tooth() {
        // Four periods of 8 mm, crests at 0, 8, 16 …; the line is lost at one of the crests.
        let height_mm = |x: f64| 0.6 * (std::f64::consts::TAU * x / 8.0).cos();
        let line: Vec<Option<Point3<f64>>> = (0..107)
            .map(|k| STEP_MM * f64::from(k))
            .map(|x| (!(15.5..16.5).contains(&x)).then(|| Point3::new(x, 0.0, height_mm(x))))
            .collect();
        let low = lowest_of(&line, &Vector3::z(), &Point3::origin());
        let places: Vec<f64> = low.iter().map(|point| point.x).collect();
        assert_eq!(low.len(), 4, "{places:?}");
        for (place, expected) in places.iter().zip([4.0, 12.0, 20.0, 28.0]) {
            assert!((place - expected).abs() < STEP_MM, "{places:?}");
        }
        // A level line has none, however it trembles.
        let level: Vec<Option<Point3<f64>>> = (0..107)
            .map(|k| Some(Point3::new(STEP_MM * f64::from(k), 0.0, 0.02 * f64::from(k % 3))))
            .collect();
        assert!(lowest_of(&level, &Vector3::z(), &Point3::origin()).is_empty());
    }
}
