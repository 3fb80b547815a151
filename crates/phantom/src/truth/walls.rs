//! Walls, floor and path: what can be said section by section.

use nalgebra::{Point3, Vector3};
use rayon::prelude::*;

use crate::field::{Field, bisect_along};
use crate::nearest::Nearest;
use crate::phantom::Phantom;
use crate::spec::ByAspect;
use crate::truth::{Walls, distances, undercut};

/// Stations to each side of the middle of an aspect, 1° apart: the middle half of one of eight.
const HALF_STATIONS: i32 = 11;
/// The same of one of four: the path balances whole walls.
const WALL_STATIONS: i32 = 22;
/// Height over E at which a wall's direction is taken.
const WALL_AT_MM: f64 = 1.0;

/// The median over each aspect's middle half of something known at every azimuth.
pub fn by_aspect(value: impl Fn(f64) -> f64 + Sync) -> ByAspect<f64> {
    ByAspect::from_around([0.0, 90.0, 180.0, 270.0].map(|middle| {
        let mut values: Vec<f64> = around(middle, HALF_STATIONS).into_par_iter().map(&value).collect();
        values.sort_by(f64::total_cmp);
        values[values.len() / 2]
    }))
}

fn around(middle_deg: f64, half: i32) -> Vec<f64> {
    (-half..=half).map(|i| (middle_deg + f64::from(i)).to_radians()).collect()
}

/// The direction along which opposing walls have equal taper, from their mean normals over the middle halves of four.
///
/// Equal taper means that the difference of the two outward normals is perpendicular to the path.
pub fn best_path(phantom: &Phantom) -> Vector3<f64> {
    let mean = |middle_deg: f64| {
        let normals = around(middle_deg, WALL_STATIONS).into_iter().map(|a| section_normal(phantom, a));
        normals.sum::<Vector3<f64>>().normalize()
    };
    let [m, f, d, l] = [0.0, 90.0, 180.0, 270.0].map(mean);
    let path = (m - d).cross(&(f - l)).normalize();
    if path.z < 0.0 { -path } else { path }
}

/// Outward normal of the wall line within its own section.
fn section_normal(phantom: &Phantom, azimuth: f64) -> Vector3<f64> {
    let line = &phantom.preparation.line;
    let taper = line.section(azimuth).tan_taper.atan();
    line.axis() * taper.sin() - line.inward(azimuth) * taper.cos()
}

/// All that depends on the direction.
pub fn along(phantom: &Phantom, direction: &Vector3<f64>) -> Walls {
    let taper_deg = by_aspect(|a| WallLine::new(phantom, a, direction).taper_deg());
    Walls {
        toc_mesiodistal_deg: taper_deg.mesial + taper_deg.distal,
        toc_faciolingual_deg: taper_deg.facial + taper_deg.lingual,
        width_mm: by_aspect(|a| WallLine::new(phantom, a, direction).width()),
        declination_deg: by_aspect(|a| declination_deg(phantom, a, direction)),
        height_mm: by_aspect(|a| (line_angle(phantom, a) - phantom.preparation.line.edge(a)).dot(direction)),
        undercut: undercut::along(phantom, direction),
        taper_deg,
    }
}

/// The wall in the section of one station for any direction of seating.
struct WallLine {
    /// A point of the wall in the section plane, from E.
    point: Vector3<f64>,
    /// The wall line upwards.
    line: Vector3<f64>,
    /// Inwards in the section plane, perpendicular to the direction.
    inward: Vector3<f64>,
    direction: Vector3<f64>,
}

