//! What goes wrong between a surface and its scan, one effect at a time.

use kerfwright_mesh::Mesh;
use nalgebra::{Point3, Vector3};

use crate::rng::Rng;
use crate::tidy::drop_vertices;

/// Independent noise along the normal.
pub fn white_noise(mesh: &mut Mesh, normals: &[Vector3<f64>], sigma_mm: f64, rng: &mut Rng) {
    for (vertex, normal) in mesh.vertices.iter_mut().zip(normals) {
        *vertex += normal * (sigma_mm * rng.normal());
    }
}

/// Noise along the normal that is alike within about `length_mm`: many plane waves of that length.
pub fn smooth_noise(mesh: &mut Mesh, normals: &[Vector3<f64>], sigma_mm: f64, length_mm: f64, rng: &mut Rng) {
    if sigma_mm == 0.0 {
        return;
    }
    let waves: Vec<Wave> = (0..24).map(|_| Wave::new(length_mm, rng)).collect();
    let scale = sigma_mm * (2.0 / waves.len() as f64).sqrt();
    for (vertex, normal) in mesh.vertices.iter_mut().zip(normals) {
        let sum: f64 = waves.iter().map(|wave| wave.at(vertex)).sum();
        *vertex += normal * (scale * sum);
    }
}

/// Waves as stitching leaves them: a smooth displacement of space, `rms_mm` in all, over lengths in this range.
pub fn warp(mesh: &mut Mesh, rms_mm: f64, length_mm: [f64; 2], rng: &mut Rng) {
    if rms_mm == 0.0 {
        return;
    }
    let waves: Vec<(Wave, Vector3<f64>)> = (0..4)
        .map(|_| {
            let length = rng.between(length_mm[0], length_mm[1]);
            (Wave::new(length, rng), rng.direction().into_inner())
        })
        .collect();
    let scale = rms_mm * (2.0 / waves.len() as f64).sqrt();
    for vertex in &mut mesh.vertices {
        let shift: Vector3<f64> = waves.iter().map(|(wave, direction)| direction * wave.at(vertex)).sum();
        *vertex += shift * scale;
    }
}

/// A cosine of unit amplitude through space.
pub struct Wave {
    number: Vector3<f64>,
    phase: f64,
}

impl Wave {
    /// A wave of this length in a direction of chance.
    pub fn new(length_mm: f64, rng: &mut Rng) -> Self {
        let number = rng.direction().into_inner() * (std::f64::consts::TAU / length_mm);
        Self { number, phase: rng.between(0.0, std::f64::consts::TAU) }
    }

    /// Its height at a point.
    pub fn at(&self, p: &Point3<f64>) -> f64 {
        (self.number.dot(&p.coords) + self.phase).cos()
    }
}

/// Rounds edges as scanning software does: vertices on creases move towards the mean of their neighbours.
///
/// Flat surface stays as it is, so that noise is not hidden by it.
pub fn smooth_edges(mesh: &mut Mesh, normals: &[Vector3<f64>], rounds: u32) {
    if rounds == 0 {
        return;
    }
    let crease = creases(mesh, normals);
    for _ in 0..rounds {
        let mut sums = vec![(Vector3::zeros(), 0.0); mesh.vertices.len()];
        for t in &mesh.triangles {
            for k in 0..3 {
                let sum = &mut sums[t[k] as usize];
                for other in [t[(k + 1) % 3], t[(k + 2) % 3]] {
                    sum.0 += mesh.vertices[other as usize].coords;
                    sum.1 += 1.0;
                }
            }
        }
        for ((vertex, (sum, n)), weight) in mesh.vertices.iter_mut().zip(sums).zip(&crease) {
            let towards = sum / f64::max(n, 1.0) - vertex.coords;
            *vertex += towards * (0.5 * weight);
        }
    }
}

