//! Occlusal reduction and clearance: distances from the prepared occlusal surface.

use nalgebra::{Isometry3, Point3, UnitQuaternion, Vector3};

use crate::extract::{Lattice, extract};
use crate::field::{Field, bisect_along};
use crate::front_cut::FrontZone;
use crate::nearest::Nearest;
use crate::partial::Partial;
use crate::phantom::Phantom;
use crate::preparation::GROOVE_BAND_MM;
use crate::truth::{Occlusal, Spread, Walls, distances};

/// Spacing of the samples on the prepared surface, and of those the searches start from.
const SAMPLE_MM: f64 = 0.13;
const SEED_MM: f64 = 0.2;
/// The same where the least of the distances is sought.
const FINE_MM: f64 = 0.02;
/// A sample is cut surface when it lies this close to the cut.
const ON_CUT_MM: f64 = 1e-5;

/// Inclination of the prepared cusp inclines, seen from mesial: the angle between the plane perpendicular to the path
/// and the incline's area-weighted mean normal, all of them positive on an ordinary cusp.
///
/// Inner inclines are the zones more than 0.8 mm from the groove line, crests included; the outer one is the bevel.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Inclines {
    /// The functional cusps' outer incline, if it was bevelled.
    pub functional_outer_deg: Option<f64>,
    /// From the functional cusps down to the groove.
    pub functional_inner_deg: Option<f64>,
    /// From the non-functional cusps down to the groove.
    pub nonfunctional_inner_deg: Option<f64>,
}

/// Samples of the prepared occlusal surface and of what they are held against.
pub struct Surfaces<'a> {
    phantom: &'a Phantom,
    path: Vector3<f64>,
    /// Height along the path above which the surface is occlusal.
    floor: f64,
    samples: Samples,
    /// The unprepared tooth.
    pub uncut: Nearest,
}

/// Samples of the prepared occlusal surface.
struct Samples {
    /// Points of the prepared occlusal surface with their share of its area.
    points: Vec<(Point3<f64>, f64)>,
    /// Outward normals at those points.
    normals: Vec<Vector3<f64>>,
}

impl<'a> Surfaces<'a> {
    /// Samples the occlusal surface: normals within 60° of the path, more than 1.5 mm over the highest point of the
    /// finish line, or above half the lowest wall where that leaves more; on a front tooth its lingual fossa too,
    /// however steep.
    pub fn new(phantom: &'a Phantom, walls: &Walls, path: &Vector3<f64>) -> Self {
        let tooth = &phantom.arch.teeth[phantom.arch.middle].tooth;
        let middle = Point3::new(0.0, 0.0, 0.5 * tooth.crown_mm);
        let line = &phantom.preparation.line;
        let top =
            (0..360).map(|i| line.edge(f64::from(i).to_radians()).coords.dot(path)).fold(f64::MIN, f64::max);
        let lowest_wall = walls.height_mm.around().into_iter().fold(f64::MAX, f64::min);
        let floor = top + 1.5f64.min(0.5 * lowest_wall);
        let samples = samples(phantom, path, floor, &lattice(middle, 7.0, SAMPLE_MM));
        let uncut = Nearest::of_surface(tooth, middle, 7.0, SEED_MM);
        Self { phantom, path: *path, floor, samples, uncut }
    }

    /// Closest distances to the unprepared tooth, by zone.
    pub fn reduction(&self) -> Occlusal {
        let tooth = &self.phantom.arch.teeth[self.phantom.arch.middle].tooth;
        let samples = self.held_against(tooth, &self.uncut);
        let half = tooth.half_widths_mm();
        let zone = |inside: &dyn Fn(&Point3<f64>) -> bool| {
            let part: Vec<_> = samples.iter().filter(|s| inside(&s.2)).copied().collect();
            Spread::of(&part)
        };
        if let Some(front) = &self.phantom.preparation.front {
            let on = |wanted| zone(&|p| front.zone(p, ON_CUT_MM) == Some(wanted));
            return Occlusal {
                all: zone(&|_| true),
                incisal: on(FrontZone::Incisal),
                fossa: on(FrontZone::Fossa),
                incisal_height_mm: self.incisal_height(),
                ..Occlusal::default()
            };
        }
        let u = |p: &Point3<f64>| self.phantom.preparation.toward_functional(p.y);
        // The surface's own ends, not the uncut tooth's: its outer 1.5 mm.
        let ends = samples.iter().fold((half[0], -half[2]), |e, s| (e.0.min(s.2.x), e.1.max(s.2.x)));
        Occlusal {
            all: zone(&|_| true),
            functional: zone(&|p| u(p) > GROOVE_BAND_MM),
            nonfunctional: zone(&|p| u(p) < -GROOVE_BAND_MM),
            groove: zone(&|p| u(p).abs() <= GROOVE_BAND_MM),
            marginal_ridge: zone(&|p| p.x < ends.0 + 1.5 || p.x > ends.1 - 1.5),
            ..Occlusal::default()
        }
    }

