//! The target of an onlay: covered cusps, a channel over the groove, a box at each end.
//!
//! The uncut crown is closed to a body, and what goes is taken from it as a body, so that every plane lies exactly where it is asked
//! and what stays is the scan itself.

mod crown;
mod cutter;

use kerfwright_geometry::Surface;
use nalgebra::{Point3, Vector3};
use serde::{Deserialize, Serialize};

use crate::axes::Axes;
use crate::own::crown as crown_of;
use crate::plan::depths;
use crate::site::{Site, Wish};
use crate::targets::check;
use crate::top::Top;
use crate::{ByAspect, Plan, PlanError, TargetLine, Targets};
use crown::Crown;
use cutter::Cutter;

/// What is asked of an onlay beside the depths over its cusps.
#[derive(Debug, Clone, Copy, PartialEq, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
pub struct Onlay {
    /// Whether the functional cusps are covered.
    pub covers_functional: bool,
    /// Whether the others are.
    pub covers_nonfunctional: bool,
    /// Isthmus and boxes; `None` before they are cut.
    #[serde(default)]
    pub channel: Option<Channel>,
}

/// The inner form of an onlay.
#[derive(Debug, Clone, Copy, PartialEq, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
pub struct Channel {
    /// Distance of the isthmus walls at its floor, mm.
    pub isthmus_width_mm: f64,
    /// From the occlusal cut along the groove down to the floor, mm.
    pub isthmus_depth_mm: f64,
    /// Distance of a box's facial and lingual wall at its floor, mm.
    pub box_width_mm: f64,
    /// From the proximal surface in to a box's axial wall, at its floor, mm.
    pub box_depth_mm: f64,
    /// Height of a box's floor over the highest gingiva before it, mm.
    pub box_above_gingiva_mm: f64,
    /// Lean of each wall, outwards on its way up from the floor, degrees.
    pub divergence_deg: f64,
}

impl Onlay {
    /// Refuses what cannot be built, whatever may be a good preparation.
    pub(crate) fn checked(&self) -> Result<(), PlanError> {
        let Some(channel) = &self.channel else { return Ok(()) };
        check("onlay.isthmus_width_mm", channel.isthmus_width_mm, 0.5, 6.0, "0.5 to 6 mm")?;
        check("onlay.isthmus_depth_mm", channel.isthmus_depth_mm, 0.2, 4.0, "0.2 to 4 mm")?;
        check("onlay.box_width_mm", channel.box_width_mm, 0.5, 8.0, "0.5 to 8 mm")?;
        check("onlay.box_depth_mm", channel.box_depth_mm, 0.3, 4.0, "0.3 to 4 mm")?;
        check("onlay.box_above_gingiva_mm", channel.box_above_gingiva_mm, 0.2, 4.0, "0.2 to 4 mm")?;
        check("onlay.divergence_deg", channel.divergence_deg, 1.0, 25.0, "1 to 25 degrees")
    }
}

/// How far over the gingiva the crown is taken from the scan, mm: under every box.
const CROWN_FROM_MM: f64 = 0.1;

/// Lays an onlay's target into the scan before cutting.
pub(crate) fn plan(
    before: &Surface,
    wish: &Wish,
    targets: Targets,
    onlay: &Onlay,
) -> Result<Plan, PlanError> {
    if wish.tooth.is_front() {
        return Err(PlanError::OnlayOnFront { fdi: wish.tooth.fdi() });
    }
    let site = Site::find(before, wish)?;
    let low = Targets { above_gingiva_mm: ByAspect::all(CROWN_FROM_MM), ..targets.clone() };
    let line = TargetLine::new(before, &site, &low);
    let own = crown_of(before, &site, &line, site.at_triangle);
    let top = Top::new(before, &site, &line, &own, &targets, 0.0);
    let axes = Axes::new(&site.frame);
    let crown = Crown::new(before, axes, &own)?;
    let cutter = Cutter { before, site: &site, axes, top: &top, bounds: crown.bounds() };
    let placed = onlay.channel.as_ref().map(|channel| cutter.place(channel)).transpose()?;
    let mut bodies = Vec::new();
    if onlay.covers_functional || onlay.covers_nonfunctional {
        bodies.push(cutter.cusps(onlay)?);
    }
    if let (Some(channel), Some(placed)) = (&onlay.channel, &placed) {
        bodies.push(cutter.channel(channel, placed));
    }
    let whole = bodies.into_iter().reduce(|whole, body| whole.union(&body));
    let cut = crown.less(&whole.ok_or(PlanError::NothingToCut)?)?;
    let depth_mm = depths(before, &cut.new, &cut.is_cut);
    Ok(Plan {
        site,
        line,
        target: cut.target,
        depth_mm,
        is_cut: cut.is_cut,
        wall_mm: Vec::new(),
        warnings: warnings(),
        onlay: Some(OnlayPlan { channel: placed.map(|placed| placed.in_scan(&axes)), line: cut.line }),
        targets,
        top,
    })
}

/// What an onlay's plan has beyond a crown's. All in the frame of the scan before cutting.
#[derive(Debug, Clone)]
pub struct OnlayPlan {
    /// Where the channel lies; `None` before it is cut.
    pub channel: Option<ChannelPlace>,
    /// The finish line: pairs of neighbouring points where the new surface meets the uncut one.
    pub line: Vec<[Point3<f64>; 2]>,
}

/// Where a channel lies.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ChannelPlace {
    /// Middle of the isthmus floor.
    pub isthmus: Point3<f64>,
    /// Unit, along the groove towards the mesial.
    pub along: Vector3<f64>,
    /// Unit, square on it and on the path, towards the facial.
    pub facially: Vector3<f64>,
    /// Where each box's floor meets the middle of its axial wall: mesial, distal.
    pub boxes: [Point3<f64>; 2],
}

/// What the drawing leaves out, and what nobody can foresee of it.
fn warnings() -> Vec<String> {
    [
        "the onlay's inner edges are drawn sharp; its bevels, and the shoulder outside the functional cusp, are not drawn: round and cut \
         them as the exercise says",
        "not foreseen of an onlay: how well isthmus and boxes hold it, whether the walls that stay are thick enough, and decay or old \
         fillings, which decide its outline",
    ]
    .map(String::from)
    .into()
}