/// 0 on smooth surface, 1 where neighbouring normals differ by 45° and more.
fn creases(mesh: &Mesh, normals: &[Vector3<f64>]) -> Vec<f64> {
    let mut least_cosine = vec![1.0f64; mesh.vertices.len()];
    for t in &mesh.triangles {
        let n = t.map(|v| normals[v as usize]);
        let cosine = n[0].dot(&n[1]).min(n[1].dot(&n[2])).min(n[2].dot(&n[0]));
        t.iter().for_each(|&v| least_cosine[v as usize] = least_cosine[v as usize].min(cosine));
    }
    // From 15° (cosine 0.966) to 45° (0.707).
    least_cosine.iter().map(|c| ((0.966 - c) / (0.966 - 0.707)).clamp(0.0, 1.0)).collect()
}

/// Single vertices far off: each with probability `share`, by up to `height_mm` along the normal.
pub fn spikes(mesh: &mut Mesh, normals: &[Vector3<f64>], share: f64, height_mm: f64, rng: &mut Rng) {
    for (vertex, normal) in mesh.vertices.iter_mut().zip(normals) {
        if rng.uniform() < share {
            let side = if rng.uniform() < 0.5 { -1.0 } else { 1.0 };
            *vertex += normal * (side * height_mm * rng.between(0.5, 1.0));
        }
    }
}

/// Missing patches around random places.
pub fn holes(mesh: &mut Mesh, count: u32, radius_mm: f64, rng: &mut Rng) {
    if count == 0 || mesh.vertices.is_empty() {
        return;
    }
    let centres: Vec<Point3<f64>> =
        (0..count).map(|_| mesh.vertices[(rng.next_u64() % mesh.vertices.len() as u64) as usize]).collect();
    let inside: Vec<bool> =
        mesh.vertices.iter().map(|v| centres.iter().any(|c| (v - c).norm() < radius_mm)).collect();
    drop_vertices(mesh, |i| inside[i]);
}

