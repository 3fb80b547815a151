//! The edge in one section: where the floor, extended outward, meets the uncut surface.

use kerfwright_geometry::fit;
use nalgebra::{Point2, Point3, Vector2};

use super::Uncut;
use crate::section::Section;
use crate::station::{gingiva, meeting};
use crate::trend::Trend;

/// What the search for the edge needs of one section: `(h, z)` and the change there.
#[derive(Debug, Clone, Default)]
pub(super) struct EdgeSamples {
    /// The sharpest corner, sought only without a before scan.
    pub(super) corner: Option<Point2<f64>>,
    pub(super) inside: Vec<(Point2<f64>, f64, f64)>,
    pub(super) outside: Vec<(Point2<f64>, f64)>,
}

pub(super) fn edge_samples(
    sections: &[Option<Section>],
    uncut: Uncut<'_>,
    search_mm: f64,
) -> Vec<EdgeSamples> {
    let mut samples: Vec<EdgeSamples> = vec![EdgeSamples::default(); sections.len()];
    for (samples, section) in samples.iter_mut().zip(sections) {
        let Some(section) = section else { continue };
        let corner_mm = match uncut {
            Uncut::Before(_) => 0.0,
            // Farther off only where there is none near.
            Uncut::Below => match [NEAR_MM, search_mm].iter().find_map(|&mm| sharpest_corner(section, mm)) {
                Some(corner_mm) => corner_mm,
                None => continue,
            },
        };
        samples.corner = section.at_arc(corner_mm);
        let lowest_mm = match uncut {
            Uncut::Before(_) => f64::NEG_INFINITY,
            Uncut::Below => lowest_uncut_mm(section, corner_mm),
        };
        for (point, &arc_mm) in section.points.iter().zip(&section.arc_mm) {
            let arc_mm = arc_mm - corner_mm;
            if arc_mm > 0.0 {
                samples.inside.push((*point, arc_mm, f64::NAN));
            } else if arc_mm >= lowest_mm {
                samples.outside.push((*point, -arc_mm));
            }
        }
    }
    if let Uncut::Before(before) = uncut {
        let frames = sections.iter().map(|section| section.as_ref().map(|section| section.frame));
        let points: Vec<Point3<f64>> = samples
            .iter()
            .zip(frames)
            .flat_map(|(samples, frame)| {
                samples.inside.iter().filter_map(move |sample| Some(frame?.solid(&sample.0)))
            })
            .collect();
        let near = before.nearest(&points, 3.0);
        for (sample, near) in samples.iter_mut().flat_map(|samples| &mut samples.inside).zip(near) {
            sample.2 = match near {
                Some(near) if !near.on_border => -near.signed_mm,
                _ => f64::NAN,
            };
        }
    }
    samples
}

/// An edge farther from the section's own points than a triangle's edge is no edge, mm.
pub(super) const OFF_SURFACE_MM: f64 = 0.18;
/// Cosine of 140°: an uncut surface makes a smaller angle with the floor, through the tooth.
const LEVEL_COS: f64 = -0.77;
/// Next to the edge the mesh cuts the corner: this far from it, mm, nothing is fitted.
const CHOPPED_MM: f64 = 0.09;

impl EdgeSamples {
    pub(super) fn add(&mut self, other: &Self) {
        self.inside.extend_from_slice(&other.inside);
        self.outside.extend_from_slice(&other.outside);
    }

    /// Distance from a point to the nearest of the section's points, mm.
    pub(super) fn distance_mm(&self, point: &Point2<f64>) -> f64 {
        let inside = self.inside.iter().map(|sample| &sample.0);
        let all = inside.chain(self.outside.iter().map(|sample| &sample.0));
        all.map(|other| (other - point).norm()).fold(f64::INFINITY, f64::min)
    }

