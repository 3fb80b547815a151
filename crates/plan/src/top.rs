//! The occlusal surface of the target: the anatomy, lowered by a closest distance that depends on the zone, under the plane
//! of the functional cusp bevel; on front teeth the lingual fossa, under the plane of the lowered incisal edge.

use kerfwright_geometry::Surface;
use kerfwright_measure::finish_line::Ring;
use kerfwright_measure::landmarks::Groove;
use kerfwright_measure::scene::Placed;
use kerfwright_measure::zones::{GROOVE_BAND_MM, groove_of, tooth_relief};
use kerfwright_mesh::Mesh;
use kerfwright_tooth::Side;
use nalgebra::{Matrix3, Point3, Vector3};

use crate::own::Places;
use crate::site::Site;
use crate::{TargetLine, Targets};

/// A part of the crown that faces up by more than this (cosine) and towards the middle is occlusal surface.
const FACES_UP: f64 = 0.42;
/// The same for what faces outward: the sides of a lower molar lean in by 30° and more.
const FACES_UP_OUTSIDE: f64 = 0.7;
/// The same for front teeth, whose fossa is steep.
const FACES_UP_FRONT: f64 = 0.2;
/// Over how much to both sides of a zone's limit the depth changes, mm.
const BLEND_MM: f64 = 0.2;

/// What is as far away as this is not met, mm.
const FAR_MM: f64 = 25.0;
/// Nearer than this is met, mm.
const ENOUGH_MM: f64 = 2e-5;

/// Zones of the occlusal surface.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Zone {
    /// Beyond the groove's band on the side that holds the bite.
    Functional,
    /// Beyond it on the other side.
    Nonfunctional,
    /// Within 0.8 mm of the line through the fossae.
    Groove,
}

/// The occlusal cut.
#[derive(Debug, Clone)]
pub struct Top {
    /// The uncut occlusal surface of this tooth alone.
    occlusal: Surface,
    frame: kerfwright_measure::frame::ToothFrame,
    groove: Groove,
    /// +1 where the functional cusps lie facially, −1 lingually, `None` on front teeth.
    functional_sign: Option<f64>,
    /// How deep each zone lies under the uncut surface: functional, non-functional, groove. On front teeth the first: the fossa.
    pub depths_mm: [f64; 3],
    /// The bevel's plane, under which everything lies: outward normal and offset.
    bevel: Option<(Vector3<f64>, f64)>,
    /// Height of the lowered incisal edge over the frame's origin as a quadratic of the mesial coordinate.
    incisal: Option<Vector3<f64>>,
}

impl Top {
    /// On a front tooth what lies lower than `fossa_from_mm` over the finish line belongs to the cingulum, not to the fossa.
    pub fn new(
        before: &Surface,
        site: &Site,
        line: &TargetLine,
        crown: &[bool],
        targets: &Targets,
        fossa_from_mm: f64,
    ) -> Self {
        let frame = site.frame;
        let ring = Ring {
            points: line.points.clone(),
            seen: vec![true; line.points.len()],
            scatter_mm: vec![None; line.points.len()],
            up: frame.occlusal,
        };
        let relief = tooth_relief(&Placed::in_place(before), &frame, &ring);
        let groove = groove_of(&relief).unwrap_or(Groove { at_mm: 0.0, slope: 0.0 });
        let functional_sign = site.tooth.functional_side().map(|side| match side {
            Side::Facial => 1.0,
            Side::Lingual => -1.0,
        });
        let is_front = functional_sign.is_none();
        let places = Places::new(&site.polar, &line.points);
        let is_occlusal = |triangle: usize| {
            let normal = frame.components(&before.triangle_normals[triangle]);
            let point = &before.mesh.vertices[before.mesh.triangles[triangle][0] as usize];
            if is_front {
                let over_mm = places.of(point).1;
                return normal.z > FACES_UP_FRONT && normal.y < 0.3 && over_mm > fossa_from_mm;
            }
            let at = frame.coordinates(point);
            let faces_out = at.x * normal.x + at.y * normal.y > 0.0;
            normal.z > if faces_out { FACES_UP_OUTSIDE } else { FACES_UP }
        };
        let mesh = part(&before.mesh, |triangle, corners| {
            corners.iter().all(|&vertex| crown[vertex as usize]) && is_occlusal(triangle)
        });
        let occlusal = &targets.occlusal;
        let depths_mm = if is_front {
            [targets.front.lingual_fossa_mm; 3]
        } else {
            [occlusal.functional_mm, occlusal.nonfunctional_mm, occlusal.groove_mm]
        };
        let mut top = Self {
            occlusal: Surface::new(mesh),
            frame,
            groove,
            functional_sign,
            depths_mm,
            bevel: None,
            incisal: None,
        };
        match functional_sign {
            None => top.incisal = lowered_edge(&relief.ridge(), targets.front.incisal_mm),
            Some(sign) => {
                top.bevel = occlusal.bevel_deg.and_then(|deg| top.plane(deg, sign, occlusal.functional_mm));
            }
        }
        top
    }

    /// The bevel's plane, as deep under the outermost point of the functional cusps as asked over them.
    fn plane(&self, angle_deg: f64, sign: f64, depth_mm: f64) -> Option<(Vector3<f64>, f64)> {
        let (sine, cosine) = angle_deg.to_radians().sin_cos();
        let normal = self.frame.facial * (sign * cosine) + self.frame.occlusal * sine;
        let reach = self.occlusal.mesh.vertices.iter().map(|vertex| vertex.coords.dot(&normal));
        // A robust utmost: single vertices are off by the noise.
        let mut reach: Vec<f64> = reach.collect();
        reach.sort_by(f64::total_cmp);
        let offset_mm = reach.get(reach.len().checked_sub(4)?)?;
        Some((normal, offset_mm - depth_mm))
    }

