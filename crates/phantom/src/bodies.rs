//! Bare bodies with closed-form numbers: cones, frusta, spheres and a die with a shoulder.

use kerfwright_mesh::Mesh;
use nalgebra::{Isometry3, Point3, UnitQuaternion, Vector3};

use crate::extract::{Lattice, extract};
use crate::section::{Section, WallFlaws};

/// A closed mesh turned from a profile of `(radius, height)` points, bottom to top, around `z`.
///
/// Vertices lie on the exact surface; a profile that begins and ends on the axis (radius 0) closes the body.
pub fn lathe(profile: &[(f64, f64)], n_around: u32) -> Mesh {
    let mut mesh = Mesh::default();
    let rings: Vec<(u32, bool)> = profile
        .iter()
        .map(|&(r, z)| {
            let first = mesh.vertices.len() as u32;
            if r == 0.0 {
                mesh.vertices.push(Point3::new(0.0, 0.0, z));
                return (first, true);
            }
            for i in 0..n_around {
                let (s, c) = (std::f64::consts::TAU * f64::from(i) / f64::from(n_around)).sin_cos();
                mesh.vertices.push(Point3::new(r * c, r * s, z));
            }
            (first, false)
        })
        .collect();
    for pair in rings.windows(2) {
        let at = |(first, pole): (u32, bool), i: u32| if pole { first } else { first + i % n_around };
        for i in 0..n_around {
            let [a, b] = [at(pair[0], i), at(pair[0], i + 1)];
            let [c, d] = [at(pair[1], i), at(pair[1], i + 1)];
            if a != b {
                mesh.triangles.push([a, b, d]);
            }
            if c != d {
                mesh.triangles.push([a, d, c]);
            }
        }
    }
    mesh
}

/// A truncated cone on `z = 0`: radius at the base, radius at the top, height; one ring of quads a `n_rings`-th up.
pub fn truncated_cone(base_mm: f64, top_mm: f64, height_mm: f64, n_around: u32, n_rings: u32) -> Mesh {
    let mut profile = vec![(0.0, 0.0)];
    profile.extend((0..=n_rings).map(|i| {
        let t = f64::from(i) / f64::from(n_rings);
        (base_mm + (top_mm - base_mm) * t, height_mm * t)
    }));
    profile.push((0.0, height_mm));
    lathe(&profile, n_around)
}

/// A cylinder on `z = 0`.
pub fn cylinder(radius_mm: f64, height_mm: f64, n_around: u32, n_rings: u32) -> Mesh {
    truncated_cone(radius_mm, radius_mm, height_mm, n_around, n_rings)
}

/// A sphere around the origin with `n_around` meridians and half as many parallels.
pub fn sphere(radius_mm: f64, n_around: u32) -> Mesh {
    let n = (n_around / 2).max(2);
    let profile: Vec<(f64, f64)> = (0..=n)
        .map(|i| {
            let (s, c) = (std::f64::consts::PI * f64::from(i) / f64::from(n)).sin_cos();
            (if i == 0 || i == n { 0.0 } else { radius_mm * s }, -radius_mm * c)
        })
        .collect();
    lathe(&profile, n_around)
}

/// A square frustum on `z = 0` with every face cut into `n × n` quads; all its faces are exact.
pub fn square_frustum(base_mm: f64, height_mm: f64, taper_deg: f64, n: u32) -> Mesh {
    let top = base_mm - 2.0 * height_mm * taper_deg.to_radians().tan();
    let corner = |x: f64, y: f64, up: f64| {
        let half = 0.5 * (base_mm + (top - base_mm) * up);
        Point3::new(half * x, half * y, height_mm * up)
    };
    let mut mesh = Mesh::default();
    let turned = |x: f64, y: f64, k: u32| match k {
        0 => (x, y),
        1 => (-y, x),
        2 => (-x, -y),
        _ => (y, -x),
    };
    for k in 0..4 {
        grid(&mut mesh, n, |u, v| {
            let (x, y) = turned(1.0, 2.0 * u - 1.0, k);
            corner(x, y, v)
        });
    }
    grid(&mut mesh, n, |u, v| corner(2.0 * u - 1.0, 2.0 * v - 1.0, 1.0));
    grid(&mut mesh, n, |u, v| corner(2.0 * v - 1.0, 2.0 * u - 1.0, 0.0));
    mesh
}

