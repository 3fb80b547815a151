//! Meshes as bytes, for other programs.

use std::io::Write;

use crate::Mesh;

/// Binary STL in single precision; the header says that lengths are in millimetres.
pub fn write_stl_binary(mesh: &Mesh) -> Vec<u8> {
    let mut bytes = Vec::with_capacity(84 + 50 * mesh.triangles.len());
    // Never “solid” first: that would pass for a text STL.
    bytes.extend_from_slice(b"Binary STL, lengths in millimetres");
    bytes.resize(80, b' ');
    bytes.extend((mesh.triangles.len() as u32).to_le_bytes());
    for triangle in 0..mesh.triangles.len() as u32 {
        let [a, b, c] = mesh.corners(triangle);
        let normal = (b - a).cross(&(c - a)).try_normalize(0.0).unwrap_or_default();
        for vector in [normal, a.coords, b.coords, c.coords] {
            bytes.extend(vector.iter().flat_map(|&value| (value as f32).to_le_bytes()));
        }
        bytes.extend([0; 2]);
    }
    bytes
}

/// Binary little-endian PLY in single precision.
pub fn write_ply_binary(mesh: &Mesh) -> Vec<u8> {
    ply(mesh, None)
}

/// The same with one more number a vertex, under a name; vertices beyond the end of `values` get none (NaN).
pub fn write_ply_with(mesh: &Mesh, name: &str, values: &[f64]) -> Vec<u8> {
    ply(mesh, Some((name, values)))
}

fn ply(mesh: &Mesh, extra: Option<(&str, &[f64])>) -> Vec<u8> {
    let property = extra.map_or(String::new(), |(name, _)| format!("property float {name}\n"));
    let mut bytes = format!(
        "ply\nformat binary_little_endian 1.0\ncomment lengths in millimetres\n\
         element vertex {}\nproperty float x\nproperty float y\nproperty float z\n{property}\
         element face {}\nproperty list uchar uint vertex_indices\nend_header\n",
        mesh.vertices.len(),
        mesh.triangles.len()
    )
    .into_bytes();
    bytes.reserve(16 * mesh.vertices.len() + 13 * mesh.triangles.len());
    for (k, vertex) in mesh.vertices.iter().enumerate() {
        bytes.extend(vertex.iter().flat_map(|&value| (value as f32).to_le_bytes()));
        if let Some((_, values)) = extra {
            bytes.extend((values.get(k).copied().unwrap_or(f64::NAN) as f32).to_le_bytes());
        }
    }
    for triangle in &mesh.triangles {
        bytes.push(3);
        bytes.extend(triangle.iter().flat_map(|corner| corner.to_le_bytes()));
    }
    bytes
}

/// OBJ with as many digits as give back the same double-precision numbers.
pub fn write_obj(mesh: &Mesh) -> Vec<u8> {
    let mut bytes = b"# lengths in millimetres\n".to_vec();
    for vertex in &mesh.vertices {
        line(&mut bytes, format_args!("v {} {} {}", vertex.x, vertex.y, vertex.z));
    }
    for [a, b, c] in mesh.triangles.iter().map(|triangle| triangle.map(|corner| u64::from(corner) + 1)) {
        line(&mut bytes, format_args!("f {a} {b} {c}"));
    }
    bytes
}

fn line(bytes: &mut Vec<u8>, text: std::fmt::Arguments<'_>) {
    // Writing to memory cannot fail.
    let _ = writeln!(bytes, "{text}");
}
