//! The cutting solid: what is left of the tooth is the uncut tooth less this.

use nalgebra::{Point3, Vector3};
use rayon::prelude::*;

use crate::arch::Arch;
use crate::field::{closest_from, project, rounded_max, smooth_step};
use crate::finish_line::{FinishLine, Place, blend};
use crate::front_cut::FrontCut;
use crate::partial::{Carved, Partial};
use crate::spec::{ByAspect, Spec};
use crate::tooth::Tooth;

/// The prepared occlusal surface follows the anatomy with its grooves softened to this, mm.
const PREPARED_SOFTNESS_MM: f64 = 0.2;
/// Half width of the groove band, mm from the groove line: the contract's functional zone begins beyond it.
pub const GROOVE_BAND_MM: f64 = 0.8;

/// A complete crown preparation in the tooth's frame.
#[derive(Debug, Clone)]
pub struct Preparation {
    /// Its finish line and walls.
    pub line: FinishLine,
    tooth: Tooth,
    /// Sign of `y` on the functional side.
    functional_side: f64,
    /// How far the cut lies under the softened anatomy: non-functional, groove, functional.
    drops: [f64; 3],
    /// Plane of the functional cusp bevel: outward normal and offset.
    bevel: Option<(Vector3<f64>, f64)>,
    edge_radius: f64,
    edge_radii: Option<ByAspect<f64>>,
    /// An incisor's or canine's own cuts instead of the occlusal ones.
    pub front: Option<FrontCut>,
    /// What of the crown is covered, unless all of it is.
    pub partial: Option<Partial>,
    /// Grooves and boxes in the walls.
    pub carved: Vec<Carved>,
}

impl Preparation {
    /// Cuts the middle tooth of `arch`.
    pub fn new(spec: &Spec, arch: &Arch) -> Self {
        let tooth = arch.teeth[arch.middle].tooth.clone();
        let functional_side = if tooth.fdi.is_upper() { -1.0 } else { 1.0 };
        let bevel = spec.bevel_deg.filter(|_| tooth.front().is_none()).map(|angle_deg| {
            let (sine, cosine) = angle_deg.to_radians().sin_cos();
            // The plane makes `angle` with the axis, so that its normal makes the complement.
            let normal = Vector3::new(0.0, functional_side * cosine, sine);
            (normal, support(&tooth, &normal) - spec.occlusal.functional_mm)
        });
        let wanted = [spec.occlusal.nonfunctional_mm, spec.occlusal.groove_mm, spec.occlusal.functional_mm];
        // A front tooth's second plane belongs to its own cuts.
        let walls =
            Spec { second_plane: spec.second_plane.filter(|_| tooth.front().is_none()), ..spec.clone() };
        let line = FinishLine::new(&walls, arch);
        let mut preparation = Self {
            front: FrontCut::new(spec, &tooth, &line),
            partial: Partial::new(&spec.coverage, &tooth, &line),
            carved: spec.wall_cuts.iter().map(|cut| Carved::new(cut, &line)).collect(),
            line,
            tooth,
            functional_side,
            drops: wanted.map(|w| 1.15 * w),
            bevel,
            edge_radius: spec.line_angle_radius_mm,
            edge_radii: spec.line_angle_radii_mm,
        };
        if let Some(mut front) = preparation.front.take() {
            let cut = |front: &FrontCut, p: &Point3<f64>| preparation.removed_by(p, Some(front));
            front.settle(&preparation.tooth, spec.incisal.fossa_mm, cut);
            preparation.front = Some(front);
        } else {
            preparation.settle(wanted);
        }
        preparation
    }

    /// Positive where material is removed, in the tooth's frame; about the distance to the cut near it.
    pub fn removed(&self, p: &Point3<f64>) -> f64 {
        let complete = self.removed_by(p, self.front.as_ref());
        let carved = self.carved.iter().fold(complete, |value, carved| value.max(carved.removed(p)));
        match (&self.partial, &self.front) {
            (Some(Partial::Top), Some(front)) => front.edge_removed(p),
            (Some(partial), _) => partial.removed(p, carved, || self.occlusal_removed(p)),
            (None, _) => carved,
        }
    }

