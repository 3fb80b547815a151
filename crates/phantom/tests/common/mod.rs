//! What several tests hold phantoms against, without code of the generator.

#![allow(dead_code)] // Each test target uses its own part of this.

use std::collections::HashMap;

use kerfwright_mesh::Mesh;
use nalgebra::{Matrix4, Point3};

/// Volume of the points of a box for which `inside` holds, by a low-discrepancy count.
pub fn counted_volume(low: [f64; 3], high: [f64; 3], inside: impl Fn(&Point3<f64>) -> bool) -> f64 {
    let n = 300_000;
    let halton = |mut i: u32, base: u32| {
        let (mut f, mut x) = (1.0, 0.0);
        while i > 0 {
            f /= f64::from(base);
            x += f * f64::from(i % base);
            i /= base;
        }
        x
    };
    let size: [f64; 3] = std::array::from_fn(|k| high[k] - low[k]);
    let count = (1..=n)
        .filter(|&i| {
            let unit = [halton(i, 2), halton(i, 3), halton(i, 5)];
            inside(&Point3::from(std::array::from_fn::<f64, 3, _>(|k| low[k] + size[k] * unit[k])))
        })
        .count();
    size.iter().product::<f64>() * count as f64 / f64::from(n)
}

/// Distance from a point in the tooth's frame to the nearest vertex of a scan.
pub fn nearest(mesh: &Mesh, tooth_from_file: &Matrix4<f64>, q: &Point3<f64>) -> f64 {
    mesh.vertices.iter().map(|v| (tooth_from_file.transform_point(v) - q).norm()).fold(f64::MAX, f64::min)
}

/// Volume by divergence.
pub fn volume(mesh: &Mesh) -> f64 {
    let six = |t: u32| {
        let [a, b, c] = mesh.corners(t).map(|p| p.coords);
        a.dot(&b.cross(&c))
    };
    (0..mesh.triangles.len() as u32).map(six).sum::<f64>() / 6.0
}

/// Number of directed edges without a partner.
pub fn open_edges(mesh: &Mesh) -> usize {
    let mut balance: HashMap<(u32, u32), i32> = HashMap::new();
    for t in &mesh.triangles {
        for k in 0..3 {
            let (a, b) = (t[k], t[(k + 1) % 3]);
            *balance.entry((a.min(b), a.max(b))).or_default() += if a < b { 1 } else { -1 };
        }
    }
    balance.values().filter(|&&b| b != 0).count()
}

/// The border of a scan is one long line and, at contacts, a few short ones: much less than its faces.
pub fn closed_except_border(mesh: &Mesh) {
    let (open, all) = (open_edges(mesh), mesh.triangles.len());
    assert!(all > 5000 && open * open < 60 * all, "{open} open edges of {all} triangles");
}