    /// How the uncut surface below the corner bends away from its tangent there: `across = bend · along²`, 1/mm. `None`
    /// where too little of it shows, or gingiva.
    ///
    /// A crown bulges: a straight line through half a millimetre of it, extended upward, overshoots the edge by some
    /// hundredths. One section is too noisy to say by how much; its neighbours together are not.
    pub(super) fn bend_below(&self, noise_mm: f64) -> Option<f64> {
        let corner = self.corner?;
        let (line, _) = straight(&self.outside, &BELOW_REACHES_MM, noise_mm)?;
        let away = oriented(line.direction, &(line.point - corner));
        let across = Vector2::new(-away.y, away.x);
        let pairs: Vec<(f64, f64)> = self
            .outside
            .iter()
            .filter(|sample| (CHOPPED_MM..=BELOW_REACHES_MM[4]).contains(&sample.1))
            .map(|sample| sample.0 - corner)
            .map(|at| (at.dot(&away), at.dot(&across)))
            .collect();
        let reach_mm = pairs.iter().map(|pair| pair.0).fold(0.0, f64::max);
        let fit = crate::stats::quadratic(&pairs, &vec![1.0; pairs.len()])?;
        let squares: f64 =
            pairs.iter().map(|(x, y)| (y - fit[0] - fit[1] * x - fit[2] * x * x).powi(2)).sum();
        let rms_mm = (squares / pairs.len() as f64).sqrt();
        (pairs.len() >= 8 && reach_mm > BELOW_REACHES_MM[3] && rms_mm < allowed_mm(noise_mm))
            .then_some(fit[2])
    }

    /// The tangent of the uncut surface at the corner, and how far the samples reach that carry it.
    fn tangent_below(
        &self,
        corner: &Point2<f64>,
        bend_per_mm: f64,
        noise_mm: f64,
    ) -> Option<(fit::LineFit, f64)> {
        let (line, _) = straight(&self.outside, &BELOW_REACHES_MM, noise_mm)?;
        let away = oriented(line.direction, &(line.point - corner));
        let across = Vector2::new(-away.y, away.x);
        let unbent: Vec<(Point2<f64>, f64)> = self
            .outside
            .iter()
            .map(|&(point, arc_mm)| {
                (point - across * (bend_per_mm * (point - corner).dot(&away).powi(2)), arc_mm)
            })
            .collect();
        straight(&unbent, &BELOW_REACHES_MM, noise_mm)
    }

    /// The floor next to the edge: the longest stretch that is straight within the noise.
    fn floor(&self, noise_mm: f64) -> Option<(fit::LineFit, f64)> {
        straight(
            &self.inside.iter().map(|sample| (sample.0, sample.1)).collect::<Vec<_>>(),
            &FLOOR_REACHES_MM,
            noise_mm,
        )
    }

    /// The place on the floor, extended outward, where the change reaches zero.
    pub(super) fn edge_by_change(&self, noise_mm: f64) -> Option<Point2<f64>> {
        let (floor, reach_mm) = self.floor(noise_mm)?;
        let direction = oriented(floor.direction, &floor.point.coords);
        let across = Vector2::new(-direction.y, direction.x);
        let near = self.inside.iter().filter(|sample| (CHOPPED_MM..=reach_mm).contains(&sample.1));
        let samples: Vec<(f64, f64, f64)> = near
            .filter(|sample| sample.2.is_finite())
            .map(|sample| {
                let from = sample.0 - floor.point;
                (from.dot(&direction), from.dot(&across), sample.2)
            })
            .collect();
        let change = Trend::through(&samples.iter().map(|&(x, _, change)| (x, change)).collect::<Vec<_>>())?;
        let shape = Trend::through(&samples.iter().map(|&(x, y, _)| (x, y)).collect::<Vec<_>>())?;
        let place = change.root()?;
        Some(floor.point + direction * place + across * shape.at(place))
    }

    /// Where the floor, extended outward, meets the uncut surface, extended upward. Where too little uncut surface shows
    /// between edge and gingiva: the corner as the mesh has it.
    ///
    /// `bend_per_mm` is how the uncut surface bends here, see [`Self::bend_below`].
    pub(super) fn edge_by_corner(&self, bend_per_mm: Option<f64>, noise_mm: f64) -> Option<Point2<f64>> {
        let corner = self.corner?;
        let Some((floor, _)) = self.floor(noise_mm) else { return Some(corner) };
        let Some((below, _)) = self.tangent_below(&corner, bend_per_mm.unwrap_or(0.0), noise_mm) else {
            return Some(corner);
        };
        // Uncut surface falls away; what runs on nearly level is gingiva close below the edge.
        let inward = oriented(floor.direction, &(floor.point - corner));
        let away = oriented(below.direction, &(below.point - corner));
        let falls_away = inward.dot(&away) > LEVEL_COS;
        if below.rms_mm > (3.0 * noise_mm).max(0.02) || !falls_away {
            return Some(corner);
        }
        let meeting = meeting(&floor, &below, 0.2);
        Some(meeting.filter(|meeting| (meeting - corner).norm() < 2.0 * CHOPPED_MM).unwrap_or(corner))
    }
}

