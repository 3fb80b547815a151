//! Every reading of the trial's preparations that lies beyond its tolerance or beyond its own u95, with one set of scans
//! each at the contract's condition, with and without a before scan:
//!
//!     cargo run -p kerfwright-trial --example misses -- [SEED [PART OF A NAME]...]

use kerfwright_measure::document::Value;
use kerfwright_measure::{Attempt, Document, OpposingFrame, Request, ScanFile};
use kerfwright_mesh::write_stl_binary;
use kerfwright_phantom::{Phantom, ScanOptions, Scans};
use kerfwright_trial::batch::adjusted;
use kerfwright_trial::common::{Files, measure, pointed_request, said};
use kerfwright_trial::preparations::PREPARATIONS;
use kerfwright_trial::tolerance::Tolerance;
use kerfwright_trial::truth::{Expected, expected, pose_errors};
use nalgebra::Point3;

fn main() {
    let mut words = std::env::args().skip(1);
    let seed = words.next().and_then(|word| word.parse().ok()).unwrap_or(1);
    let parts: Vec<String> = words.collect();
    for preparation in PREPARATIONS {
        if !parts.is_empty() && !parts.iter().any(|part| preparation.name.contains(part.as_str())) {
            continue;
        }
        let phantom = (preparation.phantom)();
        let expected = adjusted(&phantom, expected(&phantom));
        let scans = phantom.scan(&ScanOptions { seed, ..ScanOptions::default() });
        let files = Files::of(&scans);
        println!("## {}, with a before scan", preparation.name);
        tell(with_before(&files, &phantom, &scans), &expected, Some((&scans, &phantom)));
        println!("## {}, without", preparation.name);
        let rest = expected.iter().filter(|(id, _)| !needs_before(id)).map(|(id, v)| (id.clone(), v.clone()));
        tell(without_before(&files, &phantom, &scans), &rest.collect(), None);
    }
}

/// What is refused without a before scan, and the room that then has another limit.
fn needs_before(id: &str) -> bool {
    ["reduction.", "registration.", "neighbour.", "space."].iter().any(|start| id.starts_with(start))
}

fn with_before(files: &Files, phantom: &Phantom, scans: &Scans) -> Result<Document, String> {
    let attempt = Attempt {
        after: &files.after,
        before: Some(&files.before),
        opposing: Some(&files.opposing),
        opposing_frame: OpposingFrame::Before,
    };
    measure(&attempt, &pointed_request(phantom.spec().fdi, scans)).map_err(|error| error.to_string())
}

fn without_before(files: &Files, phantom: &Phantom, scans: &Scans) -> Result<Document, String> {
    let opposing = scans.opposing.transformed(&scans.before_from_after.inverse());
    let opposing =
        ScanFile::read("opposing.stl", &write_stl_binary(&opposing)).map_err(|error| error.to_string())?;
    let attempt = Attempt {
        after: &files.after,
        before: None,
        opposing: Some(&opposing),
        opposing_frame: OpposingFrame::After,
    };
    let mesial = scans.after_from_tooth.transform_point(&Point3::new(6.0, 0.0, 3.0));
    let request = Request { mesial_point: Some(mesial), ..pointed_request(phantom.spec().fdi, scans) };
    measure(&attempt, &request).map_err(|error| error.to_string())
}

fn tell(document: Result<Document, String>, expected: &Expected, pose: Option<(&Scans, &Phantom)>) {
    let document = match document {
        Ok(document) => document,
        Err(error) => return println!("not measured: {error}"),
    };
    document.warnings.iter().for_each(|warning| println!("   warning: {warning}"));
    if let Some((scans, phantom)) = pose {
        for (id, error) in pose_errors(&document, scans, phantom) {
            println!("   {id} {error:.3}");
        }
    }
    let said = said(&document);
    let (mut n_read, mut n_within, mut n_covered) = (0, 0, 0);
    for (id, truth) in expected {
        let tolerance = Tolerance::find(id);
        let Some(read) = said.get(id) else {
            let reason = document.refused.get(id.split('#').next().unwrap_or(id));
            println!("refused  {id}: {}", reason.map_or("NOT ON THE SHEET", String::as_str));
            continue;
        };
        n_read += 1;
        match (truth, &read.value) {
            (Value::Number(truth), Value::Number(value)) => {
                let limit = tolerance.and_then(|tolerance| tolerance.of(id, *truth));
                let (error, u95) = (value - truth, read.u95.unwrap_or(f64::NAN));
                let (beyond, uncovered) = (limit.is_some_and(|limit| error.abs() > limit), error.abs() > u95);
                n_within += usize::from(!beyond);
                n_covered += usize::from(!uncovered);
                if beyond || uncovered {
                    let limit = limit.map_or("    none".into(), |limit| format!("{limit:8.4}"));
                    let marks = [if beyond { 'T' } else { ' ' }, if uncovered { 'U' } else { ' ' }];
                    println!(
                        "{}{}       {id:48} read {value:9.4} true {truth:9.4} error {error:+9.4} of {limit} u95 {u95:8.4}",
                        marks[0], marks[1]
                    );
                }
            }
            (truth, value) if truth == value => n_within += 1,
            (truth, value) => println!("wrong    {id}: {value:?} for {truth:?}"),
        }
    }
    println!("   {n_read} read, {n_within} within tolerance, {n_covered} within u95");
}