/// One face with its own vertices (edges stay sharp; welding joins the faces).
fn grid(mesh: &mut Mesh, n: u32, at: impl Fn(f64, f64) -> Point3<f64>) {
    let first = mesh.vertices.len() as u32;
    let share = |i: u32| f64::from(i) / f64::from(n);
    for j in 0..=n {
        mesh.vertices.extend((0..=n).map(|i| at(share(i), share(j))));
    }
    for j in 0..n {
        for i in 0..n {
            let a = first + j * (n + 1) + i;
            let [b, c, d] = [a + 1, a + n + 1, a + n + 2];
            mesh.triangles.extend([[a, b, d], [a, d, c]]);
        }
    }
}

/// A round die: a post with a tapered wall on a shoulder, E at `z = 0` on the outer radius.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ShoulderDie {
    /// Radius of the finish line.
    pub outer_radius_mm: f64,
    /// Distance from E to the wall line at the level of E.
    pub width_mm: f64,
    /// Taper of the wall; negative = undercut.
    pub taper_deg: f64,
    /// Radius between floor and wall, 0 = sharp.
    pub internal_radius_mm: f64,
    /// Height of the flat top over E.
    pub height_mm: f64,
    /// Depth of the cylinder under E.
    pub root_mm: f64,
}

impl Default for ShoulderDie {
    fn default() -> Self {
        Self {
            outer_radius_mm: 5.0,
            width_mm: 1.0,
            taper_deg: 6.0,
            internal_radius_mm: 0.3,
            height_mm: 4.0,
            root_mm: 2.0,
        }
    }
}

impl ShoulderDie {
    /// A structured mesh whose edges follow the die's edges.
    pub fn mesh(&self, edge_mm: f64) -> Mesh {
        let tan = self.taper_deg.to_radians().tan();
        let (r, w) = (self.outer_radius_mm, self.width_mm);
        let wall = |h: f64| (r - w - h * tan, h);
        let mut corners = vec![(0.0, -self.root_mm), (r, -self.root_mm), (r, 0.0)];
        corners.extend(self.fillet());
        corners.extend([wall(self.height_mm), (0.0, self.height_mm)]);
        let mut profile = vec![corners[0]];
        for pair in corners.windows(2) {
            let length = (pair[1].0 - pair[0].0).hypot(pair[1].1 - pair[0].1);
            let n = (length / edge_mm).ceil().max(1.0) as u32;
            profile.extend((1..=n).map(|i| {
                let t = f64::from(i) / f64::from(n);
                let mix = |a: f64, b: f64| a + (b - a) * t;
                (mix(pair[0].0, pair[1].0), mix(pair[0].1, pair[1].1))
            }));
        }
        lathe(&profile, (std::f64::consts::TAU * r / edge_mm).ceil() as u32)
    }

    /// The corner between floor and wall: one point, or its arc in 16 steps.
    fn fillet(&self) -> Vec<(f64, f64)> {
        let (r, w, radius) = (self.outer_radius_mm, self.width_mm, self.internal_radius_mm);
        if radius <= 0.0 {
            return vec![(r - w, 0.0)];
        }
        // The arc is tangent to the floor and to the wall, so that it turns by 90° + taper.
        let turn = std::f64::consts::FRAC_PI_2 - self.taper_deg.to_radians();
        let centre = r - w + radius * (0.5 * turn).tan();
        (0..=16)
            .map(|i| {
                let angle = turn * f64::from(i) / 16.0;
                (centre - radius * angle.sin(), radius * (1.0 - angle.cos()))
            })
            .collect()
    }

