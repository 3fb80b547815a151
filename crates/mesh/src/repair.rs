//! Repairs that cannot change a reading: nothing is moved, filled or guessed.

use nalgebra::Point3;

use crate::edges::{Edges, ends_of};
use crate::weld::{key_of_point, weld};
use crate::{Audit, Finding, Mesh, ReadError};

/// Welds points of a file that numbers its vertices; the first of equal points keeps its colour.
pub(crate) fn weld_vertices(mesh: &mut Mesh, colours: &mut Option<Vec<[u8; 3]>>) {
    let keys: Vec<_> = mesh.vertices.iter().map(key_of_point).collect();
    let welded = weld(&keys);
    if welded.first.len() == mesh.vertices.len() {
        return;
    }
    mesh.vertices = picked(&mesh.vertices, &welded.first);
    *colours = colours.take().map(|colours| picked(&colours, &welded.first));
    mesh.triangles.iter_mut().flatten().for_each(|corner| *corner = welded.vertex_of[*corner as usize]);
}

fn picked<T: Copy>(all: &[T], which: &[u32]) -> Vec<T> {
    which.iter().map(|&index| all[index as usize]).collect()
}

/// Makes every safe repair, tells of each, and examines what came out.
pub(crate) fn repair(
    mesh: &mut Mesh,
    colours: &mut Option<Vec<[u8; 3]>>,
    findings: &mut Vec<Finding>,
) -> Result<Audit, ReadError> {
    drop_not_finite(mesh, findings)?;
    drop_degenerate(mesh, findings);
    if mesh.triangles.is_empty() {
        return Err(ReadError::NoTriangles);
    }
    let vertices = drop_loose_vertices(mesh, colours);
    if vertices > 0 {
        findings.push(Finding::LooseVertices { vertices });
    }
    // Most scans need no more: the audit tells, and is made again where something changed.
    let mut audit = Audit::of(mesh);
    if audit.n_back_to_back > 0 && drop_duplicates(mesh, findings) {
        audit = Audit::of(mesh);
    }
    if audit.n_inconsistent_edges > 0 && mend_winding(mesh, findings) {
        audit = Audit::of(mesh);
    }
    Ok(audit)
}

/// Keeps the triangles for which `keep` is true and counts the others.
fn drop_unless(mesh: &mut Mesh, keep: impl Fn(&[Point3<f64>], [u32; 3]) -> bool) -> usize {
    let before = mesh.triangles.len();
    let Mesh { vertices, triangles } = mesh;
    triangles.retain(|&triangle| keep(vertices, triangle));
    before - triangles.len()
}

fn drop_not_finite(mesh: &mut Mesh, findings: &mut Vec<Finding>) -> Result<(), ReadError> {
    // Beyond single precision the squares of lengths stop being finite; no scan is that large.
    let is_finite = |point: &Point3<f64>| point.iter().all(|value| value.abs() <= f64::from(f32::MAX));
    if mesh.vertices.iter().all(is_finite) {
        return Ok(());
    }
    let total = mesh.triangles.len();
    let faces =
        drop_unless(mesh, |vertices, triangle| triangle.iter().all(|&v| is_finite(&vertices[v as usize])));
    if faces * 100 > total {
        return Err(ReadError::NotFinite { faces, total });
    }
    if faces > 0 {
        findings.push(Finding::NotFinite { faces, total });
    }
    Ok(())
}

fn drop_degenerate(mesh: &mut Mesh, findings: &mut Vec<Finding>) {
    let faces = drop_unless(mesh, |vertices, [a, b, c]| {
        let point = |corner: u32| vertices[corner as usize];
        a != b && b != c && c != a && has_area([point(a), point(b), point(c)])
    });
    if faces > 0 {
        findings.push(Finding::Degenerate { faces });
    }
}

/// Whether the corners lie off one line, as far as double precision tells.
fn has_area([a, b, c]: [Point3<f64>; 3]) -> bool {
    let (ab, ac) = (b - a, c - a);
    let longest_squared = ab.norm_squared().max(ac.norm_squared()).max((c - b).norm_squared());
    ab.cross(&ac).norm() > 1e-12 * longest_squared
}

