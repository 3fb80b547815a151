//! Brings two scans of the same dental arch into one frame, from any pose, and knows when it could not.
//!
//! ```text
//! Surface ─▶ cloud, feature, matching ─▶ consensus ─▶ search ─▶ decide ─▶ refine ─▶ Registration
//!            thinned, weighted points    many poses   a few     one, or    the pose   with evidence
//!                                                               an error
//! ```
//!
//! Nothing is assumed about the starting poses, and up to two fifths of the teeth's surface may have been cut.
//! The same scans give the same bits, whatever the number of threads.

mod cells;
mod cloud;
mod consensus;
mod decide;
mod error;
mod feature;
mod field;
mod judge;
mod matching;
mod options;
mod picks;
mod random;
mod refine;
mod registration;
mod search;
mod solve;
mod uncertainty;

pub use error::RegistrationError;
pub use options::Options;
pub use registration::{Explained, Registration, Rival};
pub use search::Memory;
pub use uncertainty::PoseUncertainty;

use field::Field;
use judge::Score;
use kerfwright_geometry::Surface;
use nalgebra::Isometry3;
use refine::{Effort, Fit, TUKEY, pairs, refine, scale_mm};
use search::{Scored, Side, search, search_everywhere};
use std::ops::RangeInclusive;

/// Less surface than this is no arch, mm².
const LEAST_AREA_MM2: f64 = 30.0;
/// Surface counts as explained within this many noise units, but neither bound below nor above, mm.
const TOLERANCE_IN_NOISE: f64 = 4.0;
const TOLERANCE_MM: RangeInclusive<f64> = 0.03..=0.12;
/// A pose less certain than this at the centre of the overlap is refused.
const MOST_UNCERTAINTY_MM: f64 = 0.05;
const MOST_TURN_DEG: f64 = 0.25;

/// Finds the pose of `moving` in the frame of `fixed`.
///
/// Both show the same arch, or parts of it that overlap; `moving` may be the same arch after cutting. Millimetres,
/// triangles counter-clockwise from outside.
///
/// # Errors
/// Every [`RegistrationError`] means that no pose is certain enough to read anything from.
pub fn register(
    fixed: &Surface,
    moving: &Surface,
    options: &Options,
) -> Result<Registration, RegistrationError> {
    registered_from(fixed, moving, options, |spacing_mm| {
        Side::new(fixed, spacing_mm, options.fixed_weights.as_deref())
    })
}

/// The same for a fixed scan that is registered with many others, which `memory` spares the repetition.
///
/// # Errors
/// As for [`register`].
pub fn register_again(
    fixed: &Surface,
    memory: &Memory,
    moving: &Surface,
) -> Result<Registration, RegistrationError> {
    registered_from(fixed, moving, &Options::default(), |spacing_mm| {
        Side::remembered(fixed, spacing_mm, memory)
    })
}

fn registered_from<'a>(
    fixed: &'a Surface,
    moving: &Surface,
    options: &Options,
    fixed_side: impl FnOnce(f64) -> Side<'a> + Send,
) -> Result<Registration, RegistrationError> {
    let (fixed_mm2, moving_mm2) = rayon::join(|| fixed.mesh.area_mm2(), || moving.mesh.area_mm2());
    check("fixed", fixed, fixed_mm2, options.fixed_weights.as_deref())?;
    check("moving", moving, moving_mm2, options.moving_weights.as_deref())?;
    let spacing_mm = spacing_mm(fixed_mm2.max(moving_mm2));
    let (fixed_side, moving_side) = rayon::join(
        || fixed_side(spacing_mm),
        || Side::new(moving, spacing_mm, options.moving_weights.as_deref()),
    );
    // The smaller scan is laid onto the larger one: most of it then has a partner.
    if moving_side.features.cloud.area_mm2() <= fixed_side.features.cloud.area_mm2() {
        registered(&moving_side, &fixed_side, options.ignore_features)
    } else {
        registered(&fixed_side, &moving_side, options.ignore_features).map(Registration::inverted)
    }
}

/// Registers `source` as the moving scan.
fn registered(
    source: &Side,
    target: &Side,
    ignore_features: bool,
) -> Result<Registration, RegistrationError> {
    let tolerance_mm = tolerance_mm(source.surface, target.surface);
    let field = Field::new(&target.features.cloud);
    let first = if ignore_features { search_everywhere } else { search };
    let mut found = first(source, target, &field, &tolerance_mm);
    if !found.poses.first().is_some_and(|best| decide::is_sure(&best.score)) {
        let mirrored = search(&source.mirrored(), target, &field, &tolerance_mm);
        decide::refuse_mirrored(found.poses.first(), mirrored.poses.first())?;
        if !found.poses.first().is_some_and(|best| decide::is_acceptable(&best.score)) {
            let wider = search_everywhere(source, target, &field, &tolerance_mm);
            if wider.poses.first().is_some_and(|best| decide::is_acceptable(&best.score)) {
                decide::refuse_mirrored(wider.poses.first(), mirrored.poses.first())?;
                found = wider;
            }
        }
    }
    let best = found.poses.first();
    let Some(best) = best.filter(|best| decide::is_acceptable(&best.score)) else {
        return Err(decide::refuse(best));
    };
    let rivals = &found.poses[1..];
    decide::refuse_ambiguous(best, rivals, &source.features.cloud.centre())?;
    with_evidence(source, target, best, rivals, found.tolerance_mm)
}