impl WallLine {
    fn new(phantom: &Phantom, azimuth: f64, direction: &Vector3<f64>) -> Self {
        let line = &phantom.preparation.line;
        let edge = line.edge(azimuth);
        let tangent = (line.edge(azimuth + 1e-5) - line.edge(azimuth - 1e-5)) / 2e-5;
        let across = (tangent - direction * tangent.dot(direction)).normalize();
        // The station whose own wall line passes through this section plane one millimetre up.
        let aside = |a: f64| (wall_point(phantom, a, WALL_AT_MM) - edge).dot(&across);
        let mut at = azimuth;
        for _ in 0..20 {
            at -= aside(at) * 2e-5 / (aside(at + 1e-5) - aside(at - 1e-5));
        }
        let point = wall_point(phantom, at, WALL_AT_MM);
        let up = (wall_point(phantom, at, WALL_AT_MM + 1e-4) - point) / 1e-4;
        let along =
            (wall_point(phantom, at + 1e-5, WALL_AT_MM) - wall_point(phantom, at - 1e-5, WALL_AT_MM)) / 2e-5;
        let mut wall = along.cross(&up).cross(&across).normalize();
        if wall.dot(direction) < 0.0 {
            wall = -wall;
        }
        let mut inward = direction.cross(&across);
        if inward.dot(&line.inward(azimuth)) < 0.0 {
            inward = -inward;
        }
        Self { point: point - edge, line: wall, inward, direction: *direction }
    }

    fn taper_deg(&self) -> f64 {
        self.line.dot(&self.inward).atan2(self.line.dot(&self.direction)).to_degrees()
    }

    fn width(&self) -> f64 {
        let up = self.point.dot(&self.direction) / self.line.dot(&self.direction);
        (self.point - self.line * up).dot(&self.inward)
    }
}

/// A point of the (extended) first wall plane at a height over E.
fn wall_point(phantom: &Phantom, azimuth: f64, height: f64) -> Point3<f64> {
    let line = &phantom.preparation.line;
    let section = line.section(azimuth);
    let inward = section.width + height * section.tan_taper;
    line.edge(azimuth) + line.inward(azimuth) * inward + line.axis() * height
}

/// Fall of the floor at E, in the station's own section turned by the direction's lean across the finish line.
fn declination_deg(phantom: &Phantom, azimuth: f64, direction: &Vector3<f64>) -> f64 {
    let line = &phantom.preparation.line;
    let floor = floor_direction(phantom, azimuth);
    let inward = line.inward(azimuth);
    let inward = (inward - direction * inward.dot(direction)).normalize();
    floor.dot(direction).atan2(floor.dot(&inward)).to_degrees()
}

/// Inwards along the floor at E.
fn floor_direction(phantom: &Phantom, azimuth: f64) -> Vector3<f64> {
    let line = &phantom.preparation.line;
    let section = line.section(azimuth);
    if section.width < 1e-9 {
        return (line.inward(azimuth) * section.tan_taper + line.axis()).normalize();
    }
    (line.inward(azimuth) + line.axis() * section.tan_fall).normalize()
}

/// Angle between the floor inwards and the uncut surface downwards, in the station's own section.
pub fn cavosurface_deg(phantom: &Phantom, azimuth: f64) -> f64 {
    let line = &phantom.preparation.line;
    let tooth = &phantom.arch.teeth[phantom.arch.middle].tooth;
    let normal = tooth.normal(&line.edge(azimuth));
    let (inward, axis) = (line.inward(azimuth), line.axis());
    let down = (inward * normal.dot(&axis) - axis * normal.dot(&inward)).normalize();
    let down = if down.dot(&axis) > 0.0 { -down } else { down };
    floor_direction(phantom, azimuth).dot(&down).clamp(-1.0, 1.0).acos().to_degrees()
}

/// Where wall and occlusal cut meet in a section, faces extended past any rounding.
pub fn line_angle(phantom: &Phantom, azimuth: f64) -> Point3<f64> {
    let preparation = &phantom.preparation;
    let (mut low, mut high) = (0.0, 9.0);
    for _ in 0..50 {
        let middle = 0.5 * (low + high);
        let on_wall = preparation.wall_point(azimuth, middle);
        if preparation.occlusal_removed(&on_wall) < 0.0 { low = middle } else { high = middle }
    }
    preparation.wall_point(azimuth, 0.5 * (low + high))
}

