//! Rows of round teeth turned from profiles, each a body of its own, with exactly known preparations. Own bodies, no
//! gingiva: for what the phantom does not make (dies, several preparations, teeth put back askew, partial coverage).

use kerfwright_measure::ScanFile;
use kerfwright_mesh::{Mesh, write_stl_binary};
use nalgebra::{Isometry3, Point3, Translation3, UnitQuaternion, Vector3};

/// Edges of the triangles, mm.
const EDGE_MM: f64 = 0.16;
/// Noise of the scan along the normal, 1 sigma, mm.
const NOISE_MM: f64 = 0.006;
/// How far the stump reaches below the neck, mm.
const STUMP_MM: f64 = 3.5;
/// Height of the crown's widest place and of its shoulder over the neck, mm.
const CROWN_MM: f64 = 5.5;

/// How a tooth is cut: a shoulder at a level that may rise around the tooth, a wall, a flat top.
#[derive(Debug, Clone, Copy)]
pub struct Cut {
    /// Horizontal width of the shoulder where it is deepest.
    pub width_mm: f64,
    /// Taper of the wall to the tooth's own axis.
    pub taper_deg: f64,
    /// Level of the flat top over the neck.
    pub top_mm: f64,
    /// 1: the shoulder runs at the neck all round. Below 1 it rises to the top on the facial side (−y), and the wall with
    /// it ends: a tooth covered in part.
    pub covered: f64,
}

/// A complete crown.
pub const CROWN: Cut = Cut { width_mm: 0.9, taper_deg: 7.0, top_mm: 3.8, covered: 1.0 };

/// A tooth of a row.
#[derive(Debug, Clone, Copy)]
pub struct Body {
    /// Mean radius at the neck.
    pub radius_mm: f64,
    /// From the tooth's own frame (z along its axis, origin at the neck) into the row's.
    pub row_from_body: Isometry3<f64>,
    /// How it is cut, if it is.
    pub cut: Option<Cut>,
}

impl Body {
    /// An uncut tooth that stands upright at a place.
    pub fn new(radius_mm: f64, at: Vector3<f64>) -> Self {
        Self {
            radius_mm,
            row_from_body: Isometry3::from_parts(at.into(), UnitQuaternion::identity()),
            cut: None,
        }
    }

    /// The same tooth, cut.
    pub fn cut(self, cut: Cut) -> Self {
        Self { cut: Some(cut), ..self }
    }

    /// Leans by some degrees towards a direction around the tooth.
    pub fn leaning(self, deg: f64, toward: Vector3<f64>) -> Self {
        let axis = Vector3::z().cross(&toward).normalize() * deg.to_radians();
        let lean = UnitQuaternion::from_scaled_axis(axis);
        Self { row_from_body: self.row_from_body * lean, ..self }
    }

    /// Moved in its own frame.
    pub fn moved(self, shift_mm: Vector3<f64>, turn_deg: Vector3<f64>) -> Self {
        let turn = UnitQuaternion::from_scaled_axis(turn_deg.map(f64::to_radians));
        Self {
            row_from_body: self.row_from_body * Isometry3::from_parts(Translation3::from(shift_mm), turn),
            ..self
        }
    }

    /// A little out of round, so that it does not turn into itself.
    fn radius_at(&self, angle_rad: f64, height_mm: f64) -> f64 {
        let bulge = 1.0 + 0.10 * (1.0 - ((height_mm - 2.6) / 3.4).powi(2)) + 0.02;
        let lobes = 1.0 + 0.035 * (2.0 * angle_rad + 0.4).cos() + 0.02 * (3.0 * angle_rad).cos();
        self.radius_mm * bulge * lobes / 1.06
    }

    /// How much of the full depth the cut has at an angle.
    fn depth(cut: &Cut, angle_rad: f64) -> f64 {
        let turned = 0.5 * (1.0 - angle_rad.sin());
        let ramp = ((turned - 0.62) / 0.25).clamp(0.0, 1.0);
        1.0 - (1.0 - cut.covered) * ramp * ramp * (3.0 - 2.0 * ramp)
    }

    /// From the stump's end to the middle of the top: `(radius, height)`.
    fn profile(&self, angle_rad: f64) -> Vec<(f64, f64)> {
        let step = |length_mm: f64| (length_mm / EDGE_MM).ceil().max(1.0) as usize;
        let mut profile = Vec::new();
        let mut line = |from: (f64, f64), to: (f64, f64), n: usize| {
            profile.extend((0..n).map(|k| {
                let share = k as f64 / n as f64;
                (from.0 + (to.0 - from.0) * share, from.1 + (to.1 - from.1) * share)
            }));
        };
        let Some(cut) = &self.cut else {
            let n = step(STUMP_MM + CROWN_MM);
            let side = (0..n).map(|k| {
                let height_mm = -STUMP_MM + (STUMP_MM + CROWN_MM) * k as f64 / n as f64;
                (self.radius_at(angle_rad, height_mm), height_mm)
            });
            let mut profile: Vec<_> = side.collect();
            let n = step(1.25 * self.radius_mm);
            let rim = self.radius_at(angle_rad, CROWN_MM);
            profile.extend((0..n).map(|k| {
                let share = 1.0 - k as f64 / n as f64;
                let cusps = 0.5 * (1.0 + (4.0 * angle_rad + 0.7).cos()) + 0.3 * angle_rad.cos();
                // Round over the rim, cusps half-way in, a fossa in the middle.
                let over = 1.4 * (1.0 - share.powi(6)) * (0.35 + 0.65 * share * share);
                (rim * share, CROWN_MM + over + 0.5 * cusps * (4.0 * share * (1.0 - share)).powi(2))
            }));
            return profile;
        };
        let depth = Self::depth(cut, angle_rad);
        let edge_mm = (1.0 - depth) * (cut.top_mm - 0.2);
        let n = step(STUMP_MM + cut.top_mm);
        let (rim, width_mm) = (self.radius_at(angle_rad, edge_mm), cut.width_mm * depth);
        let wall_mm = cut.top_mm - edge_mm;
        let top = rim - width_mm - wall_mm * cut.taper_deg.to_radians().tan();
        let side: Vec<_> = (0..n)
            .map(|k| {
                let height_mm = -STUMP_MM + (STUMP_MM + edge_mm) * k as f64 / n as f64;
                (self.radius_at(angle_rad, height_mm), height_mm)
            })
            .collect();
        line((rim, edge_mm), (rim - width_mm, edge_mm), step(cut.width_mm));
        line((rim - width_mm, edge_mm), (top, cut.top_mm), step(cut.top_mm));
        line((top, cut.top_mm), (0.0, cut.top_mm), step(self.radius_mm));
        side.into_iter().chain(profile).collect()
    }