/// Small closed blobs that float over the surface, as saliva and cheek leave them.
pub fn debris(mesh: &mut Mesh, normals: &[Vector3<f64>], count: u32, rng: &mut Rng) {
    let n = normals.len() as u64;
    for _ in 0..count {
        let at = (rng.next_u64() % n.max(1)) as usize;
        let (Some(vertex), Some(normal)) = (mesh.vertices.get(at), normals.get(at)) else { return };
        let radius = rng.between(0.15, 0.45);
        let centre = vertex + normal * (radius + rng.between(0.4, 1.5));
        let blob = crate::bodies::sphere(radius, 10);
        let first = mesh.vertices.len() as u32;
        mesh.vertices.extend(blob.vertices.iter().map(|v| centre + v.coords));
        mesh.triangles.extend(blob.triangles.iter().map(|t| t.map(|v| v + first)));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ball() -> (Mesh, Vec<Vector3<f64>>) {
        let mesh = crate::bodies::sphere(5.0, 160);
        let normals = mesh.vertices.iter().map(|v| v.coords.normalize()).collect();
        (mesh, normals)
    }

    fn heights(mesh: &Mesh) -> Vec<f64> {
        mesh.vertices.iter().map(|v| v.coords.norm() - 5.0).collect()
    }

    fn rms(values: &[f64]) -> f64 {
        (values.iter().map(|v| v * v).sum::<f64>() / values.len() as f64).sqrt()
    }

    #[test]
    fn white_noise_has_its_sigma() {
        let (mut mesh, normals) = ball();
        white_noise(&mut mesh, &normals, 0.01, &mut Rng::new(1, 1));
        let n = mesh.vertices.len() as f64;
        // Four standard errors of an estimated sigma: σ/√(2n).
        assert!((rms(&heights(&mesh)) - 0.01).abs() < 4.0 * 0.01 / (2.0 * n).sqrt());
    }

    #[test]
    fn smooth_noise_is_alike_nearby_and_white_noise_is_not() {
        let difference = |smooth: bool| {
            let (mut mesh, normals) = ball();
            let mut rng = Rng::new(2, 1);
            if smooth {
                smooth_noise(&mut mesh, &normals, 0.01, 3.0, &mut rng);
            } else {
                white_noise(&mut mesh, &normals, 0.01, &mut rng);
            }
            let h = heights(&mesh);
            let steps: Vec<f64> =
                mesh.triangles.iter().map(|t| h[t[0] as usize] - h[t[1] as usize]).collect();
            rms(&steps) / rms(&h)
        };
        assert!(difference(true) < 0.6 && difference(false) > 1.2);
    }

    /// A whole arch's worth of surface: the displacement has its size, and next to none of it within a tooth.
    #[test]
    fn stitching_bends_the_scan_and_hardly_the_tooth() {
        let ball = crate::bodies::sphere(30.0, 160);
        let (mut sums, mut near, mut n) = (0.0, 0.0f64, 0.0);
        for seed in 0..20 {
            let mut mesh = ball.clone();
            warp(&mut mesh, 0.04, [40.0, 80.0], &mut Rng::new(seed, 1));
            let shift: Vec<_> = mesh.vertices.iter().zip(&ball.vertices).map(|(w, v)| w - v).collect();
            sums += shift.iter().map(|s| s.norm_squared()).sum::<f64>();
            n += shift.len() as f64;
            for t in &mesh.triangles {
                let (a, b) = (t[0] as usize, t[1] as usize);
                let stretched = (shift[a] - shift[b]).norm() / (ball.vertices[a] - ball.vertices[b]).norm();
                near = near.max(stretched);
            }
        }
        let rms = (sums / n).sqrt();
        assert!((rms - 0.04).abs() < 0.01, "{rms}");
        // Four waves in step: amplitude √(2/4)·0.04 each, 2π/40 mm: 18 µm per mm at the most.
        assert!(near < 0.0178, "{near}");
    }

    #[test]
    fn holes_spikes_and_debris_do_what_they_say() {
        let (mut mesh, normals) = ball();
        let area = 4.0 * std::f64::consts::PI * 25.0;
        let before = mesh.triangles.len();
        spikes(&mut mesh, &normals, 0.01, 0.3, &mut Rng::new(4, 1));
        let off = heights(&mesh).iter().filter(|h| h.abs() > 0.149).count() as f64;
        let expected = 0.01 * normals.len() as f64;
        assert!((off - expected).abs() < 4.0 * expected.sqrt(), "{off} of {expected}");
        debris(&mut mesh, &normals, 3, &mut Rng::new(5, 1));
        let blob = crate::bodies::sphere(1.0, 10).triangles.len();
        assert_eq!(mesh.triangles.len(), before + 3 * blob);
        let (mut mesh, _) = ball();
        holes(&mut mesh, 1, 1.0, &mut Rng::new(6, 1));
        let left: f64 = (0..mesh.triangles.len() as u32)
            .map(|t| {
                let [a, b, c] = mesh.corners(t);
                0.5 * (b - a).cross(&(c - a)).norm()
            })
            .sum();
        // A sphere cut by a ball of radius 1 around one of its points loses π·1²; its ragged rim a little more.
        let lost = area - left;
        assert!(lost > 3.0 && lost < 5.0, "{lost}");
    }

    #[test]
    fn edges_are_rounded_and_flats_are_not() {
        let die = crate::bodies::ShoulderDie::default();
        let (mesh, normals) = die.scan(0.15, 3);
        let mut smoothed = mesh.clone();
        smooth_edges(&mut smoothed, &normals, 2);
        let moved = |inside: &dyn Fn(&Point3<f64>) -> bool| {
            let pairs = mesh.vertices.iter().zip(&smoothed.vertices).filter(|(v, _)| inside(v));
            pairs.map(|(v, s)| (v - s).norm()).fold(0.0, f64::max)
        };
        let on_rim = |v: &Point3<f64>| v.z.abs() < 0.05 && v.x.hypot(v.y) > die.outer_radius_mm - 0.05;
        let on_floor = |v: &Point3<f64>| {
            let r = v.x.hypot(v.y);
            v.z.abs() < 1e-6 && r < die.outer_radius_mm - 0.4 && r > die.outer_radius_mm - die.width_mm + 0.4
        };
        assert!(moved(&on_rim) > 0.01);
        assert_eq!(moved(&on_floor), 0.0);
    }
}
