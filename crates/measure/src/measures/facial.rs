//! `facial.*`: is the facial wall cut in one plane or in two?
//!
//! In each section of the facial aspect's middle half the profile of the wall, from above the fillet to 0.4 mm below the
//! occlusal line angle (0.25 mm if a plane is short), is fitted by two lines that meet at a break. The height of the break
//! over the finish line is the same for all sections: the one with the least misfit. The angle is the median over the
//! sections.
//!
//! Two planes are found if the angle reaches the least one in `data/facial_planes.toml`; where it does so or fails to
//! by less than its uncertainty, the reading says that it is too close to call. Where the part above the break is not
//! straight but rounded over, or too short to tell, nothing is read.

use nalgebra::{Matrix3, Point2, Vector3};
use serde::Deserialize;

use super::Middle;
use super::profile::wall_profile;
use crate::frame::Aspect;
use crate::preparation::Preparation;
use crate::sheet::{Sheet, expanded, number};
use crate::stats::{median, robust_sigma};

/// The built-in bounds.
const TABLE: &str = include_str!("../../data/facial_planes.toml");
/// Where a break is sought first: a rounded edge reaches so far.
const USUAL: Reach = Reach { keep_off_mm: 0.4, least_plane_mm: 0.7 };
/// Where it is sought if a plane seems to be shorter.
const SHORT: Reach = Reach { keep_off_mm: 0.25, least_plane_mm: 0.5 };
/// Spacing of the heights at which a break is tried, mm.
const STEP_MM: f64 = 0.05;
/// What fillets, rounded edges and the choice of the wall's ends leave in the angle, degrees (1 sigma, from phantom scans).
const ENDS_DEG: f64 = 0.4;
/// Stations that share triangles and so count as one.
const STATIONS_A_SAMPLE: f64 = 3.0;

#[derive(Debug, Clone, Copy, Deserialize)]
#[serde(deny_unknown_fields)]
struct Bounds {
    least_angle_deg: f64,
}

/// Where a break is sought.
#[derive(Debug, Clone, Copy)]
struct Reach {
    /// How far below the line angle the profile ends, mm.
    keep_off_mm: f64,
    /// How long each plane is at least, mm.
    least_plane_mm: f64,
}

/// A wall fitted by two planes.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Bend {
    /// Angle between the planes, positive where the upper one leans farther in, degrees.
    angle_deg: f64,
    /// Its standard error.
    sigma_deg: f64,
    /// Height of the break over the finish line, mm.
    break_mm: f64,
    /// Taper of the plane below and of that above, degrees.
    tapers_deg: [f64; 2],
    /// Whether the upper part curves instead of standing straight.
    is_rounded: bool,
    /// Whether the best break is the lowest or the highest tried.
    is_at_end: bool,
}

/// Number of planes, angle between them, and where the wall breaks.
pub fn take(preparation: &Preparation<'_>, sheet: &mut Sheet) {
    const IDS: [&str; 2] = ["facial.planes", "facial.second_plane_deg"];
    let bounds: Bounds = match toml::from_str(TABLE) {
        Ok(bounds) => bounds,
        Err(error) => {
            IDS.iter().for_each(|id| sheet.refuse(*id, format!("the bounds cannot be read: {error}")));
            return;
        }
    };
    let Some(bend) = Bend::of(preparation, &bounds) else {
        let reason = "the facial wall was seen in too few sections, or its upper part is shorter than 0.5 mm or \
                      rounded over";
        IDS.iter().for_each(|id| sheet.refuse(*id, reason));
        return;
    };
    let u95 = expanded(&[bend.sigma_deg, ENDS_DEG]);
    let is_two = bend.angle_deg >= bounds.least_angle_deg;
    let is_close = (bend.angle_deg - bounds.least_angle_deg).abs() < u95;
    let note = match (is_close, is_two) {
        (true, _) => format!(
            "too close to call: {:.1} deg against a least angle of {:.1} deg for a second plane",
            bend.angle_deg, bounds.least_angle_deg
        ),
        (false, true) => "two planes that meet at break_mm over the finish line".into(),
        (false, false) => "one plane".into(),
    };
    let facial = Middle::of(preparation, Aspect::Facial, |station| Some(station.wall.as_ref()?.top?.y));
    let place = facial.middle_place().map(|place| preparation.place_of_station(place));
    let n_planes = if is_two { 2.0 } else { 1.0 };
    sheet.write(IDS[0], number(n_planes, "", f64::NAN).noted(note.clone()).at(place.clone()));
    let mut angle = number(bend.angle_deg, "deg", u95).noted(note).at(place);
    if is_two || is_close {
        let break_share_pct = 100.0 * bend.break_mm / facial.median().unwrap_or(f64::NAN);
        angle = angle
            .with("break_mm", bend.break_mm)
            .with("break_share_pct", break_share_pct)
            .with("first_taper", bend.tapers_deg[0])
            .with("second_taper", bend.tapers_deg[1]);
    }
    sheet.write(IDS[1], angle);
}

