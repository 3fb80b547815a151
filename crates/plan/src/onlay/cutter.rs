//! What is taken away for an onlay: the channel with its boxes, plane by plane, and the covered cusps.

use kerfwright_geometry::Surface;
use manifold_rust::linalg::Vec3;
use manifold_rust::manifold::Manifold;
use manifold_rust::types::{Error, MeshGL64};
use nalgebra::{Point3, Vector3};
use rayon::prelude::*;

use super::crown::vec3;
use super::{Channel, ChannelPlace, Onlay};
use crate::PlanError;
use crate::axes::Axes;
use crate::site::Site;
use crate::top::Top;

/// Spacing of the points at which the cusps' new height is taken, mm.
const GRID_MM: f64 = 0.12;
/// How far bodies reach beyond the crown, mm.
const BEYOND_MM: f64 = 1.0;

/// Where the channel lies, in the axes of the solids turned so that the first runs along the groove.
#[derive(Debug, Clone, Copy)]
pub struct Placed {
    /// Where the groove line crosses the second axis, mm.
    pub groove_mm: f64,
    /// How far it turns from mesial towards the second axis, radians.
    pub turn_rad: f64,
    /// Height of the isthmus floor, mm over the frame's origin.
    pub floor_mm: f64,
    /// Heights of the box floors, mesial and distal.
    pub box_floor_mm: [f64; 2],
    /// How far from the middle the boxes' axial walls stand at their floors, mesially and distally, mm.
    pub box_axial_mm: [f64; 2],
}

/// The cutter and the height of everything above the crown.
pub struct Cutter<'a> {
    pub before: &'a Surface,
    pub site: &'a Site,
    pub axes: Axes,
    pub top: &'a Top,
    /// Lowest and highest coordinates of the crown.
    pub bounds: [Vector3<f64>; 2],
}

