//! Values at each vertex: what is painted on the bodies.

use kerfwright_measure::measures::undercut::{depth_u95_mm, recess_at_vertices_mm};
use kerfwright_measure::preparation::Preparation;
use serde::{Deserialize, Serialize};

use crate::body::Which;
use crate::colour::{self, Rgb, hex};
use crate::paint::{Insets, WALL_MOST_DEG, insets, leans_deg, smooth, smooth_normals};

/// Damage to adjacent teeth is looked for within this of the prepared tooth, mm.
const BESIDE_MM: f64 = 14.0;

/// One value a vertex of a body.
#[derive(Debug, Clone)]
pub struct Map {
    /// What it is.
    pub kind: MapKind,
    /// NaN where nothing is known.
    pub values: Vec<f32>,
    /// Expanded uncertainty (k = 2) of the value at one place, in the map's unit.
    pub u95: f64,
    /// The same vertex by vertex, where it differs from place to place; else empty.
    pub u95s: Vec<f32>,
}

/// What a map shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS, utoipa::ToSchema))]
#[serde(rename_all = "snake_case")]
pub enum MapKind {
    /// Closest distance from the prepared to the uncut surface, mm.
    Reduction,
    /// Closest distance from the prepared occlusal surface to the opposing teeth, jaws closed, mm.
    Clearance,
    /// Angle of the walls to the path, degrees; negative: undercut.
    Taper,
    /// How far a wall lies behind what overhangs it, mm.
    Undercut,
    /// Signed distance to the target, mm; positive: too little was cut.
    Deviation,
    /// How much lower than before lies what was not prepared, mm.
    Damage,
}

/// Colours for the values of a map.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ramp {
    /// `batlow` or `vik`.
    pub name: &'static str,
    /// Value of the first colour.
    pub least: f64,
    /// Value of the last colour.
    pub most: f64,
    /// Lines are drawn at multiples of this.
    pub step: f64,
}

/// One step of a legend.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS, utoipa::ToSchema))]
pub struct LegendStep {
    /// From this value.
    pub from: f64,
    /// Up to this.
    pub to: f64,
    /// The colour in the middle, `#rrggbb`.
    pub colour: String,
    /// The step in words.
    pub words: String,
}

impl Map {
    /// Expanded uncertainty of the value at a vertex.
    pub fn u95_at(&self, vertex: u32) -> f64 {
        self.u95s.get(vertex as usize).map_or(self.u95, |&u95| f64::from(u95))
    }
}

impl MapKind {
    /// All, in the order in which they are listed.
    pub const ALL: [Self; 6] =
        [Self::Reduction, Self::Clearance, Self::Taper, Self::Undercut, Self::Deviation, Self::Damage];

    /// The name in answers.
    pub fn id(self) -> &'static str {
        match self {
            Self::Reduction => "reduction",
            Self::Clearance => "clearance",
            Self::Taper => "taper",
            Self::Undercut => "undercut",
            Self::Deviation => "deviation",
            Self::Damage => "damage",
        }
    }

    /// The name of the vertex attribute; with `_KNOWN` behind it that of the companion which is 1 where the value is known.
    pub fn attribute(self) -> String {
        format!("_{}", self.id().to_uppercase())
    }

    /// What people call it.
    pub fn title(self) -> &'static str {
        match self {
            Self::Reduction => "Reduction",
            Self::Clearance => "Clearance, jaws closed",
            Self::Taper => "Taper of the walls",
            Self::Undercut => "Undercut from the path",
            Self::Deviation => "Deviation from the target",
            Self::Damage => "Lost beside the preparation",
        }
    }

    /// Unit of the values.
    pub fn unit(self) -> &'static str {
        if self == Self::Taper { "deg" } else { "mm" }
    }

    /// Which body it is painted on.
    pub fn of(self) -> Which {
        Which::After
    }

    /// The colours; the same in every view, so that one colour always means one number.
    pub fn ramp(self) -> Ramp {
        let (name, least, most, step) = match self {
            Self::Reduction | Self::Clearance => ("batlow", 0.0, 2.5, 0.25),
            Self::Taper => ("batlow", 0.0, 30.0, 5.0),
            Self::Undercut => ("batlow", 0.0, 0.3, 0.05),
            Self::Deviation => ("vik", -0.5, 0.5, 0.1),
            Self::Damage => ("batlow", 0.0, 0.3, 0.05),
        };
        Ramp { name, least, most, step }
    }
}

impl Ramp {
    /// The colour of a value; beyond the ends that of the end.
    pub fn colour(&self, value: f64) -> Rgb {
        let table = if self.name == "vik" { colour::vik() } else { colour::batlow() };
        let share = ((value - self.least) / (self.most - self.least)).clamp(0.0, 1.0);
        table[(share * (table.len() - 1) as f64).round() as usize]
    }

