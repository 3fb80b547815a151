//! Round dies with closed-form numbers for what the phantoms' teeth do not show: a lip, a short shoulder, a ledge, a
//! jump, edges of known radius. Mesial is x, facial y, occlusal z, the finish line at the radius of 5 mm.
#![allow(dead_code, reason = "no test uses all of it")]

use kerfwright_geometry::Surface;
use kerfwright_measure::measures::take_all;
use kerfwright_measure::preparation::Wishes;
use kerfwright_measure::scene::{Placed, Scene};
use kerfwright_measure::sheet::Sheet;
use kerfwright_measure::{PathChoice, Preparation};
use kerfwright_phantom::bodies::scanned;
use nalgebra::Point3;

const RADIUS_MM: f64 = 5.0;
const ROOT_MM: f64 = 2.5;
const POST_MM: f64 = 4.0;

/// What lies between edge and wall.
#[derive(Debug, Clone, Copy)]
pub enum Floor {
    /// Flat, with a radius to the wall.
    Flat { internal_radius_mm: f64 },
    /// The arc of a round end of this radius, tangent to the wall, through the edge.
    Round { tip_radius_mm: f64 },
}

/// A die; what depends on the angle around it (degrees, 0 mesial, 90 facial) is a function of it.
#[derive(Clone, Copy)]
pub struct Die {
    pub width_mm: f64,
    pub taper_deg: f64,
    pub height_mm: f64,
    pub floor: fn(f64) -> Floor,
    /// Height of the finish line.
    pub level_mm: fn(f64) -> f64,
    /// How far the wall is set back at a height.
    pub set_back_mm: fn(f64, f64) -> f64,
    /// Radius of the occlusal line angle.
    pub edge_radius_mm: fn(f64) -> f64,
    /// Between die and posts.
    pub gap_mm: f64,
    /// Edges of the scan's triangles.
    pub scan_edge_mm: f64,
    /// Noise of the scan, 1 sigma.
    pub noise_mm: f64,
}

impl Default for Die {
    fn default() -> Self {
        Self {
            width_mm: 1.0,
            taper_deg: 6.0,
            height_mm: 4.5,
            floor: |_| Floor::Flat { internal_radius_mm: 0.3 },
            level_mm: |_| 0.0,
            set_back_mm: |_, _| 0.0,
            edge_radius_mm: |_| 0.3,
            gap_mm: 0.8,
            scan_edge_mm: 0.15,
            noise_mm: 0.008,
        }
    }
}

/// Distance to the intersection of two half-planes whose edge is rounded, positive outside; the boundary between
/// normals at a right angle and a taper is what these dies need.
fn rounded(a: f64, b: f64, cosine: f64, radius: f64) -> f64 {
    let (u, v) = (a + radius, b + radius);
    if radius <= 0.0 || u <= v * cosine || v <= u * cosine {
        return a.max(b);
    }
    ((u * u + v * v - 2.0 * u * v * cosine) / (1.0 - cosine * cosine)).sqrt() - radius
}

impl Die {
    /// Inward coordinate of the round end's centre, and its height over the edge.
    pub fn centre(&self, tip_radius_mm: f64) -> (f64, f64) {
        let (sine, cosine) = self.taper_deg.to_radians().sin_cos();
        let (w, r) = (self.width_mm, tip_radius_mm);
        let along = ((w * sine).powi(2) - w * w + 2.0 * w * r * cosine).sqrt() - w * sine;
        (w + along * sine - r * cosine, along * cosine + r * sine)
    }

    /// Positive where the instrument went; `inward` and `up` from the edge.
    fn hollow(&self, angle_deg: f64, inward: f64, up: f64) -> f64 {
        let (sine, cosine) = self.taper_deg.to_radians().sin_cos();
        let set_back = (self.set_back_mm)(angle_deg, up);
        let wall = (self.width_mm + set_back - inward) * cosine + up * sine;
        match (self.floor)(angle_deg) {
            Floor::Flat { internal_radius_mm } => -rounded(-up, -wall, sine, internal_radius_mm),
            Floor::Round { tip_radius_mm } => {
                let (x, y) = self.centre(tip_radius_mm);
                let (dx, dy) = (inward - x, up - y);
                if dx * sine + dy * cosine > 0.0 { wall } else { tip_radius_mm - dx.hypot(dy) }
            }
        }
    }

    fn value(&self, p: &Point3<f64>) -> f64 {
        let angle_deg = p.y.atan2(p.x).to_degrees().rem_euclid(360.0);
        let (sine, _) = self.taper_deg.to_radians().sin_cos();
        let outward = p.x.hypot(p.y) - RADIUS_MM;
        let cut = self.hollow(angle_deg, -outward, p.z - (self.level_mm)(angle_deg));
        let cut = rounded(cut, p.z - self.height_mm, sine, (self.edge_radius_mm)(angle_deg));
        self.with_neighbours(p, outward.max(cut).max(-ROOT_MM - p.z))
    }

    /// Two round posts mesially and distally, so that there is an arch.
    fn with_neighbours(&self, p: &Point3<f64>, die: f64) -> f64 {
        let top_mm = self.height_mm + 1.5;
        let post = |x: f64| rounded((p.x - x).hypot(p.y) - POST_MM, p.z - top_mm, 0.0, 0.5);
        let apart_mm = RADIUS_MM + POST_MM + self.gap_mm;
        die.min(post(apart_mm).min(post(-apart_mm)).max(-ROOT_MM - p.z))
    }

    /// Scans after and before cutting; before is the uncut cylinder.
    pub fn scans(&self, seed: u64) -> [Surface; 2] {
        let scan = |body: &(dyn Fn(&Point3<f64>) -> f64 + Sync), seed: u64| {
            let body = |p: &Point3<f64>| body(p);
            Surface::new(scanned(&body, 16.0, self.scan_edge_mm, self.noise_mm, seed))
        };
        let top_mm = self.height_mm + 1.5;
        let uncut = |p: &Point3<f64>| {
            let post = rounded(p.x.hypot(p.y) - RADIUS_MM, p.z - top_mm, 0.0, 0.5);
            self.with_neighbours(p, post.max(-ROOT_MM - p.z))
        };
        [scan(&|p| self.value(p), seed), scan(&uncut, seed + 1000)]
    }

    /// The readings on such scans.
    pub fn measured(&self, seed: u64) -> Sheet {
        let [after, before] = self.scans(seed);
        let scene = Scene { after: &after, before: Some(Placed::in_place(&before)), opposing: None };
        let write = |point: &Point3<f64>| format!("{point}");
        take_all(&Preparation::find(scene, None, &self.wishes(), &write).unwrap())
    }

    /// What is said about the die: it stands for a 36, mesial towards x.
    pub fn wishes(&self) -> Wishes {
        Wishes {
            tooth: kerfwright_tooth::parse("36", None).unwrap().tooth,
            mesial_point: Some(Point3::new(9.0, 0.0, 2.0)),
            path: PathChoice::Best,
            opposing_shares_after: false,
            jaw: kerfwright_measure::JawWishes::default(),
        }
    }
}
