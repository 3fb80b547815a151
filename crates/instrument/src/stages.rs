//! A kit held against a whole course of work, stage by stage.

use crate::fault::nearest;
use crate::fit::{Fit, Target, suitable};
use crate::kit::Kit;

/// A bar of the asked width may differ by this, mm: bars are made in steps of 0.5.
const SAME_BAR_MM: f64 = 0.02;

/// What one stage asks of a kit.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Stage {
    /// What it is called.
    pub name: String,
    /// What is to be cut.
    pub targets: Vec<Target>,
    /// Instruments that the exercise names itself.
    pub instruments: Vec<String>,
    /// Width of the bar that it is checked with, mm.
    pub bar_mm: Option<f64>,
}

/// What a kit has for one stage.
#[derive(Debug, Clone, PartialEq)]
pub struct StageChoice {
    /// The stage's name.
    pub stage: String,
    /// For each target its name and every instrument, the best first.
    pub fits: Vec<(String, Vec<Fit>)>,
    /// What the kit lacks for this stage, each in a sentence; empty if nothing.
    pub lacks: Vec<String>,
}

impl StageChoice {
    /// Whether some instrument suits each target.
    pub fn is_covered(&self) -> bool {
        self.fits.iter().all(|(_, fits)| fits.iter().any(|fit| fit.suits))
    }

    /// The best instrument for each target: its name, then the instrument's, none if nothing suits.
    pub fn picks(&self) -> impl Iterator<Item = (&str, Option<&str>)> {
        self.fits.iter().map(|(target, fits)| {
            let best = fits.first().filter(|fit| fit.suits);
            (target.as_str(), best.map(|fit| fit.instrument.as_str()))
        })
    }
}

/// Holds a kit against stages: picks instruments, and says what is lacking, be it an instrument for a target, one that the exercise
/// names, or a bar.
pub fn by_stage(kit: &Kit, stages: &[Stage]) -> Vec<StageChoice> {
    stages.iter().map(|stage| for_stage(kit, stage)).collect()
}

/// The same for one stage.
pub fn for_stage(kit: &Kit, stage: &Stage) -> StageChoice {
    let fits: Vec<(String, Vec<Fit>)> = stage
        .targets
        .iter()
        .map(|target| (target.name.clone(), named_first(suitable(kit, target), &stage.instruments)))
        .collect();
    let mut lacks = Vec::new();
    for (target, fits) in fits.iter().filter(|(_, fits)| fits.iter().all(|fit| !fit.suits)) {
        lacks.push(format!("no instrument of the kit suits {target}: {}", against(fits)));
    }
    for name in stage.instruments.iter().filter(|name| kit.instrument(name).is_none()) {
        let names = kit.instruments.iter().map(|instrument| instrument.name.as_str());
        let near = nearest(name, names).map_or(String::new(), |near| format!("; nearest is `{near}`"));
        lacks.push(format!("the exercise names `{name}`, which the kit has not{near}"));
    }
    lacks.extend(stage.instruments.iter().filter_map(|name| unfit(name, &fits)));
    lacks.extend(stage.bar_mm.and_then(|bar_mm| lacking_bar(kit, bar_mm)));
    StageChoice { stage: stage.name.clone(), fits, lacks }
}

/// How much strain the exercise's own choice outweighs: half the span of a range.
const NAMED: f64 = 0.5;

/// Of those that suit, one that the exercise names goes before others that come only a little nearer.
fn named_first(mut fits: Vec<Fit>, names: &[String]) -> Vec<Fit> {
    let place = |fit: &Fit| names.iter().position(|name| *name == fit.instrument).unwrap_or(usize::MAX);
    // Stable: the others keep their order.
    let strain = |fit: &Fit| fit.strain - if place(fit) == usize::MAX || !fit.suits { 0.0 } else { NAMED };
    fits.sort_by(|a, b| {
        b.suits.cmp(&a.suits).then(strain(a).total_cmp(&strain(b))).then(if a.suits {
            place(a).cmp(&place(b))
        } else {
            std::cmp::Ordering::Equal
        })
    });
    fits
}

/// What speaks against the instruments, the same sentence once.
fn against(fits: &[Fit]) -> String {
    let mut sentences: Vec<String> = Vec::new();
    for fit in fits {
        let said = fit.reasons.join("; ");
        match sentences.iter().position(|known| known.ends_with(&format!(": {said}"))) {
            Some(k) => sentences[k] = format!("{}, {}", fit.instrument, sentences[k]),
            None => sentences.push(format!("{}: {said}", fit.instrument)),
        }
    }
    sentences.join(". ")
}

/// An instrument that the exercise names though it suits none of the stage's targets.
fn unfit(name: &str, fits: &[(String, Vec<Fit>)]) -> Option<String> {
    let own: Vec<&Fit> =
        fits.iter().flat_map(|(_, fits)| fits).filter(|fit| fit.instrument == name).collect();
    let first = own.first().filter(|_| own.iter().all(|fit| !fit.suits))?;
    Some(format!("the exercise names `{name}`, but {}", first.reasons.join("; ")))
}

fn lacking_bar(kit: &Kit, bar_mm: f64) -> Option<String> {
    if kit.gauges.iter().any(|gauge| (gauge.width_mm - bar_mm).abs() <= SAME_BAR_MM) {
        return None;
    }
    let widths: Vec<String> = kit.gauges.iter().map(|gauge| format!("{}", gauge.width_mm)).collect();
    let has = if widths.is_empty() { "none".into() } else { format!("{} mm", widths.join(", ")) };
    Some(format!("the stage is checked with a bar of {bar_mm} mm; the kit has {has}"))
}