    /// The steps between the lines, with words.
    pub fn legend(&self, unit: &str) -> Vec<LegendStep> {
        let n_steps = ((self.most - self.least) / self.step).round() as usize;
        let decimals = if self.step < 0.1 || self.step == 0.25 { 2 } else { usize::from(self.step < 1.0) };
        let unit = if unit == "deg" { "°" } else { " mm" };
        let step = |k: usize| {
            let from = self.least + self.step * k as f64;
            let to = from + self.step;
            let colour = hex(self.colour(0.5 * (from + to)));
            LegendStep { from, to, colour, words: format!("{from:.decimals$} to {to:.decimals$}{unit}") }
        };
        (0..n_steps).map(step).collect()
    }
}

/// The maps of the after scan, without deviation, which needs a target.
pub fn maps(preparation: &Preparation<'_>) -> Vec<Map> {
    let Insets { inset_mm, .. } = insets(preparation);
    let mut maps = Vec::new();
    maps.extend(reduction(preparation, &inset_mm));
    maps.extend(clearance(preparation, &inset_mm));
    maps.push(taper(preparation, &inset_mm));
    let values = recess_at_vertices_mm(preparation).into_iter().map(|mm| mm as f32).collect();
    maps.push(Map { kind: MapKind::Undercut, values, u95: depth_u95_mm(preparation), u95s: Vec::new() });
    maps.extend(damage(preparation, &inset_mm));
    maps
}

/// Values as they are at the vertices: averaging would round off what changes quickly, over edges and in fissures.
fn reduction(preparation: &Preparation<'_>, inset_mm: &[f32]) -> Option<Map> {
    let change = preparation.change.as_ref()?;
    let raw = change.reduction_mm.iter().zip(inset_mm);
    let values = raw.map(|(&mm, &inset)| if inset > 0.0 { mm as f32 } else { f32::NAN }).collect();
    let u95 = expanded(&[preparation.pose_sigma_mm(), preparation.noise_mm, preparation.noise_mm]);
    Some(Map { kind: MapKind::Reduction, values, u95, u95s: Vec::new() })
}

fn clearance(preparation: &Preparation<'_>, inset_mm: &[f32]) -> Option<Map> {
    if preparation.opposite.is_empty() {
        return None;
    }
    let mut values = vec![f32::NAN; inset_mm.len()];
    for (vertex, near) in preparation.bite.iter().zip(&preparation.opposite) {
        if let Some(near) = near.filter(|near| !near.on_border) {
            values[vertex.vertex as usize] = near.signed_mm as f32;
        }
    }
    let u95 = expanded(&[preparation.opposing_sigma_mm(), preparation.noise_mm, preparation.noise_mm]);
    Some(Map { kind: MapKind::Clearance, values, u95, u95s: Vec::new() })
}

/// The angle from normals averaged once. Where averaging further changes it the surface bends, and the angle of one place is
/// known no better than by as much.
fn taper(preparation: &Preparation<'_>, inset_mm: &[f32]) -> Map {
    // Slope of a plane through the place and its neighbours, in noise over an edge (from phantom scans).
    const SLOPE: f64 = 0.4;
    const FLOOR_DEG: f64 = 0.12;
    let after = preparation.scene.after;
    let leans = leans_deg(&smooth_normals(after), &preparation.path);
    let is_wall = |(&deg, &inset): (&f32, &f32)| inset > 0.0 && deg.abs() <= WALL_MOST_DEG;
    let values: Vec<f32> =
        leans.iter().zip(inset_mm).map(|pair| if is_wall(pair) { *pair.0 } else { f32::NAN }).collect();
    let noise_deg = (SLOPE * preparation.noise_mm / preparation.edge_mm.max(1e-3)).atan().to_degrees();
    let u95 = expanded(&[noise_deg, FLOOR_DEG]);
    let further = smooth(after, inset_mm, leans.clone());
    let bend = |(own, far): (&f32, &f32)| (u95 as f32).hypot(2.0 * (own - far).abs());
    let u95s = leans.iter().zip(&further).map(bend).collect();
    Map { kind: MapKind::Taper, values, u95, u95s }
}

fn damage(preparation: &Preparation<'_>, inset_mm: &[f32]) -> Option<Map> {
    let change = preparation.change.as_ref()?;
    let vertices = &preparation.scene.after.mesh.vertices;
    let value = |vertex: usize| {
        let beside = (vertices[vertex] - preparation.frame.origin).norm() < BESIDE_MM;
        if inset_mm[vertex] > -0.1 || !beside {
            return f32::NAN;
        }
        change.reduction_mm[vertex].max(0.0) as f32
    };
    let values = (0..vertices.len()).map(value).collect();
    let u95 = expanded(&[preparation.pose_sigma_mm(), preparation.noise_mm, preparation.noise_mm]);
    Some(Map { kind: MapKind::Damage, values, u95, u95s: Vec::new() })
}

/// Twice the root of the sum of squares.
fn expanded(sigmas: &[f64]) -> f64 {
    kerfwright_measure::sheet::expanded(sigmas)
}
