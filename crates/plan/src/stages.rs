//! How deep the tooth is to be cut at each point, stage by stage of an exercise: the map for depth cuts.

use kerfwright_exercise::{Exercise, Stage};
use kerfwright_geometry::Surface;
use rayon::prelude::*;
use serde::Serialize;

use crate::asked::{SIDES, number, taper};
use crate::deviation::OCCLUSAL;
use crate::error::nearest_side;
use crate::of_exercise::{INCISAL, at_fault, at_stage, place};
use crate::site::Wish;
use crate::{Asked, Plan, PlanError, Targets, plan};

/// What a stage has cut when it is done.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Done {
    /// Nothing: what it asks cuts nothing.
    Nothing,
    /// The top alone; the walls stand.
    Top,
    /// Walls alone; the top stands.
    Walls,
    /// Both.
    All,
}

impl Done {
    /// What is cut when the stage with an id is done; the last stage where nothing is said.
    pub fn after(exercise: &Exercise, stage: Option<&str>) -> Self {
        done(&exercise.stages[..exercise.stages.len().min(place(exercise, stage) + 1)]).0
    }

    /// Whether a part of a [`Deviation`](crate::deviation::Deviation) is cut by then.
    pub fn cuts(self, part: &str) -> bool {
        match self {
            Self::Nothing => false,
            Self::Top => part == OCCLUSAL,
            Self::Walls => part != OCCLUSAL,
            Self::All => true,
        }
    }
}

/// The depth after one stage.
#[derive(Debug, Clone, PartialEq)]
pub struct StageDepth {
    /// The stage's id.
    pub stage: String,
    /// What people call it.
    pub title: String,
    /// What has been cut when it is done.
    pub done: Done,
    /// The sides whose walls have been cut by then; the others stand, as at contacts that are not broken yet.
    pub walls: Vec<&'static str>,
    /// One value a vertex of the scan before cutting: closest distance from the uncut surface to the one after this stage, where
    /// tooth is to be cut by then, else 0. mm.
    pub depth_mm: Vec<f64>,
    /// Of that, what this stage takes itself at most, mm.
    pub takes_mm: f64,
    /// Numbers that neither this stage nor an earlier one asks for, taken from a later one: criterion, stage, number.
    pub taken_from_later: Vec<String>,
}

/// The depths after each stage that cuts.
///
/// # Errors
/// See [`PlanError`].
pub fn stage_depths(
    before: &Surface,
    wish: &Wish,
    exercise: &Exercise,
) -> Result<Vec<StageDepth>, PlanError> {
    // Stages that ask the same form have the same depths: each form is laid once.
    let mut laid: Vec<(Targets, Plan)> = Vec::new();
    let mut all: Vec<StageDepth> = Vec::new();
    for (at, stage) in exercise.stages.iter().enumerate() {
        let (done, walls) = done(&exercise.stages[..=at]);
        if done == Done::Nothing {
            continue;
        }
        let asked = at_stage(exercise, at, wish.tooth)?;
        let known = laid.iter().position(|(own, _)| *own == asked.targets);
        let k = known.unwrap_or(laid.len());
        if known.is_none() {
            laid.push((asked.targets.clone(), lay(before, wish, exercise, at, &asked)?));
        }
        let plan = &laid[k].1;
        // An onlay's plan of a stage holds no more than is cut by then.
        let (depth_mm, walls) = match plan.onlay {
            Some(_) => (plan.depth_mm.clone(), Vec::new()),
            None => (depth(before, plan, done, &walls), walls),
        };
        let takes_mm = match all.last() {
            Some(earlier) => {
                depth_mm.iter().zip(&earlier.depth_mm).map(|(now, then)| now - then).fold(0.0, f64::max)
            }
            None => depth_mm.iter().copied().fold(0.0, f64::max),
        };
        all.push(StageDepth {
            stage: stage.id.clone(),
            title: stage.title.clone(),
            done,
            depth_mm,
            takes_mm,
            taken_from_later: taken_from_later(&asked, at, done, &walls),
            walls,
        });
    }
    Ok(all)
}

