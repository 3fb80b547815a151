//! A kit: instruments, bars and probes by name.

use crate::head::Head;
use crate::iso::{Grit, IsoCode};
use crate::wear::Measured;

/// The layout's name in a file.
pub const SCHEMA: &str = "kerfwright-kit-1";

/// The kit that comes with the program.
const QUAYSIDE: &str = include_str!("../kits/quayside.toml");

/// What lies in one drawer.
#[derive(Debug, Clone, PartialEq)]
pub struct Kit {
    /// Name by which it is called.
    pub name: String,
    /// What people call it.
    pub title: String,
    /// What to know.
    pub notes: Vec<String>,
    /// In the order of the file.
    pub instruments: Vec<Instrument>,
    /// Bars of known width.
    pub gauges: Vec<Gauge>,
    /// Probes.
    pub probes: Vec<Probe>,
}

/// One rotary instrument.
#[derive(Debug, Clone, PartialEq)]
pub struct Instrument {
    /// Name by which exercises call it: small letters, digits, hyphens.
    pub name: String,
    /// What people call it.
    pub title: String,
    /// Its ISO 6360 code, where one exists.
    pub iso: Option<IsoCode>,
    /// Its particle class, where it has one.
    pub grit: Option<Grit>,
    /// Its geometry.
    pub head: Head,
    /// When it is retired.
    pub retire: Retirement,
    /// What it measured last, where a log says so: then `head` is the worn one. See [`crate::in_hand`].
    pub measured: Option<Measured>,
    /// Why it is retired by a log, each in a sentence; it is not picked then.
    pub retired: Vec<String>,
    /// What to know.
    pub note: Option<String>,
    /// Where its numbers come from: key and source, by key.
    pub sources: Vec<(String, String)>,
}

/// Limits of wear; what is not given does not bind.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Retirement {
    /// After so many uses.
    pub after_uses: Option<u32>,
    /// After losing so much of its diameter, mm.
    pub loss_of_diameter_mm: Option<f64>,
}

/// A bar of known width that is slipped into a gap.
#[derive(Debug, Clone, PartialEq)]
pub struct Gauge {
    /// Name by which it is called.
    pub name: String,
    /// What people call it.
    pub title: String,
    /// Its width: the thickness that is slipped in.
    pub width_mm: f64,
    /// How deep it reaches into the gap, where that is known: what a bar held askew needs follows from it.
    pub depth_mm: Option<f64>,
    /// Where its numbers come from.
    pub sources: Vec<(String, String)>,
}

/// A probe with marks.
#[derive(Debug, Clone, PartialEq)]
pub struct Probe {
    /// Name by which it is called.
    pub name: String,
    /// What people call it.
    pub title: String,
    /// Diameter of its tip.
    pub tip_diameter_mm: f64,
    /// Its marks, from the tip.
    pub marks_mm: Vec<f64>,
    /// Where its numbers come from.
    pub sources: Vec<(String, String)>,
}

impl Kit {
    /// An instrument by name.
    pub fn instrument(&self, name: &str) -> Option<&Instrument> {
        self.instruments.iter().find(|instrument| instrument.name == name)
    }

    /// The same kit with these instruments alone, and all its gauges and probes.
    pub fn only(&self, names: &[&str]) -> Self {
        let mut kit = self.clone();
        kit.instruments.retain(|instrument| names.contains(&instrument.name.as_str()));
        kit
    }

    /// What the kit's bars show of a gap; see [`crate::gauge::shown`].
    pub fn gap_shown(&self, gap_mm: f64) -> crate::gauge::Shown {
        crate::gauge::shown(self.gauges.iter().map(|gauge| gauge.width_mm), gap_mm)
    }
}

/// Names and texts of the kits that come with the program.
pub fn shipped() -> &'static [(&'static str, &'static str)] {
    &[("quayside", QUAYSIDE)]
}
