//! Writes the three scans of a phantom.
use kerfwright_mesh::Mesh;
use kerfwright_phantom::*;
use std::io::Write;
fn write(path: &str, mesh: &Mesh) {
    let mut bytes = vec![0u8; 80];
    bytes.extend((mesh.triangles.len() as u32).to_le_bytes());
    for t in 0..mesh.triangles.len() as u32 {
        let [a, b, c] = mesh.corners(t);
        let n = (b - a).cross(&(c - a)).normalize();
        for v in [n, a.coords, b.coords, c.coords] {
            for k in 0..3 {
                bytes.extend((v[k] as f32).to_le_bytes());
            }
        }
        bytes.extend([0, 0]);
    }
    std::fs::File::create(path).unwrap().write_all(&bytes).unwrap();
}
fn main() {
    let args: Vec<String> = std::env::args().collect();
    let out = &args[1];
    let fdi: u8 = args[2].parse().unwrap();
    let t = std::time::Instant::now();
    let p = Phantom::new(&Spec { fdi, nick_mesial_mm: 0.2, ..Spec::default() });
    println!("phantom {:?}", t.elapsed());
    let mut tr = p.truth().clone();
    println!("truth {:?}", t.elapsed());
    tr.finish_line.clear();
    tr.gingiva_line.clear();
    println!("{tr:#?}");
    let s = p.scan(&ScanOptions { random_pose: false, noise_mm: 0.0, ..ScanOptions::default() });
    println!("scan {:?}", t.elapsed());
    for (n, m) in [("before", &s.before), ("after", &s.after), ("opposing", &s.opposing)] {
        println!("{n} {} {}", m.vertices.len(), m.triangles.len());
        write(&format!("{out}/{n}.stl"), m);
    }
}