/// Keeps the first of equal triangles; whether any were dropped.
fn drop_duplicates(mesh: &mut Mesh, findings: &mut Vec<Finding>) -> bool {
    let rotated = |mut triangle: [u32; 3]| {
        let lowest = (0..3).min_by_key(|&k| triangle[k]).unwrap_or_default();
        triangle.rotate_left(lowest);
        triangle
    };
    let keys: Vec<_> = mesh.triangles.iter().map(|&triangle| rotated(triangle)).collect();
    let first = weld(&keys).first;
    let faces = mesh.triangles.len() - first.len();
    if faces > 0 {
        mesh.triangles = picked(&mesh.triangles, &first);
        findings.push(Finding::Duplicate { faces });
    }
    faces > 0
}

/// Drops vertices without triangles, keeps the order of the others, and counts the dropped.
pub(crate) fn drop_loose_vertices(mesh: &mut Mesh, colours: &mut Option<Vec<[u8; 3]>>) -> usize {
    let mut is_used = vec![false; mesh.vertices.len()];
    mesh.triangles.iter().flatten().for_each(|&corner| is_used[corner as usize] = true);
    let used: Vec<u32> = (0..mesh.vertices.len() as u32).filter(|&vertex| is_used[vertex as usize]).collect();
    let n_loose = mesh.vertices.len() - used.len();
    if n_loose == 0 {
        return 0;
    }
    let mut place_of = vec![0; mesh.vertices.len()];
    (0..).zip(&used).for_each(|(place, &vertex)| place_of[vertex as usize] = place);
    mesh.triangles.iter_mut().flatten().for_each(|corner| *corner = place_of[*corner as usize]);
    mesh.vertices = picked(&mesh.vertices, &used);
    *colours = colours.take().map(|colours| picked(&colours, &used));
    n_loose
}

/// Turns over triangles that run against more than 95 % of a patch that can be made to agree; whether any were.
///
/// A patch hangs together over edges of exactly two triangles.
fn mend_winding(mesh: &mut Mesh, findings: &mut Vec<Finding>) -> bool {
    let edges = Edges::new(&mesh.triangles, mesh.vertices.len());
    let across = neighbours(&mesh.triangles, &edges);
    let mut side = vec![None; mesh.triangles.len()];
    let mut turned = Vec::new();
    for start in 0..mesh.triangles.len() as u32 {
        if side[start as usize].is_none() {
            turned.extend(minority(&mesh.triangles, &across, &mut side, start));
        }
    }
    turned.iter().for_each(|&triangle: &u32| mesh.triangles[triangle as usize].swap(1, 2));
    if !turned.is_empty() {
        findings.push(Finding::WindingMended { faces: turned.len() });
    }
    !turned.is_empty()
}

/// The half-edge on the other side of each, `u32::MAX` where there is not exactly one.
fn neighbours(triangles: &[[u32; 3]], edges: &Edges<'_>) -> Vec<u32> {
    let mut across = vec![u32::MAX; 3 * triangles.len()];
    edges.each(|edge| {
        let mut half_edges = edge.half_edges();
        if let (Some(one), Some(other), None) = (half_edges.next(), half_edges.next(), half_edges.next()) {
            across[one as usize] = other;
            across[other as usize] = one;
        }
    });
    across
}

/// Walks one patch, notes which of two sides each triangle shows, and gives those to turn over.
fn minority(triangles: &[[u32; 3]], across: &[u32], side: &mut [Option<bool>], start: u32) -> Vec<u32> {
    let mut patch = vec![start];
    side[start as usize] = Some(false);
    let mut is_orientable = true;
    let mut next = 0;
    while let Some(&triangle) = patch.get(next) {
        next += 1;
        for half_edge in 3 * triangle..3 * triangle + 3 {
            let other = across[half_edge as usize];
            if other == u32::MAX {
                continue;
            }
            let disagrees = ends_of(triangles, half_edge)[0] == ends_of(triangles, other)[0];
            let expected = side[triangle as usize].map(|shown| shown ^ disagrees);
            match side[(other / 3) as usize] {
                None => {
                    side[(other / 3) as usize] = expected;
                    patch.push(other / 3);
                }
                shown => is_orientable &= shown == expected,
            }
        }
    }
    let (one, other): (Vec<u32>, Vec<u32>) =
        patch.iter().copied().partition(|&triangle| side[triangle as usize] == Some(true));
    let few = if one.len() < other.len() { one } else { other };
    if is_orientable && few.len() * 20 < patch.len() { few } else { Vec::new() }
}
