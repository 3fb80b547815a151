//! `finish_line.roughness_um` and `finish_line.steps`: how smoothly the finish line runs.

use nalgebra::{SMatrix, SVector, Vector3};

use super::smoothness::{Smoothness, beyond_noise};
use crate::document::Value;
use crate::preparation::Preparation;
use crate::sheet::{Sheet, number};
use crate::stats::local_quadratic;

const ROUGHNESS: &str = "finish_line.roughness_um";
const STEPS: &str = "finish_line.steps";
/// Half the length over which the smooth form is drawn, mm.
const FORM_MM: f64 = 2.0;
/// Half the length over which a jump is told from a slope, mm.
const JUMP_MM: f64 = 1.5;
/// Stations to each side of a jump that share sections with the other side.
const SHARED: usize = 1;
/// Neighbouring stations share sections: about every third is independent.
const STATIONS_A_SAMPLE: f64 = 3.0;
/// How much of a wave the smooth form takes or gives, by its length (k = 2).
const FORM_SHARE: f64 = 0.2;
/// How well what noise alone does to the line is known (1 sigma, from phantom scans).
const NOISE_SHARE: f64 = 0.3;

/// Departure of the line from its smooth form, in height and in radius, and its jumps and breaks.
pub fn take(preparation: &Preparation<'_>, sheet: &mut Sheet) {
    let table = match Smoothness::read() {
        Ok(table) => table.finish_line,
        Err(reason) => {
            [ROUGHNESS, STEPS].iter().for_each(|&id| sheet.refuse(id, reason.clone()));
            return;
        }
    };
    let line = RawLine::of(preparation);
    roughness(preparation, sheet, &line);
    let mut found = line.jumps(table.jump_from_um / 1000.0);
    found.extend(line.breaks(table.break_from_mm));
    found.sort_by_key(|step| step.place);
    steps(preparation, sheet, &found);
}

/// The line as the sections saw it, before it was smoothed.
struct RawLine {
    points: Vec<Option<nalgebra::Point3<f64>>>,
    /// Per station: along the line, inward, up.
    axes: Vec<[Vector3<f64>; 3]>,
    spacing_mm: f64,
    /// What noise alone does to a point, inward and up.
    noise_mm: [f64; 2],
}

/// A jump or a break.
#[derive(Debug, Clone, Copy)]
struct Step {
    place: usize,
    /// Inward and up, mm; zero for a break.
    jump_mm: [f64; 2],
    /// Length of a break, mm.
    lost_mm: f64,
}

impl RawLine {
    fn of(preparation: &Preparation<'_>) -> Self {
        let ring = &preparation.ring;
        let frames = ring.section_frames(&ring.up);
        let points = frames.iter().zip(&ring.scatter_mm).zip(&ring.points);
        Self {
            points: points
                .map(|((frame, scatter), point)| {
                    scatter.map(|[inward, up]| point + frame.inward * inward + frame.up * up)
                })
                .collect(),
            axes: frames
                .iter()
                .map(|frame| [frame.inward.cross(&frame.up), frame.inward, frame.up])
                .collect(),
            spacing_mm: ring.length_mm() / ring.points.len() as f64,
            noise_mm: noise_um(preparation).map(|um| um / 1000.0),
        }
    }

    fn n(&self) -> usize {
        self.points.len()
    }

    /// `(along, inward, up)` of the seen points within `reach_mm`, seen from a station; `along` by station.
    fn near(&self, place: usize, reach_mm: f64) -> Vec<(f64, [f64; 2])> {
        let reach = (reach_mm / self.spacing_mm).round() as isize;
        let n = self.n() as isize;
        let Some(origin) = self.points[place] else { return Vec::new() };
        let [_, inward, up] = self.axes[place];
        (-reach..=reach)
            .filter_map(|step| {
                let point = self.points[(place as isize + step).rem_euclid(n) as usize]?;
                let at = point - origin;
                Some((step as f64 * self.spacing_mm, [at.dot(&inward), at.dot(&up)]))
            })
            .collect()
    }

    /// Departure of a seen point from the smooth form, inward and up, mm.
    fn departure_mm(&self, place: usize) -> Option<[f64; 2]> {
        let near = self.near(place, FORM_MM);
        let one = |k: usize| {
            let pairs: Vec<(f64, f64)> =
                near.iter().map(|(along, off)| (along / (FORM_MM + self.spacing_mm), off[k])).collect();
            (pairs.len() >= 9).then(|| local_quadratic(&pairs)).flatten().map(|smooth| -smooth)
        };
        Some([one(0)?, one(1)?])
    }