impl Cutter<'_> {
    /// Where a channel lies in this tooth.
    pub fn place(&self, channel: &Channel) -> Result<Placed, PlanError> {
        let (groove_mm, turn_rad) = self.groove();
        let mut placed =
            Placed { groove_mm, turn_rad, floor_mm: 0.0, box_floor_mm: [0.0; 2], box_axial_mm: [0.0; 2] };
        placed.floor_mm = self.cut_along_groove_mm(&placed)? - channel.isthmus_depth_mm;
        for (k, sense) in [1.0, -1.0].into_iter().enumerate() {
            placed.box_floor_mm[k] = self.gingiva_mm(&placed, channel, sense) + channel.box_above_gingiva_mm;
            let out = self.reach_mm(&placed, [sense, 0.0], placed.box_floor_mm[k]);
            placed.box_axial_mm[k] = out - channel.box_depth_mm;
        }
        self.check(channel, &placed)?;
        Ok(placed)
    }

    /// Where the groove line crosses the second axis, mm, and how far it turns from mesial towards it, radians.
    fn groove(&self) -> (f64, f64) {
        let groove = self.top.groove();
        (groove.at_mm * self.axes.facial, (groove.slope * self.axes.facial).atan())
    }

    /// Refuses a channel that this tooth has no room for.
    fn check(&self, channel: &Channel, placed: &Placed) -> Result<(), PlanError> {
        let across = |height_mm: f64| {
            [1.0, -1.0]
                .map(|side| self.reach_mm(placed, [0.0, side], height_mm))
                .into_iter()
                .fold(f64::INFINITY, f64::min)
        };
        let no_room = |what: &'static str, asked: f64, has: f64| {
            if asked < has { Ok(()) } else { Err(PlanError::NoRoom { what, asked_mm: asked, has_mm: has }) }
        };
        no_room("an isthmus", channel.isthmus_width_mm, 2.0 * across(placed.floor_mm))?;
        for (k, what) in ["a mesial box", "a distal box"].into_iter().enumerate() {
            no_room(what, channel.box_width_mm, 2.0 * across(placed.box_floor_mm[k]))?;
        }
        no_room(
            "boxes whose depths together come to",
            2.0 * channel.box_depth_mm,
            placed.box_axial_mm.iter().sum::<f64>() + 2.0 * channel.box_depth_mm,
        )?;
        let highest_mm = placed.box_floor_mm[0].max(placed.box_floor_mm[1]);
        if placed.floor_mm <= highest_mm {
            return Err(PlanError::TooShort { floor_mm: placed.floor_mm, box_floor_mm: highest_mm });
        }
        Ok(())
    }

    /// Height of the occlusal cut along the groove, median over the middle half of the crown's length.
    fn cut_along_groove_mm(&self, placed: &Placed) -> Result<f64, PlanError> {
        const STEPS: i32 = 20;
        let length_mm = self.bounds[1].x - self.bounds[0].x;
        let heights: Vec<f64> = (0..=STEPS)
            .filter_map(|k| {
                let along_mm = 0.5 * length_mm * (f64::from(k) / f64::from(STEPS) - 0.5);
                self.lowered_mm(&turned(placed, along_mm, 0.0, 0.0))
            })
            .collect();
        kerfwright_measure::stats::median(&heights).ok_or(PlanError::NoGroove)
    }

    fn lowered_mm(&self, at: &Vector3<f64>) -> Option<f64> {
        let from = Vector3::new(at.x, at.y, self.bounds[0].z);
        self.top.lowered_mm(&self.axes.point(&from))
    }

    /// The highest place of the gingiva before a box.
    fn gingiva_mm(&self, placed: &Placed, channel: &Channel, sense: f64) -> f64 {
        let before_box = |point: &Point3<f64>| {
            let at = self.axes.at(point);
            let flat = straight(placed, &at);
            (sense * flat.x > 0.0 && flat.y.abs() < 0.5 * channel.box_width_mm).then_some(at.z)
        };
        self.site.gingiva.iter().filter_map(before_box).fold(0.0, f64::max)
    }

    /// How far the uncut tooth reaches from the groove's middle at a height, along and across.
    fn reach_mm(&self, placed: &Placed, way: [f64; 2], height_mm: f64) -> f64 {
        const FARTHEST_MM: f64 = 9.0;
        let from = turned(placed, 0.0, 0.0, height_mm);
        let to = turned(placed, way[0], way[1], height_mm);
        let [from, to] = [from, to].map(|at| self.axes.point(&at));
        let found = self.before.tree.ray(&from, &(to - from), FARTHEST_MM);
        found.map_or(FARTHEST_MM, |hit| hit.distance_mm)
    }

    /// Isthmus and boxes.
    pub fn channel(&self, channel: &Channel, placed: &Placed) -> Manifold {
        let lean = channel.divergence_deg.to_radians().tan();
        let top_mm = self.bounds[1].z + BEYOND_MM;
        let far_mm = 2.0 * (self.bounds[1] - self.bounds[0]).norm();
        // `ends` along the groove at the floor, and by how much of the walls' lean they move outwards above it.
        let body = |floor_mm: f64, width_mm: f64, ends: [(f64, f64); 2]| {
            let out_mm = (top_mm - floor_mm) * lean;
            let corners = [(floor_mm, 0.0), (top_mm, out_mm)].into_iter().flat_map(|(height_mm, out_mm)| {
                ends.into_iter().flat_map(move |(along_mm, share)| {
                    [1.0, -1.0].map(|side| {
                        let across_mm = side * (0.5 * width_mm + out_mm);
                        vec3(&turned(placed, along_mm + share * out_mm, across_mm, height_mm))
                    })
                })
            });
            Manifold::hull(&corners.collect::<Vec<_>>())
        };
        let box_of = |k: usize, ends| body(placed.box_floor_mm[k], channel.box_width_mm, ends);
        let mesial = box_of(0, [(placed.box_axial_mm[0], -1.0), (far_mm, 0.0)]);
        let distal = box_of(1, [(-far_mm, 0.0), (-placed.box_axial_mm[1], 1.0)]);
        let isthmus = body(placed.floor_mm, channel.isthmus_width_mm, [(-far_mm, 0.0), (far_mm, 0.0)]);
        isthmus.union(&mesial).union(&distal)
    }

    /// Everything over the new height of the covered cusps.
    pub fn cusps(&self, onlay: &Onlay) -> Result<Manifold, PlanError> {
        let columns = Columns::new(self);
        let body = columns.body(self.bounds[1].z + BEYOND_MM)?;
        let functional = self.site.tooth.functional_side().map_or(1.0, |side| match side {
            kerfwright_tooth::Side::Facial => 1.0,
            kerfwright_tooth::Side::Lingual => -1.0,
        });
        let kept = match (onlay.covers_functional, onlay.covers_nonfunctional) {
            (true, true) => return Ok(body),
            (true, false) => functional * self.axes.facial,
            _ => -functional * self.axes.facial,
        };
        let (groove_mm, turn_rad) = self.groove();
        let normal = Vec3::new(-turn_rad.sin() * kept, turn_rad.cos() * kept, 0.0);
        Ok(body.trim_by_plane(normal, groove_mm * turn_rad.cos() * kept))
    }
}

