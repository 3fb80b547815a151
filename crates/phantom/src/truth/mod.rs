//! What is true of a phantom, computed from its exact surfaces.
//!
//! Where the contract leaves room, the choice made is said at the field.

mod flaws;
mod occlusal;
mod outline;
mod undercut;
mod volume;
pub(crate) mod walls;

use nalgebra::{Point3, Vector3};
use rayon::prelude::*;

use crate::field::{Field, closest_from};
use crate::nearest::Nearest;
use crate::phantom::Phantom;
use crate::spec::{ByAspect, SecondPlane, Spec};

pub use flaws::{FlawTruth, Jump, LedgeTruth, LipTruth, RippleTruth, Run};
pub use occlusal::Inclines;

/// Stations of the finish line and gingiva line.
const N_STATIONS: usize = 720;

/// Exact values of one phantom. Points are in the tooth's frame (`x` mesial, `y` facial, `z` occlusal, mm).
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Truth {
    /// What was asked for.
    pub spec: Spec,
    /// The outer edge E, from mesial towards facial.
    pub finish_line: Vec<[f64; 3]>,
    /// Where part of the crown stays uncovered: the whole border between cut and uncut surface, in order; else empty.
    pub outline: Vec<[f64; 3]>,
    /// Grooves and boxes: middle of the mouth (on the wall line) and of the bottom, both at the floor.
    pub wall_cuts: Vec<[[f64; 3]; 2]>,
    /// Whether the gum covers E there, so that no scan shows it; one for each point of `finish_line`.
    pub finish_line_hidden: Vec<bool>,
    /// Where the gum meets the unprepared tooth, at the same azimuths.
    pub gingiva_line: Vec<[f64; 3]>,
    /// Unit vector of the default path of placement: the one along which opposing walls have equal taper.
    pub path: [f64; 3],
    /// Angle between that path and the tooth's axis.
    pub path_tilt_deg: f64,
    /// Side towards which its occlusal end leans: 0 mesial, 90 facial, 180 distal, 270 lingual; meaningless at no tilt.
    pub path_toward_deg: f64,
    /// Readings along that path.
    pub along_path: Walls,
    /// The same along the tooth's axis.
    pub along_axis: Walls,
    /// Height of E over the gingiva line at the same azimuth, along the tooth's axis: median of the middle half.
    pub above_gingiva_mm: ByAspect<f64>,
    /// Angle through the tooth between floor and uncut surface at E.
    pub cavosurface_deg: ByAspect<f64>,
    /// Radius between floor and wall.
    pub internal_radius_mm: ByAspect<f64>,
    /// Depth of the floor's deepest point under E, where the floor rises to E again.
    pub lip_mm: ByAspect<f64>,
    /// Radius of the occlusal line angles as cut, at the middle of each aspect.
    pub edge_radius_mm: ByAspect<f64>,
    /// The facial wall's second plane: its angle to the first in a section, and the height of the break over E.
    pub second_plane: Option<SecondPlane>,
    /// Area of the axial walls, in both planes, from the top of the fillet to the occlusal line angle (faces extended
    /// to their common edge); the floor of a ledge and the dents of a rough wall are not counted.
    pub axial_area_mm2: f64,
    /// Where the finish is a shoulder, and the flaws with their size and place.
    pub flaws: FlawTruth,
    /// Occlusal reduction by zone. Zones overlap: functional, groove and non-functional share the surface by the
    /// distance from the groove line, the marginal ridges are its outer 1.5 mm at both ends whatever the side.
    pub occlusal: Occlusal,
    /// Reduction at the customary points (`mb`, `dl`, `mf` …): closest distance from the prepared surface under the
    /// uncut cusp tip or fossa, straight down along the tooth's axis.
    pub points_mm: Vec<(String, f64)>,
    /// Axial reduction: median closest distance over the gingival, middle and occlusal third of the wall.
    pub axial_mm: ByAspect<[f64; 3]>,
    /// From the prepared occlusal surface to the opposing teeth, jaws closed.
    pub clearance_mip: Spread,
    /// Mean of facial and lingual wall height over the faciolingual extent of the finish line.
    pub oc_fl: f64,
    /// Least distance from the finish line to the mesial and the distal neighbour (teeth, not gum).
    pub neighbour_mm: [Option<f64>; 2],
    /// Volume cut off the tooth.
    pub removed_mm3: f64,
    /// Volume of the unprepared tooth above the level of E in each place's own section.
    pub crown_mm3: f64,
    /// The volume cut off as a share of that crown.
    pub crown_pct: f64,
    /// How the cusps' prepared inclines lean.
    pub inclines: Inclines,
    /// Depth of the nick in the mesial and the distal neighbour, as cut.
    pub nick_mm: [f64; 2],
}

