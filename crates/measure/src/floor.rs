//! The floor between edge and wall: straight next to the edge, or one arc up to the wall as a round end leaves it.
//!
//! A narrow round floor holds a dozen points a section, and noise can hide that it is round. So each section only says
//! how much worse one arc explains it than a straight floor with a fillet does; the decision is taken over a stretch of
//! the finish line, see [`settle`].

use kerfwright_geometry::fit;
use nalgebra::{Point2, Vector2};

use crate::corner::{Corner, Face, WallArc};
use crate::section::Section;
use crate::station::{Station, Wall};
use crate::stats::median;

/// Next to the edge the mesh cuts the corner, mm.
const CHOPPED_MM: f64 = 0.09;
/// Half the length of the stretch that decides together, mm.
const DECIDE_MM: f64 = 1.0;
/// The same where the arc would leave a lip at its edge.
const DECIDE_RISING_MM: f64 = 2.0;
/// An arc that explains a floor worse than this is none. In nats: what one more free number gains by chance is below
/// ½ ln n, about 2; facets and a wavering edge take as much again.
const LARGEST_LOSS: f64 = 4.0;
/// The same for an arc that rises to its edge as a lip. A narrow shoulder with a wide fillet looks like one, and is far
/// more common: the arc must explain the floor as well as the fillet does. True ones lose 0.4 on average (dies).
const LARGEST_LOSS_RISING: f64 = 0.7;
/// Up to this loss such an arc cannot be ruled out.
const UNSURE_LOSS_RISING: f64 = 1.6;
/// An arc rises to its edge from this slope on, as the tangent's sine.
const RISING: f64 = 0.2;
/// Points scatter off a true arc by no more than this many times the noise.
const LARGEST_RMS: f64 = 2.5;
/// Sections share triangles: about every third point is independent.
const POINTS_A_SAMPLE: f64 = 3.0;
/// A floor shorter than this shows no form, mm.
const LEAST_FLOOR_MM: f64 = 0.2;

/// One section's floor, as both forms.
#[derive(Debug, Clone, Default)]
pub struct Floor {
    /// Where the straight form leaves the edge: unit, leading inward.
    straight: Option<Vector2<f64>>,
    /// The arc form.
    arc: Option<RoundFloor>,
    /// How much worse the arc explains the points, in nats; `None` if it cannot be one.
    loss: Option<f64>,
}

/// A floor that is one arc, and the wall above it.
#[derive(Debug, Clone)]
struct RoundFloor {
    arc: WallArc,
    tangent: Vector2<f64>,
    /// The wall line begun above the arc, if that leaves enough of it.
    wall: Option<Wall>,
}

/// The form taken.
#[derive(Debug, Clone)]
pub struct Taken {
    /// Unit, leading away from the edge.
    pub direction: Vector2<f64>,
    /// The arc, if the floor is one.
    pub arc: Option<WallArc>,
    /// The wall, if the arc moves it.
    pub wall: Option<Wall>,
}

impl Floor {
    /// Reads both forms from a section and its neighbours (`near`, the section itself among them).
    ///
    /// Beside a steep rim the edge wavers from section to section by several hundredths of a millimetre, and taken together they
    /// show no form at all: then the section speaks alone.
    pub fn read(section: &Section, near: &[&Section], wall: Option<&Wall>, noise_mm: f64) -> Self {
        let floor = Self::pooled(section, near, wall, noise_mm);
        if floor.loss.is_some() {
            return floor;
        }
        let own = Self::pooled(section, &[section], wall, noise_mm);
        if own.loss.is_some() && own.rises() { Self { straight: floor.straight, ..own } } else { floor }
    }

    fn pooled(section: &Section, near: &[&Section], wall: Option<&Wall>, noise_mm: f64) -> Self {
        let straight = straight(near, wall);
        let Some(wall) = wall else { return Self { straight, ..Self::default() } };
        let mut floor = Self { straight, ..Self::default() };
        let Some(points) = beside(near, wall) else { return floor };
        let Some(arc) = round(&points, wall, noise_mm) else { return floor };
        floor.loss = straight.and_then(|direction| loss(&points, wall, &arc, &direction, noise_mm));
        if floor.loss.is_none_or(|loss| loss > 3.0 * LARGEST_LOSS) {
            return floor;
        }
        let mut round_floor = RoundFloor::of(arc, None);
        // What the wall line took of the arc pulls both: begin it above the arc and look again.
        for _ in 0..2 {
            let Some(now) = &round_floor else { break };
            let line = now.wall.as_ref().unwrap_or(wall);
            let Some(higher) = line.above(section, &now.arc.foot, noise_mm) else { break };
            let Some(points) = beside(near, &higher) else { break };
            let Some(arc) = round(&points, &higher, noise_mm) else { break };
            round_floor = RoundFloor::of(arc, Some(higher));
        }
        floor.arc = round_floor;
        floor
    }

    /// The form that this section alone speaks for.
    pub fn alone(&self) -> Option<Taken> {
        self.take(self.loss.is_some_and(|loss| loss < LARGEST_LOSS))
    }

    /// Whether the arc would leave a lip at its edge.
    fn rises(&self) -> bool {
        self.arc.as_ref().is_some_and(|round| round.tangent.y < -RISING)
    }

    /// Height of the edge over the lowest place of the arc form, mm; 0 where that does not rise to its edge.
    pub fn arc_lip_mm(&self) -> Option<f64> {
        let arc = &self.arc.as_ref()?.arc;
        let inside_mm = arc.centre.x.clamp(0.0, arc.radius_mm);
        Some(arc.radius_mm - (arc.radius_mm * arc.radius_mm - inside_mm * inside_mm).sqrt())
    }