    /// As a scanner sees it, without noise: vertices on the exact surface but not on its edges; with unit normals.
    pub fn scan(&self, edge_mm: f64, seed: u64) -> (Mesh, Vec<Vector3<f64>>) {
        let tan_taper = self.taper_deg.to_radians().tan();
        let section = Section {
            width: self.width_mm,
            tan_taper,
            tan_fall: 0.0,
            radius: self.internal_radius_mm,
            tan_second: tan_taper,
            second_from: 99.0,
            flaws: WallFlaws::default(),
        };
        let body = |p: &Point3<f64>| {
            let outward = p.x.hypot(p.y) - self.outer_radius_mm;
            outward.max(section.removed(-outward, p.z)).max(p.z - self.height_mm).max(-self.root_mm - p.z)
        };
        let lattice = Lattice {
            cell_mm: edge_mm / 0.84,
            body_from_lattice: Isometry3::from_parts(
                Vector3::z().into(),
                crate::rng::Rng::new(seed, 9).rotation(),
            ),
            half_size_mm: self.outer_radius_mm + self.height_mm + self.root_mm,
            relaxations: 3,
        };
        extract(&body, &|_: &Point3<f64>| -1.0, &lattice)
    }
}

/// Any body as a scanner sees it: `body` is negative inside and grows by about 1 a millimetre near its surface, and lies
/// within `half_size_mm` of the origin. Vertices lie off the surface by `noise_mm` (1 sigma) along the normal.
pub fn scanned(
    body: &(impl Fn(&Point3<f64>) -> f64 + Sync),
    half_size_mm: f64,
    edge_mm: f64,
    noise_mm: f64,
    seed: u64,
) -> Mesh {
    let lattice = Lattice {
        cell_mm: edge_mm / 0.84,
        body_from_lattice: Isometry3::from_parts(
            Vector3::z().into(),
            crate::rng::Rng::new(seed, 9).rotation(),
        ),
        half_size_mm,
        relaxations: 3,
    };
    let (mut mesh, normals) = extract(body, &|_: &Point3<f64>| -1.0, &lattice);
    crate::effects::white_noise(&mut mesh, &normals, noise_mm, &mut crate::rng::Rng::new(seed, 10));
    mesh
}