    /// The volume over the stump's end that the tooth would have if it looked as at this angle all round, mm³.
    pub fn wedge_mm3(&self, angle_rad: f64) -> f64 {
        let profile = self.profile(angle_rad);
        let top = (0.0, profile[profile.len() - 1].1);
        let ends: Vec<(f64, f64)> = profile.into_iter().chain([top]).collect();
        // Each step up is a frustum; steps inward and down on the top take their own part away.
        let frustum = |pair: &[(f64, f64)]| {
            let ((r, z), (s, h)) = (pair[0], pair[1]);
            std::f64::consts::PI / 3.0 * (r * r + r * s + s * s) * (h - z)
        };
        ends.windows(2).map(frustum).sum()
    }

    fn mesh(&self, random: &mut Random) -> Mesh {
        let n_around = (std::f64::consts::TAU * self.radius_mm / EDGE_MM).ceil() as u32;
        let columns: Vec<Vec<(f64, f64)>> = (0..n_around)
            .map(|k| self.profile(std::f64::consts::TAU * f64::from(k) / f64::from(n_around)))
            .collect();
        let n_up = columns[0].len() as u32;
        let mut mesh = Mesh::default();
        for (k, column) in columns.iter().enumerate() {
            let (sin, cos) = (std::f64::consts::TAU * k as f64 / f64::from(n_around)).sin_cos();
            assert_eq!(column.len() as u32, n_up);
            for (radius, height) in column {
                // The columns crowd together in the middle of the top: there noise would fold them.
                let noise_mm = NOISE_MM * (radius / 1.5).min(1.0);
                let noise = Vector3::from_fn(|_, _| noise_mm * random.normal());
                let point = Point3::new(radius * cos, radius * sin, *height) + noise;
                mesh.vertices.push(self.row_from_body * point);
            }
        }
        let middle = mesh.vertices.len() as u32;
        let height =
            columns.iter().map(|column| column[column.len() - 1].1).sum::<f64>() / f64::from(n_around);
        mesh.vertices.push(self.row_from_body * Point3::new(0.0, 0.0, height));
        for k in 0..n_around {
            let (here, next) = (k * n_up, (k + 1) % n_around * n_up);
            for up in 0..n_up - 1 {
                let [a, b, c, d] = [here + up, next + up, here + up + 1, next + up + 1];
                mesh.triangles.extend([[a, b, d], [a, d, c]]);
            }
            mesh.triangles.push([here + n_up - 1, next + n_up - 1, middle]);
        }
        mesh
    }
}

/// Teeth side by side along x, touching but for 0.15 mm, the row bent towards +y, the tongue: mesial first, as radii.
pub fn row(radii_mm: &[f64]) -> Vec<Body> {
    let mut x_mm = 0.0;
    radii_mm
        .iter()
        .enumerate()
        .map(|(k, &radius_mm)| {
            x_mm += if k == 0 { 0.0 } else { 1.14 * (radii_mm[k - 1] + radius_mm) + 0.15 };
            Body::new(radius_mm, Vector3::new(x_mm, 0.008 * x_mm * x_mm, 0.0))
        })
        .collect()
}

/// A scan of some bodies in a pose of its own.
pub fn scan(name: &str, bodies: &[Body], scan_from_row: &Isometry3<f64>, seed: u64) -> ScanFile {
    ScanFile::read(name, &bytes(bodies, scan_from_row, seed)).unwrap()
}

/// The same as a binary STL.
pub fn bytes(bodies: &[Body], scan_from_row: &Isometry3<f64>, seed: u64) -> Vec<u8> {
    let mut random = Random(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1);
    let mut whole = Mesh::default();
    for body in bodies {
        let mesh = body.mesh(&mut random);
        let first = whole.vertices.len() as u32;
        whole.vertices.extend(mesh.vertices);
        whole
            .triangles
            .extend(mesh.triangles.into_iter().map(|corners| corners.map(|corner| corner + first)));
    }
    write_stl_binary(&whole.transformed(scan_from_row))
}

/// A pose that has nothing to do with the row's.
pub fn pose(seed: u64) -> Isometry3<f64> {
    let mut random = Random(seed.wrapping_mul(0xD129_0F3B_51AA_77C5) | 1);
    let mut vector = |scale: f64| Vector3::from_fn(|_, _| scale * random.normal());
    Isometry3::new(vector(15.0), vector(1.2))
}

/// xorshift64*, good enough for noise.
struct Random(u64);

impl Random {
    fn uniform(&mut self) -> f64 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        (self.0.wrapping_mul(0x2545_F491_4F6C_DD1D) >> 11) as f64 / (1u64 << 53) as f64
    }

    fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.uniform()).sum::<f64>() - 6.0
    }
}