    fn take(&self, is_arc: bool) -> Option<Taken> {
        match (&self.arc, self.straight) {
            (Some(round), _) if is_arc => {
                Some(Taken { direction: round.tangent, arc: Some(round.arc), wall: round.wall.clone() })
            }
            (_, Some(direction)) => Some(Taken { direction, arc: None, wall: None }),
            _ => None,
        }
    }
}

impl RoundFloor {
    fn of(arc: WallArc, wall: Option<Wall>) -> Option<Self> {
        let tangent = arc.tangent_at_edge()?;
        Some(Self { arc, tangent, wall })
    }
}

/// Decides the form of each floor together with its neighbours along the finish line, `spacing_mm` apart.
pub fn settle(stations: &mut [Station], spacing_mm: f64) {
    let losses: Vec<Option<f64>> = stations.iter().map(|station| station.floor.loss).collect();
    let rises: Vec<bool> = stations.iter().map(|station| station.floor.rises()).collect();
    let n = stations.len();
    let window = |place: usize, reach_mm: f64| {
        let half = (reach_mm / spacing_mm).round() as usize;
        (2 * half < n).then(|| (0..=2 * half).map(move |step| (place + n + step - half) % n))
    };
    for (place, station) in stations.iter_mut().enumerate() {
        let Some(near) = window(place, DECIDE_MM) else { return };
        let n_near = near.clone().count();
        let rising = 2 * near.clone().filter(|&other| rises[other]).count() > n_near;
        let known: Vec<f64> = near.filter_map(|other| losses[other]).collect();
        let enough = 2 * known.len() > n_near;
        let (is_arc, unsure) = if rising {
            let wide = window(place, DECIDE_RISING_MM).into_iter().flatten();
            let wide: Vec<f64> = wide.filter_map(|other| losses[other]).collect();
            // One bad section must not decide, but no few good ones either.
            let sum: f64 = wide.iter().map(|loss| loss.min(LARGEST_LOSS)).sum();
            let mean = sum / wide.len().max(1) as f64;
            (mean < LARGEST_LOSS_RISING, mean < UNSURE_LOSS_RISING)
        } else {
            (median(&known).is_some_and(|loss| loss < LARGEST_LOSS), false)
        };
        station.settle_floor(station.floor.take(enough && is_arc));
        let other = if enough && unsure { station.floor.take(!is_arc) } else { None };
        station.other_declination_deg =
            other.map(|other| other.direction.y.atan2(other.direction.x).to_degrees());
    }
}

/// The direction of the floor's outer part: at most 0.5 mm and 60 % of the width, so that the fillet stays out.
fn straight(near: &[&Section], wall: Option<&Wall>) -> Option<Vector2<f64>> {
    let reach_mm = wall.map_or(0.4, |wall| (0.6 * wall.width_mm).clamp(0.3, 0.5)) + 0.04;
    let points = stretch(near, CHOPPED_MM, reach_mm);
    let line = fit::line2(&points).filter(|_| points.len() >= 4)?;
    let away = line.direction.dot(&line.point.coords);
    Some(if away < 0.0 { -line.direction } else { line.direction })
}

/// The points from the edge up to a little wall, if there is a floor between.
fn beside(near: &[&Section], wall: &Wall) -> Option<Vec<Point2<f64>>> {
    const OVER_MM: f64 = 0.25;
    let has_floor = wall.fitted_mm[0] >= LEAST_FLOOR_MM && wall.width_mm >= LEAST_FLOOR_MM;
    has_floor.then(|| stretch(near, CHOPPED_MM, wall.fitted_mm[0] + OVER_MM))
}

/// The arc from edge to wall.
fn round(points: &[Point2<f64>], wall: &Wall, noise_mm: f64) -> Option<WallArc> {
    WallArc::fit(points, &wall.face(), &wall.line.direction, noise_mm)
}

/// How much worse an arc is than a straight floor with a fillet, in nats; infinite if it does not bend up to the wall or
/// leaves the points while the fillet does not; `None` where both do.
fn loss(
    points: &[Point2<f64>],
    wall: &Wall,
    arc: &WallArc,
    direction: &Vector2<f64>,
    noise_mm: f64,
) -> Option<f64> {
    // Mean squares smaller than facets make are alike.
    const LEAST_MM: f64 = 0.003;
    let fits = |rms_mm: f64| rms_mm < (LARGEST_RMS * noise_mm).max(0.012);
    let bends_up = arc.centre.y > 0.0 && arc.centre.x < wall.width_mm;
    let floor = Face::through(&Point2::origin(), direction, &Vector2::new(-0.5, 1.0));
    let corner = Corner::fit_to_wall(points, [floor, wall.face()], noise_mm)?;
    if !bends_up || !fits(arc.rms_mm) {
        // Where neither form fits, as between two kinds of finish line, the section says nothing.
        return (!bends_up || fits(corner.rms_mm)).then_some(f64::INFINITY);
    }
    let ratio = (arc.rms_mm.powi(2) + LEAST_MM.powi(2)) / (corner.rms_mm.powi(2) + LEAST_MM.powi(2));
    Some(0.5 * points.len() as f64 / POINTS_A_SAMPLE * ratio.ln())
}

fn stretch(near: &[&Section], from_mm: f64, to_mm: f64) -> Vec<Point2<f64>> {
    near.iter().flat_map(|section| section.between(from_mm, to_mm)).collect()
}
