//! The scans of one attempt, brought into one frame: that of the after scan.

use kerfwright_geometry::{Closest, Plane, Polyline, Surface};
use nalgebra::{Isometry3, Point3, Vector3};
use rayon::prelude::*;

/// Points that are moved one after the other.
const PARALLEL: usize = 2048;

/// A scan together with where it lies in the after scan's frame.
///
/// Points go in and come out in the after frame; the scan itself stays as it was read.
#[derive(Debug, Clone, Copy)]
pub struct Placed<'scan> {
    /// The scan in its own frame.
    pub surface: &'scan Surface,
    /// Takes the scan's own points into the after frame.
    pub after_from_scan: Isometry3<f64>,
}

/// The nearest point of a placed scan.
#[derive(Debug, Clone, Copy)]
pub struct Near {
    /// Distance in mm, positive outside the scanned body.
    pub signed_mm: f64,
    /// Nearest point, in the after frame.
    pub point: Point3<f64>,
    /// Outward unit normal there, in the after frame.
    pub normal: Vector3<f64>,
    /// Whether that point lies on the scan's open border, where the sign means nothing.
    pub on_border: bool,
}

impl<'scan> Placed<'scan> {
    /// A scan that already lies in the after frame.
    pub fn in_place(surface: &'scan Surface) -> Self {
        Self { surface, after_from_scan: Isometry3::identity() }
    }

    /// The nearest point to each of `points`, or `None` where nothing lies within `within_mm`.
    pub fn nearest(&self, points: &[Point3<f64>], within_mm: f64) -> Vec<Option<Near>> {
        let scan_from_after = self.after_from_scan.inverse();
        let points = points.par_iter().with_min_len(PARALLEL);
        let own: Vec<_> = points.map(|point| scan_from_after * point).collect();
        let signed = self.surface.signed_many(&own, within_mm).into_par_iter().with_min_len(PARALLEL);
        signed.map(|found| found.map(|found| self.near(found.distance_mm, &found.closest))).collect()
    }

    /// The section by `plane` (after frame), its points in the after frame.
    pub fn section(&self, plane: &Plane) -> Vec<Polyline> {
        let scan_from_after = self.after_from_scan.inverse();
        let own = Plane { point: scan_from_after * plane.point, normal: scan_from_after * plane.normal };
        let mut lines = self.surface.section(&own);
        for point in lines.iter_mut().flat_map(|line| &mut line.points) {
            *point = self.after_from_scan * *point;
        }
        lines
    }

    /// One vertex, in the after frame.
    pub fn vertex(&self, vertex: u32) -> Point3<f64> {
        self.after_from_scan * self.surface.mesh.vertices[vertex as usize]
    }

    fn near(&self, signed_mm: f64, closest: &Closest) -> Near {
        Near {
            signed_mm,
            point: self.after_from_scan * closest.point,
            normal: self.after_from_scan * self.surface.normal_at(closest),
            on_border: self.surface.on_boundary(closest),
        }
    }
}

/// The scans of one attempt in the frame of the after scan.
#[derive(Debug, Clone, Copy)]
pub struct Scene<'scan> {
    /// The prepared tooth with its neighbours.
    pub after: &'scan Surface,
    /// The same arch before cutting.
    pub before: Option<Placed<'scan>>,
    /// The opposing arch, jaws closed.
    pub opposing: Option<Placed<'scan>>,
}
