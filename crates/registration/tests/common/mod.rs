//! An arch of our own: domes with cusps on a curved ridge, scanned with irregular triangles and noise.

#![allow(dead_code, reason = "each test file uses its own part")]

use kerfwright_geometry::Surface;
use kerfwright_mesh::Mesh;
use nalgebra::{Isometry3, Point3, Quaternion, Translation3, UnitQuaternion, Vector3};

/// A dome with cusps.
#[derive(Clone)]
pub struct Tooth {
    /// Place along the ridge, mm.
    pub along_mm: f64,
    pub half_mm: [f64; 2],
    pub height_mm: f64,
    /// Place in half widths, height in mm.
    pub cusps: Vec<([f64; 2], f64)>,
}

/// Teeth on a ridge of gingiva.
#[derive(Clone)]
pub struct Arch {
    pub teeth: Vec<Tooth>,
    /// Radius of the ridge, mm; a very large one gives a straight row.
    pub radius_mm: f64,
    /// Height of waves that run over all of it, mm.
    pub waves_mm: f64,
    /// How far the gingiva is swollen, mm.
    pub swelling_mm: f64,
}

/// How an arch is scanned.
#[derive(Clone, Copy)]
pub struct Scan {
    pub edge_mm: f64,
    pub noise_mm: f64,
    pub seed: u64,
    /// Part of the ridge that is scanned, mm.
    pub from_mm: f64,
    pub to_mm: f64,
}

impl Default for Scan {
    fn default() -> Self {
        Self { edge_mm: 0.25, noise_mm: 0.008, seed: 1, from_mm: -20.0, to_mm: 20.0 }
    }
}

impl Arch {
    /// Four teeth whose sizes and cusps come from `seed`, so that no two look quite alike.
    pub fn new(seed: u64) -> Self {
        let mut random = Random(seed);
        let mut along_mm = -19.0;
        let teeth = (0..4).map(|_| {
            let half_mm = [random.within(3.6, 5.2), random.within(3.6, 5.4)];
            along_mm += 2.0 * half_mm[0] + 0.3;
            let cusp = |x: f64, y: f64, random: &mut Random| {
                let place = [x + random.within(-0.1, 0.1), y + random.within(-0.1, 0.1)];
                (place, random.within(0.7, 1.8))
            };
            let quarters = [(-0.45, -0.45), (-0.45, 0.45), (0.45, -0.45), (0.45, 0.45)];
            let cusps = quarters.map(|(x, y)| cusp(x, y, &mut random)).to_vec();
            let height_mm = random.within(3.5, 4.5);
            Tooth { along_mm: along_mm - half_mm[0], half_mm, height_mm, cusps }
        });
        Self { teeth: teeth.collect(), radius_mm: 32.0, waves_mm: 0.15, swelling_mm: 0.0 }
    }

    /// The same with one tooth cut down all round.
    pub fn cut(mut self, tooth: usize) -> Self {
        let tooth = &mut self.teeth[tooth];
        tooth.height_mm -= 1.2;
        tooth.half_mm = tooth.half_mm.map(|half| half - 1.0);
        tooth.cusps.iter_mut().for_each(|cusp| cusp.1 *= 0.4);
        self
    }

    /// Height over the base at a place along and across the ridge, mm.
    fn height_mm(&self, along_mm: f64, across_mm: f64) -> f64 {
        let (mut teeth, mut cover) = (0.0, 0.0f64);
        for tooth in &self.teeth {
            let x = (along_mm - tooth.along_mm) / tooth.half_mm[0];
            let y = across_mm / tooth.half_mm[1];
            let dome = (-1.5 * (x.powi(4) + y.powi(4))).exp();
            let cusps: f64 = tooth
                .cusps
                .iter()
                .map(|([u, v], height)| height * (-((x - u).powi(2) + (y - v).powi(2)) / 0.09).exp())
                .sum();
            teeth += dome * (tooth.height_mm + cusps);
            cover = cover.max((4.0 * dome).min(1.0));
        }
        let ridge = 1.5 * (-(across_mm / 7.0).powi(4)).exp();
        let waves = self.waves_mm * (0.9 * along_mm + 0.4 * across_mm).sin();
        ridge + waves + self.swelling_mm * (1.0 - cover) + teeth
    }

