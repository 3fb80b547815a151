//! Meshes made on the spot.
#![allow(dead_code, reason = "each test file uses some of these")]

use kerfwright_mesh::Mesh;
use nalgebra::Point3;

/// A box with 12 triangles, outside counter-clockwise.
pub fn cuboid(low: [f64; 3], size: [f64; 3]) -> Mesh {
    let corner = |k: usize| {
        let step = |axis: usize| low[axis] + if k >> axis & 1 == 1 { size[axis] } else { 0.0 };
        Point3::new(step(0), step(1), step(2))
    };
    let quads = [[0, 2, 3, 1], [4, 5, 7, 6], [0, 1, 5, 4], [2, 6, 7, 3], [0, 4, 6, 2], [1, 3, 7, 5]];
    Mesh {
        vertices: (0..8).map(corner).collect(),
        triangles: quads.iter().flat_map(|&[a, b, c, d]| [[a, b, c], [a, c, d]]).collect(),
    }
}

/// A wavy sheet of `n` × `n` cells, 40 mm long, with coordinates of single precision.
pub fn sheet(n: u32) -> Mesh {
    let step = 40.0 / f64::from(n);
    let point = |k: u32| {
        let (x, y) = (f64::from(k % (n + 1)) * step, f64::from(k / (n + 1)) * step);
        Point3::new(x, y, 3.0 * (0.7 * x).sin() * (0.5 * y).cos()).map(|value| f64::from(value as f32))
    };
    let cell = |k: u32| {
        let a = k / n * (n + 1) + k % n;
        [[a, a + 1, a + n + 2], [a, a + n + 2, a + n + 1]]
    };
    Mesh {
        vertices: (0..(n + 1) * (n + 1)).map(point).collect(),
        triangles: (0..n * n).flat_map(cell).collect(),
    }
}

/// Both meshes in one.
pub fn together(one: &Mesh, other: &Mesh) -> Mesh {
    let shift = one.vertices.len() as u32;
    let mut both = one.clone();
    both.vertices.extend(&other.vertices);
    both.triangles.extend(other.triangles.iter().map(|triangle| triangle.map(|corner| corner + shift)));
    both
}

/// The mesh as text STL.
pub fn stl_text(mesh: &Mesh) -> Vec<u8> {
    let mut text = "solid made here\n".to_string();
    for triangle in 0..mesh.triangles.len() as u32 {
        text += " facet normal 0 0 0\n  outer loop\n";
        for corner in mesh.corners(triangle) {
            text += &format!("   vertex {:e} {:e} {:e}\n", corner.x, corner.y, corner.z);
        }
        text += "  endloop\n endfacet\n";
    }
    (text + "endsolid made here\n").into_bytes()
}

/// The mesh as text PLY.
pub fn ply_text(mesh: &Mesh) -> Vec<u8> {
    let mut text = format!(
        "ply\nformat ascii 1.0\nelement vertex {}\nproperty double x\nproperty double y\nproperty double z\n\
         element face {}\nproperty list uchar int vertex_index\nend_header\n",
        mesh.vertices.len(),
        mesh.triangles.len()
    );
    mesh.vertices.iter().for_each(|point| text += &format!("{} {} {}\n", point.x, point.y, point.z));
    mesh.triangles.iter().for_each(|[a, b, c]| text += &format!("3 {a} {b} {c}\n"));
    text.into_bytes()
}
