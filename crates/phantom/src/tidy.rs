//! Small repairs of connectivity after a surface was extracted.

use std::collections::HashSet;

use kerfwright_mesh::Mesh;

/// Removes the vertices for which `drop` holds, their triangles, and vertices that no triangle uses.
///
/// Gives the former index of each vertex kept.
pub fn drop_vertices(mesh: &mut Mesh, mut drop: impl FnMut(usize) -> bool) -> Vec<usize> {
    let dropped: Vec<bool> = (0..mesh.vertices.len()).map(&mut drop).collect();
    mesh.triangles.retain(|t| t.iter().all(|&v| !dropped[v as usize]));
    let mut new_index = vec![u32::MAX; mesh.vertices.len()];
    for &v in mesh.triangles.iter().flatten() {
        new_index[v as usize] = 0;
    }
    let mut kept = Vec::new();
    for (old, index) in new_index.iter_mut().enumerate() {
        if *index == 0 {
            *index = kept.len() as u32;
            kept.push(old);
        }
    }
    mesh.vertices = kept.iter().map(|&old| mesh.vertices[old]).collect();
    for t in &mut mesh.triangles {
        *t = t.map(|v| new_index[v as usize]);
    }
    kept
}

/// Marks the vertices of pieces with fewer than `least` triangles.
pub fn in_small_pieces(mesh: &Mesh, least: u32) -> Vec<bool> {
    let mut parent: Vec<u32> = (0..mesh.vertices.len() as u32).collect();
    fn root(parent: &mut [u32], mut v: u32) -> u32 {
        while parent[v as usize] != v {
            parent[v as usize] = parent[parent[v as usize] as usize];
            v = parent[v as usize];
        }
        v
    }
    for t in &mesh.triangles {
        for (a, b) in [(t[0], t[1]), (t[1], t[2])] {
            let (a, b) = (root(&mut parent, a), root(&mut parent, b));
            parent[a.max(b) as usize] = a.min(b);
        }
    }
    let roots: Vec<u32> = (0..parent.len() as u32).map(|v| root(&mut parent, v)).collect();
    let mut size = vec![0u32; roots.len()];
    mesh.triangles.iter().for_each(|t| size[roots[t[0] as usize] as usize] += 1);
    roots.iter().map(|&r| size[r as usize] < least).collect()
}

/// Flips edges whose two opposite angles sum to more than 180° on nearly flat surface (Delaunay's rule).
///
/// One sweep; an edge is left alone when its triangles were already touched in this sweep, when they meet at
/// a sharp angle, or when the new edge exists already.
pub fn flip_to_even(mesh: &mut Mesh) {
    let edges = Edges::new(mesh);
    let mut added = HashSet::new();
    let mut touched = vec![false; mesh.triangles.len()];
    for index in 0..mesh.triangles.len() {
        for k in 0..3 {
            if touched[index] {
                break;
            }
            let t = mesh.triangles[index];
            let (a, b, c) = (t[k], t[(k + 1) % 3], t[(k + 2) % 3]);
            let Some(other) = edges.triangle_of(b, a) else { continue };
            if touched[other] || other == index {
                continue;
            }
            let Some(&d) = mesh.triangles[other].iter().find(|&&v| v != a && v != b) else { continue };
            if c != d && better_flipped(mesh, [a, b, c, d]) {
                let exists = |p, q| edges.triangle_of(p, q).is_some();
                if exists(c, d) || exists(d, c) || !added.insert((c.min(d), c.max(d))) {
                    continue;
                }
                mesh.triangles[index] = [c, a, d];
                mesh.triangles[other] = [d, b, c];
                (touched[index], touched[other]) = (true, true);
            }
        }
    }
}

/// The directed edges that leave each vertex, with their triangle.
struct Edges {
    first: Vec<u32>,
    heads: Vec<(u32, u32)>,
}

impl Edges {
    fn new(mesh: &Mesh) -> Self {
        let mut first = vec![0u32; mesh.vertices.len() + 1];
        mesh.triangles.iter().flatten().for_each(|&v| first[v as usize + 1] += 1);
        for i in 1..first.len() {
            first[i] += first[i - 1];
        }
        let mut next = first.clone();
        let mut heads = vec![(0, 0); 3 * mesh.triangles.len()];
        for (index, t) in mesh.triangles.iter().enumerate() {
            for k in 0..3 {
                let at = &mut next[t[k] as usize];
                heads[*at as usize] = (t[(k + 1) % 3], index as u32);
                *at += 1;
            }
        }
        Self { first, heads }
    }

    /// The triangle that runs from `a` to `b`; on an edge of more than two triangles the last one.
    fn triangle_of(&self, a: u32, b: u32) -> Option<usize> {
        let range = self.first[a as usize] as usize..self.first[a as usize + 1] as usize;
        self.heads[range].iter().rev().find(|h| h.0 == b).map(|h| h.1 as usize)
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