/// The same body turned and shifted, for readings that must not depend on the pose.
pub fn turned(mesh: &Mesh, axis: Vector3<f64>, angle_deg: f64, shift: Vector3<f64>) -> Mesh {
    let turn = UnitQuaternion::from_axis_angle(&nalgebra::Unit::new_normalize(axis), angle_deg.to_radians());
    mesh.transformed(&Isometry3::from_parts(shift.into(), turn))
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::PI;

    fn volume(mesh: &Mesh) -> f64 {
        let six = |t: u32| {
            let [a, b, c] = mesh.corners(t).map(|p| p.coords);
            a.dot(&b.cross(&c))
        };
        (0..mesh.triangles.len() as u32).map(six).sum::<f64>() / 6.0
    }

    fn area(mesh: &Mesh, keep: impl Fn(&Vector3<f64>, &Point3<f64>) -> bool) -> f64 {
        let part = |t: u32| {
            let [a, b, c] = mesh.corners(t);
            let normal = (b - a).cross(&(c - a));
            let middle = Point3::from((a.coords + b.coords + c.coords) / 3.0);
            if keep(&normal.normalize(), &middle) { 0.5 * normal.norm() } else { 0.0 }
        };
        (0..mesh.triangles.len() as u32).map(part).sum()
    }

    /// Circular frusta in closed form: base diameter, height, total convergence, lateral and top area, volume.
    const ROUND: &[(f64, f64, f64, f64, f64, f64)] = &[
        (10., 4., 0., 125.664, 78.540, 314.159),
        (10., 4., 6., 123.198, 72.092, 301.172),
        (10., 4., 12., 121.044, 65.887, 288.484),
        (10., 4., 20., 118.602, 57.945, 271.927),
        (10., 3., 12., 91.779, 68.946, 221.073),
        (10., 5., 12., 149.645, 62.898, 352.871),
        (8., 4., 12., 95.773, 40.255, 180.670),
        (6., 5., 10., 87.710, 20.630, 121.760),
    ];

    #[test]
    fn round_frusta_have_the_tabled_areas_and_volumes() {
        let tolerance = 0.5e-3; // Half the last printed digit.
        for &(diameter, height, toc, lateral, top, v) in ROUND {
            let top_radius = 0.5 * diameter - height * (0.5 * toc).to_radians().tan();
            let mesh = truncated_cone(0.5 * diameter, top_radius, height, 16384, 1);
            let side = area(&mesh, |n, _| n.z.abs() < 0.9);
            assert!((side - lateral).abs() < tolerance, "{diameter} {height} {toc}: lateral {side}");
            let lid = area(&mesh, |n, _| n.z > 0.9);
            assert!((lid - top).abs() < tolerance, "{diameter} {height} {toc}: top {lid}");
            assert!((volume(&mesh) - v).abs() < tolerance, "{diameter} {height} {toc}: {}", volume(&mesh));
        }
    }

    /// 9 mm square base: wall angle, then lateral and total (lateral + top) area for heights 3, 4 and 5 mm.
    /// The base is that of Bowley & Lai 2007 J Prosthet Dent; the areas are the closed form.
    const SQUARE: &[(f64, [(f64, f64); 3])] = &[
        (2., [(106.81, 184.08), (141.85, 217.90), (176.62, 251.45)]),
        (6., [(104.79, 174.84), (138.03, 204.60), (170.42, 233.61)]),
        (10., [(103.22, 166.30), (134.76, 192.36), (164.87, 217.24)]),
        (15., [(101.82, 156.47), (131.33, 178.34), (158.61, 198.56)]),
        (20., [(100.99, 147.45), (128.45, 165.52), (152.82, 181.55)]),
        (25., [(100.64, 139.11), (125.96, 153.73), (147.16, 165.97)]),
    ];

    #[test]
    fn square_frusta_have_the_tabled_areas() {
        for &(taper, rows) in SQUARE {
            for (height, (lateral, total)) in [3.0, 4.0, 5.0].into_iter().zip(rows) {
                let mesh = square_frustum(9.0, height, taper, 3);
                let side = area(&mesh, |n, _| n.z.abs() < 0.9);
                let lid = area(&mesh, |n, _| n.z > 0.9);
                assert!((side - lateral).abs() < 0.5e-2 + 1e-9, "{taper} {height}: {side}");
                assert!((side + lid - total).abs() < 0.5e-2 + 1e-9, "{taper} {height}: {}", side + lid);
            }
        }
    }

    #[test]
    fn a_sphere_converges_with_the_square_of_the_step() {
        let error = |n| 4.0 / 3.0 * PI * 27.0 - volume(&sphere(3.0, n));
        assert!(error(64) > 0.0 && error(128) > 0.0);
        assert!((error(64) / error(128) - 4.0).abs() < 0.02);
    }

    #[test]
    fn a_sharp_shoulder_die_is_a_cylinder_and_a_frustum() {
        let die = ShoulderDie { internal_radius_mm: 0.0, ..ShoulderDie::default() };
        let (base, top) = (4.0, 4.0 - 4.0 * 6f64.to_radians().tan());
        let exact = PI * 25.0 * 2.0 + PI * 4.0 * (base * base + base * top + top * top) / 3.0;
        // An inscribed n-gon holds 1 − 2π²/(3n²) of its circle.
        let n = (10.0 * PI / 0.05_f64).ceil();
        let expected = exact * (1.0 - 2.0 * PI * PI / (3.0 * n * n));
        assert!((volume(&die.mesh(0.05)) - expected).abs() < 1e-5 * exact);
        let floor = area(&die.mesh(0.05), |n, p| n.z > 0.99 && p.z < 0.5);
        assert!((floor - PI * 9.0).abs() < 1e-3, "{floor}");
    }

    #[test]
    fn the_fillet_of_the_scanned_die_is_that_of_the_structured_one() {
        for taper_deg in [-8.0, 0.0, 12.0] {
            let die = ShoulderDie { taper_deg, ..ShoulderDie::default() };
            let (scan, _) = die.scan(0.1, 1);
            let arc = die.fillet();
            let (last, first) = (arc[arc.len() - 1], arc[0]);
            let centre = (first.0, die.internal_radius_mm);
            let mut seen = 0;
            for v in &scan.vertices {
                let r = v.x.hypot(v.y);
                if v.z < last.1 - 1e-3 && r < first.0 - 1e-3 && v.z > -1e-6 && r > 2.5 {
                    let off = (r - centre.0).hypot(v.z - centre.1) - die.internal_radius_mm;
                    assert!(off.abs() < 1e-6, "{taper_deg}: {off} at {v}");
                    seen += 1;
                }
            }
            assert!(seen > 100);
        }
    }
}
