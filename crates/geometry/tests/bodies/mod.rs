//! Bodies with known answers, triangulated irregularly, for tests and benches.
#![allow(dead_code, missing_docs)] // Each test uses its part.

use std::collections::BTreeMap;

use kerfwright_mesh::Mesh;
use nalgebra::{Point3, Unit, UnitQuaternion, Vector3};

/// A small generator of random numbers (SplitMix64, public domain algorithm by S. Vigna), the same everywhere.
pub struct Random(u64);

impl Random {
    pub fn new(seed: u64) -> Self {
        Self(seed)
    }

    pub fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// Evenly from 0 to 1.
    pub fn unit(&mut self) -> f64 {
        (self.bits() >> 11) as f64 / (1u64 << 53) as f64
    }

    /// Evenly from `low` to `high`.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }

    /// Normal, mean 0, standard deviation 1 (Box and Muller).
    pub fn normal(&mut self) -> f64 {
        (-2.0 * (1.0 - self.unit()).ln()).sqrt() * (std::f64::consts::TAU * self.unit()).cos()
    }

    pub fn vector(&mut self, half_size: f64) -> Vector3<f64> {
        Vector3::from_fn(|_, _| self.between(-half_size, half_size))
    }

    pub fn direction(&mut self) -> Vector3<f64> {
        Vector3::from_fn(|_, _| self.normal()).normalize()
    }

    pub fn shuffle<T>(&mut self, items: &mut [T]) {
        for last in (1..items.len()).rev() {
            items.swap(last, (self.bits() % (last as u64 + 1)) as usize);
        }
    }
}

/// A patch of `n` × `n` cells: a grid of the given edge, jittered by ±30 % of it, diagonals at random,
/// each point placed by `place` (which takes mm along the patch, centred).
pub fn patch(n: u32, edge_mm: f64, random: &mut Random, place: impl Fn(f64, f64) -> Point3<f64>) -> Mesh {
    let middle = 0.5 * f64::from(n);
    let mut mesh = Mesh::default();
    for row in 0..=n {
        for column in 0..=n {
            let mut along = |k: u32| (f64::from(k) - middle + random.between(-0.3, 0.3)) * edge_mm;
            let (s, t) = (along(column), along(row));
            mesh.vertices.push(place(s, t));
        }
    }
    for row in 0..n {
        for column in 0..n {
            let a = row * (n + 1) + column;
            let (b, c, d) = (a + 1, a + n + 2, a + n + 1);
            if random.bits().is_multiple_of(2) {
                mesh.triangles.extend([[a, b, c], [a, c, d]]);
            } else {
                mesh.triangles.extend([[a, b, d], [b, c, d]]);
            }
        }
    }
    mesh
}

/// A closed sphere around the origin: each face of an icosahedron cut into `n`² triangles, vertices jittered.
pub fn sphere(radius_mm: f64, n: u32, random: &mut Random) -> Mesh {
    let jitter = 0.2 / f64::from(n);
    icosphere(n, |direction| (direction + random.vector(jitter)).normalize() * radius_mm)
}

/// A closed body the size of a few teeth, with hollows and ridges and white noise of `noise_mm`.
pub fn lumpy(n: u32, noise_mm: f64, random: &mut Random) -> Mesh {
    let jitter = 0.2 / f64::from(n);
    icosphere(n, |direction| {
        let d = (direction + random.vector(jitter)).normalize();
        let ripple = (5.0 * d.x).sin() * (4.0 * d.y).cos() + 0.5 * (9.0 * d.z + 2.0 * d.x).sin();
        d * (8.0 + 0.8 * ripple + noise_mm * random.normal())
    })
}

fn icosphere(n: u32, mut place: impl FnMut(Vector3<f64>) -> Vector3<f64>) -> Mesh {
    let (corners, faces) = icosahedron();
    let mut mesh = Mesh::default();
    let mut known: BTreeMap<[i64; 3], u32> = BTreeMap::new();
    for face in faces {
        let [a, b, c] = face.map(|k| corners[k]);
        let mut vertex = |i: u32, j: u32| {
            let (s, t) = (f64::from(i) / f64::from(n), f64::from(j) / f64::from(n));
            let direction = (a + (b - a) * s + (c - a) * t).normalize();
            let key = [0, 1, 2].map(|axis| (direction[axis] * 1e9).round() as i64 >> 4);
            *known.entry(key).or_insert_with(|| {
                mesh.vertices.push(Point3::from(place(direction)));
                mesh.vertices.len() as u32 - 1
            })
        };
        let mut triangles = Vec::new();
        for i in 0..n {
            for j in 0..n - i {
                triangles.push([vertex(i, j), vertex(i + 1, j), vertex(i, j + 1)]);
                if i + j + 2 <= n {
                    triangles.push([vertex(i + 1, j), vertex(i + 1, j + 1), vertex(i, j + 1)]);
                }
            }
        }
        mesh.triangles.extend(triangles);
    }
    mesh
}

