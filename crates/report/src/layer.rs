//! What is painted on the prepared surface: the reduction, or without a before scan the inclination of the walls.

use kerfwright_measure::preparation::Preparation;
use kerfwright_view::paint::{
    Insets, UNDERCUT_DEG, WALL_MOST_DEG, insets, leans_deg, smooth, smooth_normals,
};
use nalgebra::Vector3;

use crate::colour::{Rgb, Scale, mix};

/// What the colours stand for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// Distance from the prepared to the unprepared surface, mm.
    Reduction,
    /// Angle of the wall to the path, degrees.
    Taper,
    /// How far an adjacent tooth lies lower than before, mm.
    Damage,
}

/// A number at each vertex of the after scan, and the colours for it.
#[derive(Debug)]
pub struct Layer {
    /// What the numbers are.
    pub kind: Kind,
    /// Their colours.
    pub scale: Scale,
    /// The numbers; NaN where nothing is known.
    pub values: Vec<f32>,
    /// How far inside the finish line each vertex lies, mm; negative outside the prepared surface.
    pub inset_mm: Vec<f32>,
    /// Height of each vertex over the finish line at its side of the tooth, along the path, mm.
    pub above_mm: Vec<f32>,
    /// Unit normals, averaged once over neighbours.
    pub normals: Vec<Vector3<f32>>,
}

/// How one place of the prepared surface is painted.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Paint {
    /// In the colour of its number.
    Colour(Rgb),
    /// Hatched: nothing is known.
    NoData,
    /// Hatched in the darkest colour: the wall leans over.
    Undercut,
    /// Prepared, but not what the colours are about.
    Plain,
}

impl Layer {
    /// The reduction where there is a before scan, else the taper.
    pub fn of(preparation: &Preparation<'_>) -> Self {
        let after = preparation.scene.after;
        let normals = smooth_normals(after);
        let (kind, scale, raw) = match &preparation.change {
            Some(change) => {
                let scale = Scale { low: 0.0, high: 2.5, step: 0.25 };
                (Kind::Reduction, scale, change.reduction_mm.iter().map(|&mm| mm as f32).collect())
            }
            None => {
                let scale = Scale { low: 0.0, high: 30.0, step: 5.0 };
                (Kind::Taper, scale, leans_deg(&normals, &preparation.path))
            }
        };
        let Insets { inset_mm, above_mm } = insets(preparation);
        let values = smooth(after, &inset_mm, raw);
        Self { kind, scale, values, inset_mm, above_mm, normals }
    }

    /// What was taken from the teeth beside the preparation; `None` without a before scan.
    pub fn of_neighbours(preparation: &Preparation<'_>) -> Option<Self> {
        let change = preparation.change.as_ref()?;
        let after = preparation.scene.after;
        let Insets { inset_mm, above_mm } = insets(preparation);
        // Painted is what the prepared tooth is not.
        let inset_mm = inset_mm.into_iter().map(|mm| if mm > -0.1 { -1.0 } else { 1.0 }).collect();
        Some(Self {
            kind: Kind::Damage,
            scale: Scale { low: 0.0, high: 0.3, step: 0.05 },
            values: change.reduction_mm.iter().map(|&mm| mm.max(0.0) as f32).collect(),
            inset_mm,
            above_mm,
            normals: smooth_normals(after),
        })
    }

    /// How a number is painted.
    pub fn paint(&self, value: f32) -> Paint {
        match self.kind {
            _ if value.is_nan() => Paint::NoData,
            Kind::Taper if value > WALL_MOST_DEG => Paint::Plain,
            Kind::Taper if value < UNDERCUT_DEG => Paint::Undercut,
            _ => Paint::Colour(self.scale.colour(f64::from(value))),
        }
    }
}

/// Grey of teeth and gingiva that were not prepared.
pub const NEUTRAL: Rgb = [186, 188, 186];

/// The stripes of a hatch: whether a sample lies on a stripe.
pub fn is_stripe(column: usize, row: usize) -> bool {
    (column + row) % 14 < 6
}

/// The colour of a place whose number is not known.
pub fn no_data(column: usize, row: usize) -> Rgb {
    if is_stripe(column, row) { [92, 94, 96] } else { [214, 215, 214] }
}

/// The colour of an undercut place.
pub fn undercut(column: usize, row: usize, scale: &Scale) -> Rgb {
    let dark = scale.colour(scale.low);
    if is_stripe(column, row) { mix(dark, [255; 3], 0.8) } else { dark }
}