    /// Triangles over a jittered grid, with noise.
    pub fn scan(&self, scan: Scan) -> Mesh {
        let mut random = Random(scan.seed.wrapping_mul(7919));
        let columns = ((scan.to_mm - scan.from_mm) / scan.edge_mm) as usize + 1;
        let rows = (20.0 / scan.edge_mm) as usize + 1;
        let mut vertices = Vec::with_capacity(columns * rows);
        for row in 0..rows {
            for column in 0..columns {
                let jitter = 0.35 * scan.edge_mm;
                let along = scan.from_mm + column as f64 * scan.edge_mm + random.within(-jitter, jitter);
                let across = row as f64 * scan.edge_mm - 10.0 + random.within(-jitter, jitter);
                let noise = Vector3::from_fn(|_, _| scan.noise_mm * random.normal());
                vertices.push(self.place(along, across) + noise);
            }
        }
        let mut triangles = Vec::new();
        for row in 0..rows - 1 {
            for column in 0..columns - 1 {
                let [a, b] = [row * columns + column, (row + 1) * columns + column].map(|at| at as u32);
                if random.within(0.0, 1.0) < 0.5 {
                    triangles.extend([[a, a + 1, b + 1], [a, b + 1, b]]);
                } else {
                    triangles.extend([[a, a + 1, b], [a + 1, b + 1, b]]);
                }
            }
        }
        Mesh { vertices, triangles }
    }

    /// A place on the surface.
    pub fn place(&self, along_mm: f64, across_mm: f64) -> Point3<f64> {
        let angle = along_mm / self.radius_mm;
        let radius = self.radius_mm - across_mm;
        let (x, y) = (radius * angle.sin(), self.radius_mm - radius * angle.cos());
        Point3::new(x, y, self.height_mm(along_mm, across_mm))
    }
}

/// The mirror image, outside still outside.
pub fn mirrored(mesh: &Mesh) -> Mesh {
    Mesh {
        vertices: mesh.vertices.iter().map(|p| Point3::new(-p.x, p.y, p.z)).collect(),
        triangles: mesh.triangles.iter().map(|[a, b, c]| [*a, *c, *b]).collect(),
    }
}

/// The mesh in another frame, ready to be asked.
pub fn surface(mesh: &Mesh, to_from_mesh: &Isometry3<f64>) -> Surface {
    Surface::new(mesh.transformed(to_from_mesh))
}

/// A simple generator with a fixed seed.
pub struct Random(pub u64);

impl Random {
    fn next(&mut self) -> u64 {
        // Xorshift (Marsaglia 2003) on a state that is never zero.
        let mut x = self.0.wrapping_mul(2).wrapping_add(0x9E37_79B9_7F4A_7C15) | 1;
        for _ in 0..3 {
            x ^= x << 13;
            x ^= x >> 7;
            x ^= x << 17;
        }
        self.0 = x;
        x
    }

    pub fn within(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * ((self.next() >> 11) as f64 / (1u64 << 53) as f64)
    }

    pub fn normal(&mut self) -> f64 {
        let radius = (-2.0 * self.within(1e-12, 1.0).ln()).sqrt();
        radius * self.within(0.0, std::f64::consts::TAU).cos()
    }

    /// Any rotation with equal chance, and a shift of tens of millimetres.
    pub fn pose(&mut self) -> Isometry3<f64> {
        let turn = Quaternion::new(self.normal(), self.normal(), self.normal(), self.normal());
        let shift = Translation3::new(40.0 * self.normal(), 40.0 * self.normal(), 40.0 * self.normal());
        Isometry3::from_parts(shift, UnitQuaternion::from_quaternion(turn))
    }
}
