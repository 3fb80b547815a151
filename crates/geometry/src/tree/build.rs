use kerfwright_mesh::Mesh;
use nalgebra::Vector3;

use super::{Node, TriangleTree};

const LEAF: usize = 4;

pub(super) fn build(mesh: &Mesh) -> TriangleTree {
    let mut items: Vec<(u32, Vector3<f64>)> = (0..mesh.triangles.len() as u32)
        .filter(|&t| mesh.corners(t).iter().all(|c| c.iter().all(|x| x.is_finite())))
        .map(|t| (t, mesh.corners(t).iter().map(|c| c.coords).sum::<Vector3<f64>>()))
        .collect();
    let mut nodes = Vec::with_capacity(items.len());
    if !items.is_empty() {
        split(mesh, &mut items, 0, &mut nodes);
    }
    let triangles: Vec<u32> = items.iter().map(|item| item.0).collect();
    let corners = triangles.iter().map(|&t| mesh.corners(t)).collect();
    TriangleTree { nodes, corners, triangles }
}

fn split(mesh: &Mesh, items: &mut [(u32, Vector3<f64>)], first: usize, nodes: &mut Vec<Node>) {
    let mut low = Vector3::repeat(f64::INFINITY);
    let mut high = -low;
    let (mut c_low, mut c_high) = (low, high);
    for (triangle, centre) in items.iter() {
        for corner in mesh.corners(*triangle) {
            low = low.inf(&corner.coords);
            high = high.sup(&corner.coords);
        }
        c_low = c_low.inf(centre);
        c_high = c_high.sup(centre);
    }
    let at = nodes.len();
    nodes.push(Node { low, high, next: first as u32, count: items.len() as u32 });
    if items.len() <= LEAF {
        return;
    }
    let axis = (c_high - c_low).imax();
    let middle = items.len() / 2;
    items.select_nth_unstable_by(middle, |a, b| a.1[axis].total_cmp(&b.1[axis]).then(a.0.cmp(&b.0)));
    let (left, right) = items.split_at_mut(middle);
    split(mesh, left, first, nodes);
    nodes[at].next = nodes.len() as u32;
    nodes[at].count = 0;
    split(mesh, right, first + middle, nodes);
}