    /// How far the uncut edge lies over the prepared one, section by section across it: the median.
    fn incisal_height(&self) -> Option<f64> {
        let tooth = &self.phantom.arch.teeth[self.phantom.arch.middle].tooth;
        let cut = |p: &Point3<f64>| self.phantom.prepared_tooth(p);
        let mut highest: Vec<f64> = (-20..=20)
            .filter_map(|i| {
                let x = 0.02 * tooth.half_widths_mm()[0] * f64::from(i);
                Some(highest_at(tooth, x)? - highest_at(&cut, x)?)
            })
            .collect();
        highest.sort_by(f64::total_cmp);
        highest.get(highest.len() / 2).copied()
    }

    /// Closest distances to the opposing teeth.
    pub fn clearance(&self) -> Spread {
        let opposing = |p: &Point3<f64>| self.phantom.opposing_teeth(p);
        let centre = Point3::new(0.0, 0.0, self.phantom.arch.teeth[self.phantom.arch.middle].tooth.crown_mm);
        let seeds = Nearest::of_surface(&opposing, centre, 8.5, SEED_MM);
        let mut spread = Spread::of(&self.held_against(&opposing, &seeds));
        // Where the surface ends at a crest the distance still falls there: between the samples, and past the last.
        let around = lattice(Point3::from(spread.least_at), 0.4, FINE_MM);
        let fine: Vec<_> = samples(self.phantom, &self.path, self.floor, &around)
            .points
            .into_iter()
            .map(|sample| sample.0)
            .collect();
        for (mm, at) in distances(&opposing, &seeds, &fine).into_iter().zip(fine) {
            if mm < spread.least_mm {
                (spread.least_mm, spread.least_at) = (mm, at.coords.into());
            }
        }
        spread
    }

    /// Reduction at the customary points.
    pub fn points(&self) -> Vec<(String, f64)> {
        let tooth = &self.phantom.arch.teeth[self.phantom.arch.middle].tooth;
        let body = |p: &Point3<f64>| self.phantom.prepared_tooth(p);
        let reduction = |(name, at): (&str, nalgebra::Point2<f64>)| {
            let above = Point3::new(at.x, at.y, tooth.crown_mm + 1.0);
            let under = bisect_along(&body, &above, &Vector3::z(), 9.0)?;
            Some((name.to_owned(), distances(tooth, &self.uncut, &[under])[0]))
        };
        if self.phantom.preparation.front.is_some() {
            return self.front_points();
        }
        tooth.landmarks().filter_map(reduction).collect()
    }

    /// How the cusps' prepared inclines lean against the plane perpendicular to `path`.
    pub fn inclines(&self, path: &Vector3<f64>) -> Inclines {
        let preparation = &self.phantom.preparation;
        let facial = (Vector3::y() - path * path.y).normalize() * preparation.functional_side();
        let lean = |inside: &dyn Fn(f64, bool) -> bool| {
            let chosen =
                self.samples.points.iter().zip(&self.samples.normals).filter(|((p, _), _)| {
                    inside(preparation.toward_functional(p.y), preparation.is_on_bevel(p))
                });
            let sum: Vector3<f64> = chosen.map(|((_, area), normal)| normal * *area).sum();
            (sum.norm() > 0.0).then(|| sum.dot(&facial).atan2(sum.dot(path)).to_degrees())
        };
        Inclines {
            functional_outer_deg: lean(&|_, on_bevel| on_bevel),
            functional_inner_deg: lean(&|u, on_bevel| u > GROOVE_BAND_MM && !on_bevel).map(|d| -d),
            nonfunctional_inner_deg: lean(&|u, _| u < -GROOVE_BAND_MM),
        }
    }

