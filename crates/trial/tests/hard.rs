//! Scans on which readings were once far off and sure of it. Now they are right, or refused.

use kerfwright_measure::document::{Reading, Value};
use kerfwright_measure::{Attempt, Document, OpposingFrame, Request};
use kerfwright_phantom::ScanOptions;
use kerfwright_trial::common::{Files, measure, pointed_request};
use kerfwright_trial::preparations::PREPARATIONS;
use kerfwright_trial::truth::expected;
use nalgebra::Point3;

/// Each reading named: refused, or as near to the truth as it says.
fn hold(name: &str, seed: u64, with_before: bool, ids: &[&str]) {
    let preparation = PREPARATIONS.iter().find(|preparation| preparation.name == name).unwrap();
    let phantom = (preparation.phantom)();
    let scans = phantom.scan(&ScanOptions { seed, ..ScanOptions::default() });
    let files = Files::of(&scans);
    let request = pointed_request(phantom.spec().fdi, &scans);
    let attempt = Attempt {
        after: &files.after,
        before: with_before.then_some(&files.before),
        opposing: None,
        opposing_frame: OpposingFrame::Before,
    };
    let mesial = scans.after_from_tooth.transform_point(&Point3::new(6.0, 0.0, 3.0));
    let request = if with_before { request } else { Request { mesial_point: Some(mesial), ..request } };
    let document: Document = measure(&attempt, &request).unwrap();
    let truth = expected(&phantom);
    for &id in ids {
        let holds = |reading: &Reading| match (&reading.value, &truth[id]) {
            (Value::Number(value), Value::Number(truth)) => (value - truth).abs() <= reading.u95.unwrap(),
            (value, truth) => value == truth,
        };
        match document.readings.get(id) {
            Some(reading) => assert!(holds(reading), "{id}: {reading:?} for {:?}", truth[id]),
            None => assert!(document.refused.contains_key(id), "{id} is not on the sheet"),
        }
    }
}

/// A rim of 0.12 mm that the mesh chops passed for a flat floor, its slope 39° off and sure to 6°.
#[test]
fn a_low_rim_is_no_flat_floor() {
    let ids = ["declination", "cavosurface"].map(|part| format!("finish_line.{part}.facial_deg"));
    let ids = [ids[0].as_str(), ids[1].as_str(), "finish_line.kind.facial"];
    hold("17 lip, edges rounded unevenly", 2, true, &ids);
}

/// A ledge in the wall passed for the finish line where that was missed in a few places, 2 mm too high.
#[test]
fn without_a_before_scan_a_ledge_is_no_finish_line() {
    let ids = ["finish_line.above_gingiva.lingual_mm", "wall.height.lingual_mm", "finish_line.kind.lingual"];
    hold("47 ledge in the lingual wall", 2, false, &ids);
}
