//! What is asked of a preparation.

use kerfwright_tooth::Tooth;
use serde::{Deserialize, Serialize};

use crate::{Onlay, PlanError};

/// The shipped sets.
const COMPLETE_CROWN: &str = include_str!("../data/complete_crown.toml");
const COMPLETE_CROWN_FRONT: &str = include_str!("../data/complete_crown_front.toml");

/// One value a surface of the tooth.
#[derive(Debug, Clone, Copy, PartialEq, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
pub struct ByAspect<T> {
    /// Towards the midline.
    pub mesial: T,
    /// Towards cheek or lip.
    pub facial: T,
    /// Away from the midline.
    pub distal: T,
    /// Towards tongue or palate.
    pub lingual: T,
}

/// Form of the finish line.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize, Serialize)]
pub enum Finish {
    /// One arc from the edge into the wall, as a round end leaves it.
    #[serde(rename = "chamfer")]
    Chamfer,
    /// A floor square on the path with a rounded inner angle.
    #[serde(rename = "shoulder")]
    Shoulder,
    /// A floor that falls outwards by 25°, with a rounded inner angle.
    #[serde(rename = "sloped shoulder")]
    SlopedShoulder,
}

/// Occlusal surface of premolars and molars.
#[derive(Debug, Clone, Copy, PartialEq, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
pub struct Occlusal {
    /// Closest distance from the new to the uncut surface over the functional cusps, mm.
    pub functional_mm: f64,
    /// The same over the non-functional cusps, mm.
    pub nonfunctional_mm: f64,
    /// The same along the groove, mm.
    pub groove_mm: f64,
    /// Angle between the functional cusp bevel and the path, degrees; `None` for no bevel.
    pub bevel_deg: Option<f64>,
}

/// Incisors and canines.
#[derive(Debug, Clone, Copy, PartialEq, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
pub struct Front {
    /// How far the incisal edge is lowered along the path, mm.
    pub incisal_mm: f64,
    /// Closest distance from the new to the uncut surface in the lingual fossa, mm.
    pub lingual_fossa_mm: f64,
}

/// Radii and gaps.
#[derive(Debug, Clone, Copy, PartialEq, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
pub struct Edges {
    /// Radius between a shoulder's floor and the wall, mm.
    pub internal_radius_mm: f64,
    /// Radius of the round end that a chamfer is cut with, mm: with the width it says how the floor leaves the edge.
    pub chamfer_tip_radius_mm: f64,
    /// Radius between wall and occlusal surface, mm.
    pub occlusal_radius_mm: f64,
    /// How far the finish line keeps off the adjacent teeth, mm; 0 leaves it where the height puts it.
    pub least_gap_mm: f64,
}

/// The upper of two facial planes.
#[derive(Debug, Clone, Copy, PartialEq, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
pub struct SecondPlane {
    /// How much more than the lower plane it leans, degrees.
    pub angle_deg: f64,
    /// Height of the break over the finish line, mm.
    pub break_mm: f64,
}

/// What is asked of a preparation.
#[derive(Debug, Clone, PartialEq, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
pub struct Targets {
    /// Height of the finish line over the gingiva, mm.
    pub above_gingiva_mm: ByAspect<f64>,
    /// Form of the finish line.
    pub finish: ByAspect<Finish>,
    /// From the finish line to the wall line at the same level, mm.
    pub width_mm: ByAspect<f64>,
    /// Each wall's angle to the path, degrees.
    pub taper_deg: ByAspect<f64>,
    /// Behind the canine.
    pub occlusal: Occlusal,
    /// Up to the canine.
    pub front: Front,
    /// Radii and gaps.
    pub edges: Edges,
    /// Least angle through the tooth between a shoulder's floor and the uncut surface, degrees: where the tooth bulges over the
    /// line, the floor falls outwards as much as it takes; `None` leaves it square on the path.
    #[serde(default)]
    pub least_cavosurface_deg: Option<f64>,
    /// The facial wall's upper plane; `None` for one plane.
    #[serde(default)]
    pub second_plane: Option<SecondPlane>,
    /// An onlay instead of a complete crown: of the rest the depths over the cusps and the bevel count.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub onlay: Option<Onlay>,
}

impl<T: Copy> ByAspect<T> {
    /// The same value all round.
    pub fn all(value: T) -> Self {
        Self { mesial: value, facial: value, distal: value, lingual: value }
    }

    /// By rising angle: mesial, facial, distal, lingual.
    pub fn around(&self) -> [T; 4] {
        [self.mesial, self.facial, self.distal, self.lingual]
    }

