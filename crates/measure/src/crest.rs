//! The rim of the occlusal surface as it was cut, where the triangles of a scan cut it off.
//!
//! A vertex seldom falls on a crest: one of 90° loses up to a quarter of an edge's length, 0.04 mm and more, and there the
//! opposing teeth come nearest. Two faces and the arc between them, fitted across the crest, give back what was lost.

use nalgebra::{Matrix3, Point2, Point3, Vector2, Vector3};
use rayon::prelude::*;

use crate::corner::{Corner, Face};
use crate::preparation::Preparation;
use crate::zones::OCCLUSAL_COS;

/// How far to each side the faces are looked at, mm.
const REACH_MM: f64 = 0.6;
/// How far along the crest vertices are pooled, to each side, mm.
const ALONG_MM: f64 = 0.35;
/// The lines that guess the faces begin this far from the vertex, mm.
const GUESS_FROM_MM: f64 = 0.15;
/// Faces that turn by less hardly lose anything between them, degrees.
const LEAST_TURN_DEG: f64 = 50.0;
/// Steps in which the arc is followed, degrees.
const STEP_DEG: f64 = 4.0;

/// What was cut, across one vertex.
pub struct Crest {
    /// Places on it that belong to the occlusal surface, after frame.
    pub points: Vec<Point3<f64>>,
    /// How well their height is known, mm (1 sigma).
    pub sigma_mm: f64,
}

impl Crest {
    /// The crest at a vertex; `None` where the surface hardly turns or does not turn about one line.
    pub fn at(preparation: &Preparation<'_>, vertex: u32) -> Option<Self> {
        let after = preparation.scene.after;
        let centre = after.mesh.vertices[vertex as usize];
        let near = around(preparation, vertex);
        let spread: Matrix3<f64> = near
            .iter()
            .map(|&v| after.vertex_normals[v as usize])
            .map(|normal| normal * normal.transpose())
            .sum();
        let sum: Vector3<f64> = near.iter().map(|&v| after.vertex_normals[v as usize]).sum();
        let axes = spread.symmetric_eigen();
        let along: Vector3<f64> = axes.eigenvectors.column(axes.eigenvalues.imin()).into();
        let outward = (sum - along * sum.dot(&along)).try_normalize(1e-9)?;
        let across = along.cross(&outward);
        let flat = |point: &Point3<f64>| {
            let at = point - centre;
            Point2::new(at.dot(&across), at.dot(&outward))
        };
        let points: Vec<Point2<f64>> = near
            .iter()
            .map(|&v| &after.mesh.vertices[v as usize])
            .filter(|point| (*point - centre).dot(&along).abs() < ALONG_MM)
            .map(flat)
            .collect();
        let corner = Corner::fit(&points, faces(&points)?, preparation.noise_mm)?;
        let apex = corner.apex().filter(|apex| apex.coords.norm() < 0.5 * REACH_MM)?;
        let path = Vector2::new(preparation.path.dot(&across), preparation.path.dot(&outward));
        let (radius_mm, radius_sigma_mm) = cut_radius_mm(&corner, preparation.edge_mm);
        let outline = outline(&corner, radius_mm, apex, &path)?;
        Some(Self {
            points: outline.iter().map(|at| centre + across * at.x + outward * at.y).collect(),
            sigma_mm: radius_sigma_mm * corner.gap_share(),
        })
    }
}

/// A least distance.
pub struct Least {
    /// Its size, mm.
    pub mm: f64,
    /// Where, after frame.
    pub place: Point3<f64>,
    /// What a crest that the scan's triangles cut off leaves open, mm (1 sigma).
    pub sigma_mm: f64,
}

