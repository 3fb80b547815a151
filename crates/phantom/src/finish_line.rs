//! The finish line as an exact curve, and the way from a point in space to its section.

use nalgebra::{Point3, UnitQuaternion, Vector2, Vector3};

use crate::arch::Arch;
use crate::field::smooth_step;
use crate::flaw_curve::FlawCurve;
use crate::section::{Section, WallFlaws};
use crate::spec::{ByAspect, Finish, Spec};
use crate::spline::Spline;

/// Nodes of the curve: between them it lies within nanometres of the uncut surface.
const N_NODES: usize = 720;
const SEED_STEP_MM: f64 = 0.25;
/// A finish line that climbs less than this everywhere counts as level: sections are nearly upright then.
const LEVEL: f64 = 0.75;

/// The outer edge E around the tooth, seen along the path, with the section's numbers at each place.
///
/// The parameter is the azimuth about the tooth's axis, from mesial towards facial. The curve lives in the
/// preparation's frame, whose `z` is the path.
#[derive(Debug, Clone)]
pub struct FinishLine {
    /// `x, y, z, width, tan taper, tan fall, radius, tan second plane, height of its break`.
    curve: Spline<9>,
    /// From the tooth's frame to the preparation's.
    pub prep_from_tooth: UnitQuaternion<f64>,
    /// Gingiva line: `x, y, z` in the tooth's frame by azimuth.
    pub gingiva: Spline<3>,
    seeds: Seeds,
    flaws: Option<FlawCurve>,
    /// The steepest climb of E along itself, mm per mm seen along the path.
    steepest: f64,
}

/// A point's place relative to the finish line.
#[derive(Debug, Clone, Copy)]
pub struct Place {
    /// Horizontal distance inwards from E.
    pub inward: f64,
    /// Height over E along the path.
    pub height: f64,
    /// How fast the height changes along the finish line, mm per mm where the point is; 0 where E is nearly level.
    pub climb: f64,
    /// Unit vector inwards, seen along the path.
    pub inward_normal: Vector2<f64>,
    /// The section's numbers.
    pub section: Section,
}

impl FinishLine {
    /// Runs E around the middle tooth of `arch`, as high over the gum as the spec says.
    pub fn new(spec: &Spec, arch: &Arch) -> Self {
        let azimuth = |i: usize| std::f64::consts::TAU * i as f64 / N_NODES as f64;
        let gingiva: Vec<[f64; 3]> = (0..N_NODES).map(|i| gingiva_at(arch, azimuth(i))).collect();
        let prep_from_tooth = prep_from_tooth(spec);
        let tooth = &arch.teeth[arch.middle].tooth;
        let node = |i: usize| {
            let a = azimuth(i);
            let z = gingiva[i][2] + blend(&spec.above_gingiva_mm, a);
            let r = tooth.radius_at(a, z);
            let e = prep_from_tooth * Point3::new(r * a.cos(), r * a.sin(), z);
            let s = section_at(spec, a, 0.0);
            [e.x, e.y, e.z, s.width, s.tan_taper, s.tan_fall, s.radius, s.tan_second, s.second_from]
        };
        let curve = Spline::periodic((0..N_NODES).map(node).collect());
        let seeds = Seeds::new(&curve);
        let climb = |i: usize| {
            let d = curve.first(azimuth(i));
            d[2].abs() / d[0].hypot(d[1])
        };
        let steepest = (0..N_NODES).map(climb).fold(0.0, f64::max);
        let gingiva = Spline::periodic(gingiva);
        let mut line = Self { curve, prep_from_tooth, gingiva, seeds, flaws: None, steepest };
        line.flaws = FlawCurve::new(spec, tooth, &line);
        line
    }

    /// The same line without its flaws.
    pub fn smooth(&self) -> Self {
        Self { flaws: None, ..self.clone() }
    }

    /// At most how much faster than distance the cut's value grows along the line.
    pub fn steepness(&self) -> f64 {
        self.flaws.as_ref().map_or(1.0, |flaws| flaws.steepness)
    }

    /// E at an azimuth, in the tooth's frame.
    pub fn edge(&self, azimuth: f64) -> Point3<f64> {
        let e = self.curve.at(azimuth);
        let edge = self.prep_from_tooth.inverse() * Point3::new(e[0], e[1], e[2]);
        let Some(flaws) = &self.flaws else { return edge };
        let [inwards, up] = flaws.shift(azimuth);
        edge + self.inward(azimuth) * inwards + self.axis() * up
    }