/// From along and across the groove to the axes of the solids.
fn turned(placed: &Placed, along_mm: f64, across_mm: f64, height_mm: f64) -> Vector3<f64> {
    let (sine, cosine) = placed.turn_rad.sin_cos();
    Vector3::new(
        along_mm * cosine - across_mm * sine,
        placed.groove_mm + along_mm * sine + across_mm * cosine,
        height_mm,
    )
}

/// The other way.
fn straight(placed: &Placed, at: &Vector3<f64>) -> Vector3<f64> {
    let (sine, cosine) = placed.turn_rad.sin_cos();
    let (x, y) = (at.x, at.y - placed.groove_mm);
    Vector3::new(x * cosine + y * sine, y * cosine - x * sine, at.z)
}

impl Placed {
    /// The same in the scan's frame.
    pub fn in_scan(&self, axes: &Axes) -> ChannelPlace {
        let isthmus = axes.point(&turned(self, 0.0, 0.0, self.floor_mm));
        let way = |along_mm: f64, across_mm: f64| {
            axes.point(&turned(self, along_mm, across_mm, self.floor_mm)) - isthmus
        };
        let box_at = |k: usize, sense: f64| {
            axes.point(&turned(self, sense * self.box_axial_mm[k], 0.0, self.box_floor_mm[k]))
        };
        ChannelPlace {
            isthmus,
            along: way(1.0, 0.0),
            facially: way(0.0, axes.facial),
            boxes: [box_at(0, 1.0), box_at(1, -1.0)],
        }
    }
}

/// New heights of the cusps on a grid over the crown.
struct Columns {
    low: [f64; 2],
    size: [usize; 2],
    heights_mm: Vec<f64>,
}

impl Columns {
    fn new(cutter: &Cutter<'_>) -> Self {
        let [low, high] = cutter.bounds;
        let low = [low.x - BEYOND_MM, low.y - BEYOND_MM];
        let size =
            [high.x - low[0], high.y - low[1]].map(|mm| ((mm + BEYOND_MM) / GRID_MM).ceil() as usize + 1);
        let at = |k: usize| {
            let [i, j] = [k / size[1], k % size[1]];
            Vector3::new(low[0] + GRID_MM * i as f64, low[1] + GRID_MM * j as f64, 0.0)
        };
        let seen: Vec<Option<f64>> =
            (0..size[0] * size[1]).into_par_iter().map(|k| cutter.lowered_mm(&at(k))).collect();
        let rim: Vec<(Vector3<f64>, f64)> = (0..seen.len())
            .filter(|&k| neighbours(size, k).any(|other| seen[other].is_none()))
            .filter_map(|k| Some((at(k), seen[k]?)))
            .collect();
        let first: Vec<f64> =
            (0..seen.len()).into_par_iter().map(|k| seen[k].unwrap_or_else(|| level(&rim, &at(k)))).collect();
        let heights_mm = smoothed(first, size, &seen)
            .into_iter()
            .enumerate()
            .map(|(k, mm)| mm.min(cutter.top.bevel_mm(&cutter.axes.point(&at(k))).unwrap_or(f64::INFINITY)));
        let heights_mm = heights_mm.collect();
        Self { low, size, heights_mm }
    }

