//! A kit held against an exercise: which instrument for which cut of which stage, and why not the others.
//!
//! The bridge between the two: criteria on readings become targets of cuts, stage by stage, and what a stage asks for the first time
//! is cut in it. Needs no scan.

mod ask;

use kerfwright_exercise::Exercise;
use kerfwright_instrument::{Fit, Grit, Kit, Stage, Target, for_stage, suitable};
use serde::Serialize;

use ask::Ask;

/// What a kit has for one stage of an exercise.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StageTools {
    /// The stage's id.
    pub stage: String,
    /// What people call it.
    pub title: String,
    /// The cuts; none where the stage only checks.
    pub cuts: Vec<Cut>,
    /// The bar it is checked with, mm.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub bar_mm: Option<f64>,
    /// What the kit lacks besides an instrument for a cut: one that the exercise names, one that it names but that does not suit, a bar.
    pub lacks: Vec<String>,
}

/// One cut of a stage.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Cut {
    /// What is cut.
    pub name: String,
    /// What is asked of it.
    pub asked: String,
    /// Ids of the criteria that ask for it; none where it only joins or follows other cuts.
    pub criteria: Vec<String>,
    /// How near the kit comes.
    pub within: Within,
    /// Every instrument of the kit: those that suit first, the best first; then the others, each with what speaks against it.
    pub fits: Vec<Fit>,
}

/// How near to what is asked a kit comes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Within {
    /// An instrument suits what is ideal.
    Ideal,
    /// None suits what is ideal, one what is acceptable.
    Acceptable,
    /// None suits.
    Nothing,
}

impl Cut {
    /// The best instrument, if one suits.
    pub fn best(&self) -> Option<&Fit> {
        self.fits.first().filter(|fit| fit.suits)
    }
}

impl StageTools {
    /// Whether some instrument suits each cut.
    pub fn is_covered(&self) -> bool {
        self.cuts.iter().all(|cut| cut.within != Within::Nothing)
    }
}

/// Holds a kit against every stage of an exercise. A kit as worn comes from [`kerfwright_instrument::in_hand`].
pub fn tools(exercise: &Exercise, kit: &Kit) -> Vec<StageTools> {
    (0..exercise.stages.len()).map(|at| stage_tools(exercise, at, kit)).collect()
}

fn stage_tools(exercise: &Exercise, at: usize, kit: &Kit) -> StageTools {
    let stage = &exercise.stages[at];
    let asks = ask::asks(exercise, at, coarsest(kit, &stage.instruments));
    let chosen: Vec<(Ask, Within)> = asks.into_iter().map(|ask| nearest_asked(kit, ask)).collect();
    let wanted = Stage {
        name: stage.id.clone(),
        targets: chosen.iter().map(|(ask, within)| of(ask, *within).clone()).collect(),
        instruments: stage.instruments.clone(),
        bar_mm: stage.gauge.as_ref().map(|gauge| gauge.bar_mm),
    };
    let choice = for_stage(kit, &wanted);
    // The first sentences are about cuts, whose instruments are all told anyway.
    let n_uncovered = chosen.iter().filter(|(_, within)| *within == Within::Nothing).count();
    let cuts = chosen.into_iter().zip(choice.fits).map(|((ask, within), (name, fits))| Cut {
        name,
        asked: ask.asked(within == Within::Acceptable),
        criteria: ask.criteria,
        within,
        fits,
    });
    StageTools {
        stage: stage.id.clone(),
        title: stage.title.clone(),
        cuts: cuts.collect(),
        bar_mm: stage.gauge.as_ref().map(|gauge| gauge.bar_mm),
        lacks: choice.lacks.into_iter().skip(n_uncovered).collect(),
    }
}

/// Ideal if an instrument suits it, else acceptable.
fn nearest_asked(kit: &Kit, ask: Ask) -> (Ask, Within) {
    let suits = |target: &Target| suitable(kit, target).iter().any(|fit| fit.suits);
    let within = if suits(&ask.ideal) {
        Within::Ideal
    } else if suits(&ask.acceptable) {
        Within::Acceptable
    } else {
        Within::Nothing
    };
    (ask, within)
}

fn of(ask: &Ask, within: Within) -> &Target {
    if within == Within::Ideal { &ask.ideal } else { &ask.acceptable }
}

/// A stage whose named instruments are all fine is one of finishing.
fn coarsest(kit: &Kit, names: &[String]) -> Option<Grit> {
    let grits: Vec<Grit> = names
        .iter()
        .filter_map(|name| kit.instrument(name))
        .filter_map(|instrument| instrument.grit)
        .collect();
    (!grits.is_empty() && grits.iter().all(|grit| *grit <= Grit::Fine)).then_some(Grit::Fine)
}