    /// Which zone a place belongs to; `None` on front teeth.
    pub fn zone(&self, point: &Point3<f64>) -> Option<Zone> {
        let off_mm = self.groove.facially_mm(&self.frame.coordinates(point)) * self.functional_sign?;
        Some(if off_mm > GROOVE_BAND_MM {
            Zone::Functional
        } else if off_mm < -GROOVE_BAND_MM {
            Zone::Nonfunctional
        } else {
            Zone::Groove
        })
    }

    /// How deep the surface is to lie at a place, mm.
    fn depth_mm(&self, point: &Point3<f64>) -> f64 {
        let Some(sign) = self.functional_sign else { return self.depths_mm[0] };
        let off_mm = self.groove.facially_mm(&self.frame.coordinates(point)) * sign;
        let share = ((off_mm.abs() - GROOVE_BAND_MM) / BLEND_MM + 0.5).clamp(0.0, 1.0);
        let cusp_mm = if off_mm > 0.0 { self.depths_mm[0] } else { self.depths_mm[1] };
        self.depths_mm[2] + (cusp_mm - self.depths_mm[2]) * share * share * (3.0 - 2.0 * share)
    }

    /// The groove line, in the tooth's frame.
    pub fn groove(&self) -> Groove {
        self.groove
    }

    /// Height over the frame's origin of the lowered anatomy, without a bevel, straight over a point that lies under it; `None` where it
    /// hangs on the rim of the occlusal surface.
    pub fn lowered_mm(&self, from: &Point3<f64>) -> Option<f64> {
        let point = self.risen(from, |point| self.under_mm(point));
        let closest = self.occlusal.tree.closest(&point, FAR_MM)?;
        let is_there = closest.distance_mm < self.depth_mm(&point) + 10.0 * ENOUGH_MM;
        let is_inside = is_there && !self.occlusal.on_boundary(&closest);
        is_inside.then(|| self.frame.coordinates(&point).z)
    }

    /// Height over the frame's origin of the bevel's plane straight over or under a point.
    pub fn bevel_mm(&self, point: &Point3<f64>) -> Option<f64> {
        let (normal, offset_mm) = self.bevel?;
        let rise_mm = (offset_mm - point.coords.dot(&normal)) / normal.dot(&self.frame.occlusal);
        Some(self.frame.coordinates(point).z + rise_mm)
    }

    /// How far a point under the surface can go in any direction without meeting it, mm; not positive on and over it.
    pub fn room_mm(&self, point: &Point3<f64>) -> f64 {
        let under_mm = self.under_mm(point);
        let bevel_mm = self.bevel.map_or(FAR_MM, |(normal, offset)| offset - point.coords.dot(&normal));
        let incisal_mm = self.incisal.map_or(FAR_MM, |quadratic| {
            let at = self.frame.coordinates(point);
            let slope = quadratic.y + 2.0 * quadratic.z * at.x;
            (quadratic.x + quadratic.y * at.x + quadratic.z * at.x * at.x - at.z) / slope.hypot(1.0)
        });
        under_mm.min(bevel_mm).min(incisal_mm)
    }

    /// The surface straight over a point that lies under it.
    pub fn over(&self, from: &Point3<f64>) -> Point3<f64> {
        self.risen(from, |point| self.room_mm(point))
    }

    /// The same for the lowered anatomy alone.
    fn under_mm(&self, point: &Point3<f64>) -> f64 {
        let closest = self.occlusal.tree.closest(point, FAR_MM);
        closest.map_or(FAR_MM, |closest| closest.distance_mm) - self.depth_mm(point)
    }

    /// A point moved up as far as there is room.
    fn risen(&self, from: &Point3<f64>, room_mm: impl Fn(&Point3<f64>) -> f64) -> Point3<f64> {
        const MOST_STEPS: usize = 80;
        let mut point = *from;
        for _ in 0..MOST_STEPS {
            let room_mm = room_mm(&point);
            if room_mm < ENOUGH_MM {
                break;
            }
            point += self.frame.occlusal * room_mm;
        }
        point
    }
}

/// The triangles that are wanted, with their own vertices.
fn part(mesh: &Mesh, wanted: impl Fn(usize, &[u32; 3]) -> bool) -> Mesh {
    let mut number = vec![u32::MAX; mesh.vertices.len()];
    let mut out = Mesh::default();
    for (triangle, corners) in mesh.triangles.iter().enumerate() {
        if !wanted(triangle, corners) {
            continue;
        }
        let mapped = corners.map(|vertex| {
            let number = &mut number[vertex as usize];
            if *number == u32::MAX {
                *number = out.vertices.len() as u32;
                out.vertices.push(mesh.vertices[vertex as usize]);
            }
            *number
        });
        out.triangles.push(mapped);
    }
    out
}

/// The incisal edge lowered by a depth: height as a quadratic of the mesial coordinate, by least squares.
fn lowered_edge(ridge: &[Vector3<f64>], depth_mm: f64) -> Option<Vector3<f64>> {
    // The rounded corners of the edge do not belong to it.
    const CORNER_MM: f64 = 0.6;
    let highest_mm = ridge.iter().map(|place| place.z).fold(f64::NEG_INFINITY, f64::max);
    let (mut normal, mut right) = (Matrix3::zeros(), Vector3::zeros());
    for place in ridge.iter().filter(|place| place.z > highest_mm - CORNER_MM) {
        let row = Vector3::new(1.0, place.x, place.x * place.x);
        normal += row * row.transpose();
        right += row * (place.z - depth_mm);
    }
    Some(normal.cholesky()?.solve(&right))
}
