//! Which of the instruments at hand.

use std::cmp::Ordering;

use crate::rules::{Prefer, Role};
use crate::tool::{Head, Tool};

/// Bars are compared with limits to this; kits give them to a hundredth.
const SAME_BAR_MM: f64 = 0.005;

/// What an instrument is wanted for.
#[derive(Debug, Clone, Copy)]
pub struct Need<'a> {
    /// The kind.
    pub role: &'a Role,
    /// Width of the finish line under it, if that matters.
    pub width_mm: Option<f64>,
    /// Angle of the wall wanted, to the path.
    pub aim_deg: Option<f64>,
}

impl Need<'_> {
    /// The least diameter of its end.
    pub fn tip_mm(&self) -> Option<f64> {
        Some(self.role.tip_per_width? * self.width_mm?)
    }

    fn suits(&self, tool: &Tool) -> bool {
        let is_wide = self.tip_mm().is_none_or(|least| tool.tip_diameter_mm >= least - 1e-9);
        let is_rounded = !self.role.rounded_corner || tool.corner_radius_mm > 0.0;
        self.role.heads.contains(&tool.head) && is_wide && is_rounded
    }

    /// Better first: the grit wanted, the head's rank, the angle nearest to the wall's, the end preferred.
    fn compare(&self, one: &Tool, other: &Tool) -> Ordering {
        let rank = |tool: &Tool| self.role.heads.iter().position(|head| *head == tool.head);
        let off = |tool: &Tool| self.aim_deg.map_or(0.0, |aim| (tool.half_angle_deg - aim).abs());
        let end = |tool: &Tool| match self.role.prefer {
            Prefer::Smallest => tool.tip_diameter_mm,
            Prefer::Largest => -tool.tip_diameter_mm,
        };
        let grit = |tool: &Tool| tool.grit != self.role.grit;
        grit(one)
            .cmp(&grit(other))
            .then(rank(one).cmp(&rank(other)))
            .then(off(one).total_cmp(&off(other)))
            .then(end(one).total_cmp(&end(other)))
            .then(one.id.cmp(&other.id))
    }
}

/// The instrument that suits best; `None` if none does.
pub fn choose<'t>(tools: &'t [Tool], need: &Need<'_>) -> Option<&'t Tool> {
    tools.iter().filter(|tool| need.suits(tool)).min_by(|one, other| need.compare(one, other))
}

/// The bar gauge of just this width.
pub fn bar(tools: &[Tool], width_mm: f64) -> Option<&Tool> {
    tools.iter().find(|tool| tool.head == Head::Bar && (tool.diameter_mm - width_mm).abs() <= SAME_BAR_MM)
}
