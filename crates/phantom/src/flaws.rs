//! Flaws that a hand leaves in a preparation, each with its exact size and place.
//!
//! Angles are azimuths about the tooth's axis: 0 mesial, 90 facial, 180 distal, 270 lingual.

use crate::field::smooth_step;
use crate::spec::{Finish, Spec, SpecError, within};

/// Part of the way around the tooth, by rising azimuth; it may run past 360.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Stretch {
    /// Where it begins.
    pub from_deg: f64,
    /// Where it ends, beyond `from_deg`.
    pub to_deg: f64,
}

/// A shoulder over a part of the circumference, whatever the finish is elsewhere.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct PartShoulder {
    /// Where it is; at both ends it is half way into what lies beside it.
    pub stretch: Stretch,
    /// Width of its floor.
    pub width_mm: f64,
    /// Radius between floor and wall.
    pub internal_radius_mm: f64,
    /// Over how many degrees each end passes into what lies beside it. A few leave a wing: the wall springs out to
    /// the narrower finish line in one face; 30 fade it out.
    pub end_deg: f64,
}

/// A rim that stands unsupported outside the deepest part of the floor, cut with too thin an instrument.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Lip {
    /// Where it is, half as high at its ends.
    pub stretch: Stretch,
    /// From the floor's deepest part up to E.
    pub height_mm: f64,
}

/// A step in an axial wall: above its level the wall lies deeper.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Ledge {
    /// Where it is, half as deep at its ends.
    pub stretch: Stretch,
    /// Height of its floor over E along the path.
    pub height_mm: f64,
    /// Horizontal depth of its floor.
    pub depth_mm: f64,
}

/// A part of the finish line that is set off from the rest by a jump at both ends.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct LineStep {
    /// The part; each jump takes a few degrees around its end.
    pub stretch: Stretch,
    /// How much higher it runs; negative = lower.
    pub height_mm: f64,
    /// How much further in its wall stands.
    pub width_mm: f64,
}

/// A wave. It runs with a whole number of periods around the tooth, next to the wavelength asked for.
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Ripple {
    /// Where it is, half as high at its ends.
    pub stretch: Stretch,
    /// From the middle to the crest.
    pub amplitude_mm: f64,
    /// From crest to crest.
    pub wavelength_mm: f64,
}

/// What is wrong with a preparation beyond its numbers by aspect. The default is: nothing.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize), serde(default))]
pub struct Flaws {
    /// A shoulder over a part of the circumference.
    pub shoulder: Option<PartShoulder>,
    /// An unsupported rim.
    pub lip: Option<Lip>,
    /// A step in a wall.
    pub ledge: Option<Ledge>,
    /// A part of the finish line that jumps.
    pub line_step: Option<LineStep>,
    /// A finish line that runs up and down.
    pub line_wave: Option<Ripple>,
    /// A wall with dents: a wave around times the same wave upwards, at full height from 1.2 mm over E.
    pub rough_wall: Option<Ripple>,
}

/// Over how many degrees a finish line jumps: about 0.15 mm on a molar.
pub const JUMP_DEG: f64 = 2.0;
/// Over how many degrees lips, ledges and waves fade at their ends.
pub const FADE_DEG: f64 = 8.0;

impl Stretch {
    /// All the way around.
    pub const ALL_ROUND: Self = Self { from_deg: 0.0, to_deg: 360.0 };

    /// A part of the way around.
    pub fn new(from_deg: f64, to_deg: f64) -> Self {
        Self { from_deg, to_deg }
    }

    /// Azimuth of its middle.
    pub fn middle_deg(&self) -> f64 {
        0.5 * (self.from_deg + self.to_deg)
    }

    /// 1 inside, 0 outside, half at both ends, which are `end_deg` wide.
    pub(crate) fn weight(&self, azimuth_deg: f64, end_deg: f64) -> f64 {
        let length = self.to_deg - self.from_deg;
        if length >= 360.0 {
            return 1.0;
        }
        let off = (azimuth_deg - self.middle_deg() + 180.0).rem_euclid(360.0) - 180.0;
        smooth_step(0.5 + (0.5 * length - off.abs()) / end_deg)
    }

    fn check(&self) -> Result<(), SpecError> {
        within("flaw from_deg", self.from_deg, -360.0, 360.0)?;
        within("flaw length (to_deg − from_deg)", self.to_deg - self.from_deg, 10.0, 360.0)
    }
}

