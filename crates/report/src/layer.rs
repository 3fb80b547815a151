//! What is painted on the prepared surface: the reduction, or without a before scan the inclination of the walls.

use kerfwright_geometry::Surface;
use kerfwright_measure::outline::Outline;
use kerfwright_measure::preparation::Preparation;
use nalgebra::Vector3;
use rayon::prelude::*;

use crate::colour::{Rgb, Scale, mix};

/// Rounds of averaging over neighbours, about half a millimetre in all: lines through scan noise would be tangles.
const SMOOTHING_ROUNDS: usize = 3;
/// A wall that leans more than this is floor or occlusal surface, degrees.
const WALL_MOST_DEG: f32 = 30.0;
/// A wall that leans less than this is undercut beyond what noise on one triangle does, degrees.
const UNDERCUT_DEG: f32 = -1.5;

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
                let path = preparation.path.cast::<f32>();
                let lean = |normal: &Vector3<f32>| normal.dot(&path).clamp(-1.0, 1.0).asin().to_degrees();
                let scale = Scale { low: 0.0, high: 30.0, step: 5.0 };
                (Kind::Taper, scale, normals.iter().map(lean).collect::<Vec<f32>>())
            }
        };
        let (inset_mm, above_mm) = insets(preparation);
        let values = smooth(after, &inset_mm, raw);
        Self { kind, scale, values, inset_mm, above_mm, normals }
    }

    /// What was taken from the teeth beside the preparation; `None` without a before scan.
    pub fn of_neighbours(preparation: &Preparation<'_>) -> Option<Self> {
        let change = preparation.change.as_ref()?;
        let after = preparation.scene.after;
        let (inset_mm, above_mm) = insets(preparation);
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

/// Averages over the neighbours that are prepared and known, a few rounds.
fn smooth(after: &Surface, inset_mm: &[f32], mut values: Vec<f32>) -> Vec<f32> {
    for _ in 0..SMOOTHING_ROUNDS {
        let last = &values;
        let vertices = (0..last.len()).into_par_iter().with_min_len(4096);
        values = vertices
            .map(|vertex| {
                if inset_mm[vertex] <= 0.0 || last[vertex].is_nan() {
                    return last[vertex];
                }
                let (mut sum, mut n) = (2.0 * last[vertex], 2.0);
                for &other in after.topology.vertex_neighbours(vertex as u32) {
                    let value = last[other as usize];
                    if inset_mm[other as usize] > 0.0 && !value.is_nan() {
                        sum += value;
                        n += 1.0;
                    }
                }
                sum / n
            })
            .collect();
    }
    values
}

fn smooth_normals(after: &Surface) -> Vec<Vector3<f32>> {
    let vertices = (0..after.vertex_normals.len()).into_par_iter().with_min_len(4096);
    vertices
        .map(|vertex| {
            let own = after.vertex_normals[vertex];
            let others = after.topology.vertex_neighbours(vertex as u32).iter();
            let sum: Vector3<f64> = others.map(|&other| after.vertex_normals[other as usize]).sum();
            (own + sum).try_normalize(1e-9).unwrap_or(own).cast()
        })
        .collect()
}

/// Signed, so that the rim of the paint runs along the finish line and not along triangles.
///
/// A floor, which faces up, may dip below the level of its edge; the farther inside, the more it may.
fn insets(preparation: &Preparation<'_>) -> (Vec<f32>, Vec<f32>) {
    const DIP_MM: f64 = 0.02;
    const DIP_SLOPE: f64 = 0.3;
    const TALLEST_MM: f64 = 15.0;
    let outline = Outline::new(&preparation.ring, &preparation.path);
    let after = preparation.scene.after;
    let vertices = after.mesh.vertices.par_iter().zip(&after.vertex_normals).with_min_len(4096);
    let (mut inset_mm, above_mm): (Vec<f32>, Vec<f32>) = vertices
        .map(|(point, normal)| {
            let (radius_mm, height_mm, edge) = outline.place(point);
            let (inward_mm, up_mm) = (edge.0 - radius_mm, height_mm - edge.1);
            let slope = if normal.dot(&preparation.path) > 0.2 { DIP_SLOPE } else { 0.0 };
            let dip_mm = DIP_MM + slope * inward_mm.clamp(0.0, 1.0);
            let inset_mm = (inward_mm + DIP_MM).min(up_mm + dip_mm).min(TALLEST_MM - up_mm);
            (inset_mm as f32, up_mm as f32)
        })
        .unzip();
    keep_connected(after, &preparation.inside, &mut inset_mm);
    (inset_mm, above_mm)
}

/// Takes out what lies inside the finish line but does not hang together with the prepared surface: a neighbour that
/// stands over it.
fn keep_connected(after: &Surface, inside: &[bool], inset_mm: &mut [f32]) {
    let mut reached = inside.to_vec();
    let mut queue: Vec<u32> = (0..inside.len() as u32).filter(|&vertex| inside[vertex as usize]).collect();
    while let Some(vertex) = queue.pop() {
        for &other in after.topology.vertex_neighbours(vertex) {
            if inset_mm[other as usize] > 0.0 && !reached[other as usize] {
                reached[other as usize] = true;
                queue.push(other);
            }
        }
    }
    for (inset_mm, reached) in inset_mm.iter_mut().zip(reached) {
        if !reached {
            *inset_mm = inset_mm.min(-1e-3);
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
