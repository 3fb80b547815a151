#![allow(missing_docs)]
mod common;
use common::{phantoms, truth};
use kerfwright_geometry::TriangleTree;
use kerfwright_measure::frame::Aspect;
use kerfwright_phantom::ScanOptions;
use nalgebra::{Point3, Vector3};
#[test]
fn scratch() {
    for phantom in [phantoms::chamfer_26(), phantoms::sloped_37()] {
        let t = phantom.truth();
        let up = Vector3::from(t.path);
        println!("{} heights {:?} axial {:?}", phantom.spec().fdi, t.along_path.height_mm, t.axial_mm);
        let exact = phantom.scan(&ScanOptions { edge_mm: 0.2, ..ScanOptions::exact() });
        let tree = TriangleTree::new(&exact.before);
        let line: Vec<Point3<f64>> = t.finish_line.iter().map(|&p| Point3::from(p)).collect();
        let centre = Point3::from(line.iter().map(|p| p.coords).sum::<Vector3<f64>>() / line.len() as f64);
        let n = line.len();
        let walls = truth::exact_walls(&phantom, &up);
        for aspect in Aspect::SURFACES {
            let mut heights = vec![]; let mut curv = vec![];
            let mut thirds = [const { Vec::new() }; 3]; let mut above = [const { Vec::new() }; 3];
            for k in 0..n {
                let ang = (line[k].y - centre.y).atan2(line[k].x - centre.x).to_degrees().rem_euclid(360.0);
                let off = ((ang - aspect.centre_deg() + 180.0).rem_euclid(360.0) - 180.0).abs();
                if off > 22.0 || k % 3 != 0 { continue; }
                let along = line[(k + 1) % n] - line[(k + n - 1) % n];
                let across = up.cross(&along).normalize();
                let inward = if across.dot(&(centre - line[k])) < 0.0 { -across } else { across };
                let wall = walls.iter().min_by(|a, b| (a.angle_deg - ang).abs().total_cmp(&(b.angle_deg - ang).abs())).unwrap();
                let tan = wall.taper_deg.to_radians().tan();
                // top surface height at inward offset
                let z_at = |o: f64| { let (mut lo, mut hi) = (0.3, 9.0);
                    for _ in 0..40 { let m = 0.5 * (lo + hi); if phantom.is_inside_after(&(line[k] + inward * o + up * m)) { lo = m } else { hi = m } } lo };
                let corner = |a: f64, b: f64| { // iterate: line through z at wall offset +a,+b
                    let mut h = 3.0; for _ in 0..30 { let w = wall.width_mm + h * tan; let (za, zb) = (z_at(w + a), z_at(w + b)); let s = (zb - za) / (b - a); let z0 = za - s * a; h = z0; } h };
                let h = corner(0.35, 0.7); let h2 = corner(0.3, 0.45);
                if off < 11.25 { heights.push(h); curv.push(h2); }
                let foot = if phantom.spec().fdi == 26 { 1.0 } else { 0.68 };
                for i in 0..60 { let z = h * (f64::from(i) + 0.5) / 60.0; 
                    // surface point: march from inside outwards
                    let mut o = 2.2; while o > -0.5 && phantom.is_inside_after(&(line[k] + inward * o + up * z)) { o -= 0.01; }
                    let p = line[k] + inward * (o + 0.005) + up * z;
                    let q = exact.before_from_tooth.transform_point(&p);
                    let d = tree.closest_many(&[q], 5.0)[0].unwrap().distance_mm;
                    if off < 11.25 { thirds[i as usize / 20].push(d);
                        if z > foot { above[((3.0 * (z - foot) / (h - foot)) as usize).min(2)].push(d); } }
                }
            }
            let med = |v: &mut Vec<f64>| { v.sort_by(f64::total_cmp); v[v.len() / 2] };
            println!("{aspect}: height {:.3} ({:.3}); thirds from E {:.3} {:.3} {:.3}; from fillet {:.3} {:.3} {:.3}", med(&mut heights), med(&mut curv),
                med(&mut thirds[0]), med(&mut thirds[1]), med(&mut thirds[2]), med(&mut above[0]), med(&mut above[1]), med(&mut above[2]));
        }
    }
}