    /// All over the heights, up to a level.
    fn body(&self, top_mm: f64) -> Result<Manifold, PlanError> {
        let [n, m] = self.size;
        let flat =
            |k: usize| [self.low[0] + GRID_MM * (k / m) as f64, self.low[1] + GRID_MM * (k % m) as f64];
        let mut places: Vec<f64> = Vec::new();
        for level in [None, Some(top_mm)] {
            places.extend((0..n * m).flat_map(|k| {
                let [x, y] = flat(k);
                [x, y, level.unwrap_or(self.heights_mm[k])]
            }));
        }
        let (bottom, above) =
            (|i: usize, j: usize| (i * m + j) as u64, |i: usize, j: usize| (n * m + i * m + j) as u64);
        let mut corners: Vec<u64> = Vec::new();
        for i in 0..n - 1 {
            for j in 0..m - 1 {
                let [a, b, c, d] = [(i, j), (i + 1, j), (i + 1, j + 1), (i, j + 1)];
                let (under, over) =
                    ([a, b, c, d].map(|(i, j)| bottom(i, j)), [a, b, c, d].map(|(i, j)| above(i, j)));
                corners.extend([under[0], under[2], under[1], under[0], under[3], under[2]]);
                corners.extend([over[0], over[1], over[2], over[0], over[2], over[3]]);
            }
        }
        let mut round: Vec<(usize, usize)> = (0..n).map(|i| (i, 0)).collect();
        round.extend((1..m).map(|j| (n - 1, j)));
        round.extend((0..n - 1).rev().map(|i| (i, m - 1)));
        round.extend((1..m - 1).rev().map(|j| (0, j)));
        for k in 0..round.len() {
            let [(i, j), (p, q)] = [round[k], round[(k + 1) % round.len()]];
            corners.extend([bottom(i, j), bottom(p, q), above(p, q), bottom(i, j), above(p, q), above(i, j)]);
        }
        let gl = MeshGL64 { num_prop: 3, vert_properties: places, tri_verts: corners, ..MeshGL64::default() };
        let body = Manifold::from_mesh_gl64(&gl);
        match body.status() {
            Error::NoError => Ok(body),
            fault => Err(PlanError::NotJoined {
                because: format!("the cusps' new surface cannot be closed ({fault:?})"),
            }),
        }
    }
}

fn neighbours(size: [usize; 2], k: usize) -> impl Iterator<Item = usize> {
    let [n, m] = size;
    let (i, j) = (k / m, k % m);
    let beside = [(i.wrapping_sub(1), j), (i + 1, j), (i, j.wrapping_sub(1)), (i, j + 1)];
    beside.into_iter().filter(move |&(i, j)| i < n && j < m).map(move |(i, j)| i * m + j)
}

/// Every column that was not met becomes the mean of its neighbours, again and again.
fn smoothed(mut heights_mm: Vec<f64>, size: [usize; 2], seen: &[Option<f64>]) -> Vec<f64> {
    const ROUNDS: usize = 60;
    for _ in 0..ROUNDS {
        let mean = |k: usize| {
            let (sum, n) =
                neighbours(size, k).fold((0.0, 0.0), |(sum, n), other| (sum + heights_mm[other], n + 1.0));
            sum / n
        };
        heights_mm = (0..heights_mm.len()).map(|k| seen[k].unwrap_or_else(|| mean(k))).collect();
    }
    heights_mm
}

/// Beyond the occlusal surface the cut runs on level: the height of its rim, the nearest places most.
fn level(rim: &[(Vector3<f64>, f64)], place: &Vector3<f64>) -> f64 {
    let (mut sum, mut weights) = (0.0, 0.0);
    for (at, height_mm) in rim {
        let weight = (at - place).norm_squared().max(1e-6).powi(-3);
        sum += weight * height_mm;
        weights += weight;
    }
    if weights > 0.0 { sum / weights } else { 0.0 }
}