/// The least of the smoothed distances of vertices, over crests as they were cut; `distances_mm` tells those of other points.
pub fn least_over_crests(
    preparation: &Preparation<'_>,
    smooth: &[(f64, u32)],
    distances_mm: impl Fn(&[Point3<f64>]) -> Vec<Option<f64>> + Sync,
) -> Option<Least> {
    // No crest loses more to the triangles, or gains more where they reach past it.
    const MOST_CHANGE_MM: f64 = 0.12;
    let least_mm = smooth.iter().map(|near| near.0).min_by(f64::total_cmp)?;
    let may_be = smooth.par_iter().filter(|near| near.0 < least_mm + MOST_CHANGE_MM);
    let found = may_be.map(|&(mm, vertex)| {
        let on_crest = Crest::at(preparation, vertex).and_then(|crest| {
            let known = distances_mm(&crest.points).into_iter().zip(crest.points);
            let known = known.filter_map(|(mm, place)| Some((mm?, place)));
            let (mm, place) = known.min_by(|a, b| a.0.total_cmp(&b.0))?;
            Some(Least { mm, place, sigma_mm: crest.sigma_mm })
        });
        let place = preparation.scene.after.mesh.vertices[vertex as usize];
        on_crest.unwrap_or(Least { mm, place, sigma_mm: 0.0 })
    });
    found.collect::<Vec<_>>().into_iter().min_by(|a, b| a.mm.total_cmp(&b.mm))
}

/// The radius that was cut and its standard uncertainty, mm.
///
/// A scan turns a sharp crest into a round one of about the length of its edges: the radius lies between what the scan
/// shows and what is left when that is taken off, square from square.
fn cut_radius_mm(corner: &Corner, edge_mm: f64) -> (f64, f64) {
    let most_mm = corner.radius_mm;
    let least_mm = (most_mm * most_mm - edge_mm * edge_mm).max(0.0).sqrt();
    // A corner that shows no radius at all hides one of half an edge at most.
    let fit_mm = corner.sigma_mm.min(0.5 * edge_mm);
    (0.5 * (least_mm + most_mm), ((most_mm - least_mm) / 12f64.sqrt()).hypot(fit_mm))
}

/// Prepared vertices round a vertex, connected with it.
fn around(preparation: &Preparation<'_>, vertex: u32) -> Vec<u32> {
    let after = preparation.scene.after;
    let centre = after.mesh.vertices[vertex as usize];
    let mut near = vec![vertex];
    let mut next = 0;
    while next < near.len() {
        for &other in after.topology.vertex_neighbours(near[next]) {
            let is_near = (after.mesh.vertices[other as usize] - centre).norm() < REACH_MM;
            if is_near && preparation.inside[other as usize] && !near.contains(&other) {
                near.push(other);
            }
        }
        next += 1;
    }
    near
}

/// A first guess of the faces, from the points on either side, hollow side inside the tooth.
fn faces(points: &[Point2<f64>]) -> Option<[Face; 2]> {
    let side = |sign: f64| {
        let own: Vec<_> = points.iter().filter(|point| sign * point.x > GUESS_FROM_MM).copied().collect();
        let line = kerfwright_geometry::fit::line2(&own).filter(|_| own.len() >= 5)?;
        Some(Face::through(&line.point, &line.direction, &-Vector2::y()))
    };
    let [a, b] = [side(-1.0)?, side(1.0)?];
    (a.normal.angle(&b.normal).to_degrees() > LEAST_TURN_DEG).then_some([a, b])
}

/// Places on the arc that still face occlusally; of a sharp crest its apex, if a face beside it does.
fn outline(
    corner: &Corner,
    radius_mm: f64,
    apex: Point2<f64>,
    path: &Vector2<f64>,
) -> Option<Vec<Point2<f64>>> {
    // Outward, from one face over to the other.
    let [from, to] = corner.faces.map(|face| -face.normal);
    let turn = from.perp(&to).atan2(from.dot(&to));
    let middle = (from + to).try_normalize(1e-9)?;
    let centre = apex - middle * radius_mm * (1.0 + corner.gap_share());
    let n = (turn.abs().to_degrees() / STEP_DEG).ceil().max(1.0);
    let at = |step: f64| nalgebra::Rotation2::new(turn * step / n) * from;
    let own: Vec<_> = (0..=n as usize)
        .map(|step| at(step as f64))
        .filter(|normal| normal.dot(path) > OCCLUSAL_COS)
        .map(|normal| centre + normal * radius_mm)
        .collect();
    (!own.is_empty()).then_some(own)
}
