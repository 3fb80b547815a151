//! What keeps a crown from tilting off: its turn about one point of the finish line after another.
//!
//! **Tilting axis.** At a station of the finish line, the tangent of the line as seen along the path: the axis that is
//! square on the station's section. The crown turns about it so that its far side lifts. With `r` from the station to a
//! point of the wall and `t` the unit axis, so turned that `t` × inward points along the path, the crown's inner surface
//! moves there along `t × r`. **The point resists if that leads into the tooth: (`t × r`)·`n` < 0**, `n` the tooth's
//! outward normal. Only what faces away from the axis can.
//!
//! **Opposite wall.** Axial wall (see [`crate::axial_walls`]) that faces away from the axis by no more than 60° sideways and
//! lies in a strip along the section, a fifth as wide as the
//! finish line reaches across from the axis; and, wherever it lies, any wall of a groove or box: wall that faces away
//! from the axis by no more than 45° sideways but stands by more than 45° across the nearest stretch of finish line and has
//! other wall of its height farther out before it, within 45° of its normal (a line angle may turn as far, but nothing lies
//! before it; the rest of a flat wall lies beside it).
//! The *resisting share* is the resisting part of its area.
//!
//! **Limiting taper.** Let a point of the wall lie `h` above the nearest finish line, and the finish line at the axis `p` above that.
//! Let `b` be the horizontal distance from the axis to where the wall under that point, in the lean it has there,
//! reaches the level of its finish line. At a taper `T` the point would resist if `h` > `b` sin `T` cos `T` + `p` cos² `T`, so
//! up to `T` = ½ (asin((2`h` − `p`)/√(`b`² + `p`²)) − atan2(`p`, `b`)): the point's own limiting taper. A point as high as
//! (`p` + √(`b`² + `p`²))/2 resists at every taper, and one as low as (`p` − √(`b`² + `p`²))/2 at none: their limits are ±45°,
//! which the angle does not reach by itself over a raised axis. The wall's is the median over its area: the taper at which
//! half of it resists.
//!
//! In a plane section with a straight wall of height `H` at distance `B` and level finish lines this is ½ asin(`H`/`B`), and the
//! resisting share is 1 − `B` sin `T` cos `T`/`H`. A groove's wall stands nearer to the axis: it has the smaller `B`.

use nalgebra::Vector3;

use crate::axial_walls::WallPatch;
use crate::finish_line::Ring;
use crate::section::SectionFrame;
use crate::stats::weighted_quantile;

/// Half the width of the strip in which the opposite wall is looked at, over the reach of the finish line: wide enough for
/// some hundred triangles, narrow enough for a round wall to count as straight.
const HALF_STRIP: f64 = 0.1;
/// Cosine of 60°: wall in the strip must face away from the axis at least so much.
const FACING_COS: f64 = 0.5;
/// Cosine of 45°: what stands across the finish line by more, and faces away by less, is wall of a groove or box.
const ACROSS_COS: f64 = std::f64::consts::FRAC_1_SQRT_2;
/// From how far out other wall of the same height makes a recess of it, mm; half of what counts as the same height, mm.
const BEYOND_MM: f64 = 0.2;
const LEVEL_MM: f64 = 0.25;
/// A wall that no taper is too much for has this limit, degrees.
const NO_LIMIT_DEG: f64 = 45.0;
/// Less wall than this shows nothing, mm².
const LEAST_WALL_MM2: f64 = 1.0;

/// A wall patch with what it stands over.
#[derive(Debug, Clone, Copy)]
pub struct Footed {
    patch: WallPatch,
    /// Horizontal part of the normal, unit.
    outward: Vector3<f64>,
    /// Height of the nearest finish line, along the path from the coordinate origin, mm.
    foot_mm: f64,
    /// Whether the patch is wall of a groove or box: stands across the finish line with other wall beyond it.
    groove: bool,
}

/// What stands against a crown's turn about one axis.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tilt {
    /// Area of the opposite wall that resists, mm².
    pub resisting_mm2: f64,
    /// Area of the opposite wall, mm².
    pub wall_mm2: f64,
    /// Taper at which half of it would resist, degrees.
    pub limiting_taper_deg: f64,
    /// Its median taper as it is, degrees.
    pub taper_deg: f64,
    /// Median distance from the axis to its foot, mm.
    pub base_mm: f64,
    /// Where on the wall that taper is a place's own.
    pub middle: Place,
}

/// A place of a wall as a turn sees it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Place {
    /// Over the nearest finish line, mm.
    pub height_mm: f64,
    /// From the axis to where the wall under the place, in the lean it has there, reaches that finish line's level, mm.
    pub base_mm: f64,
    /// How far the axis lies over that finish line, mm.
    pub raised_mm: f64,
}

impl Place {
    /// The sine of 2`T` + atan2(`p`, `b`) at the taper `T` up to which the place resists.
    fn sine(&self) -> f64 {
        (2.0 * self.height_mm - self.raised_mm) / self.base_mm.hypot(self.raised_mm)
    }

    /// The taper up to which the place resists: ±45° where no taper is too much, or none little enough.
    pub fn limiting_taper_deg(&self) -> f64 {
        // Also where the axis is raised, so that the angle reaches 90° before the taper 45°.
        let sine = self.sine();
        if sine.abs() >= 1.0 {
            return NO_LIMIT_DEG.copysign(sine);
        }
        let limit_rad = 0.5 * (sine.asin() - self.raised_mm.atan2(self.base_mm));
        // More than a wall of 45° is none.
        limit_rad.to_degrees().clamp(-NO_LIMIT_DEG, NO_LIMIT_DEG)
    }