/// What depends on the direction in which the crown seats.
#[derive(Debug, Clone, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Walls {
    /// Taper: median over the aspect's middle half (11.25° to both sides, as an aspect is one of eight) of the wall line in each section, 1 mm up.
    pub taper_deg: ByAspect<f64>,
    /// Sum of the mesial and distal tapers.
    pub toc_mesiodistal_deg: f64,
    /// Sum of the facial and lingual tapers.
    pub toc_faciolingual_deg: f64,
    /// Distance from E to the wall line extended to the level of E: median over the middle half.
    pub width_mm: ByAspect<f64>,
    /// Fall of the floor next to E from the plane perpendicular to the direction: median over the middle half.
    pub declination_deg: ByAspect<f64>,
    /// From E to the occlusal line angle (faces extended to their common edge): median over the middle half.
    pub height_mm: ByAspect<f64>,
    /// Walls hidden from the direction.
    pub undercut: Undercut,
}

/// Walls that a crown could not pass.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Undercut {
    /// Area of cut surface that faces away from the direction.
    pub area_mm2: f64,
    /// Area of all cut surface that lies in the shadow, floor and fillet included.
    pub shadow_mm2: f64,
    /// Largest recess perpendicular to the direction.
    pub depth_mm: f64,
}

/// The occlusal surface by zone.
#[derive(Debug, Clone, PartialEq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Occlusal {
    /// All of it.
    pub all: Spread,
    /// More than 0.8 mm to the functional side of the groove line, bevel included.
    pub functional: Spread,
    /// More than 0.8 mm to the other side.
    pub nonfunctional: Spread,
    /// Between.
    pub groove: Spread,
    /// The outer 1.5 mm mesially and distally.
    pub marginal_ridge: Spread,
    /// Of an incisor or canine, on which the zones above are empty and `all` holds both of these: the incisal edge,
    /// which is where the incisal cut itself decides and the normal lies within 60° of the path. Near the edge
    /// the closest uncut surface is often the facial one; see `incisal_height_mm`.
    pub incisal: Spread,
    /// The lingual prepared surface between cingulum wall and incisal edge: where the fossa cut itself decides.
    pub fossa: Spread,
    /// Median over the incisal edge of what was taken off it along the tooth's axis, `None` on premolars and molars.
    pub incisal_height_mm: Option<f64>,
}

/// Distances over a surface, weighted by area.
#[derive(Debug, Clone, PartialEq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Spread {
    /// Median.
    pub median_mm: f64,
    /// 5th percentile.
    pub p05_mm: f64,
    /// Mean.
    pub mean_mm: f64,
    /// Least.
    pub least_mm: f64,
    /// Where the least lies, on the prepared surface.
    pub least_at: [f64; 3],
    /// Number of samples.
    pub n: usize,
}