    fn removed_by(&self, p: &Point3<f64>, front: Option<&FrontCut>) -> f64 {
        let place = self.line.place(&(self.line.prep_from_tooth * p));
        // Where E climbs steeply the floor rises across the section too: the value is kept near the distance.
        self.removed_at(p, &place, front) / (1.0f64.hypot(place.climb) / 1.2).max(1.0)
    }

    fn removed_at(&self, p: &Point3<f64>, place: &Place, front: Option<&FrontCut>) -> f64 {
        let (occlusal, occlusal_normal) = front.map_or_else(|| self.occlusal(p), |front| front.removed(p));
        let wall = place.section.removed(place.inward, place.height);
        let radius = self.edge_radius_near(p);
        // Divided so that it nowhere grows too fast; the zero set stays where it is.
        let steepness = self.line.steepness();
        let second = front.and_then(|front| front.second_plane(p, place.height)).filter(|s| s.0 > wall);
        if let Some((second, normal)) = second {
            if second.max(occlusal) > 0.5 {
                return second.max(occlusal) / steepness;
            }
            return rounded_max(second, occlusal, normal.dot(&occlusal_normal), radius) / steepness;
        }
        if radius <= 0.0 || wall < -radius || occlusal < -radius {
            return wall.max(occlusal) / steepness;
        }
        let (out, up) = place.section.wall_normal(place.height);
        let across = -place.inward_normal * out;
        let wall_normal = self.line.prep_from_tooth.inverse() * Vector3::new(across.x, across.y, up);
        rounded_max(wall, occlusal, wall_normal.dot(&occlusal_normal), radius) / steepness
    }

    /// Radius of the occlusal line angles at an azimuth about the tooth's axis.
    pub fn edge_radius_at(&self, azimuth: f64) -> f64 {
        self.edge_radii.map_or(self.edge_radius, |radii| blend(&radii, azimuth))
    }

    fn edge_radius_near(&self, p: &Point3<f64>) -> f64 {
        if self.edge_radii.is_none() { self.edge_radius } else { self.edge_radius_at(p.y.atan2(p.x)) }
    }

    /// Positive above the occlusal cut alone.
    pub fn occlusal_removed(&self, p: &Point3<f64>) -> f64 {
        self.front.as_ref().map_or_else(|| self.occlusal(p).0, |front| front.removed(p).0)
    }

    /// A point of the wall (of both facial planes, extended past floor and line angle) at a height over E.
    pub fn wall_point(&self, azimuth: f64, height: f64) -> Point3<f64> {
        let inward = self.line.section(azimuth).wall_inward(height);
        let across = self.line.inward(azimuth);
        let mut p = self.line.edge(azimuth) + across * inward + self.line.axis() * height;
        // The second plane of a front tooth is nearly flat: three steps lead onto it.
        for _ in 0..3 {
            let second = self.front.as_ref().and_then(|front| front.second_plane(&p, height));
            let Some((outside, normal)) = second.filter(|s| s.0 > 1e-9 && s.1.dot(&across) < -0.2) else {
                break;
            };
            p -= across * (outside / normal.dot(&across));
        }
        p
    }

    /// Positive above the occlusal cut (inclines and bevel), with its outward normal there.
    fn occlusal(&self, p: &Point3<f64>) -> (f64, Vector3<f64>) {
        let height = |x: f64, y: f64| self.cut_height(x, y);
        let h = height(p.x, p.y);
        let near = (p.z - h).abs() < 2.0;
        const STEP: f64 = 1e-3;
        let radius = self.edge_radius_near(p);
        let (gx, gy) = if near && radius > 0.0 {
            ((height(p.x + STEP, p.y) - h) / STEP, (height(p.x, p.y + STEP) - h) / STEP)
        } else {
            (0.0, 0.0)
        };
        // A constant divisor keeps the zero set where it is; inclines of the cut are about 25°.
        let incline = (p.z - h) / 1.12;
        let incline_normal = Vector3::new(-gx, -gy, 1.0).normalize();
        let Some((normal, offset)) = self.bevel else { return (incline, incline_normal) };
        let bevel = p.coords.dot(&normal) - offset;
        let value = rounded_max(bevel, incline, normal.dot(&incline_normal), radius);
        (value, if bevel > incline { normal } else { incline_normal })
    }

