//! Small repairs of connectivity after a surface was extracted.

use std::collections::HashMap;

use kerfwright_mesh::Mesh;

/// Removes the vertices for which `drop` holds, their triangles, and vertices that no triangle uses.
pub fn drop_vertices(mesh: &mut Mesh, mut drop: impl FnMut(usize) -> bool) {
    let dropped: Vec<bool> = (0..mesh.vertices.len()).map(&mut drop).collect();
    mesh.triangles.retain(|t| t.iter().all(|&v| !dropped[v as usize]));
    let mut new_index = vec![u32::MAX; mesh.vertices.len()];
    for &v in mesh.triangles.iter().flatten() {
        new_index[v as usize] = 0;
    }
    let mut kept = Vec::new();
    for (vertex, index) in mesh.vertices.iter().zip(&mut new_index) {
        if *index == 0 {
            *index = kept.len() as u32;
            kept.push(*vertex);
        }
    }
    mesh.vertices = kept;
    for t in &mut mesh.triangles {
        *t = t.map(|v| new_index[v as usize]);
    }
}

/// Flips edges whose two opposite angles sum to more than 180° on nearly flat surface (Delaunay's rule).
///
/// One sweep; an edge is left alone when its triangles were already touched in this sweep, when they meet at
/// a sharp angle, or when the new edge exists already.
pub fn flip_to_even(mesh: &mut Mesh) {
    let mut edges: HashMap<(u32, u32), u32> = HashMap::with_capacity(3 * mesh.triangles.len());
    for (index, t) in mesh.triangles.iter().enumerate() {
        for k in 0..3 {
            edges.insert((t[k], t[(k + 1) % 3]), index as u32);
        }
    }
    let mut touched = vec![false; mesh.triangles.len()];
    for index in 0..mesh.triangles.len() {
        for k in 0..3 {
            let t = mesh.triangles[index];
            let (a, b, c) = (t[k], t[(k + 1) % 3], t[(k + 2) % 3]);
            let Some(&other) = edges.get(&(b, a)) else { continue };
            let other = other as usize;
            if touched[index] || touched[other] || other == index {
                continue;
            }
            let Some(&d) = mesh.triangles[other].iter().find(|&&v| v != a && v != b) else { continue };
            if c == d || edges.contains_key(&(c, d)) || edges.contains_key(&(d, c)) {
                continue;
            }
            if better_flipped(mesh, [a, b, c, d]) {
                mesh.triangles[index] = [c, a, d];
                mesh.triangles[other] = [d, b, c];
                edges.insert((c, d), other as u32);
                edges.insert((d, c), index as u32);
                (touched[index], touched[other]) = (true, true);
            }
        }
    }
}

/// Edge `ab` with `c` on its left and `d` on its right: would `cd` serve better?
fn better_flipped(mesh: &Mesh, corners: [u32; 4]) -> bool {
    let [a, b, c, d] = corners.map(|v| mesh.vertices[v as usize]);
    let left = (b - a).cross(&(c - a));
    let right = (a - b).cross(&(d - b));
    let (new_left, new_right) = ((a - c).cross(&(d - c)), (b - d).cross(&(c - d)));
    if left.dot(&right) < 0.95 * left.norm() * right.norm() || new_left.dot(&new_right) <= 0.0 {
        return false;
    }
    let cotangent = |p: nalgebra::Vector3<f64>, q: nalgebra::Vector3<f64>| p.dot(&q) / p.cross(&q).norm();
    cotangent(a - c, b - c) + cotangent(a - d, b - d) < -1e-9
}