impl Bend {
    /// The facial wall's bend; `None` where it cannot be told from an end that is rounded over.
    fn of(preparation: &Preparation<'_>, bounds: &Bounds) -> Option<Self> {
        let is_cut_short = |bend: &Self| bend.is_at_end && bend.angle_deg > bounds.least_angle_deg;
        let is_clear = |bend: &Self| !(bend.is_rounded || is_cut_short(bend));
        // A short plane beside a long one looks like a rounded end: then a closer look is taken.
        let looks = [USUAL, SHORT].into_iter();
        looks.filter_map(|reach| Self::within(preparation, reach)).find(is_clear)
    }

    /// Over the sections in the middle half of the facial aspect.
    fn within(preparation: &Preparation<'_>, reach: Reach) -> Option<Self> {
        let stations = preparation.stations.iter();
        let facial = stations.filter(|station| Aspect::Facial.holds_in_middle(station.angle_deg));
        let profiles: Vec<Vec<Point2<f64>>> =
            facial.filter_map(|station| wall_profile(station, reach.keep_off_mm)).collect();
        Self::find(&profiles, reach.least_plane_mm)
    }

    /// Fits profiles `(inward, height)` by two lines each, all broken at the same height.
    fn find(profiles: &[Vec<Point2<f64>>], least_plane_mm: f64) -> Option<Self> {
        let ends = |pick: fn(f64, f64) -> f64, from: f64| {
            let end = |points: &Vec<Point2<f64>>| points.iter().map(|point| point.y).fold(from, pick);
            median(&profiles.iter().filter(|points| points.len() >= 8).map(end).collect::<Vec<_>>())
        };
        let (low_mm, high_mm) = (ends(f64::min, f64::INFINITY)?, ends(f64::max, f64::NEG_INFINITY)?);
        let n_steps = ((high_mm - low_mm - 2.0 * least_plane_mm) / STEP_MM).floor();
        if n_steps < 0.0 || profiles.len() < 4 {
            return None;
        }
        let tried: Vec<(f64, Vec<TwoLines>)> = (0..=n_steps as usize)
            .map(|step| {
                let break_mm = low_mm + least_plane_mm + STEP_MM * step as f64;
                (break_mm, profiles.iter().filter_map(|points| TwoLines::fit(points, break_mm)).collect())
            })
            .collect();
        // A fillet bends the other way: it is no second plane.
        let leaning = tried.iter().filter(|(_, fits)| median_of(fits, TwoLines::angle_deg) > Some(0.0));
        let misfit = |fits: &[TwoLines]| median_of(fits, |fit| fit.rms_mm).unwrap_or(f64::INFINITY);
        let best = leaning.min_by(|a, b| misfit(&a.1).total_cmp(&misfit(&b.1)));
        let (break_mm, fits) = best.unwrap_or(&tried[tried.len() / 2]);
        let is_at_end = *break_mm == tried[0].0 || *break_mm == tried[tried.len() - 1].0;
        let angles: Vec<f64> = fits.iter().map(TwoLines::angle_deg).collect();
        let angle_deg = median(&angles)?;
        Some(Self {
            angle_deg,
            sigma_deg: standard_error(&angles)?,
            break_mm: *break_mm,
            tapers_deg: [
                median_of(fits, |fit| fit.lean[0].atan().to_degrees())?,
                median_of(fits, |fit| fit.lean[1].atan().to_degrees())?,
            ],
            is_rounded: is_rounded(profiles, *break_mm, angle_deg),
            is_at_end,
        })
    }
}

/// Whether the part above the break goes on bending by more than half the angle at the break, beyond doubt.
fn is_rounded(profiles: &[Vec<Point2<f64>>], break_mm: f64, angle_deg: f64) -> bool {
    let bends: Vec<f64> = profiles
        .iter()
        .filter_map(|points| {
            let upper: Vec<Point2<f64>> =
                points.iter().copied().filter(|point| point.y > break_mm + STEP_MM).collect();
            let top_mm = upper.iter().map(|point| point.y).fold(f64::NEG_INFINITY, f64::max);
            Some(TwoLines::fit(&upper, 0.5 * (break_mm + top_mm))?.angle_deg())
        })
        .collect();
    match (median(&bends), standard_error(&bends)) {
        (Some(bend), Some(sigma)) => bend - 3.0 * sigma > 0.5 * angle_deg.max(0.0),
        _ => false,
    }
}

fn standard_error(values: &[f64]) -> Option<f64> {
    let n = (values.len() as f64 / STATIONS_A_SAMPLE).max(1.0);
    Some(1.2533 * robust_sigma(values)? / n.sqrt())
}

fn median_of(fits: &[TwoLines], value: impl Fn(&TwoLines) -> f64) -> Option<f64> {
    median(&fits.iter().map(value).collect::<Vec<_>>())
}