impl Truth {
    pub(crate) fn of(phantom: &Phantom) -> Self {
        let line = &phantom.preparation.line;
        let azimuths: Vec<f64> =
            (0..N_STATIONS).map(|i| std::f64::consts::TAU * i as f64 / N_STATIONS as f64).collect();
        let edge: Vec<Point3<f64>> = azimuths.iter().map(|&a| line.edge(a)).collect();
        let gingiva: Vec<[f64; 3]> = azimuths.iter().map(|&a| line.gingiva.at(a)).collect();
        let path = walls::best_path(phantom);
        let along_path = walls::along(phantom, &path);
        let along_axis = walls::along(phantom, &Vector3::z());
        let surfaces = occlusal::Surfaces::new(phantom, &along_path, &path);
        let (removed_mm3, crown_mm3) = volume::removed_and_crown(phantom);
        let extent = |f: fn(f64, f64) -> f64, from| edge.iter().map(|e| e.y).fold(from, f);
        let fl = extent(f64::max, f64::MIN) - extent(f64::min, f64::MAX);
        let heights = &along_path.height_mm;
        let above = |a: f64| line.edge(a).z - line.gingiva.at(a)[2];
        Self {
            spec: phantom.spec.clone(),
            path: path.into(),
            path_tilt_deg: path.z.clamp(-1.0, 1.0).acos().to_degrees(),
            path_toward_deg: path.y.atan2(path.x).to_degrees().rem_euclid(360.0),
            above_gingiva_mm: walls::by_aspect(above),
            cavosurface_deg: walls::by_aspect(|a| walls::cavosurface_deg(phantom, a)),
            internal_radius_mm: walls::by_aspect(|a| line.section(a).effective_radius()),
            lip_mm: walls::by_aspect(|a| line.section(a).lip()),
            edge_radius_mm: ByAspect::from_around(
                [0.0, 90.0, 180.0, 270.0].map(|a: f64| phantom.preparation.edge_radius_at(a.to_radians())),
            ),
            second_plane: phantom.spec.second_plane,
            axial_area_mm2: walls::axial_area_mm2(phantom),
            flaws: FlawTruth::of(phantom),
            occlusal: surfaces.reduction(),
            points_mm: surfaces.points(),
            axial_mm: walls::axial_reduction(phantom, &surfaces.uncut),
            clearance_mip: surfaces.clearance(),
            oc_fl: 0.5 * (heights.facial + heights.lingual) / fl,
            neighbour_mm: [1, -1].map(|side| neighbour_distance(phantom, &edge, side)),
            removed_mm3,
            crown_mm3,
            crown_pct: 100.0 * removed_mm3 / crown_mm3,
            inclines: surfaces.inclines(&path),
            nick_mm: [1, -1].map(|side| nick_depth(phantom, side)),
            outline: if phantom.preparation.partial.is_some() {
                outline::outline(phantom)
            } else {
                Vec::new()
            },
            wall_cuts: {
                let ends = |c: &crate::partial::Carved| [c.mouth.into(), c.bottom().into()];
                phantom.preparation.carved.iter().map(ends).collect()
            },
            finish_line_hidden: edge.iter().map(|e| phantom.arch.gingiva_value(e) < 0.0).collect(),
            finish_line: edge.iter().map(|&e| e.into()).collect(),
            gingiva_line: gingiva,
            along_path,
            along_axis,
        }
    }
}

impl Spread {
    /// Statistics of weighted values and their places.
    fn of(samples: &[(f64, f64, Point3<f64>)]) -> Self {
        let mut sorted: Vec<&(f64, f64, Point3<f64>)> = samples.iter().collect();
        sorted.sort_by(|a, b| a.0.total_cmp(&b.0));
        let Some(first) = sorted.first() else { return Self::default() };
        let total: f64 = sorted.iter().map(|s| s.1).sum();
        let quantile = |share: f64| {
            let mut passed = 0.0;
            let at = sorted.iter().find(|s| {
                passed += s.1;
                passed >= share * total
            });
            at.map_or(first.0, |s| s.0)
        };
        Self {
            median_mm: quantile(0.5),
            p05_mm: quantile(0.05),
            mean_mm: sorted.iter().map(|s| s.0 * s.1).sum::<f64>() / total,
            least_mm: first.0,
            least_at: first.2.into(),
            n: sorted.len(),
        }
    }
}

/// Distances from points to a body, by the nearest of its sampled points, then along the surface to the foot.
fn distances(body: &impl Field, samples: &Nearest, points: &[Point3<f64>]) -> Vec<f64> {
    let distance = |q: &Point3<f64>| (closest_from(body, q, &samples.nearest(q)) - q).norm();
    points.par_iter().map(distance).collect()
}

fn neighbour_distance(phantom: &Phantom, edge: &[Point3<f64>], side: i32) -> Option<f64> {
    let index = usize::try_from(phantom.arch.middle as i32 + side).ok()?;
    let placed = phantom.arch.teeth.get(index)?;
    let body = |p: &Point3<f64>| phantom.neighbour_after(index, p);
    let centre = placed.arch_from_tooth() * Point3::new(0.0, 0.0, 4.0);
    let samples = Nearest::of_surface(&body, centre, 7.5, 0.25);
    distances(&body, &samples, edge).into_iter().min_by(f64::total_cmp)
}

fn nick_depth(phantom: &Phantom, side: i32) -> f64 {
    let Ok(index) = usize::try_from(phantom.arch.middle as i32 + side) else { return 0.0 };
    let Some(nick) = phantom.nicks.iter().find(|n| n.tooth == index) else { return 0.0 };
    let placed = &phantom.arch.teeth[index];
    let samples = Nearest::of_surface(placed, nick.deepest, 2.0, 0.1);
    distances(placed, &samples, &[nick.deepest])[0]
}
