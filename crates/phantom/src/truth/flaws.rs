//! The flaws of a preparation with their exact size and place, read off its exact sections.

use nalgebra::Point3;

use crate::flaws::{Flaws, JUMP_DEG, Ripple, Stretch};
use crate::phantom::Phantom;

/// Azimuths that are looked at before a change is halved down.
const N_LOOKS: usize = 1440;
/// A shoulder that passes into what lies beside it within this many degrees does so by a jump.
const JUMP_AT_MOST_DEG: f64 = 6.0;

/// A part of the finish line, by rising azimuth about the tooth's axis; `to_deg` may exceed 360.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Run {
    /// Where it begins.
    pub from_deg: f64,
    /// Where it ends.
    pub to_deg: f64,
    /// E where it begins.
    pub from: [f64; 3],
    /// E where it ends.
    pub to: [f64; 3],
}

/// An unsupported rim.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct LipTruth {
    /// Where it is at least half as high as at its highest.
    pub run: Run,
    /// Its greatest height over the deepest part of the floor.
    pub height_mm: f64,
    /// E where it is highest.
    pub highest: [f64; 3],
}

/// A sudden change along the finish line, by rising azimuth.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Jump {
    /// Its middle.
    pub azimuth_deg: f64,
    /// E at its middle.
    pub at: [f64; 3],
    /// How much higher E is after it, along the preparation's path.
    pub height_mm: f64,
    /// How much wider the floor is after it.
    pub width_mm: f64,
    /// Over which length of the finish line it happens.
    pub over_mm: f64,
}

/// A step in a wall.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct LedgeTruth {
    /// Where it is at least half as deep as at its deepest.
    pub run: Run,
    /// Height of its floor over E at its middle, along the preparation's path.
    pub height_mm: f64,
    /// Horizontal depth of its floor.
    pub depth_mm: f64,
    /// Its outer edge at its middle.
    pub at: [f64; 3],
}

/// A wave in the finish line, or dents in the walls.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct RippleTruth {
    /// Where it is.
    pub run: Run,
    /// From the middle to the crest.
    pub amplitude_mm: f64,
    /// Root mean square of the departure from the smooth form, where it is at full height.
    pub rms_mm: f64,
    /// From crest to crest along the finish line, as cut.
    pub wavelength_mm: f64,
}

/// Where the finish is a shoulder, and what is wrong with the preparation.
#[derive(Debug, Clone, PartialEq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct FlawTruth {
    /// Where the finish is more a shoulder than anything else.
    pub shoulders: Vec<Run>,
    /// Unsupported rims; where none was asked for, those of a chamfer cut deeper than its instrument is thick.
    pub lips: Vec<LipTruth>,
    /// Jumps of the finish line in height, or in width within 6°.
    pub jumps: Vec<Jump>,
    /// Steps in the walls.
    pub ledges: Vec<LedgeTruth>,
    /// The finish line's wave.
    pub line_wave: Option<RippleTruth>,
    /// The walls' dents.
    pub rough_wall: Option<RippleTruth>,
}

impl FlawTruth {
    pub(crate) fn of(phantom: &Phantom) -> Self {
        let spec = &phantom.spec;
        let flaws = &spec.flaws;
        let share = |a: f64| Flaws::shoulder_share(spec, a);
        Self {
            shoulders: runs(phantom, |a| share(a) - 0.5),
            lips: lips(phantom),
            jumps: jumps(phantom),
            ledges: flaws.ledge.iter().map(|ledge| ledge_truth(phantom, ledge)).collect(),
            line_wave: flaws
                .line_wave
                .as_ref()
                .map(|wave| ripple(phantom, wave, std::f64::consts::FRAC_1_SQRT_2)),
            rough_wall: flaws.rough_wall.as_ref().map(|wave| ripple(phantom, wave, 0.5)),
        }
    }
}

/// Where `value` is positive, its ends to a millionth of a radian.
fn runs(phantom: &Phantom, value: impl Fn(f64) -> f64) -> Vec<Run> {
    let azimuth = |i: usize| std::f64::consts::TAU * i as f64 / N_LOOKS as f64;
    let inside: Vec<bool> = (0..N_LOOKS).map(|i| value(azimuth(i)) > 0.0).collect();
    if inside.iter().all(|&inside| inside) {
        return vec![run(phantom, &Stretch::ALL_ROUND)];
    }
    let change = |i: usize| {
        let (mut before, mut after) = (azimuth(i), azimuth(i + 1));
        for _ in 0..20 {
            let middle = 0.5 * (before + after);
            if (value(middle) > 0.0) == inside[i] { before = middle } else { after = middle }
        }
        (0.5 * (before + after)).to_degrees()
    };
    let rises = (0..N_LOOKS).filter(|&i| !inside[i] && inside[(i + 1) % N_LOOKS]);
    rises
        .map(|i| {
            let length = (1..N_LOOKS).take_while(|k| inside[(i + k) % N_LOOKS]).count();
            let last = i + length;
            let turns = 360.0 * (last / N_LOOKS) as f64;
            run(phantom, &Stretch::new(change(i), change(last % N_LOOKS) + turns))
        })
        .collect()
}

