//! How deep the tooth is to be cut at each point, stage by stage of an exercise: the map for depth cuts.

use kerfwright_exercise::{Exercise, Stage, readings};
use kerfwright_geometry::Surface;
use rayon::prelude::*;
use serde::Serialize;

use crate::asked::{number, taper};
use crate::deviation::OCCLUSAL;
use crate::of_exercise::{INCISAL, at_stage, place};
use crate::site::Wish;
use crate::{Plan, PlanError, Targets, plan};

/// What a stage has cut when it is done.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Done {
    /// Nothing: what it asks cuts nothing.
    Nothing,
    /// The top alone; the walls stand.
    Top,
    /// The walls alone; the top stands.
    Walls,
    /// Both.
    All,
}

impl Done {
    /// What is cut when the stage with an id is done; the last stage where nothing is said.
    pub fn after(exercise: &Exercise, stage: Option<&str>) -> Self {
        done(&exercise.stages[..exercise.stages.len().min(place(exercise, stage) + 1)])
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
    /// One value a vertex of the scan before cutting: closest distance from the uncut surface to the one after this stage, where
    /// tooth is to be cut by then, else 0. mm.
    pub depth_mm: Vec<f64>,
    /// Of that, what this stage takes itself at most, mm.
    pub takes_mm: f64,
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
        let done = done(&exercise.stages[..=at]);
        if done == Done::Nothing {
            continue;
        }
        let targets = at_stage(exercise, at, wish.tooth)?.targets;
        let known = laid.iter().position(|(own, _)| *own == targets);
        let k = known.unwrap_or(laid.len());
        if known.is_none() {
            laid.push((targets.clone(), plan(before, wish, &targets)?));
        }
        let depth_mm = depth(before, &laid[k].1, done);
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
        });
    }
    Ok(all)
}

/// What stages have cut together, by what they ask.
fn done(stages: &[Stage]) -> Done {
    const TOP: [&str; 6] = [
        "reduction.occlusal.functional_mm",
        "reduction.occlusal.nonfunctional_mm",
        INCISAL[0],
        INCISAL[1],
        "reduction.incisal_mm",
        "clearance.mip_mm",
    ];
    let top = stages.iter().any(|stage| TOP.iter().any(|id| number(stage, id).is_some()));
    let walls = stages.iter().any(|stage| {
        readings::ASPECTS.iter().any(|side| {
            taper(stage, side).is_some() || number(stage, &format!("finish_line.width.{side}_mm")).is_some()
        })
    });
    match (top, walls) {
        (false, false) => Done::Nothing,
        (true, false) => Done::Top,
        (false, true) => Done::Walls,
        (true, true) => Done::All,
    }
}

fn depth(before: &Surface, plan: &Plan, done: Done) -> Vec<f64> {
    // How far a vertex lies over the new top, the shortest way; not positive where the top leaves it.
    let over_mm = |vertex: usize| -plan.top.room_mm(&before.mesh.vertices[vertex]);
    (0..plan.depth_mm.len())
        .into_par_iter()
        .map(|vertex| match done {
            _ if !plan.is_cut[vertex] => 0.0,
            Done::Nothing => 0.0,
            // Less is cut than when the walls are: where zones meet the height over the top is more than the closest distance.
            Done::Top => over_mm(vertex).max(0.0).min(plan.depth_mm[vertex]),
            Done::Walls if over_mm(vertex) > 0.0 => 0.0,
            Done::Walls | Done::All => plan.depth_mm[vertex],
        })
        .collect()
}