/// How far below a corner the surface is uncut tooth for sure: clear of the gingiva and of what the mesh fills of its crease,
/// which bend the surface the other way; arc length from the corner, mm, not above zero.
fn lowest_uncut_mm(section: &Section, corner_mm: f64) -> f64 {
    let crease = gingiva(section).map(|crease| section.arc_near_mm(&crease) - corner_mm);
    // A crease at the corner itself is none of the gingiva's.
    let below = crease.filter(|crease_mm| *crease_mm < -CHOPPED_MM);
    below.map_or(f64::NEG_INFINITY, |crease_mm| (crease_mm + CHOPPED_MM).min(-CHOPPED_MM))
}

/// A corner is sought so near to the line first, mm.
const NEAR_MM: f64 = 0.5;

/// The place near the origin where a section turns down most sharply on its way outward: its arc length, if it turns
/// by more than 20° between the 0.2 mm on either side.
fn sharpest_corner(section: &Section, search_mm: f64) -> Option<f64> {
    const STEP_MM: f64 = 0.025;
    const SIDE: usize = 8;
    const LEAST_TURN_DEG: f64 = 20.0;
    let from_mm = -search_mm - SIDE as f64 * STEP_MM;
    let first_mm = from_mm.max(section.arc_mm[0]);
    let profile = section.resampled(first_mm, -from_mm, STEP_MM);
    let turn_deg = |k: usize| {
        let (before, after) = (profile[k] - profile[k - SIDE], profile[k + SIDE] - profile[k]);
        -before.perp(&after).atan2(before.dot(&after)).to_degrees()
    };
    let sharpest = (SIDE..profile.len().saturating_sub(SIDE))
        .map(|k| {
            // The nearer the better: a crevice or the gingiva may turn as sharply farther away.
            let off_mm = (first_mm + k as f64 * STEP_MM).abs();
            (turn_deg(k) * (1.0 - off_mm / (1.5 * search_mm)), k)
        })
        .max_by(|a, b| a.0.total_cmp(&b.0).then(b.1.cmp(&a.1)))?;
    (turn_deg(sharpest.1) > LEAST_TURN_DEG).then_some(first_mm + sharpest.1 as f64 * STEP_MM)
}

/// Lengths over which a floor is tried for straightness, mm.
const FLOOR_REACHES_MM: [f64; 4] = [0.3, 0.4, 0.5, 0.65];
/// The same for the uncut surface below, of which less may show over the gingiva.
const BELOW_REACHES_MM: [f64; 5] = [0.2, 0.3, 0.4, 0.5, 0.65];

/// The longest of a few stretches next to the edge that a line explains, and how far it reaches.
fn straight(
    samples: &[(Point2<f64>, f64)],
    reaches_mm: &[f64],
    noise_mm: f64,
) -> Option<(fit::LineFit, f64)> {
    let allowed_mm = allowed_mm(noise_mm);
    let mut best: Option<(fit::LineFit, f64)> = None;
    for &reach_mm in reaches_mm {
        let points: Vec<Point2<f64>> = samples
            .iter()
            .filter(|sample| (CHOPPED_MM..=reach_mm).contains(&sample.1))
            .map(|sample| sample.0)
            .collect();
        if points.len() < 4 {
            continue;
        }
        let Some(line) = fit::line2(&points) else { continue };
        // Pooled sections may stand a little apart in height: what a short stretch scatters a long one may too.
        if best.is_some_and(|(shorter, _)| line.rms_mm > allowed_mm.max(1.15 * shorter.rms_mm)) {
            break;
        }
        best = Some((line, reach_mm));
    }
    best
}

/// The scatter about a line or curve that noise explains, mm.
fn allowed_mm(noise_mm: f64) -> f64 {
    (1.5 * noise_mm).max(0.006)
}

/// A line's direction, turned so that it leads away from the origin.
fn oriented(direction: Vector2<f64>, away: &Vector2<f64>) -> Vector2<f64> {
    if direction.dot(away) < 0.0 { -direction } else { direction }
}