/// Area of the axial walls from the top of the fillet to the occlusal line angle, as far as it stands more than 60° off the
/// path, by strips between stations 0.5° apart.
pub fn axial_area_mm2(phantom: &Phantom) -> f64 {
    const N_STATIONS: usize = 720;
    /// Parts of a strip over the break between the planes; below it, as many again.
    const N_PARTS: usize = 8;
    let line = &phantom.preparation.line;
    let path = best_path(phantom);
    let column = |i: usize| -> Vec<Point3<f64>> {
        let azimuth = std::f64::consts::TAU * i as f64 / N_STATIONS as f64;
        let section = line.section(azimuth);
        let top = (line_angle(phantom, azimuth) - line.edge(azimuth)).dot(&line.axis());
        let low = section.fillet_top().min(top);
        let middle = section.second_from.clamp(low, top);
        let share = |k: usize| (k % N_PARTS) as f64 / N_PARTS as f64;
        (0..=2 * N_PARTS)
            .map(|k| match k / N_PARTS {
                0 => low + (middle - low) * share(k),
                1 => middle + (top - middle) * share(k),
                _ => top,
            })
            .map(|height| smooth_wall_point(phantom, azimuth, height))
            .collect()
    };
    let columns: Vec<_> = (0..N_STATIONS).into_par_iter().map(column).collect();
    let strip = |(i, a): (usize, &Vec<Point3<f64>>)| -> f64 {
        let b = &columns[(i + 1) % N_STATIONS];
        let area = |p: Point3<f64>, q: Point3<f64>, r: Point3<f64>| {
            let doubled = (q - p).cross(&(r - p));
            if doubled.dot(&path).abs() < 0.5 * doubled.norm() { 0.5 * doubled.norm() } else { 0.0 }
        };
        (0..2 * N_PARTS).map(|k| area(a[k], b[k], b[k + 1]) + area(a[k], b[k + 1], a[k + 1])).sum()
    };
    columns.iter().enumerate().map(strip).sum()
}

/// A point of the wall at a height over E, without the dents of a rough wall; on a front tooth with them, and on its second plane.
fn smooth_wall_point(phantom: &Phantom, azimuth: f64, height: f64) -> Point3<f64> {
    if phantom.preparation.front.is_some() {
        return phantom.preparation.wall_point(azimuth, height);
    }
    let line = &phantom.preparation.line;
    let mut section = line.section(azimuth);
    section.flaws.swell = 0.0;
    line.edge(azimuth) + line.inward(azimuth) * section.wall_inward(height) + line.axis() * height
}

/// Median closest distance to the uncut tooth over the thirds of each wall, fillet and edge rounding included.
pub fn axial_reduction(phantom: &Phantom, uncut: &Nearest) -> ByAspect<[f64; 3]> {
    let tooth = &phantom.arch.teeth[phantom.arch.middle].tooth;
    ByAspect::from_around([0.0, 90.0, 180.0, 270.0].map(|middle| {
        let stations: Vec<f64> = around(middle, HALF_STATIONS).into_iter().step_by(2).collect();
        [0.0, 1.0, 2.0].map(|third| {
            let at = |&a: &f64| -> Vec<Point3<f64>> {
                let top = (line_angle(phantom, a) - phantom.preparation.line.edge(a))
                    .dot(&phantom.preparation.line.axis());
                let share = |k: i32| (third + 0.1 + 0.2 * f64::from(k)) / 3.0;
                (0..5).filter_map(|k| cut_point(phantom, a, top * share(k))).collect()
            };
            let points: Vec<_> = stations.iter().flat_map(at).collect();
            let mut found = distances(tooth, uncut, &points);
            found.sort_by(f64::total_cmp);
            found.get(found.len() / 2).copied().unwrap_or(f64::NAN)
        })
    }))
}

/// The cut surface in a section at a height over E, met from the wall line.
pub fn cut_point(phantom: &Phantom, azimuth: f64, height: f64) -> Option<Point3<f64>> {
    let line = &phantom.preparation.line;
    let start = phantom.preparation.wall_point(azimuth, height);
    let cut = |p: &Point3<f64>| phantom.preparation.removed(p);
    bisect_along(&cut, &start, &-line.inward(azimuth), 3.0)
}