impl Flaws {
    /// Refuses what the section cannot show.
    pub(crate) fn check(&self, spec: &Spec) -> Result<(), SpecError> {
        let narrowest = spec.width_mm.around().into_iter().fold(f64::MAX, f64::min);
        if let Some(s) = &self.shoulder {
            s.stretch.check()?;
            within("shoulder width_mm", s.width_mm, 0.2, 1.8)?;
            within("shoulder internal_radius_mm", s.internal_radius_mm, 0.0, s.width_mm)?;
            within("shoulder end_deg", s.end_deg, JUMP_DEG, 60.0)?;
        }
        if let Some(lip) = &self.lip {
            lip.stretch.check()?;
            within("lip height_mm", lip.height_mm, 0.0, 0.25 * narrowest)?;
        }
        if let Some(ledge) = &self.ledge {
            ledge.stretch.check()?;
            within("ledge height_mm", ledge.height_mm, 0.8, 6.0)?;
            within("ledge depth_mm", ledge.depth_mm, 0.0, 0.8)?;
        }
        if let Some(step) = &self.line_step {
            step.stretch.check()?;
            within("line_step height_mm", step.height_mm, -0.6, 0.6)?;
            within("line_step width_mm", step.width_mm, -0.6, 0.8)?;
            within("width_mm with its line_step", narrowest + step.width_mm, 0.2, 2.2)?;
        }
        for (wave, most) in [(&self.line_wave, 0.4), (&self.rough_wall, 0.1)] {
            if let Some(wave) = wave {
                wave.stretch.check()?;
                within("wave amplitude_mm", wave.amplitude_mm, 0.0, most)?;
                within("wavelength_mm", wave.wavelength_mm, 0.3, 15.0)?;
                within("wave's steepness (2π amplitude/wavelength)", wave.steepness(), 0.0, 1.0)?;
            }
        }
        let moves_line = self.lip.is_some() || self.line_step.is_some() || self.line_wave.is_some();
        let knife = spec.finish.around().contains(&Finish::KnifeEdge);
        within(
            "width_mm under a flaw of the finish line",
            if knife { 0.0 } else { narrowest },
            if moves_line { 0.2 } else { 0.0 },
            1.8,
        )
    }

    /// 1 where the finish line is a shoulder, 0 where it is not, by the spec alone.
    pub(crate) fn shoulder_share(spec: &Spec, azimuth: f64) -> f64 {
        let is_shoulder = |finish| f64::from(u8::from(matches!(finish, Finish::Shoulder { .. })));
        let own = crate::finish_line::blend(&spec.finish.map(is_shoulder), azimuth);
        let part = spec.flaws.shoulder.map_or(0.0, |s| s.stretch.weight(azimuth.to_degrees(), s.end_deg));
        own + (1.0 - own) * part
    }
}

impl Ripple {
    pub(crate) fn steepness(&self) -> f64 {
        std::f64::consts::TAU * self.amplitude_mm / self.wavelength_mm
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_stretch_weighs_one_inside_and_half_at_its_ends_across_zero_too() {
        let stretch = Stretch::new(330.0, 390.0);
        for (azimuth, weight) in
            [(0.0, 1.0), (360.0, 1.0), (-30.0, 0.5), (30.0, 0.5), (180.0, 0.0), (25.0, 1.0)]
        {
            assert!((stretch.weight(azimuth, 8.0) - weight).abs() < 1e-12, "{azimuth}");
        }
        assert_eq!(Stretch::ALL_ROUND.weight(123.0, 8.0), 1.0);
    }

    #[test]
    fn flaws_that_cannot_be_shown_are_refused_by_name() {
        let refused = |flaws: Flaws| Spec { flaws, ..Spec::default() }.check().unwrap_err().to_string();
        let stretch = Stretch::new(20.0, 100.0);
        assert!(
            refused(Flaws { lip: Some(Lip { stretch, height_mm: 0.4 }), ..Flaws::default() }).contains("lip")
        );
        let ledge = Ledge { stretch: Stretch::new(20.0, 22.0), height_mm: 2.0, depth_mm: 0.2 };
        assert!(refused(Flaws { ledge: Some(ledge), ..Flaws::default() }).contains("length"));
        let knife = Spec {
            finish: crate::ByAspect { lingual: Finish::KnifeEdge, ..crate::ByAspect::all(Finish::CHAMFER) },
            flaws: Flaws { lip: Some(Lip { stretch, height_mm: 0.05 }), ..Flaws::default() },
            ..Spec::default()
        };
        assert!(knife.check().unwrap_err().to_string().contains("under a flaw"));
    }
}