    /// How far its limiting taper moves at most where it lies higher or lower by `by_mm`, degrees.
    pub fn swing_deg(&self, by_mm: f64) -> f64 {
        let moved = |by_mm: f64| Self { height_mm: self.height_mm + by_mm, ..*self }.limiting_taper_deg();
        let own = self.limiting_taper_deg();
        (moved(by_mm) - own).abs().max((moved(-by_mm) - own).abs())
    }
}

impl Tilt {
    /// Resisting part of the opposite wall, percent.
    pub fn resisting_pct(&self) -> f64 {
        100.0 * self.resisting_mm2 / self.wall_mm2
    }
}

/// Finds for each patch the finish line that it stands over.
pub fn footed(patches: &[WallPatch], ring: &Ring, path: &Vector3<f64>) -> Vec<Footed> {
    use rayon::prelude::*;
    let frames = ring.section_frames(path);
    let stand = |patch: &WallPatch| {
        let mut nearest: Option<(f64, &SectionFrame)> = None;
        for frame in &frames {
            let from = patch.centre - frame.origin;
            let off_mm2 = from.norm_squared() - from.dot(path).powi(2);
            if nearest.is_none_or(|(least_mm2, _)| off_mm2 < least_mm2) {
                nearest = Some((off_mm2, frame));
            }
        }
        let nearest = nearest?.1;
        let outward = (patch.normal - path * patch.normal.dot(path)).try_normalize(1e-9)?;
        let across = outward.dot(&nearest.inward) > -ACROSS_COS;
        Some(Footed {
            patch: *patch,
            outward,
            foot_mm: nearest.origin.coords.dot(path),
            groove: across && has_wall_beyond(patch, &outward, patches, path),
        })
    };
    patches.par_iter().map(stand).collect::<Vec<_>>().into_iter().flatten().collect()
}

/// Whether other wall of a patch's height lies farther out before it, within 45° of its normal.
fn has_wall_beyond(
    patch: &WallPatch,
    outward: &Vector3<f64>,
    patches: &[WallPatch],
    path: &Vector3<f64>,
) -> bool {
    patches.iter().any(|other| {
        let to = other.centre - patch.centre;
        let (up_mm, out_mm) = (to.dot(path), to.dot(outward));
        up_mm.abs() < LEVEL_MM
            && out_mm > BEYOND_MM
            && out_mm > ACROSS_COS * (to.norm_squared() - up_mm.powi(2)).sqrt()
    })
}

/// The turn about the finish line's tangent at a station; `None` where too little wall stands opposite.
pub fn tilt(walls: &[Footed], ring: &Ring, axis: &SectionFrame) -> Option<Tilt> {
    let along = axis.inward.cross(&axis.up);
    let reach = ring.points.iter().map(|point| (point - axis.origin).dot(&axis.inward));
    let half_strip_mm = HALF_STRIP * reach.fold(0.0, f64::max);
    let (mut resisting_mm2, mut wall_mm2) = (0.0, 0.0);
    let (mut places, mut limits, mut tapers, mut bases) = (Vec::new(), Vec::new(), Vec::new(), Vec::new());
    for wall in walls {
        let (from, facing) = (wall.patch.centre - axis.origin, wall.outward.dot(&axis.inward));
        let in_strip = facing > FACING_COS && from.dot(&along).abs() <= half_strip_mm;
        let in_groove = wall.groove && facing > ACROSS_COS;
        if !(in_strip || in_groove) {
            continue;
        }
        let area_mm2 = wall.patch.area_mm2;
        let (out, up) = (wall.patch.normal.dot(&axis.inward), wall.patch.normal.dot(&axis.up));
        let (reach_mm, height_mm) = (from.dot(&axis.inward), from.dot(&axis.up));
        wall_mm2 += area_mm2;
        // (t × r)·n with t × inward = up and t × up = −inward.
        if reach_mm * up - height_mm * out < 0.0 {
            resisting_mm2 += area_mm2;
        }
        let over_foot_mm = wall.patch.centre.coords.dot(&axis.up) - wall.foot_mm;
        let base_mm = reach_mm + over_foot_mm * up / out;
        let place = Place { height_mm: over_foot_mm, base_mm, raised_mm: over_foot_mm - height_mm };
        let limit_deg = place.limiting_taper_deg();
        places.push(((limit_deg, place.sine()), place, area_mm2));
        limits.push((limit_deg, area_mm2));
        tapers.push((up.atan2(out).to_degrees(), area_mm2));
        bases.push((base_mm, area_mm2));
    }
    (wall_mm2 >= LEAST_WALL_MM2).then_some(())?;
    Some(Tilt {
        resisting_mm2,
        wall_mm2,
        limiting_taper_deg: weighted_quantile(&limits, 0.5)?,
        taper_deg: weighted_quantile(&tapers, 0.5)?,
        base_mm: weighted_quantile(&bases, 0.5)?,
        middle: middle(places)?,
    })
}

/// The place that half of the area lies before, by limiting taper; of those without a limit, by how far they are from one
/// (the sine). `places` as `((limit, sine), place, area)`.
fn middle(mut places: Vec<((f64, f64), Place, f64)>) -> Option<Place> {
    places.retain(|(_, _, area_mm2)| *area_mm2 > 0.0);
    places.sort_by(|(a, ..), (b, ..)| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
    let half_mm2 = 0.5 * places.iter().map(|(.., area_mm2)| area_mm2).sum::<f64>();
    let mut below_mm2 = 0.0;
    let reached = places.iter().find(|(.., area_mm2)| {
        below_mm2 += area_mm2;
        below_mm2 >= half_mm2
    });
    reached.map(|(_, place, _)| *place)
}