    /// Another value for each surface.
    pub fn map<U>(&self, f: impl Fn(T) -> U) -> ByAspect<U> {
        ByAspect {
            mesial: f(self.mesial),
            facial: f(self.facial),
            distal: f(self.distal),
            lingual: f(self.lingual),
        }
    }
}

impl ByAspect<f64> {
    /// The value at an angle round the tooth: constant within 28° of the middle of a surface, smooth between.
    pub fn at(&self, angle_deg: f64) -> f64 {
        const FLAT_DEG: f64 = 28.0;
        let quarter = angle_deg.rem_euclid(360.0) / 90.0;
        let from = quarter as usize % 4;
        let t = ((quarter.fract() * 90.0 - FLAT_DEG) / (90.0 - 2.0 * FLAT_DEG)).clamp(0.0, 1.0);
        let around = self.around();
        around[from] + (around[(from + 1) % 4] - around[from]) * t * t * (3.0 - 2.0 * t)
    }
}

impl Targets {
    /// The shipped targets for a tooth: a complete cast crown behind the canine, a metal-ceramic one up to it.
    ///
    /// # Errors
    /// Never with the files as shipped.
    pub fn shipped(tooth: Tooth) -> Result<Self, PlanError> {
        Self::from_toml(if tooth.is_front() { COMPLETE_CROWN_FRONT } else { COMPLETE_CROWN })
    }

    /// The shipped targets of a complete cast crown.
    ///
    /// # Errors
    /// Never with the file as shipped.
    pub fn complete_crown() -> Result<Self, PlanError> {
        Self::from_toml(COMPLETE_CROWN)
    }

    /// The shipped targets of a metal-ceramic crown on a front tooth.
    pub(crate) fn shipped_front() -> Result<Self, PlanError> {
        Self::from_toml(COMPLETE_CROWN_FRONT)
    }

    /// Reads targets; the message of an error names line and column.
    ///
    /// # Errors
    /// [`PlanError::Toml`] for what is no such file, [`PlanError::Target`] for a value that cannot be built.
    pub fn from_toml(text: &str) -> Result<Self, PlanError> {
        let targets: Self = toml::from_str(text).map_err(|error| PlanError::Toml(error.to_string()))?;
        targets.checked()
    }

    /// Slope of the floor at the edge, degrees: it falls outwards by as much.
    pub(crate) fn fall_deg(&self) -> ByAspect<f64> {
        let fall =
            |finish: ByAspect<Finish>, width: ByAspect<f64>, taper: ByAspect<f64>, k: usize| match finish
                .around()[k]
            {
                Finish::Chamfer => {
                    chamfer_fall_deg(width.around()[k], taper.around()[k], self.edges.chamfer_tip_radius_mm)
                }
                Finish::Shoulder => 0.0,
                Finish::SlopedShoulder => 25.0,
            };
        let [mesial, facial, distal, lingual] =
            [0, 1, 2, 3].map(|k| fall(self.finish, self.width_mm, self.taper_deg, k));
        ByAspect { mesial, facial, distal, lingual }
    }