    /// Height of the occlusal cut without its bevel.
    fn cut_height(&self, x: f64, y: f64) -> f64 {
        let u = self.toward_functional(y);
        let band = |u: f64| smooth_step((u + 0.1) / 1.6);
        let drop = self.drops[1]
            + (self.drops[2] - self.drops[1]) * band(u)
            + (self.drops[0] - self.drops[1]) * band(-u);
        self.tooth.occlusal_height(x, y, PREPARED_SOFTNESS_MM) - drop
    }

    /// How far `y` lies to the functional side of the groove line, mm.
    pub fn toward_functional(&self, y: f64) -> f64 {
        self.functional_side * (y - self.tooth.groove_y_mm())
    }

    /// Sign of `y` on the functional side.
    pub fn functional_side(&self) -> f64 {
        self.functional_side
    }

    /// Whether the bevel is what cuts at a point of the occlusal surface.
    pub fn is_on_bevel(&self, p: &Point3<f64>) -> bool {
        let Some((normal, offset)) = self.bevel else { return false };
        p.coords.dot(&normal) - offset > (p.z - self.cut_height(p.x, p.y)) / 1.12
    }

    /// Settles the drops so that the median closest distances come out as wanted.
    fn settle(&mut self, wanted: [f64; 3]) {
        for _ in 0..3 {
            let mut drops = self.drops;
            let samples: Vec<(usize, f64)> = self.table().par_iter().filter_map(|p| self.sample(p)).collect();
            for (zone, (wanted, drop)) in wanted.into_iter().zip(&mut drops).enumerate() {
                let mut found: Vec<f64> = samples.iter().filter(|s| s.0 == zone).map(|s| s.1).collect();
                if found.len() < 5 {
                    continue;
                }
                found.sort_by(f64::total_cmp);
                *drop += 1.1 * (wanted - found[found.len() / 2]);
            }
            self.drops = drops;
        }
    }

    fn table(&self) -> Vec<(f64, f64)> {
        let half = self.tooth.half_widths_mm();
        let at = |i: i32, step: f64| step * (f64::from(i) + 0.5);
        let n = |w: f64| (0.75 * w / 0.35) as i32;
        (-n(half[2])..n(half[0]))
            .flat_map(|i| (-n(half[3])..n(half[1])).map(move |j| (at(i, 0.35), at(j, 0.35))))
            .collect()
    }

    /// Zone and closest distance to the uncut tooth at one place of the cut, unless wall or bevel cut deeper there.
    fn sample(&self, &(x, y): &(f64, f64)) -> Option<(usize, f64)> {
        let p = Point3::new(x, y, self.cut_height(x, y));
        if (self.removed(&p)).abs() > 1e-6 {
            return None;
        }
        let u = self.toward_functional(y);
        let zone = if u > GROOVE_BAND_MM {
            2
        } else if u < -GROOVE_BAND_MM {
            0
        } else {
            1
        };
        let above = Point3::new(x, y, p.z + 1.2);
        let foot = closest_from(&self.tooth, &p, &project(&self.tooth, &above, 2.0)?);
        Some((zone, (foot - p).norm()))
    }
}

/// How far a tooth reaches in a direction, mm.
fn support(tooth: &Tooth, direction: &Vector3<f64>) -> f64 {
    let mut furthest = f64::MIN;
    for i in -60..=60 {
        for j in -60..=60 {
            let (x, y) = (0.1 * f64::from(i), 0.1 * f64::from(j));
            let top = Point3::new(x, y, tooth.occlusal_height(x, y, 0.05));
            let worth_it = tooth.axial_value(&top) < 0.5 && top.coords.dot(direction) > furthest - 0.3;
            if let Some(p) = worth_it.then(|| project(tooth, &top, 1.5)).flatten() {
                furthest = furthest.max(p.coords.dot(direction));
            }
        }
    }
    furthest
}