fn run(phantom: &Phantom, stretch: &Stretch) -> Run {
    let edge = |deg: f64| phantom.preparation.line.edge(deg.to_radians()).into();
    let Stretch { from_deg, to_deg } = *stretch;
    Run { from_deg, to_deg, from: edge(from_deg), to: edge(to_deg) }
}

/// Rims lower than this are rounding of numbers.
const LEAST_LIP_MM: f64 = 1e-4;

fn lips(phantom: &Phantom) -> Vec<LipTruth> {
    let line = &phantom.preparation.line;
    let lip = |azimuth: f64| line.section(azimuth).lip();
    let turn = std::f64::consts::TAU / N_LOOKS as f64;
    let highest = |run: &Run| {
        let looks = (0..N_LOOKS).map(|i| turn * i as f64).filter(|a| {
            let past = a.to_degrees() - run.from_deg;
            past.rem_euclid(360.0) <= run.to_deg - run.from_deg
        });
        looks.max_by(|a, b| lip(*a).total_cmp(&lip(*b))).unwrap_or(run.from_deg.to_radians())
    };
    runs(phantom, |a| lip(a) - LEAST_LIP_MM)
        .iter()
        .flat_map(|whole| {
            let at = highest(whole);
            let height_mm = lip(at);
            let half = runs(phantom, |a| lip(a) - 0.5 * height_mm);
            let holds =
                |run: &Run| (at.to_degrees() - run.from_deg).rem_euclid(360.0) <= run.to_deg - run.from_deg;
            half.into_iter().find(holds).map(|run| LipTruth { run, height_mm, highest: line.edge(at).into() })
        })
        .collect()
}

fn jumps(phantom: &Phantom) -> Vec<Jump> {
    let flaws = &phantom.spec.flaws;
    let step = flaws.line_step.map(|step| (step.stretch, JUMP_DEG));
    let wing = flaws.shoulder.map(|s| (s.stretch, s.end_deg)).filter(|wing| wing.1 <= JUMP_AT_MOST_DEG);
    let ends =
        [step, wing].into_iter().flatten().filter(|(stretch, _)| stretch.to_deg - stretch.from_deg < 360.0);
    ends.flat_map(|(stretch, over)| [(stretch.from_deg, over), (stretch.to_deg, over)])
        .map(|(azimuth_deg, over_deg)| jump(phantom, azimuth_deg, over_deg))
        .collect()
}

/// What changes between both sides of a jump; what the smooth line does over its few degrees is part of it.
fn jump(phantom: &Phantom, azimuth_deg: f64, over_deg: f64) -> Jump {
    let line = &phantom.preparation.line;
    let beside = |side: f64| (azimuth_deg + side * 0.5 * over_deg).to_radians();
    let (before, after) = (beside(-1.0), beside(1.0));
    let along = line.edge(after) - line.edge(before);
    Jump {
        azimuth_deg: azimuth_deg.rem_euclid(360.0),
        at: line.edge(azimuth_deg.to_radians()).into(),
        height_mm: along.dot(&line.axis()),
        width_mm: line.section(after).width - line.section(before).width,
        over_mm: along.norm(),
    }
}

fn ledge_truth(phantom: &Phantom, ledge: &crate::flaws::Ledge) -> LedgeTruth {
    let azimuth = ledge.stretch.middle_deg().to_radians();
    let section = phantom.preparation.line.section(azimuth);
    let height_mm = section.flaws.ledge_from;
    let at = phantom.preparation.wall_point(azimuth, height_mm);
    LedgeTruth {
        run: run(phantom, &ledge.stretch),
        height_mm,
        depth_mm: section.flaws.ledge_depth,
        at: Point3::into(at),
    }
}

/// `rms_share`: of the amplitude; 1/√2 for a wave, 1/2 for one wave times another.
fn ripple(phantom: &Phantom, ripple: &Ripple, rms_share: f64) -> RippleTruth {
    let line = phantom.preparation.line.smooth();
    let edge = |i: usize| line.edge(std::f64::consts::TAU * i as f64 / N_LOOKS as f64);
    let around: f64 = (0..N_LOOKS).map(|i| (edge(i + 1) - edge(i)).norm()).sum();
    RippleTruth {
        run: run(phantom, &ripple.stretch),
        amplitude_mm: ripple.amplitude_mm,
        rms_mm: rms_share * ripple.amplitude_mm,
        wavelength_mm: around / (around / ripple.wavelength_mm).round().max(1.0),
    }
}
