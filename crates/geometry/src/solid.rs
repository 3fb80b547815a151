//! Area and volume of a mesh.

use kerfwright_mesh::Mesh;
use nalgebra::Point3;

/// Area of the given triangles, mm².
pub fn area_mm2(mesh: &Mesh, triangles: impl IntoIterator<Item = u32>) -> f64 {
    triangles
        .into_iter()
        .map(|triangle| {
            let [a, b, c] = mesh.corners(triangle);
            0.5 * (b - a).cross(&(c - a)).norm()
        })
        .sum()
}

/// Volume enclosed by a closed mesh, mm³; positive when its triangles run counter-clockwise seen from outside.
///
/// By the divergence theorem, as a sum of tetrahedra from one corner of the mesh (so that a body far from
/// the origin loses no digits). For an open mesh the number has no meaning.
pub fn volume_mm3(mesh: &Mesh) -> f64 {
    let apex = mesh.vertices.first().copied().unwrap_or_else(Point3::origin);
    (0..mesh.triangles.len() as u32)
        .map(|triangle| {
            let [a, b, c] = mesh.corners(triangle).map(|corner| corner - apex);
            a.dot(&b.cross(&c)) / 6.0
        })
        .sum()
}
