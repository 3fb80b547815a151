//! dev
use kerfwright_geometry::Surface;
use kerfwright_measure::{preparation::*, scene::*, path::PathChoice};
use kerfwright_tooth::Tooth;
use nalgebra::{Isometry3, Matrix4, Translation3, UnitQuaternion, Rotation3, Point3};
fn main() {
    let dir = std::env::args().nth(1).unwrap();
    let truth: serde_json::Value = serde_json::from_slice(&std::fs::read(format!("{dir}/truth.json")).unwrap()).unwrap();
    let mat = |k: &str| { let m = &truth[k]; Matrix4::from_fn(|r,c| m[r][c].as_f64().unwrap()) };
    let (b, a) = (mat("frame_before"), mat("frame_after"));
    let bfa = b * a.try_inverse().unwrap();
    let rot = Rotation3::from_matrix(&bfa.fixed_view::<3,3>(0,0).into_owned());
    let bfa = Isometry3::from_parts(Translation3::new(bfa[(0,3)],bfa[(1,3)],bfa[(2,3)]), UnitQuaternion::from_rotation_matrix(&rot));
    let read = |f: &str| std::fs::read(format!("{dir}/{f}")).ok().map(|b| Surface::new(kerfwright_mesh::read_scan(&b).unwrap().mesh));
    let after = read("after.stl").unwrap(); let before = read("before.stl").unwrap(); let opp = read("opposing.stl");
    let afb = bfa.inverse();
    let scene = Scene { after: &after, before: Some(Placed { surface: &before, after_from_scan: afb }), opposing: opp.as_ref().map(|o| Placed { surface: o, after_from_scan: afb }) };
    let pose = Pose { before_from_after: bfa, residual_um: 8.0, sigma_mm: 0.003, sigma_deg: 0.02, explained_pct: 90.0 };
    let mp = truth["mesial_point"].as_array().map(|p| afb * Point3::new(p[0].as_f64().unwrap(), p[1].as_f64().unwrap(), p[2].as_f64().unwrap()));
    let tooth = Tooth::from_fdi(truth["fdi"].as_u64().unwrap() as u8).unwrap();
    let t = std::time::Instant::now();
    let p = match Preparation::find(scene, Some(pose), &Wishes { tooth, mesial_point: mp, path: PathChoice::Best, opposing_shares_after: false }, &|p| format!("{p}")) { Ok(p) => p, Err(e) => { println!("ERR {e}"); return; } };
    println!("find {:?} noise {:.4} edge {:.3}", t.elapsed(), p.noise_mm, p.edge_mm);
    let t = std::time::Instant::now();
    let sheet = kerfwright_measure::measures::take_all(&p);
    println!("readings {:?}", t.elapsed());
    let doc = serde_json::json!({"readings": sheet.readings, "refused": sheet.refused, "frame": {"before_from_after": kerfwright_measure::document::rows(&bfa.to_homogeneous())}, "finish_line": {"points": p.ring.points.iter().map(|p| [p.x,p.y,p.z]).collect::<Vec<_>>()}});
    std::fs::write("/tmp/doc.json", serde_json::to_vec_pretty(&doc).unwrap()).unwrap();
    let ai = a.try_inverse().unwrap();
    let inv = |v: nalgebra::Vector3<f64>| (ai.fixed_view::<3,3>(0,0) * v).map(|x| (x*1000.).round()/1000.);
    println!("axis {:?} sigma {:.2}", inv(p.axis.direction), p.axis.sigma_deg);
    for o in &p.axis.opinions { println!("   {} {:?}", o.from, inv(o.direction)); }
    println!("mesial {:?} {} w {:.1}; facial {:?}", inv(p.frame.mesial), p.mesial.because, p.mesial.weight, inv(p.frame.facial));
    println!("path {:?}", inv(p.path));
    let truth_line: Vec<Point3<f64>> = truth["margin"].as_array().unwrap().iter().map(|m| Point3::new(m[0].as_f64().unwrap(), m[1].as_f64().unwrap(), m[2].as_f64().unwrap())).collect();
    let mut dists: Vec<f64> = Vec::new();
    for (k, s) in p.stations.iter().enumerate() {
        let e = s.edge(); let e = ai.transform_point(&e);
        let d = (0..truth_line.len()).map(|i| { let (p0,p1)=(truth_line[i], truth_line[(i+1)%truth_line.len()]); let u=p1-p0; let t=((e-p0).dot(&u)/u.norm_squared()).clamp(0.,1.); (e-(p0+u*t)).norm() }).fold(9.,f64::min);
        dists.push(d);
        if k % std::env::var("EVERY").ok().and_then(|v| v.parse().ok()).unwrap_or(6) == 0 { let w = s.wall.as_ref(); println!("{k:3} ang {:6.1} d {:.3} seen {} taper {:6.2} width {:.3} h {:.2} fit {:.2}-{:.2} decl {:.1} cavo {:.1} bow {:.2} ging {:?}", s.angle_deg, d, s.seen as u8, w.map_or(f64::NAN,|w|w.taper_deg), w.map_or(f64::NAN,|w|w.width_mm), w.and_then(|w|w.top).map_or(f64::NAN,|t|t.y), w.map_or(f64::NAN,|w|w.fitted_mm[0]), w.map_or(f64::NAN,|w|w.fitted_mm[1]), s.declination_deg.unwrap_or(f64::NAN), s.cavosurface_deg.unwrap_or(f64::NAN), s.floor_is_arc.map_or(f64::NAN, |a| a as u8 as f64), s.gingiva.map(|g| (g.x*100.).round()/100.).zip(s.gingiva.map(|g| (g.y*100.).round()/100.))); }
    }
    if let Ok(k) = std::env::var("STATION") { let k: usize = k.parse().unwrap(); let s = &p.stations[k];
        let f = s.section.frame; let plane = f.plane();
        let pts = &s.section.points; println!("section {} pts end {:?} arc {:?}", pts.len(), pts.last(), s.section.arc_mm.last());
        for (p, a) in pts.iter().zip(&s.section.arc_mm) { if *a > 0.0 && *a < 7.6 { println!("arc {a:.3} {:.3} {:.3}", p.x, p.y); } }
        let endp = f.solid(pts.last().unwrap());
        let near = after.tree.triangles_near(&endp, 0.25);
        for t in near { if let Some([a,b]) = kerfwright_measure::trace::crossings(&after, &plane, t) { println!("t {t} opp {:?} {:?} {:?} n {:?}", after.topology.opposite[t as usize].map(|x| x as i64 - if x==u32::MAX {u32::MAX as i64+1} else {0}), (a.0, f.flat(&a.1)-pts.last().unwrap()), (b.0, f.flat(&b.1)-pts.last().unwrap()), f.flat(&(f.origin+after.triangle_normals[t as usize]))); } }
    }
    dists.sort_by(f64::total_cmp);
    println!("n {} finish line median {:.4} p95 {:.4} max {:.4}", dists.len(), dists[dists.len()/2], dists[dists.len()*95/100], dists[dists.len()-1]);
    println!("inside {}", p.inside.iter().filter(|x|**x).count());
}
#[allow(dead_code)]
fn _x() {}