fn icosahedron() -> (Vec<Vector3<f64>>, Vec<[usize; 3]>) {
    let g = 0.5 * (1.0 + 5f64.sqrt());
    let mut corners = Vec::new();
    for (s, t) in [(1.0, g), (1.0, -g), (-1.0, g), (-1.0, -g)] {
        corners.extend([Vector3::new(0.0, s, t), Vector3::new(s, t, 0.0), Vector3::new(t, 0.0, s)]);
    }
    let mut faces = Vec::new();
    for i in 0..12 {
        for j in 0..12 {
            for k in 0..12 {
                let near = |p: usize, q: usize| (corners[p] - corners[q]).norm() < 2.1;
                let outward = corners[i].dot(&corners[j].cross(&corners[k])) > 0.0;
                let first = i < j && i < k;
                if first && j != k && near(i, j) && near(j, k) && near(k, i) && outward {
                    faces.push([i, j, k]);
                }
            }
        }
    }
    (corners, faces)
}

/// A closed round frustum on z = 0: `n` vertices around (at irregular angles), `rings` rings up the wall.
pub fn frustum(base_mm: f64, top_mm: f64, height_mm: f64, n: u32, rings: u32, random: &mut Random) -> Mesh {
    let mut mesh = Mesh::default();
    for ring in 0..=rings {
        let share = f64::from(ring) / f64::from(rings);
        let radius = 0.5 * (base_mm + (top_mm - base_mm) * share);
        for k in 0..n {
            let angle = std::f64::consts::TAU * (f64::from(k) + random.between(-0.3, 0.3)) / f64::from(n);
            mesh.vertices.push(Point3::new(radius * angle.cos(), radius * angle.sin(), height_mm * share));
        }
    }
    for ring in 0..rings {
        for k in 0..n {
            let (a, b) = (ring * n + k, ring * n + (k + 1) % n);
            mesh.triangles.extend([[a, b, b + n], [a, b + n, a + n]]);
        }
    }
    let bottom = mesh.vertices.len() as u32;
    mesh.vertices.extend([Point3::origin(), Point3::new(0.0, 0.0, height_mm)]);
    for k in 0..n {
        let next = (k + 1) % n;
        mesh.triangles.extend([[next, k, bottom], [rings * n + k, rings * n + next, bottom + 1]]);
    }
    mesh
}

/// Moves every vertex along its normal by normal noise.
pub fn shaken(mesh: &Mesh, normals: &[Vector3<f64>], sigma_mm: f64, random: &mut Random) -> Mesh {
    let mut shaken = mesh.clone();
    for (vertex, normal) in shaken.vertices.iter_mut().zip(normals) {
        *vertex += normal * (sigma_mm * random.normal());
    }
    shaken
}

/// Triangles anywhere, of very different sizes, some without area, sharing nothing.
pub fn soup(n: u32, random: &mut Random) -> Mesh {
    let mut mesh = Mesh::default();
    for k in 0..n {
        let centre = random.vector(10.0);
        let size = 10f64.powf(random.between(-3.0, 0.5));
        let mut corners = [0; 3].map(|_| Point3::from(centre + random.vector(size)));
        match k % 10 {
            7 => corners[2] = corners[0],
            8 => corners[2] = corners[0] + (corners[1] - corners[0]) * 0.3,
            9 => corners[2] = corners[0] + (corners[1] - corners[0]) * 0.3 + random.vector(1e-5 * size),
            _ => {}
        }
        mesh.vertices.extend(corners);
        mesh.triangles.push([3 * k, 3 * k + 1, 3 * k + 2]);
    }
    mesh
}

/// A rotation about a random axis.
pub fn rotation(random: &mut Random) -> UnitQuaternion<f64> {
    UnitQuaternion::from_axis_angle(&Unit::new_normalize(random.direction()), random.between(0.0, 3.0))
}
