//! Damage to adjacent teeth: none is invented, however the scanner treats edges and noise, and small nicks are found.

use kerfwright_measure::{Attempt, OpposingFrame};
use kerfwright_phantom::{ByAspect, Phantom, ScanOptions, Spec};
use kerfwright_trial::batch::CONDITIONS;
use kerfwright_trial::common::{Files, measure, phantoms, pointed_request};

/// Conditions under which no damage may be invented.
const HARD: [&str; 3] = ["20 µm", "smoothed", "stitched"];

/// Depths read on the mesial and the distal neighbour.
fn depths(phantom: &Phantom, condition: &str, seed: u64) -> [f64; 2] {
    let condition =
        CONDITIONS.iter().find(|other| other.name == condition).expect("a condition of the trial");
    let scans = phantom.scan(&ScanOptions { seed, ..(condition.options)() });
    let files = Files::of(&scans);
    let attempt = Attempt {
        after: &files.after,
        before: Some(&files.before),
        opposing: None,
        opposing_frame: OpposingFrame::Before,
    };
    let document = measure(&attempt, &pointed_request(phantom.spec().fdi, &scans)).unwrap();
    ["mesial", "distal"].map(|side| {
        document.readings[&format!("neighbour.{side}.depth_mm")].number().expect("a number of millimetres")
    })
}

#[test]
fn no_damage_is_invented() {
    let bodies =
        [phantoms::chamfer_26(), phantoms::shoulder_35(), phantoms::sloped_37(), phantoms::tilted_24()];
    for (place, phantom) in bodies.iter().enumerate() {
        for condition in HARD {
            let seed = 1001 + 1000 * place as u64;
            let found = depths(phantom, condition, seed);
            assert_eq!(found, [0.0; 2], "{} {condition} seed {seed}", phantom.spec().fdi);
        }
    }
}

#[test]
fn nicks_of_a_tenth_of_a_millimetre_are_found() {
    for (fdi, nick_mm) in [(26, 0.1), (36, 0.12), (15, 0.15)] {
        let spec = Spec {
            fdi,
            taper_deg: ByAspect::all(6.0),
            teeth_mesially: 1,
            teeth_distally: 1,
            nick_mesial_mm: nick_mm,
            nick_distal_mm: nick_mm,
            ..Spec::default()
        };
        let phantom = Phantom::new(&spec);
        for condition in ["8 µm", "smoothed", "stitched"] {
            let found = depths(&phantom, condition, 71);
            // Scans that are blind in contacts do not show the mesial nicks' places before cutting.
            let first = if condition == "stitched" { 1 } else { 0 };
            for (side, depth_mm) in ["mesial", "distal"].iter().zip(found).skip(first) {
                assert!(
                    (depth_mm - nick_mm).abs() < 0.04,
                    "{fdi} {side} {condition}: {depth_mm} for {nick_mm} mm"
                );
            }
        }
    }
}
