//! The sections of a flawed preparation as numbers along its finish line.

use nalgebra::Point3;

use crate::field::bisect_along;
use crate::finish_line::{FinishLine, blend, section_at};
use crate::flaws::{FADE_DEG, Flaws, JUMP_DEG, Ripple};
use crate::section::{Section, WallFlaws, fall_of_lip, largest_radius};
use crate::spec::Spec;
use crate::spline::Spline;
use crate::tooth::Tooth;

/// Nodes of the numbers, 0.01 mm apart: a jump still has sixteen.
const N_NODES: usize = 2880;
/// Sections draw together towards the wall: its slopes along the line are steeper than E's by about this.
const CLOSER: f64 = 1.3;

/// What a flawed section has that the smooth line alone does not give.
#[derive(Debug, Clone)]
pub struct FlawCurve {
    /// `shift of E inwards, its rise, width, tan taper, tan fall, radius, tan second plane, ledge, swell`
    numbers: Spline<9>,
    second_from: f64,
    ledge_from: f64,
    wave_number: f64,
    /// At most how much faster than distance the cut's value grows.
    pub steepness: f64,
}

impl FlawCurve {
    /// The flaws of a spec on a line that has none yet; `None` when there are none.
    ///
    /// E moves on the uncut surface within its section's plane, and the wall stays where it was unless the flaw says
    /// otherwise, as when a hand dips with the same instrument: the floor's width follows.
    pub fn new(spec: &Spec, tooth: &Tooth, line: &FinishLine) -> Option<Self> {
        if spec.flaws == Flaws::default() {
            return None;
        }
        let azimuth = |i: usize| std::f64::consts::TAU * i as f64 / N_NODES as f64;
        let edge: Vec<Point3<f64>> = (0..N_NODES).map(|i| line.edge(azimuth(i))).collect();
        let chord: Vec<f64> = (0..N_NODES).map(|i| (edge[(i + 1) % N_NODES] - edge[i]).norm()).collect();
        let around: f64 = chord.iter().sum();
        let mut travelled = 0.0;
        let nodes: Vec<[f64; 9]> = (0..N_NODES)
            .map(|i| {
                let node = node(spec, tooth, line, azimuth(i), travelled / around, around);
                travelled += chord[i];
                node
            })
            .collect();
        let slope = |i: usize| {
            let (a, b) = (&nodes[i], &nodes[(i + 1) % N_NODES]);
            [0, 1, 2, 7, 8].iter().map(|&c| (b[c] - a[c]).abs()).sum::<f64>() / chord[i]
        };
        let steepest = (0..N_NODES).map(slope).fold(0.0, f64::max);
        let rough = spec.flaws.rough_wall;
        Some(Self {
            numbers: Spline::periodic(nodes),
            second_from: spec.second_plane.map_or(20.0, |p| p.break_mm),
            ledge_from: spec.flaws.ledge.map_or(0.0, |ledge| ledge.height_mm),
            wave_number: rough.map_or(0.0, |r| std::f64::consts::TAU / r.wavelength_mm),
            steepness: 1f64.hypot(CLOSER * steepest + rough.map_or(0.0, |r| r.steepness())),
        })
    }

    /// How far E is shifted inwards and upwards at an azimuth.
    pub fn shift(&self, azimuth: f64) -> [f64; 2] {
        let v = self.numbers.at(azimuth);
        [v[0], v[1]]
    }

    /// The section at an azimuth, counted from the shifted E, and that shift.
    pub fn at(&self, azimuth: f64) -> (Section, [f64; 2]) {
        let v = self.numbers.at(azimuth);
        let section = Section {
            width: v[2],
            tan_taper: v[3],
            tan_fall: v[4],
            radius: v[5],
            tan_second: v[6],
            second_from: self.second_from - v[1],
            flaws: WallFlaws {
                ledge_from: self.ledge_from - v[1],
                ledge_depth: v[7],
                swell: v[8],
                wave_number: self.wave_number,
            },
        };
        (section, [v[0], v[1]])
    }
}

fn node(spec: &Spec, tooth: &Tooth, line: &FinishLine, azimuth: f64, share: f64, around: f64) -> [f64; 9] {
    let flaws = &spec.flaws;
    let azimuth_deg = azimuth.to_degrees();
    let ripple = |ripple: &Ripple| {
        let turns = (around / ripple.wavelength_mm).round().max(1.0);
        let wave = (std::f64::consts::TAU * turns * share).cos();
        ripple.amplitude_mm * wave * ripple.stretch.weight(azimuth_deg, FADE_DEG)
    };
    let step = flaws.line_step.map(|s| (s, s.stretch.weight(azimuth_deg, JUMP_DEG)));
    let rise = step.map_or(0.0, |(s, w)| s.height_mm * w) + flaws.line_wave.as_ref().map_or(0.0, ripple);
    let shift = shift_inwards(tooth, line, azimuth, rise);
    let wider = rise * blend(&spec.taper_deg, azimuth).to_radians().tan() - shift
        + step.map_or(0.0, |(s, w)| s.width_mm * w);
    let mut section = section_at(spec, azimuth, wider);
    if let Some(s) = flaws.shoulder {
        let weight = s.stretch.weight(azimuth_deg, s.end_deg);
        let mix = |from: f64, to: f64| from + (to - from) * weight;
        section.width = mix(section.width, s.width_mm + wider);
        section.tan_fall = mix(section.tan_fall, 0.0);
        section.radius = mix(section.radius, s.internal_radius_mm);
    }
    if let Some(lip) = flaws.lip {
        let weight = lip.stretch.weight(azimuth_deg, FADE_DEG);
        let tan_fall = fall_of_lip(section.width, section.tan_taper, lip.height_mm).tan();
        // A little more than fits is cut back to what fits: the arc ends exactly in E.
        let radius = 1.01 * largest_radius(section.width, section.tan_taper, tan_fall);
        section.tan_fall += (tan_fall - section.tan_fall) * weight;
        section.radius += (radius - section.radius) * weight;
    }
    let ledge = flaws.ledge.map_or(0.0, |l| l.depth_mm * l.stretch.weight(azimuth_deg, FADE_DEG));
    let swell = flaws.rough_wall.as_ref().map_or(0.0, ripple);
    let Section { width, tan_taper, tan_fall, radius, tan_second, .. } = section;
    [shift, rise, width, tan_taper, tan_fall, radius, tan_second, ledge, swell]
}

/// How far inwards of E the uncut surface lies `rise` higher, in E's section.
fn shift_inwards(tooth: &Tooth, line: &FinishLine, azimuth: f64, rise: f64) -> f64 {
    if rise == 0.0 {
        return 0.0;
    }
    let inward = line.inward(azimuth);
    let over = line.edge(azimuth) + line.axis() * rise;
    bisect_along(tooth, &over, &-inward, 2.0).map_or(0.0, |p| (p - over).dot(&inward))
}
