//! How long a screen waits: each question asked of a phantom's scans, the median of many.
//!
//!     cargo run --release -p kerfwright-view --example times -- [EDGE_MM]
//!
//! Without a length of the triangles' edges the demo's own scans are taken, 126 000 triangles after cutting.

use std::hint::black_box;
use std::sync::Arc;
use std::time::Instant;

use kerfwright_measure::{Attempt, JawWishes, OpposingFrame, PathChoice, Request, ScanFile};
use kerfwright_mesh::write_stl_binary;
use kerfwright_phantom::{ScanOptions, quayside_demo, quayside_scan};
use kerfwright_plan::Targets;
use kerfwright_plan::stages::Done;
use kerfwright_view::gauge::{GaugeWish, Toward, gauge};
use kerfwright_view::movement::movements;
use kerfwright_view::ring::ring;
use kerfwright_view::section::{SectionWish, section};
use kerfwright_view::spot::spot;
use kerfwright_view::{Aim, Scans, View, Which, guess_roles, hold};
use nalgebra::Point3;

fn main() {
    let usual = quayside_scan();
    let edge_mm =
        std::env::args().nth(1).map_or(usual.edge_mm, |text| text.parse().expect("EDGE_MM is a number"));
    let made = quayside_demo().scan(&ScanOptions { edge_mm, ..usual });
    let read = |name: &str, mesh| {
        Arc::new(ScanFile::read(name, &write_stl_binary(mesh)).expect("a phantom's scan can be read"))
    };
    let (after, before, opposing) =
        (read("after", &made.after), read("before", &made.before), read("opposing", &made.opposing));
    println!("{} triangles after cutting", after.surface.mesh.triangles.len());
    let attempt = Attempt {
        after: &after,
        before: Some(&before),
        opposing: Some(&opposing),
        opposing_frame: OpposingFrame::Before,
    };
    let tooth = kerfwright_tooth::parse("26", None).expect("26 is a tooth");
    let number = tooth.tooth;
    let request = Request { tooth, mesial_point: None, path: PathChoice::Best, jaw: JawWishes::default() };
    let aligned = attempt.align().expect("a phantom's scans align");
    let preparation = attempt.find(aligned.as_ref(), &request).expect("a phantom has a prepared tooth");
    let document = attempt.document(&preparation, &request);
    let scans =
        Scans { after: after.clone(), before: Some(before.clone()), opposing: Some(opposing.clone()) };
    time("roles of three scans", 1, || guess_roles(&[&opposing, &after, &before]));
    time("view with maps", 3, || View::of(&preparation, &scans));
    let view = View::of(&preparation, &scans);
    time("movements", 1, || movements(&preparation, &view.frame, &document));
    let targets = Targets::shipped(number).expect("a crown's targets are shipped");
    let aim = Aim { targets, done: Done::All, notes: Vec::new() };
    time("target and deviation", 1, || hold(&preparation, &aim));
    let view = view.with_target(&hold(&preparation, &aim).expect("a phantom takes the target"));
    time("after.glb", 20, || view.glb(Which::After));
    time("ring", 20, || ring(&view, &document));
    let mut turn = 0.0f64;
    time("section of all bodies", 60, || {
        turn += 0.1;
        section(&view, &SectionWish { point: [0.0, 0.0, 2.0], normal: [turn.cos(), turn.sin(), 0.3] })
    });
    let mut shift = -3.0;
    let mut push = |toward, width_mm, point: [f64; 3]| {
        shift = if shift > 3.0 { -3.0 } else { shift + 0.2 };
        let point = [point[0] + shift, point[1], point[2]];
        gauge(&view, &GaugeWish { point, direction: [0.0, -1.0, 0.0], width_mm, toward, length_mm: None })
    };
    time("gauge of 1.0 mm under the opposing teeth", 60, || push(Toward::Opposing, 1.0, [0.0, 9.0, 4.0]));
    time("gauge of 1.5 mm under the opposing teeth", 60, || push(Toward::Opposing, 1.5, [0.0, 9.0, 4.0]));
    time("gauge of 0.8 mm beside the neighbour", 60, || push(Toward::Neighbour, 0.8, [5.5, 8.0, 1.0]));
    time("value at a point", 60, || spot(&view, &Point3::new(1.0, 1.0, 4.0)));
}

fn time<T>(what: &str, n: usize, mut work: impl FnMut() -> T) {
    let mut times: Vec<f64> = (0..n)
        .map(|_| {
            let start = Instant::now();
            black_box(work());
            start.elapsed().as_secs_f64() * 1e3
        })
        .collect();
    times.sort_by(f64::total_cmp);
    println!("{what:44} {:9.2} ms, slowest {:9.2} ms of {n}", times[n / 2], times[n - 1]);
}
