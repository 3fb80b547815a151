//! The border between cut and uncut surface wherever it runs: traced on a mesh, then brought onto both surfaces.

use std::collections::BTreeMap;

use nalgebra::{Isometry3, Matrix2, Point3, UnitQuaternion, Vector2};

use crate::extract::{Lattice, extract};
use crate::field::Field;
use crate::phantom::Phantom;

const SPACING_MM: f64 = 0.13;
/// A vertex this far inside the uncut tooth is cut surface.
const CUT_MM: f64 = 1e-5;

/// The longest closed border, in order. Corners between two planes of the cut may be missed by less than a step.
pub fn outline(phantom: &Phantom) -> Vec<[f64; 3]> {
    let tooth = &phantom.arch.teeth[phantom.arch.middle].tooth;
    let middle = Point3::new(0.0, 0.0, 0.5 * tooth.crown_mm);
    let lattice = Lattice {
        cell_mm: SPACING_MM,
        body_from_lattice: Isometry3::from_parts(
            middle.into(),
            UnitQuaternion::from_euler_angles(0.4, 0.3, 0.2),
        ),
        half_size_mm: 8.0,
        relaxations: 1,
    };
    let body = |p: &Point3<f64>| phantom.prepared_tooth(p);
    let window = |p: &Point3<f64>| (p - middle).amax() - 8.0;
    let mesh = extract(&body, &window, &lattice).0;
    let cut: Vec<bool> = mesh.vertices.iter().map(|v| tooth.value(v) < -CUT_MM).collect();
    // In each mixed triangle the border runs from one mixed edge to another, with the cut on its left.
    let mut next: BTreeMap<(u32, u32), (u32, u32)> = BTreeMap::new();
    for t in &mesh.triangles {
        let edge = |k: usize| (t[k], t[(k + 1) % 3]);
        let mixed = |wanted: bool| {
            (0..3).map(edge).find(|&(a, b)| cut[a as usize] == wanted && cut[b as usize] != wanted)
        };
        if let (Some(enter), Some(leave)) = (mixed(true), mixed(false)) {
            let key = |(a, b): (u32, u32)| (a.min(b), a.max(b));
            next.insert(key(enter), key(leave));
        }
    }
    let longest = loops(next).into_iter().max_by_key(Vec::len).unwrap_or_default();
    let point = |&(a, b): &(u32, u32)| {
        let (p, q) = (mesh.vertices[a as usize], mesh.vertices[b as usize]);
        onto_border(phantom, nalgebra::center(&p, &q))
    };
    longest.iter().filter_map(point).map(Into::into).collect()
}

fn loops(mut next: BTreeMap<(u32, u32), (u32, u32)>) -> Vec<Vec<(u32, u32)>> {
    let mut found = Vec::new();
    while let Some((&first, _)) = next.iter().next() {
        let mut at = first;
        let mut chain = Vec::new();
        while let Some(to) = next.remove(&at) {
            chain.push(at);
            at = to;
        }
        found.push(chain);
    }
    found
}

/// Newton towards both surfaces at once, by the shortest step; `None` when it does not get there nearby.
fn onto_border(phantom: &Phantom, start: Point3<f64>) -> Option<Point3<f64>> {
    let tooth = &phantom.arch.teeth[phantom.arch.middle].tooth;
    let cut = |p: &Point3<f64>| phantom.preparation.removed(p);
    let mut p = start;
    for _ in 0..12 {
        let ((f, df), (g, dg)) = (tooth.value_and_gradient(&p), cut.value_and_gradient(&p));
        if f.abs().max(g.abs()) < 1e-7 {
            return ((p - start).norm() < 2.0 * SPACING_MM).then_some(p);
        }
        let gram = Matrix2::new(df.dot(&df), df.dot(&dg), df.dot(&dg), dg.dot(&dg));
        let weights = gram.try_inverse()? * Vector2::new(f, g);
        p -= df * weights.x + dg * weights.y;
    }
    None
}