    /// Height of a step at a place, inward and up, with its standard error: a cubic and a step fitted at once. `None` where a tenth
    /// of the line beside it was not seen: where gingiva begins to cover it, its end cannot be told from a step.
    fn step_mm(&self, place: usize) -> Option<[(f64, f64); 2]> {
        let near = self.near(place, JUMP_MM);
        if near.len() < (1.8 * JUMP_MM / self.spacing_mm) as usize {
            return None;
        }
        let near: Vec<(f64, [f64; 2])> = near
            .into_iter()
            .filter(|(along, _)| along.abs() > (SHARED as f64 + 0.5) * self.spacing_mm)
            .collect();
        let each_side = |side: f64| near.iter().filter(|(along, _)| along * side > 0.0).count();
        if each_side(1.0) < 5 || each_side(-1.0) < 5 {
            return None;
        }
        Some([step_of(&near, 0, self.noise_mm[0])?, step_of(&near, 1, self.noise_mm[1])?])
    }

    fn jumps(&self, from_mm: f64) -> Vec<Step> {
        const BEYOND_SIGMAS: f64 = 4.5;
        let n = self.n();
        let sizes: Vec<Option<([f64; 2], f64)>> = (0..n)
            .map(|place| {
                let [across, along] = self.step_mm(place)?;
                let clear = |(mm, sigma_mm): (f64, f64)| mm.abs() > from_mm.max(BEYOND_SIGMAS * sigma_mm);
                (clear(across) || clear(along)).then(|| ([across.0, along.0], across.0.hypot(along.0)))
            })
            .collect();
        // Of a cluster the largest.
        let half = (JUMP_MM / self.spacing_mm).round() as usize;
        (0..n)
            .filter_map(|place| {
                let (jump_mm, size_mm) = sizes[place]?;
                let beaten = (1..=half).any(|step| {
                    let size = |other: usize| sizes[other].map_or(0.0, |(_, mm)| mm);
                    size((place + step) % n) >= size_mm || size((place + n - step % n) % n) > size_mm
                });
                (!beaten).then_some(Step { place, jump_mm, lost_mm: 0.0 })
            })
            .collect()
    }

    fn breaks(&self, from_mm: f64) -> Vec<Step> {
        let n = self.n();
        let Some(start) = self.points.iter().position(Option::is_some) else { return Vec::new() };
        let (mut found, mut length) = (Vec::new(), 0);
        for step in 1..=n {
            let place = (start + step) % n;
            if self.points[place].is_none() {
                length += 1;
                continue;
            }
            let lost_mm = length as f64 * self.spacing_mm;
            if length > 0 && lost_mm >= from_mm {
                found.push(Step { place: (place + n - 1 - length / 2) % n, jump_mm: [0.0; 2], lost_mm });
            }
            length = 0;
        }
        found
    }
}

/// The coefficient of the step beside a cubic, and its standard error. A line that a smooth curve of the fifth degree
/// follows about as well has no step: 0.
fn step_of(near: &[(f64, [f64; 2])], which: usize, noise_mm: f64) -> Option<(f64, f64)> {
    const BETTER: f64 = 0.7;
    let pairs: Vec<(f64, f64)> = near.iter().map(|(along, off)| (along / JUMP_MM, off[which])).collect();
    let (fit, covariance, squares) =
        fitted(&pairs, |x| SVector::from([1.0, x, x * x, x * x * x, 0.5 * x.signum()]))?;
    let free = near.len() as f64 - 5.0;
    let variance = (squares / free.max(1.0)).max(noise_mm * noise_mm);
    let sigma_mm = (variance * covariance[(4, 4)] * STATIONS_A_SAMPLE).sqrt();
    let smooth = fitted(&pairs, |x| SVector::from([0, 1, 2, 3, 4, 5].map(|power| x.powi(power))))?;
    Some((if squares < BETTER * smooth.2 { fit[4] } else { 0.0 }, sigma_mm))
}

/// Coefficients, unscaled covariance and sum of squares of a linear fit.
fn fitted<const N: usize>(
    pairs: &[(f64, f64)],
    row: impl Fn(f64) -> SVector<f64, N>,
) -> Option<(SVector<f64, N>, SMatrix<f64, N, N>, f64)> {
    let (mut normal, mut right) = (SMatrix::<f64, N, N>::zeros(), SVector::<f64, N>::zeros());
    for &(x, value) in pairs {
        normal += row(x) * row(x).transpose();
        right += row(x) * value;
    }
    let inverse = normal.try_inverse()?;
    let fit = inverse * right;
    let squares = pairs.iter().map(|&(x, value)| (value - row(x).dot(&fit)).powi(2)).sum();
    Some((fit, inverse, squares))
}