/// The target that an exercise asks for after its last stage.
///
/// # Errors
/// See [`PlanError`]; what the exercise asks and this tooth does not allow is told with stage and criteria.
pub fn plan_of_exercise(
    before: &Surface,
    wish: &Wish,
    exercise: &Exercise,
    asked: &Asked,
) -> Result<Plan, PlanError> {
    lay(before, wish, exercise, exercise.stages.len().saturating_sub(1), asked)
}

fn lay(
    before: &Surface,
    wish: &Wish,
    exercise: &Exercise,
    at: usize,
    asked: &Asked,
) -> Result<Plan, PlanError> {
    plan(before, wish, &asked.targets).map_err(|fault| at_fault(exercise, at, &asked.sayings, fault))
}

/// What stages have cut together, by what they ask, and on which sides the walls.
fn done(stages: &[Stage]) -> (Done, Vec<&'static str>) {
    const TOP: [&str; 6] = [
        "reduction.occlusal.functional_mm",
        "reduction.occlusal.nonfunctional_mm",
        INCISAL[0],
        INCISAL[1],
        "reduction.incisal_mm",
        "clearance.mip_mm",
    ];
    let top = stages.iter().any(|stage| TOP.iter().any(|id| number(stage, id).is_some()));
    let is_cut = |side: &&str| {
        let asks =
            |stage: &Stage, what: &str| number(stage, &format!("finish_line.{what}.{side}_mm")).is_some();
        // Where the gap to the adjacent tooth is asked the contact is broken, and the wall behind it cut.
        stages
            .iter()
            .any(|stage| taper(stage, side).is_some() || asks(stage, "width") || asks(stage, "neighbour"))
    };
    let walls: Vec<&str> = SIDES.into_iter().filter(is_cut).collect();
    let done = match (top, walls.is_empty()) {
        (false, true) => Done::Nothing,
        (true, true) => Done::Top,
        (false, false) => Done::Walls,
        (true, false) => Done::All,
    };
    (done, walls)
}

/// What a stage's depths hang on though only a later stage asks for it.
fn taken_from_later(asked: &Asked, at: usize, done: Done, walls: &[&str]) -> Vec<String> {
    let counts = |what: &str| match what.split_once('.') {
        Some(("occlusal" | "front", _)) => done != Done::Walls,
        Some(("width_mm" | "taper_deg" | "above_gingiva_mm", side)) => walls.contains(&side),
        _ => false,
    };
    let later = asked.sayings.iter().filter(|saying| saying.at > at && counts(&saying.what));
    later.map(|saying| saying.told.clone()).collect()
}

fn depth(before: &Surface, plan: &Plan, done: Done, walls: &[&str]) -> Vec<f64> {
    // How far a vertex lies over the new top, the shortest way; not positive where the top leaves it.
    let over_mm = |vertex: usize| plan.top.room_mm(&before.mesh.vertices[vertex]).min(0.0).abs();
    // Less is cut than when the walls are: where zones meet the height over the top is more than the closest distance.
    let of_top_mm = |vertex: usize| over_mm(vertex).min(plan.depth_mm[vertex]);
    let has_wall = |vertex: usize| {
        let angle_deg = plan.site.frame.angle_deg(&before.mesh.vertices[vertex]);
        walls.contains(&nearest_side(angle_deg))
    };
    (0..plan.depth_mm.len())
        .into_par_iter()
        .map(|vertex| match done {
            _ if !plan.is_cut[vertex] => 0.0,
            Done::Nothing => 0.0,
            Done::Top => of_top_mm(vertex),
            Done::Walls if over_mm(vertex) > 0.0 || !has_wall(vertex) => 0.0,
            Done::All if !has_wall(vertex) => of_top_mm(vertex),
            Done::Walls | Done::All => plan.depth_mm[vertex],
        })
        .collect()
}
