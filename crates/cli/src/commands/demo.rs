//! `kerf demo`: makes a crown preparation of the Quayside Skills Lab (made up) whose geometry is exactly known, writes
//! its three scans as a scanner would, measures them like any other, and holds the readings against the truth.

use std::fmt::Write;
use std::path::Path;

use kerfwright_measure::{Attempt, Document, JawWishes, OpposingFrame, PathChoice, Request};
use kerfwright_mesh::write_stl_binary;
use kerfwright_phantom::{Phantom, Truth, quayside_demo, quayside_scan};
use rayon::prelude::*;

use crate::args::{Demo, Output};
use crate::commands::demo_class;
use crate::commands::measure::{make_folder, measure, read_all, save};
use crate::timings::Timings;

/// Makes, measures, compares.
pub fn run(arguments: &Demo) -> anyhow::Result<()> {
    if let Some(n_learners) = arguments.class {
        return demo_class::run(arguments, n_learners);
    }
    let folder = &arguments.out;
    make_folder(folder)?;
    let mut timings = Timings::start();
    println!(
        "Quayside Skills Lab (made up): learner QS-07, crown preparation on 26, scanned before and after.\n"
    );
    let phantom = quayside_demo();
    timings.stage("make", || write_scans(&phantom, folder))?;
    let (after, before, opposing) =
        (folder.join("after.stl"), folder.join("before.stl"), folder.join("opposing.stl"));
    let scans = timings.stage("read", || read_all([Some(&after), Some(&before), Some(&opposing)], None))?;
    let [Some(after), before, opposing] = &scans else { anyhow::bail!("no after scan was read") };
    let attempt = Attempt {
        after,
        before: before.as_ref(),
        opposing: opposing.as_ref(),
        opposing_frame: OpposingFrame::Before,
    };
    let request = Request {
        tooth: kerfwright_tooth::parse("26", None)?,
        mesial_point: None,
        path: PathChoice::Best,
        jaw: JawWishes::default(),
    };
    let report = folder.join("report.html");
    let output = Output {
        json: Some(folder.join("readings.json")),
        report: Some(report.clone()),
        timings: false,
        quiet: false,
    };
    let document = measure(&attempt, &request, false, &output, &mut timings)?;
    print!("{}", compared(&document, phantom.truth()));
    println!("\nScans and readings are in {}.", folder.display());
    println!("Open the report in a browser: {}", report.display());
    println!(
        "The same by hand: kerf measure {0}/after.stl --before {0}/before.stl --opposing {0}/opposing.stl --tooth 26",
        folder.display()
    );
    if arguments.timings {
        timings.print();
    }
    Ok(())
}

fn write_scans(phantom: &Phantom, folder: &Path) -> anyhow::Result<()> {
    let scans = phantom.scan(&quayside_scan());
    [("before.stl", &scans.before), ("after.stl", &scans.after), ("opposing.stl", &scans.opposing)]
        .into_par_iter()
        .map(|(name, mesh)| save(&folder.join(name), &write_stl_binary(mesh)))
        .collect()
}

/// Readings whose exact value the phantom knows, side by side.
fn compared(document: &Document, truth: &Truth) -> String {
    let mut out = format!(
        "\n{:46} {:>9} {:>9} {:>8} {:>8}\n",
        "against the exact geometry", "measured", "exact", "off", "± U95"
    );
    for (id, exact) in known(truth) {
        let Some(reading) = document.readings.get(&id) else { continue };
        let Some(value) = reading.number() else { continue };
        let u95 = reading.u95.unwrap_or(f64::NAN);
        // Writing to a string cannot fail.
        let _ = writeln!(out, "{id:46} {value:9.3} {exact:9.3} {:8.3} {u95:8.3}", value - exact);
    }
    out
}

fn known(truth: &Truth) -> Vec<(String, f64)> {
    let (walls, aspects) = (&truth.along_path, ["mesial", "facial", "distal", "lingual"]);
    let mut known = vec![
        ("reduction.occlusal.functional_mm".to_owned(), truth.occlusal.functional.median_mm),
        ("reduction.occlusal.nonfunctional_mm".to_owned(), truth.occlusal.nonfunctional.median_mm),
        ("reduction.volume_mm3".to_owned(), truth.removed_mm3),
        ("clearance.mip_mm".to_owned(), truth.clearance_mip.least_mm),
        ("toc.mesiodistal_deg".to_owned(), walls.toc_mesiodistal_deg),
        ("toc.faciolingual_deg".to_owned(), walls.toc_faciolingual_deg),
    ];
    for (k, aspect) in aspects.into_iter().enumerate() {
        known.push((format!("taper.{aspect}_deg"), walls.taper_deg.around()[k]));
        known.push((format!("finish_line.width.{aspect}_mm"), walls.width_mm.around()[k]));
        known.push((format!("finish_line.above_gingiva.{aspect}_mm"), truth.above_gingiva_mm.around()[k]));
        known.push((format!("wall.height.{aspect}_mm"), walls.height_mm.around()[k]));
    }
    known
}