    /// The path of the preparation itself (what the tapers are counted from), in the tooth's frame.
    pub fn axis(&self) -> Vector3<f64> {
        self.prep_from_tooth.inverse() * Vector3::z()
    }

    /// The direction inwards across the finish line at an azimuth, seen along the path, in the tooth's frame.
    pub fn inward(&self, azimuth: f64) -> Vector3<f64> {
        let d = self.curve.first(azimuth);
        let across = Vector3::new(-d[1], d[0], 0.0).normalize();
        self.prep_from_tooth.inverse() * across
    }

    /// The section's numbers at an azimuth.
    pub fn section(&self, azimuth: f64) -> Section {
        let Some(flaws) = &self.flaws else { return section_of(&self.curve.at(azimuth)) };
        flaws.at(azimuth).0
    }

    /// The section that holds a point, given in the preparation's frame.
    pub fn place(&self, q: &Point3<f64>) -> Place {
        let azimuth = self.foot(q);
        let e = self.curve.at(azimuth);
        let [_, d, dd] = self.curve.plane_curve(azimuth);
        let climb = if self.steepest < LEVEL {
            0.0
        } else {
            let speed2 = d[0] * d[0] + d[1] * d[1];
            let bend = (e[0] - q.x) * dd[0] + (e[1] - q.y) * dd[1];
            self.curve.first(azimuth)[2] * speed2.sqrt() / (speed2 + bend).max(0.2 * speed2)
        };
        let inward_normal = Vector2::new(-d[1], d[0]).normalize();
        let inward = inward_normal.dot(&Vector2::new(q.x - e[0], q.y - e[1]));
        let height = q.z - e[2];
        let Some(flaws) = &self.flaws else {
            return Place { inward, height, climb, inward_normal, section: section_of(&e) };
        };
        let (section, [inwards, up]) = flaws.at(azimuth);
        Place { inward: inward - inwards, height: height - up, climb, inward_normal, section }
    }

    /// Foot of a point on the curve seen along the path: Newton from the seed table.
    fn foot(&self, q: &Point3<f64>) -> f64 {
        let mut azimuth = self.seeds.near(q.x, q.y);
        for _ in 0..6 {
            let [e, d, dd] = self.curve.plane_curve(azimuth);
            let (dx, dy) = (e[0] - q.x, e[1] - q.y);
            let speed2 = d[0] * d[0] + d[1] * d[1];
            let bend = dx * dd[0] + dy * dd[1];
            let step = (dx * d[0] + dy * d[1]) / (speed2 + bend).max(0.25 * speed2);
            azimuth -= step.clamp(-0.2, 0.2);
            if step.abs() < 1e-8 {
                break;
            }
        }
        azimuth
    }
}

/// Where the gum meets the tooth at an azimuth: on the tooth's surface and at the gum's height.
fn gingiva_at(arch: &Arch, azimuth: f64) -> [f64; 3] {
    let tooth = &arch.teeth[arch.middle].tooth;
    let (sine, cosine) = azimuth.sin_cos();
    let mut z = 1.0;
    let mut p = Point3::origin();
    for _ in 0..80 {
        let r = tooth.radius_at(azimuth, z);
        p = Point3::new(r * cosine, r * sine, z);
        let (s, t) = arch.along_and_across(&p);
        let height = arch.gingiva.as_ref().map_or(1.0, |g| g.height(s, t).0);
        if (height - z).abs() < 1e-11 {
            break;
        }
        z = height;
    }
    [p.x, p.y, p.z]
}

fn prep_from_tooth(spec: &Spec) -> UnitQuaternion<f64> {
    let Some(tilt) = spec.tilt else { return UnitQuaternion::identity() };
    let (sine, cosine) = tilt.toward_deg.to_radians().sin_cos();
    let across = nalgebra::Unit::new_normalize(Vector3::new(-sine, cosine, 0.0));
    UnitQuaternion::from_axis_angle(&across, tilt.angle_deg.to_radians()).inverse()
}