/// Two lines through a profile that meet at a given height.
#[derive(Debug, Clone, Copy)]
struct TwoLines {
    /// Inward over upward, below and above.
    lean: [f64; 2],
    rms_mm: f64,
}

impl TwoLines {
    /// Least squares of inward place on height, after one round without what lies off by more than three times the
    /// robust scatter.
    fn fit(points: &[Point2<f64>], break_mm: f64) -> Option<Self> {
        let row = |point: &Point2<f64>| Vector3::new(1.0, point.y - break_mm, (point.y - break_mm).max(0.0));
        let solve = |kept: &dyn Fn(&Point2<f64>) -> bool| {
            let (mut normal, mut right, mut n) = (Matrix3::zeros(), Vector3::zeros(), 0);
            for point in points.iter().filter(|point| kept(point)) {
                let row = row(point);
                normal += row * row.transpose();
                right += row * point.x;
                n += 1;
            }
            (n >= 6).then(|| normal.cholesky().map(|factor| factor.solve(&right))).flatten()
        };
        let first = solve(&|_| true)?;
        let off = |solved: &Vector3<f64>, point: &Point2<f64>| point.x - row(point).dot(solved);
        let residuals: Vec<f64> = points.iter().map(|point| off(&first, point)).collect();
        let limit_mm = 3.0 * robust_sigma(&residuals)?.max(1e-4);
        let solved = solve(&|point| off(&first, point).abs() <= limit_mm)?;
        let squares: f64 =
            points.iter().map(|point| off(&solved, point).powi(2).min(limit_mm * limit_mm)).sum();
        Some(Self { lean: [solved.y, solved.y + solved.z], rms_mm: (squares / points.len() as f64).sqrt() })
    }

    fn angle_deg(&self) -> f64 {
        (self.lean[1].atan() - self.lean[0].atan()).to_degrees()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Thirteen profiles from 0.5 to 4 mm, leaning by 6° below and by `angle_deg` more above `break_mm`, over whose last
    /// `round_mm` the wall bends away along an arc; ±`noise_mm` in a fixed pattern.
    fn profiles(angle_deg: f64, break_mm: f64, round_mm: f64, noise_mm: f64) -> Vec<Vec<Point2<f64>>> {
        let (low, high) = (6f64.to_radians().tan(), (6.0 + angle_deg).to_radians().tan());
        let mut state = 1u32;
        let mut noise = || {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            noise_mm * 3f64.sqrt() * (f64::from(state >> 8) / f64::from(1 << 23) - 1.0)
        };
        let mut place = |height: f64| {
            let above = (height - break_mm).max(0.0);
            let round = (height - (4.0 - round_mm)).max(0.0);
            let arc = if round_mm > 0.0 {
                round_mm - (round_mm * round_mm - round * round).max(0.0).sqrt()
            } else {
                0.0
            };
            Point2::new(height * low + above * (high - low) + arc + noise(), height)
        };
        (0..13).map(|_| (0..46).map(|k| place(0.5 + 0.075 * f64::from(k))).collect()).collect()
    }

    #[test]
    fn two_lines_are_found_with_their_angle_and_their_break() {
        for (angle_deg, break_mm) in [(5.0, 1.5), (8.0, 2.0), (12.0, 2.5), (20.0, 3.0)] {
            let exact = Bend::find(&profiles(angle_deg, break_mm, 0.0, 0.0), 0.7).unwrap();
            assert!((exact.angle_deg - angle_deg).abs() < 1e-6, "{exact:?}");
            assert!((exact.break_mm - break_mm).abs() < 1e-9 && !exact.is_rounded, "{exact:?}");
            let noisy = Bend::find(&profiles(angle_deg, break_mm, 0.0, 0.008), 0.7).unwrap();
            assert!((noisy.angle_deg - angle_deg).abs() < 0.5, "{noisy:?}");
            assert!((noisy.break_mm - break_mm).abs() < 0.15, "{noisy:?}");
            assert!(
                (noisy.angle_deg - angle_deg).abs() < 4.0 * noisy.sigma_deg && !noisy.is_rounded,
                "{noisy:?}"
            );
        }
    }

    #[test]
    fn one_line_has_no_second_plane_and_a_rounded_top_is_none() {
        let straight = Bend::find(&profiles(0.0, 2.0, 0.0, 0.008), 0.7).unwrap();
        assert!(straight.angle_deg.abs() < 0.5, "{straight:?}");
        // An arc over the last 1.2 mm, cut off where it has bent by 40°: the profile ends below the line angle.
        let mut rounded = profiles(0.0, 2.0, 1.2, 0.004);
        rounded.iter_mut().for_each(|points| points.retain(|point| point.y < 3.6));
        let bend = Bend::find(&rounded, 0.7).unwrap();
        assert!(bend.is_rounded && bend.angle_deg > 4.0, "{bend:?}");
    }
}
