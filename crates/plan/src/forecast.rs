//! What can be told of a plan before anything is cut: the readings on the target, taken by the code that reads attempts, and
//! plain words where it cannot work.

use std::collections::BTreeMap;

use kerfwright_geometry::Surface;
use kerfwright_measure::document::Reading;
use kerfwright_measure::measures::take_all;
use kerfwright_measure::preparation::Wishes;
use kerfwright_measure::scene::{Placed, Scene};
use kerfwright_measure::{JawWishes, PathChoice, Preparation};
use kerfwright_tooth::{Kind, Tooth};
use serde::{Deserialize, Serialize};

use crate::{Plan, PlanError};

const LIMITS: &str = include_str!("../data/limits.toml");

/// What follows from a plan.
#[derive(Debug, Clone, Serialize)]
pub struct Forecast {
    /// Readings on the target, by id: of an attempt that meets it exactly.
    pub readings: BTreeMap<String, Reading>,
    /// What could not be told, with the reason.
    pub refused: BTreeMap<String, String>,
    /// What would be left over an average pulp chamber; not measured on this tooth.
    pub over_average_pulp: Option<OverPulp>,
    /// What cannot work, or hardly, in plain words.
    pub warnings: Vec<String>,
}

/// Thickness left between the target and a pulp chamber of average depth.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct OverPulp {
    /// Average depth of the chamber's roof under the facial cusp tip, mm.
    pub average_roof_mm: f64,
    /// Its standard deviation between teeth, mm.
    pub sd_mm: f64,
    /// Most that is cut at a facial cusp tip, mm.
    pub cut_mm: f64,
    /// The average less what is cut, mm.
    pub left_mm: f64,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Limits {
    least_wall_mm: LeastWall,
    least_ratio: LeastRatio,
    least_clearance: LeastClearance,
    pulp_roof: PulpRoofs,
    remaining: Remaining,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct LeastWall {
    molar: f64,
    other: f64,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct LeastRatio {
    oc_fl: f64,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct LeastClearance {
    mip_mm: f64,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct PulpRoofs {
    upper_molar: PulpRoof,
    lower_molar: PulpRoof,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct PulpRoof {
    mean_mm: f64,
    sd_mm: f64,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Remaining {
    comfortable_mm: f64,
    least_mm: f64,
}

/// Reads the target as if it were a scan after cutting. `opposing` shares the frame of the scan before cutting.
///
/// # Errors
/// [`PlanError::Measure`] if the target cannot be read as a preparation, [`PlanError::Toml`] if the limits cannot be read.
pub fn forecast(before: &Surface, opposing: Option<&Surface>, plan: &Plan) -> Result<Forecast, PlanError> {
    let limits: Limits = toml::from_str(LIMITS).map_err(|error| PlanError::Toml(error.to_string()))?;
    let target = Surface::new(plan.target.clone());
    let scene = Scene {
        after: &target,
        before: Some(Placed::in_place(before)),
        opposing: opposing.map(Placed::in_place),
    };
    const BESIDE_MM: f64 = 5.0;
    let frame = &plan.site.frame;
    let wishes = Wishes {
        tooth: plan.site.tooth,
        mesial_point: Some(frame.origin + frame.mesial * BESIDE_MM),
        path: PathChoice::Fixed(frame.occlusal),
        opposing_shares_after: true,
        jaw: JawWishes::default(),
    };
    let write_point = |point: &nalgebra::Point3<f64>| format!("{:.1},{:.1},{:.1}", point.x, point.y, point.z);
    let preparation = Preparation::find(scene, None, &wishes, &write_point)?;
    let sheet = take_all(&preparation);
    let number = |id: &str| sheet.readings.get(id).and_then(Reading::number);
    let over_average_pulp = over_pulp(&limits, plan.site.tooth, &number);
    let mut warnings = Vec::new();
    if plan.onlay.is_some() {
        warnings.extend(gaps(plan, &number));
    } else {
        warnings.extend(misread(plan, &number));
        warnings.extend(heights(&limits, plan.site.tooth, &number));
        warnings.extend(resistance(&number, plan));
    }
    warnings.extend(clearance(&limits, &number));
    warnings.extend(over_average_pulp.as_ref().and_then(|pulp| pulp_warning(&limits, pulp)));
    Ok(Forecast { readings: sheet.readings, refused: sheet.refused, over_average_pulp, warnings })
}

/// Where the target does not read as asked: the scan is torn there, or the tooth leaves no room.
fn misread(plan: &Plan, number: &dyn Fn(&str) -> Option<f64>) -> Vec<String> {
    const OFF_MM: f64 = 0.1;
    const OFF_DEG: f64 = 1.5;
    let targets = &plan.targets;
    let asked = [
        ("finish_line.width", "mm", OFF_MM, targets.width_mm.around()),
        ("taper", "deg", OFF_DEG, targets.taper_deg.around()),
    ];
    let mut warnings = Vec::new();
    for (reading, unit, off, values) in asked {
        for (k, wall) in ["mesial", "facial", "distal", "lingual"].into_iter().enumerate() {
            let read = number(&format!("{reading}.{wall}_{unit}"));
            if !read.is_some_and(|read| (read - values[k]).abs() <= off) {
                let read = read.map_or("nothing".into(), |read| format!("{read:.2} {unit}"));
                warnings.push(format!(
                    "do not rely on the target's {wall} side: {reading} reads {read} there where {:.2} {unit} are asked; look at \
                     the scan and the target before using either",
                    values[k]
                ));
            }
        }
    }
    warnings
}

/// Where a box comes nearer to an adjacent tooth than asked: a box stands where groove and gingiva put it.
fn gaps(plan: &Plan, number: &dyn Fn(&str) -> Option<f64>) -> Vec<String> {
    let least_mm = plan.targets.edges.least_gap_mm;
    let near = ["mesial", "distal"].into_iter().filter_map(|side| {
        let gap_mm = number(&format!("finish_line.neighbour.{side}_mm")).filter(|gap_mm| *gap_mm < least_mm)?;
        Some(format!(
            "on the {side} side the finish line will be {gap_mm:.2} mm from the adjacent tooth where {least_mm:.1} mm are asked: \
             plan the box nearer to the gingiva, or flare its walls there"
        ))
    });
    near.collect()
}

fn heights(limits: &Limits, tooth: Tooth, number: &dyn Fn(&str) -> Option<f64>) -> Vec<String> {
    let (kind, least_mm) = match tooth.kind() {
        Kind::Molar => ("a molar", limits.least_wall_mm.molar),
        _ => ("this tooth", limits.least_wall_mm.other),
    };
    let mut warnings = Vec::new();
    let walls = ["mesial", "facial", "distal", "lingual"];
    let height = |wall: &'static str| Some((number(&format!("wall.height.{wall}_mm"))?, wall));
    let lowest = walls.into_iter().filter_map(height).min_by(|a, b| a.0.total_cmp(&b.0));
    if let Some((height_mm, wall)) = lowest.filter(|(height, _)| *height < least_mm) {
        warnings.push(format!(
            "the {wall} wall will be {height_mm:.1} mm high, under {least_mm:.0} mm for {kind}: plan proximal grooves or boxes, \
             less taper, or a finish line nearer to the gingiva"
        ));
    }
    if let Some(ratio) = number("ratio.oc_fl").filter(|ratio| *ratio < limits.least_ratio.oc_fl) {
        warnings.push(format!(
            "wall height over faciolingual width will be {ratio:.2}, under {:.1}: plan proximal grooves or boxes",
            limits.least_ratio.oc_fl
        ));
    }
    warnings
}

fn resistance(number: &dyn Fn(&str) -> Option<f64>, plan: &Plan) -> Option<String> {
    // The lingual fossa of a front tooth is no wall; what its concave slope resists is not told by tapers.
    if plan.site.tooth.is_front() {
        return None;
    }
    let limiting_deg = number("resistance.limiting_taper_deg")?;
    let mean_deg = 0.25 * plan.targets.taper_deg.around().iter().sum::<f64>();
    (mean_deg > limiting_deg).then(|| {
        format!(
            "walls of {mean_deg:.1} degrees taper will not resist tilting: at this height the limit is {limiting_deg:.1} \
             degrees; plan less taper or proximal grooves"
        )
    })
}

fn clearance(limits: &Limits, number: &dyn Fn(&str) -> Option<f64>) -> Option<String> {
    let least_mm = limits.least_clearance.mip_mm;
    let clearance_mm = number("clearance.mip_mm").filter(|clearance| *clearance < least_mm)?;
    Some(format!(
        "only {clearance_mm:.2} mm will be clear of the opposing teeth at the narrowest place, under {least_mm:.1} mm: plan \
         more reduction there, or look at the opposing tooth"
    ))
}

fn over_pulp(limits: &Limits, tooth: Tooth, number: &dyn Fn(&str) -> Option<f64>) -> Option<OverPulp> {
    if tooth.kind() != Kind::Molar {
        return None;
    }
    let roofs = &limits.pulp_roof;
    let roof = if tooth.is_upper() { &roofs.upper_molar } else { &roofs.lower_molar };
    let at_tips = ["mb", "db"].map(|tip| number(&format!("reduction.points.{tip}_mm")));
    let cut_mm = at_tips.into_iter().flatten().max_by(f64::total_cmp)?;
    Some(OverPulp {
        average_roof_mm: roof.mean_mm,
        sd_mm: roof.sd_mm,
        cut_mm,
        left_mm: roof.mean_mm - cut_mm,
    })
}

fn pulp_warning(limits: &Limits, pulp: &OverPulp) -> Option<String> {
    // One tooth in forty has its chamber two standard deviations nearer.
    let low_mm = pulp.left_mm - 2.0 * pulp.sd_mm;
    let words = if low_mm < limits.remaining.least_mm {
        "the pulp may be reached"
    } else if pulp.left_mm < limits.remaining.comfortable_mm {
        "little is left"
    } else {
        return None;
    };
    Some(format!(
        "over a pulp chamber of average depth {:.1} mm would be left under the facial cusps ({low_mm:.1} mm over a high one): \
         {words}; an average of other teeth, so look at this tooth's radiograph",
        pulp.left_mm
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn limits() -> Limits {
        toml::from_str(LIMITS).unwrap()
    }

    fn number<'a>(values: &'a [(&'a str, f64)]) -> impl Fn(&str) -> Option<f64> + 'a {
        |id| values.iter().find(|(own, _)| *own == id).map(|(_, value)| *value)
    }

    #[test]
    fn a_short_molar_is_told_to_take_grooves_and_a_premolar_as_high_is_not() {
        let values = [("wall.height.distal_mm", 3.4), ("wall.height.facial_mm", 4.4), ("ratio.oc_fl", 0.38)];
        let molar = heights(&limits(), Tooth::from_fdi(37).unwrap(), &number(&values));
        assert!(molar[0].contains("distal wall will be 3.4 mm") && molar[0].contains("proximal grooves"));
        assert!(molar[1].contains("0.38"));
        let high = [("wall.height.distal_mm", 3.4), ("ratio.oc_fl", 0.5)];
        assert!(heights(&limits(), Tooth::from_fdi(35).unwrap(), &number(&high)).is_empty());
    }

    #[test]
    fn two_millimetres_leave_the_published_rest_over_the_average_lower_molar() {
        // Deutsch and Musikant 2004: 6.36 to the roof, so 4.36 after 2.0.
        let values = [("reduction.points.mb_mm", 2.0), ("reduction.points.db_mm", 1.8)];
        let pulp = over_pulp(&limits(), Tooth::from_fdi(37).unwrap(), &number(&values)).unwrap();
        assert!((pulp.left_mm - 4.36).abs() < 1e-12);
        assert!(pulp_warning(&limits(), &pulp).is_none());
        assert!(over_pulp(&limits(), Tooth::from_fdi(35).unwrap(), &number(&values)).is_none());
        let deep = OverPulp { cut_mm: 4.5, left_mm: 1.86, ..pulp };
        assert!(pulp_warning(&limits(), &deep).unwrap().contains("the pulp may be reached"));
    }
}