    /// A front tooth's points on its middle: the edge (straight down), and facial and lingual face at half and
    /// three quarters of the crown, each the closest distance from the prepared surface there.
    fn front_points(&self) -> Vec<(String, f64)> {
        let tooth = &self.phantom.arch.teeth[self.phantom.arch.middle].tooth;
        let body = |p: &Point3<f64>| self.phantom.prepared_tooth(p);
        let height = |share: f64| Point3::new(0.0, 0.0, share * tooth.crown_mm);
        let places = [
            ("edge", height(0.2), Vector3::z()),
            ("facial_middle", height(0.5), Vector3::y()),
            ("lingual_middle", height(0.5), -Vector3::y()),
            ("facial_incisal", height(0.72), Vector3::y()),
            ("lingual_incisal", height(0.72), -Vector3::y()),
        ];
        let reduction = |(name, within, direction): (&str, Point3<f64>, Vector3<f64>)| {
            let on = bisect_along(&body, &within, &direction, 15.0)?;
            Some((name.to_owned(), distances(tooth, &self.uncut, &[on])[0]))
        };
        places.into_iter().filter_map(reduction).collect()
    }

    fn held_against(&self, body: &impl Field, seeds: &Nearest) -> Vec<(f64, f64, Point3<f64>)> {
        let points: Vec<_> = self.samples.points.iter().map(|p| p.0).collect();
        let found = distances(body, seeds, &points);
        found.iter().zip(&self.samples.points).map(|(&d, &(p, area))| (d, area, p)).collect()
    }
}

/// Height of the highest point of a section across the tooth.
fn highest_at(body: &impl Field, x: f64) -> Option<f64> {
    let top = |j: i32| bisect_along(body, &Point3::new(x, 0.05 * f64::from(j), 13.0), &Vector3::z(), 9.0);
    (-60..=60).filter_map(top).map(|p| p.z).max_by(f64::total_cmp)
}

/// The prepared occlusal surface within a lattice.
fn samples(phantom: &Phantom, path: &Vector3<f64>, floor: f64, lattice: &Lattice) -> Samples {
    let tooth = &phantom.arch.teeth[phantom.arch.middle].tooth;
    let middle = Point3::from(lattice.body_from_lattice.translation.vector);
    let body = |p: &Point3<f64>| phantom.prepared_tooth(p);
    let window = |p: &Point3<f64>| (p - middle).amax() - lattice.half_size_mm;
    let (mesh, normals) = extract(&body, &window, lattice);
    let mut area = vec![0.0; mesh.vertices.len()];
    for (index, t) in mesh.triangles.iter().enumerate() {
        let [a, b, c] = mesh.corners(index as u32);
        let third = (b - a).cross(&(c - a)).norm() / 6.0;
        t.iter().for_each(|&v| area[v as usize] += third);
    }
    let occlusal = |i: &usize| {
        let p = &mesh.vertices[*i];
        if let Some(front) = &phantom.preparation.front {
            let on_cut = phantom.preparation.removed(p).abs() < ON_CUT_MM && tooth.value(p) < -ON_CUT_MM;
            let faces_up = normals[*i].dot(path) > 0.5 && p.coords.dot(path) > floor;
            let in_fossa = normals[*i].y < 0.0 && front.zone(p, ON_CUT_MM) == Some(FrontZone::Fossa);
            return on_cut && (faces_up || in_fossa);
        }
        // Of an onlay the covered cusps alone: the floors of channel and boxes are known from the spec.
        let is_floor = matches!(phantom.preparation.partial, Some(Partial::Channel(_)))
            && phantom.preparation.occlusal_removed(p).abs() > ON_CUT_MM;
        !is_floor
            && normals[*i].dot(path) > 0.5
            && p.coords.dot(path) > floor
            && phantom.preparation.removed(p).abs() < ON_CUT_MM
            && tooth.value(p) < -ON_CUT_MM
    };
    let chosen: Vec<usize> = (0..mesh.vertices.len()).filter(occlusal).collect();
    Samples {
        points: chosen.iter().map(|&i| (mesh.vertices[i], area[i])).collect(),
        normals: chosen.iter().map(|&i| normals[i]).collect(),
    }
}

fn lattice(middle: Point3<f64>, half_size_mm: f64, cell_mm: f64) -> Lattice {
    Lattice {
        cell_mm,
        body_from_lattice: Isometry3::from_parts(
            middle.into(),
            UnitQuaternion::from_euler_angles(0.4, 0.3, 0.2),
        ),
        half_size_mm,
        relaxations: 1,
    }
}