/// The fine fit on three quarters of the points, judged on the fourth.
fn with_evidence(
    source: &Side,
    target: &Side,
    best: &Scored,
    rivals: &[Scored],
    tolerance_mm: f64,
) -> Result<Registration, RegistrationError> {
    let poorly = |uncertainty_mm, turn_deg| RegistrationError::PoorlyHeld { uncertainty_mm, turn_deg };
    let (fitted, held_out) = source.features.picks.split();
    let effort = Effort { start_mm: (10.0 * best.scale_mm).clamp(0.05, 0.3), rounds: 20, settled_mm: 5e-5 };
    let fit = refine(&fitted, target.surface, best.target_from_source, effort)
        .ok_or_else(|| poorly(f64::INFINITY, f64::INFINITY))?;
    let pose = fit.target_from_source;
    let within_mm = TUKEY * fit.scale_mm;
    let used = pairs(&fitted, target.surface, &pose, within_mm);
    let uncertainty =
        PoseUncertainty::new(&used, &fit, &fitted).ok_or_else(|| poorly(f64::INFINITY, f64::INFINITY))?;
    let (uncertainty_mm, turn_deg) = (uncertainty.at_mm(&uncertainty.centre), uncertainty.turn_deg());
    if !(uncertainty_mm <= MOST_UNCERTAINTY_MM && turn_deg <= MOST_TURN_DEG) {
        return Err(poorly(uncertainty_mm, turn_deg));
    }
    let (residual_um, held_out_points) = residual(&held_out, target.surface, &fit);
    let explained = |of: &Side, onto: &Side, onto_from_of: Isometry3<f64>| {
        let score = Score::new(&of.features.picks.thinned(3000), onto.surface, &onto_from_of, tolerance_mm);
        Explained::new(&score, &of.features.cloud)
    };
    let (moving, fixed) =
        rayon::join(|| explained(source, target, pose), || explained(target, source, pose.inverse()));
    let rivals = rivals.iter().map(|rival| Rival::new(rival, best)).collect();
    Ok(Registration {
        fixed_from_moving: pose,
        residual_um,
        held_out_points,
        tolerance_mm,
        fixed,
        moving,
        uncertainty,
        rivals,
    })
}

/// Weighted root mean square over the unchanged part of points that were kept out of the fit, µm, and their number.
fn residual(held_out: &picks::Picks, target: &Surface, fit: &Fit) -> (f64, usize) {
    let near = pairs(held_out, target, &fit.target_from_source, 2.0 * TUKEY * fit.scale_mm);
    let cut_mm = TUKEY * scale_mm(&near);
    let unchanged = near.iter().filter(|pair| pair.distance_mm.abs() < cut_mm);
    let (mut sum, mut weight, mut count) = (0.0, 0.0, 0);
    for pair in unchanged {
        sum += pair.weight * pair.distance_mm * pair.distance_mm;
        weight += pair.weight;
        count += 1;
    }
    (1000.0 * (sum / f64::max(weight, 1e-12)).sqrt(), count)
}

fn check(
    which: &'static str,
    surface: &Surface,
    area_mm2: f64,
    weights: Option<&[f64]>,
) -> Result<(), RegistrationError> {
    if area_mm2.is_nan() || area_mm2 < LEAST_AREA_MM2 {
        return Err(RegistrationError::TooSmall { which, area_mm2 });
    }
    let vertices = surface.mesh.vertices.len();
    let fits = |weights: &[f64]| {
        weights.len() == vertices && weights.iter().all(|weight| weight.is_finite() && 0.0 <= *weight)
    };
    match weights {
        Some(weights) if !fits(weights) => {
            Err(RegistrationError::Weights { which, given: weights.len(), vertices })
        }
        _ => Ok(()),
    }
}

/// Spacing of the coarse search: fine for a quadrant, coarser for an arch (by the larger scan's area), the same for both.
fn spacing_mm(area_mm2: f64) -> f64 {
    (area_mm2 / 1900.0).sqrt().clamp(0.8, 1.0)
}

/// A few units of the noisier scan, and the most it may be widened to.
fn tolerance_mm(source: &Surface, target: &Surface) -> RangeInclusive<f64> {
    let noise = [source, target].map(|surface| {
        let count = surface.mesh.vertices.len() as u32;
        let vertices: Vec<u32> = (0..count).step_by(count as usize / 600 + 1).collect();
        kerfwright_geometry::noise_mm(surface, &vertices)
    });
    let (least_mm, most_mm) = (*TOLERANCE_MM.start(), *TOLERANCE_MM.end());
    (TOLERANCE_IN_NOISE * noise[0].max(noise[1])).clamp(least_mm, most_mm)..=most_mm
}