fn roughness(preparation: &Preparation<'_>, sheet: &mut Sheet, line: &RawLine) {
    let departures: Vec<[f64; 2]> = (0..line.n()).filter_map(|place| line.departure_mm(place)).collect();
    if departures.len() < line.n() / 2 {
        sheet.refuse(ROUGHNESS, "the finish line was seen on less than half of its length");
        return;
    }
    let n = departures.len() as f64;
    let mean_square = |k: usize| departures.iter().map(|off| off[k] * off[k]).sum::<f64>() / n;
    let squares = [mean_square(0), mean_square(1)].map(|square| square * 1e6);
    let noise = noise_um(preparation).map(|um| um * um);
    let independent = n / STATIONS_A_SAMPLE;
    let (value, u95) = beyond_noise(squares[0] + squares[1], noise[0] + noise[1], NOISE_SHARE, independent);
    let part = |k: usize| beyond_noise(squares[k], noise[k], NOISE_SHARE, independent).0;
    let worst = (0..line.n())
        .filter_map(|place| Some((line.departure_mm(place)?, place)))
        .max_by(|a, b| a.0[0].hypot(a.0[1]).total_cmp(&b.0[0].hypot(b.0[1])));
    let place = worst.map(|(_, place)| preparation.place_of(&preparation.ring.points[place]));
    let reading = number(value, "um", u95.hypot(FORM_SHARE * value))
        .with("radius_um", part(0))
        .with("height_um", part(1))
        .with("noise_um", (noise[0] + noise[1]).sqrt())
        .with("greatest_um", worst.map_or(f64::NAN, |(off, _)| 1000.0 * off[0].hypot(off[1])))
        .noted(
            "root mean square departure from a smooth line over 2 mm to each side, less what scan noise does",
        )
        .at(place);
    sheet.write(ROUGHNESS, reading);
}

/// What noise and facets do to the line in radius and in height, µm: multiples of the scan's noise that phantom scans
/// show. A round floor leaves the edge less certain than a straight one, and without a before scan the edge rests on
/// the chopped corner.
fn noise_um(preparation: &Preparation<'_>) -> [f64; 2] {
    const STRAIGHT: [f64; 2] = [1.0, 1.35];
    const ROUND: [f64; 2] = [1.5, 1.9];
    let (noise_um, edge_um) = (1000.0 * preparation.noise_mm, 1000.0 * preparation.edge_mm);
    let n_round = preparation.stations.iter().filter(|station| station.floor_is_arc == Some(true)).count();
    let round = n_round as f64 / preparation.stations.len().max(1) as f64;
    let facets_um = if preparation.change.is_some() { 0.02 * edge_um } else { 0.12 * edge_um };
    [0, 1].map(|k| {
        let square = (1.0 - round) * STRAIGHT[k].powi(2) + round * ROUND[k].powi(2);
        (noise_um * square.sqrt()).hypot(facets_um)
    })
}

fn steps(preparation: &Preparation<'_>, sheet: &mut Sheet, found: &[Step]) {
    let point = |step: &Step| preparation.ring.points[step.place];
    let size = |step: &Step| step.jump_mm[0].hypot(step.jump_mm[1]).max(step.lost_mm);
    // A jump is seen for certain; where the line is lost it may only be hidden.
    let by_size = |a: &&Step, b: &&Step| {
        let is_jump = |step: &Step| step.lost_mm == 0.0;
        is_jump(a).cmp(&is_jump(b)).then(size(a).total_cmp(&size(b)))
    };
    let worst = found.iter().max_by(by_size);
    let n_lost = found.iter().filter(|step| step.lost_mm > 0.0).count();
    let mut reading = number(found.len() as f64, "", f64::NAN)
        .with("lost", n_lost as f64)
        .at(worst.map(|step| preparation.place_of(&point(step))));
    for (k, step) in found.iter().enumerate() {
        let place = preparation.place_of(&point(step));
        let what = if step.lost_mm > 0.0 {
            format!("lost over {:.1} mm", step.lost_mm)
        } else {
            let [inward, up] = step.jump_mm.map(|mm| 1000.0 * mm.abs());
            format!("jump of {up:.0} um in height and {inward:.0} um in radius")
        };
        let text = format!("{what} at {:.0} deg, {}", place.angle_deg, place.aspect);
        reading.extras.insert(format!("step_{}", k + 1), Value::Text(text));
    }
    if let Some(step) = worst.filter(|step| step.lost_mm == 0.0) {
        let [inward, up] = step.jump_mm;
        reading = reading.with("greatest_um", 1000.0 * inward.hypot(up));
    }
    sheet.write(STEPS, reading);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_step_on_a_cubic_is_found_exactly() {
        let near: Vec<(f64, [f64; 2])> = (-10..=10)
            .filter(|&k| k != 0)
            .map(|k| 0.15 * f64::from(k))
            .map(|x| (x, [0.3 * x * x * x - x + if x > 0.0 { 0.1 } else { 0.0 }, 0.0]))
            .collect();
        let (step_mm, _) = step_of(&near, 0, 0.0).unwrap();
        assert!((step_mm - 0.1).abs() < 1e-9, "{step_mm}");
        assert!(step_of(&near, 1, 0.0).unwrap().0.abs() < 1e-12);
    }
}
