//! Which of the instruments at hand.

use std::cmp::Ordering;

use kerfwright_instrument::{FinishKind, Fit, Gauge, Instrument, Kit, Limits, Target, fit};

use crate::rules::{Floor, Prefer, Role};
use crate::tool::{head_key, is_fine};

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
    /// The least diameter of a round end that leaves no lip.
    pub fn tip_mm(&self) -> Option<f64> {
        // Sunk deeper than half its diameter a round end leaves one: docs/sources.md#rounded-instrument.
        (self.role.floor == Some(Floor::Chamfer)).then_some(2.0 * self.width_mm?)
    }

    /// What it has to leave, by geometry.
    fn target(&self) -> Target {
        let floor = self.role.floor.filter(|_| self.width_mm.is_some());
        let kind = match floor {
            Some(Floor::Chamfer) => Some(FinishKind::Chamfer),
            Some(Floor::Shoulder) => Some(FinishKind::Shoulder),
            Some(Floor::Either) | None => None,
        };
        let width_mm = self.width_mm.filter(|_| floor.is_some()).map(Limits::at);
        Target { kind, width_mm, ..Target::default() }
    }

    fn suits<'k>(&self, instrument: &'k Instrument) -> Option<(&'k Instrument, Fit)> {
        let is_rounded = !self.role.rounded_corner || instrument.head.corner_radius_mm() > 0.0;
        let has_head = self.role.heads.iter().any(|head| head == head_key(instrument));
        let fit = fit(instrument, &self.target());
        (has_head && is_rounded && fit.suits).then_some((instrument, fit))
    }

    /// Better first: the grit wanted, the head's rank, the angle nearest to the wall's, the floor that comes nearest, the end preferred.
    fn compare(&self, one: &(&Instrument, Fit), other: &(&Instrument, Fit)) -> Ordering {
        type Found<'k> = (&'k Instrument, Fit);
        let grit = |(tool, _): &Found<'_>| is_fine(tool) != self.role.fine;
        let rank = |(tool, _): &Found<'_>| self.role.heads.iter().position(|head| head == head_key(tool));
        // To a tenth of a degree: the same angle reckoned from other lengths differs in its last digits.
        let off = |(tool, _): &Found<'_>| {
            self.aim_deg.map_or(0.0, |aim| (10.0 * (tool.head.half_angle_deg() - aim).abs()).round())
        };
        let strain = |(_, fit): &Found<'_>| if self.target().width_mm.is_some() { fit.strain } else { 0.0 };
        let end = |(tool, _): &Found<'_>| match self.role.prefer {
            Prefer::Smallest => end_mm(tool),
            Prefer::Largest => -end_mm(tool),
        };
        grit(one)
            .cmp(&grit(other))
            .then(rank(one).cmp(&rank(other)))
            .then(off(one).total_cmp(&off(other)))
            .then(strain(one).total_cmp(&strain(other)))
            .then(end(one).total_cmp(&end(other)))
            .then(one.0.name.cmp(&other.0.name))
    }
}

/// The diameter of its end; of a head without one, its own.
fn end_mm(instrument: &Instrument) -> f64 {
    let tip_mm = instrument.head.tip_diameter_mm();
    if tip_mm > 0.0 { tip_mm } else { instrument.head.diameter_mm() }
}

/// The instrument that suits best; `None` if none does.
pub fn choose<'k>(kit: &'k Kit, need: &Need<'_>) -> Option<&'k Instrument> {
    let found = kit.instruments.iter().filter_map(|instrument| need.suits(instrument));
    found.min_by(|one, other| need.compare(one, other)).map(|(instrument, _)| instrument)
}

/// The bar gauge of just this width.
pub fn bar(kit: &Kit, width_mm: f64) -> Option<&Gauge> {
    kit.gauges.iter().find(|gauge| (gauge.width_mm - width_mm).abs() <= SAME_BAR_MM)
}