    /// Refuses what cannot be built, whatever may be a good preparation.
    ///
    /// # Errors
    /// [`PlanError::Target`].
    pub fn checked(self) -> Result<Self, PlanError> {
        let aspects = ["mesial", "facial", "distal", "lingual"];
        for (k, aspect) in aspects.iter().enumerate() {
            let within = |what: &str, value: f64, low: f64, high: f64, allowed| {
                check(&format!("{what}.{aspect}"), value, low, high, allowed)
            };
            within("above_gingiva_mm", self.above_gingiva_mm.around()[k], 0.0, 3.0, "0 to 3 mm")?;
            within("width_mm", self.width_mm.around()[k], 0.2, 2.5, "0.2 to 2.5 mm")?;
            within("taper_deg", self.taper_deg.around()[k], 0.5, 30.0, "0.5 to 30 degrees")?;
        }
        let depth = |what: &str, value: f64| check(what, value, 0.2, 4.0, "0.2 to 4 mm");
        depth("occlusal.functional_mm", self.occlusal.functional_mm)?;
        depth("occlusal.nonfunctional_mm", self.occlusal.nonfunctional_mm)?;
        depth("occlusal.groove_mm", self.occlusal.groove_mm)?;
        depth("front.incisal_mm", self.front.incisal_mm)?;
        depth("front.lingual_fossa_mm", self.front.lingual_fossa_mm)?;
        let bevel_deg = self.occlusal.bevel_deg.unwrap_or(45.0);
        check("occlusal.bevel_deg", bevel_deg, 20.0, 70.0, "20 to 70 degrees")?;
        check("edges.internal_radius_mm", self.edges.internal_radius_mm, 0.0, 1.0, "0 to 1 mm")?;
        check("edges.chamfer_tip_radius_mm", self.edges.chamfer_tip_radius_mm, 0.3, 2.0, "0.3 to 2 mm")?;
        check("edges.occlusal_radius_mm", self.edges.occlusal_radius_mm, 0.0, 1.0, "0 to 1 mm")?;
        check("edges.least_gap_mm", self.edges.least_gap_mm, 0.0, 1.5, "0 to 1.5 mm")?;
        let cavosurface_deg = self.least_cavosurface_deg.unwrap_or(90.0);
        check("least_cavosurface_deg", cavosurface_deg, 45.0, 120.0, "45 to 120 degrees")?;
        if let Some(plane) = self.second_plane {
            check("second_plane.angle_deg", plane.angle_deg, 0.0, 40.0, "0 to 40 degrees")?;
            check("second_plane.break_mm", plane.break_mm, 0.8, 8.0, "0.8 to 8 mm")?;
        }
        self.onlay.as_ref().map_or(Ok(()), Onlay::checked)?;
        Ok(self)
    }
}

/// Slope at the edge of the arc that a round end of radius *r* leaves at the width *w* against a wall of taper *α*:
/// asin(1 − *w* cos *α*/*r*) − *α*. A wide chamfer takes a thicker end, so that the rim never rises to a lip, a narrow one a thinner.
///
/// # Source
/// `docs/sources.md#rounded-instrument`.
fn chamfer_fall_deg(width_mm: f64, taper_deg: f64, tip_radius_mm: f64) -> f64 {
    /// Below, the rim comes near to a lip; above, the end is thicker than it need be. Common practice, no source.
    const SLOPES_DEG: [f64; 2] = [5.0, 30.0];
    let share = width_mm * taper_deg.to_radians().cos() / tip_radius_mm;
    ((1.0 - share).clamp(-1.0, 1.0).asin().to_degrees() - taper_deg).clamp(SLOPES_DEG[0], SLOPES_DEG[1])
}

/// Refuses what lies out of any use.
pub(crate) fn check(
    what: &str,
    value: f64,
    low: f64,
    high: f64,
    allowed: &'static str,
) -> Result<(), PlanError> {
    if (low..=high).contains(&value) {
        return Ok(());
    }
    Err(PlanError::Target { what: what.into(), value, allowed })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_shipped_targets_are_read_and_nonsense_is_refused_by_name() {
        let targets = Targets::complete_crown().unwrap();
        assert_eq!(targets.occlusal.functional_mm, 1.5);
        let front = Targets::shipped(Tooth::from_fdi(21).unwrap()).unwrap();
        assert_eq!(front.second_plane.map(|plane| plane.angle_deg), Some(14.0));
        let text = COMPLETE_CROWN.replace("functional_mm = 1.5\nnon", "functional_mm = 15.0\nnon");
        let error = Targets::from_toml(&text).unwrap_err().to_string();
        assert_eq!(error, "targets: occlusal.functional_mm is 15; give 0.2 to 4 mm");
        assert!(Targets::from_toml("[width_mm]\nmesial = 1").is_err());
    }

    /// `docs/sources.md#rounded-instrument`: a round end sunk to half its radius leaves asin(½), to its whole radius a square rim.
    #[test]
    fn a_chamfer_leaves_its_edge_as_the_round_end_does() {
        assert!((chamfer_fall_deg(0.5, 0.0, 1.0) - 30.0).abs() < 1e-9);
        assert!((chamfer_fall_deg(0.5, 6.0, 1.0) - (30.0 - 6.0)).abs() < 0.2);
        assert_eq!(chamfer_fall_deg(1.0, 6.0, 1.0), 5.0);
    }

    #[test]
    fn values_are_flat_over_the_aspects_and_run_smoothly_between() {
        let values = ByAspect { mesial: 1.0, facial: 2.0, distal: 3.0, lingual: 4.0 };
        assert_eq!([values.at(-20.0), values.at(70.0), values.at(200.0)], [1.0, 2.0, 3.0]);
        assert!((values.at(45.0) - 1.5).abs() < 1e-12 && (values.at(315.0) - 2.5).abs() < 1e-12);
    }
}
