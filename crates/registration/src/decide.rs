//! When a pose is believed.

use crate::RegistrationError;
use crate::judge::Score;
use crate::search::Scored;
use nalgebra::Point3;

/// A pose needs this share of the weighted overlap unchanged: with two fifths of the teeth cut, three fifths remain.
const LEAST_SHARE: f64 = 0.35;
/// Crossing surfaces have a peak of about 0.25, those that belong together about 1.
const LEAST_PEAK: f64 = 0.7;
/// Above these three a pose needs no look at the mirror image.
const SURE_SHARE: f64 = 0.35;
const SURE_PEAK: f64 = 0.9;
const SURE_CONTRADICTION: f64 = 0.04;
/// Contradiction above which a pose is not believed.
const MOST_CONTRADICTION: f64 = 0.08;
/// How many times contradicted surface counts against a pose that is weighed against another.
const CONTRADICTION_COUNTS: f64 = 5.0;
/// Explained weighted surface that can carry a pose, mm²: a third of a crown.
const LEAST_EXPLAINED_MM2: f64 = 40.0;
/// ... and its least share of the smaller scan's weighted surface.
const LEAST_OF_SCAN: f64 = 0.08;
/// How much better the mirror image must be.
const MIRROR_FACTOR: f64 = 1.25;
/// A rival this close to the best, in merit and in size, makes the pose ambiguous.
const RIVAL_MERIT: f64 = 0.8;
const RIVAL_SIZE: f64 = 0.25;

/// Explained share, less where surfaces merely cross, and less where the scans contradict each other on both sides.
fn merit(score: &Score) -> f64 {
    let plausible = 1.0 - CONTRADICTION_COUNTS * score.contradiction();
    score.share() * score.peak() * plausible.max(0.0)
}

fn is_large(score: &Score) -> bool {
    LEAST_EXPLAINED_MM2.max(LEAST_OF_SCAN * score.source_mm2) <= score.explained_mm2
}

fn agrees(score: &Score) -> bool {
    LEAST_SHARE <= score.share() && LEAST_PEAK <= score.peak() && score.contradiction() <= MOST_CONTRADICTION
}

/// Whether a pose can be believed.
pub(crate) fn is_acceptable(score: &Score) -> bool {
    is_large(score) && agrees(score)
}

/// Whether a pose is so good that its mirror image need not be tried.
pub(crate) fn is_sure(score: &Score) -> bool {
    is_large(score)
        && SURE_SHARE <= score.share()
        && SURE_PEAK <= score.peak()
        && score.contradiction() <= SURE_CONTRADICTION
}

/// The error when the mirror image explains clearly more than the best pose.
pub(crate) fn refuse_mirrored(
    direct: Option<&Scored>,
    mirrored: Option<&Scored>,
) -> Result<(), RegistrationError> {
    let Some(mirrored) = mirrored.filter(|mirrored| is_acceptable(&mirrored.score)) else { return Ok(()) };
    let direct_rank = direct.map_or(0.0, |direct| direct.score.rank());
    if mirrored.score.rank() < MIRROR_FACTOR * direct_rank {
        return Ok(());
    }
    Err(RegistrationError::Mirrored {
        mirrored_pct: 100.0 * mirrored.score.share(),
        explained_pct: 100.0 * direct.map_or(0.0, |direct| direct.score.share()),
    })
}

/// The error that says best why the best pose is not believed.
pub(crate) fn refuse(best: Option<&Scored>) -> RegistrationError {
    match best {
        Some(best) if agrees(&best.score) => {
            RegistrationError::TooLittleOverlap { explained_mm2: best.score.plain_explained_mm2 }
        }
        Some(best) => RegistrationError::NotTheSame {
            explained_pct: 100.0 * best.score.share(),
            contradicted_pct: 100.0 * best.score.contradiction(),
        },
        None => RegistrationError::NotTheSame { explained_pct: 0.0, contradicted_pct: 0.0 },
    }
}

/// The error when a second pose explains its overlap as well as the best one.
///
/// The border of a scan is arbitrary, so a rival may overlap less; it must only be large enough to carry a pose.
pub(crate) fn refuse_ambiguous(
    best: &Scored,
    rivals: &[Scored],
    centre: &Point3<f64>,
) -> Result<(), RegistrationError> {
    let is_rival = |rival: &&Scored| {
        is_acceptable(&rival.score)
            && RIVAL_MERIT * merit(&best.score) <= merit(&rival.score)
            && RIVAL_SIZE * best.score.explained_mm2 <= rival.score.explained_mm2
    };
    let Some(rival) = rivals.iter().find(is_rival) else { return Ok(()) };
    let (first, second) = (&best.target_from_source, &rival.target_from_source);
    Err(RegistrationError::Ambiguous {
        first_pct: 100.0 * best.score.share(),
        second_pct: 100.0 * rival.score.share(),
        apart_mm: (first * centre - second * centre).norm(),
        turned_deg: first.rotation.angle_to(&second.rotation).to_degrees(),
    })
}
