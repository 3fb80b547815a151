//! Phantom scans as files of every format.

use std::fmt::Write;
use std::io::Write as _;
use std::path::PathBuf;
use std::sync::OnceLock;

use kerfwright_mesh::{Mesh, write_obj, write_ply_binary, write_stl_binary};
use kerfwright_phantom::{Phantom, ScanOptions, Scans, Spec};
use nalgebra::Point3;

/// How a scan is written.
#[derive(Debug, Clone, Copy)]
pub enum Format {
    StlBinary,
    StlText,
    StlGzip,
    PlyBinary,
    PlyText,
    Obj,
}

/// A folder of this test's own.
pub fn folder() -> PathBuf {
    let folder = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join("cli");
    std::fs::create_dir_all(&folder).unwrap();
    folder
}

/// The scans of an upper first molar with a chamfer, made once.
pub fn scans() -> &'static Scans {
    static SCANS: OnceLock<Scans> = OnceLock::new();
    SCANS.get_or_init(|| {
        let mut scans =
            Phantom::new(&Spec::default()).scan(&ScanOptions { seed: 9, ..ScanOptions::default() });
        scans.after = in_order_of_use(&scans.after);
        scans
    })
}

/// Vertices in the order in which the triangles name them first, which is the order a reader of loose triangles finds.
fn in_order_of_use(mesh: &Mesh) -> Mesh {
    let mut place = vec![u32::MAX; mesh.vertices.len()];
    let mut ordered = Mesh::default();
    for triangle in &mesh.triangles {
        let corners = triangle.map(|vertex| {
            let place = &mut place[vertex as usize];
            if *place == u32::MAX {
                *place = ordered.vertices.len() as u32;
                ordered.vertices.push(mesh.vertices[vertex as usize]);
            }
            *place
        });
        ordered.triangles.push(corners);
    }
    ordered
}

/// Writes a mesh and returns its path.
pub fn write(name: &str, mesh: &Mesh, format: Format) -> PathBuf {
    let bytes = match format {
        Format::StlBinary => write_stl_binary(mesh),
        Format::StlText => stl_text(mesh),
        Format::StlGzip => gzip(&write_stl_binary(mesh)),
        Format::PlyBinary => write_ply_binary(mesh),
        Format::PlyText => ply_text(mesh, true),
        Format::Obj => write_obj(mesh),
    };
    let path = folder().join(name);
    std::fs::write(&path, bytes).unwrap();
    path
}

/// The vertices alone, as a PLY.
pub fn point_cloud(mesh: &Mesh) -> Vec<u8> {
    ply_text(mesh, false)
}

fn stl_text(mesh: &Mesh) -> Vec<u8> {
    let mut text = String::from("solid arch\n");
    for triangle in 0..mesh.triangles.len() as u32 {
        text += " facet normal 0 0 0\n  outer loop\n";
        for corner in mesh.corners(triangle) {
            writeln!(text, "   vertex {}", single(&corner)).unwrap();
        }
        text += "  endloop\n endfacet\n";
    }
    text += "endsolid arch\n";
    text.into_bytes()
}

/// With a colour for each vertex, as scanners write them.
fn ply_text(mesh: &Mesh, with_faces: bool) -> Vec<u8> {
    let mut text = format!(
        "ply\nformat ascii 1.0\nelement vertex {}\nproperty float x\nproperty float y\nproperty float z\n\
         property uchar red\nproperty uchar green\nproperty uchar blue\n",
        mesh.vertices.len()
    );
    if with_faces {
        writeln!(text, "element face {}\nproperty list uchar int vertex_indices", mesh.triangles.len())
            .unwrap();
    }
    text += "end_header\n";
    for vertex in &mesh.vertices {
        writeln!(text, "{} 230 225 210", single(vertex)).unwrap();
    }
    for [a, b, c] in mesh.triangles.iter().filter(|_| with_faces) {
        writeln!(text, "3 {a} {b} {c}").unwrap();
    }
    text.into_bytes()
}

/// The single-precision coordinates with all their digits, so that a text file holds what a binary one holds.
fn single(point: &Point3<f64>) -> String {
    let [x, y, z] = [point.x, point.y, point.z].map(|value| f64::from(value as f32));
    format!("{x} {y} {z}")
}

fn gzip(bytes: &[u8]) -> Vec<u8> {
    let mut encoder = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::fast());
    encoder.write_all(bytes).unwrap();
    encoder.finish().unwrap()
}