/// A value around the tooth: constant within 30° of each aspect's middle, smooth between.
pub fn blend(values: &ByAspect<f64>, azimuth: f64) -> f64 {
    let quarter = azimuth.rem_euclid(std::f64::consts::TAU) / std::f64::consts::FRAC_PI_2;
    let (from, t) = (quarter as usize % 4, quarter.fract());
    let around = values.around();
    around[from] + (around[(from + 1) % 4] - around[from]) * smooth_step(3.0 * t - 1.0)
}

/// The section's numbers at an azimuth, with a floor that is `wider` than asked for.
pub fn section_at(spec: &Spec, azimuth: f64, wider: f64) -> Section {
    let around = |f: &dyn Fn(usize) -> f64| blend(&ByAspect::from_around(std::array::from_fn(f)), azimuth);
    let numbers = |i: usize| finish_numbers(spec, i, wider);
    let taper = blend(&spec.taper_deg, azimuth).to_radians();
    let facial = ByAspect { facial: 1.0, ..ByAspect::all(0.0) };
    let second = spec.second_plane.map_or(0.0, |p| p.angle_deg.to_radians()) * blend(&facial, azimuth);
    Section {
        width: around(&|i| effective_width(spec, i, wider)),
        tan_taper: taper.tan(),
        tan_fall: around(&|i| numbers(i).0).tan(),
        radius: around(&|i| numbers(i).1),
        tan_second: (taper + second).tan(),
        second_from: spec.second_plane.map_or(20.0, |p| p.break_mm),
        flaws: WallFlaws::default(),
    }
}

fn effective_width(spec: &Spec, aspect: usize, wider: f64) -> f64 {
    let knife = spec.finish.around()[aspect] == Finish::KnifeEdge;
    if knife { 0.0 } else { spec.width_mm.around()[aspect] + wider }
}

fn finish_numbers(spec: &Spec, aspect: usize, wider: f64) -> (f64, f64) {
    let taper = spec.taper_deg.around()[aspect].to_radians();
    Section::fall_and_radius(spec.finish.around()[aspect], effective_width(spec, aspect, wider), taper)
}

fn section_of(e: &[f64; 9]) -> Section {
    Section {
        width: e[3],
        tan_taper: e[4],
        tan_fall: e[5],
        radius: e[6],
        tan_second: e[7],
        second_from: e[8],
        flaws: WallFlaws::default(),
    }
}

/// A coarse table of feet, so that Newton starts near the right one.
#[derive(Debug, Clone)]
struct Seeds {
    low: [f64; 2],
    n: [usize; 2],
    azimuths: Vec<f32>,
}

impl Seeds {
    fn new(curve: &Spline<9>) -> Self {
        let n = curve.n_nodes() / 4;
        let points: Vec<(f64, f64, f64)> = (0..n)
            .map(|i| {
                let a = std::f64::consts::TAU * i as f64 / n as f64;
                let e = curve.at(a);
                (a, e[0], e[1])
            })
            .collect();
        let extreme = |get: fn(&(f64, f64, f64)) -> f64| {
            let values = points.iter().map(get);
            (values.clone().fold(f64::MAX, f64::min), values.fold(f64::MIN, f64::max))
        };
        let ((x0, x1), (y0, y1)) = (extreme(|p| p.1), extreme(|p| p.2));
        let low = [x0 - 2.0, y0 - 2.0];
        let size = [x1 - x0 + 4.0, y1 - y0 + 4.0].map(|l| (l / SEED_STEP_MM) as usize + 1);
        let nearest = |i: usize| {
            let x = low[0] + SEED_STEP_MM * (i % size[0]) as f64;
            let y = low[1] + SEED_STEP_MM * (i / size[0]) as f64;
            let distance2 = |p: &(f64, f64, f64)| (p.1 - x).powi(2) + (p.2 - y).powi(2);
            points.iter().min_by(|a, b| distance2(a).total_cmp(&distance2(b))).map_or(0.0, |p| p.0) as f32
        };
        Self { low, n: size, azimuths: (0..size[0] * size[1]).map(nearest).collect() }
    }

    fn near(&self, x: f64, y: f64) -> f64 {
        let cell = |v: f64, axis: usize| {
            let i = ((v - self.low[axis]) / SEED_STEP_MM + 0.5).max(0.0) as usize;
            i.min(self.n[axis] - 1)
        };
        f64::from(self.azimuths[cell(x, 0) + self.n[0] * cell(y, 1)])
    }
}
