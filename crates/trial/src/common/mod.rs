//! Shared by trials and tests: phantom scans as files, measured through the public interface.

pub mod hold;
pub mod onlay;
pub mod phantoms;
pub mod rescan;
pub mod row;
pub mod tolerance;
pub mod truth;
pub mod truth_front;
pub mod truth_occlusal;

use std::collections::BTreeMap;

use kerfwright_measure::document::{Reading, Value};
use kerfwright_measure::{
    Attempt, Document, JawWishes, MeasureError, OpposingFrame, PathChoice, Request, ScanFile,
};
use kerfwright_mesh::{Mesh, write_stl_binary};
use kerfwright_phantom::{Phantom, ScanOptions, Scans};
use nalgebra::Point3;
use rayon::prelude::*;

/// The three scans of a phantom as the program reads them.
pub struct Files {
    /// The prepared arch.
    pub after: ScanFile,
    /// The same arch unprepared.
    pub before: ScanFile,
    /// The jaw opposite.
    pub opposing: ScanFile,
}

impl Files {
    /// Binary STL: single precision and three loose corners a triangle, as most scanners write.
    pub fn of(scans: &Scans) -> Self {
        let meshes =
            [("after.stl", &scans.after), ("before.stl", &scans.before), ("opposing.stl", &scans.opposing)];
        let read = |named: &(&str, &Mesh)| ScanFile::read(named.0, &write_stl_binary(named.1)).unwrap();
        let mut files: Vec<ScanFile> = meshes.par_iter().map(read).collect();
        let opposing = files.pop().unwrap();
        let before = files.pop().unwrap();
        Self { after: files.pop().unwrap(), before, opposing }
    }

    /// Measures with the scans that are asked for.
    pub fn measure(&self, fdi: u8, use_before: bool, use_opposing: bool) -> Result<Document, MeasureError> {
        let attempt = Attempt {
            after: &self.after,
            before: use_before.then_some(&self.before),
            opposing: use_opposing.then_some(&self.opposing),
            opposing_frame: OpposingFrame::Before,
        };
        measure(&attempt, &request(fdi))
    }
}

/// The whole pipeline.
pub fn measure(attempt: &Attempt<'_>, request: &Request) -> Result<Document, MeasureError> {
    let aligned = attempt.align()?;
    let preparation = attempt.find(aligned.as_ref(), request)?;
    Ok(attempt.document(&preparation, request))
}

/// A tooth by its FDI number, mesial from the arch, the best path.
pub fn request(fdi: u8) -> Request {
    let tooth = kerfwright_tooth::parse(&fdi.to_string(), None).unwrap();
    Request { tooth, mesial_point: None, path: PathChoice::Best, jaw: JawWishes::default() }
}

/// The same with a point 6 mm mesially of the tooth, as a user gives it: in the frame of the before scan.
pub fn pointed_request(fdi: u8, scans: &Scans) -> Request {
    let point = scans.before_from_tooth.transform_point(&Point3::new(6.0, 0.0, 3.0));
    Request { mesial_point: Some(point), ..request(fdi) }
}

/// A phantom, one set of its scans, and what was measured on all three.
pub struct Case {
    /// Its name in tables and in the list of known misses.
    pub name: &'static str,
    /// What was scanned.
    pub phantom: Phantom,
    /// The scans with their exact frames.
    pub scans: Scans,
    /// The scans as files.
    pub files: Files,
    /// What was measured on all three.
    pub document: Document,
}

impl Case {
    /// Scans at 0.15 mm edges with 8 µm noise in random poses (the default options) and measures.
    pub fn new(name: &'static str, phantom: Phantom, seed: u64) -> Self {
        let scans = phantom.scan(&ScanOptions { seed, ..ScanOptions::default() });
        let files = Files::of(&scans);
        // Premolar neighbours are too alike to tell mesial from distal in every scan: the program then asks.
        let request = pointed_request(phantom.spec().fdi, &scans);
        let attempt = Attempt {
            after: &files.after,
            before: Some(&files.before),
            opposing: Some(&files.opposing),
            opposing_frame: OpposingFrame::Before,
        };
        let document = measure(&attempt, &request).unwrap_or_else(|error| panic!("{name}: {error}"));
        Self { name, phantom, scans, files, document }
    }
}

/// What a document says under an id; `id#extra` names an extra of a reading.
#[derive(Debug, Clone, PartialEq)]
pub struct Said {
    /// What it says.
    pub value: Value,
    /// The uncertainty it states.
    pub u95: Option<f64>,
}

/// All readings and their extras of one document.
pub fn said(document: &Document) -> BTreeMap<String, Said> {
    let mut all = BTreeMap::new();
    for (id, reading) in &document.readings {
        all.insert(id.clone(), Said { value: reading.value.clone(), u95: reading.u95 });
        for (name, value) in &reading.extras {
            all.insert(format!("{id}#{name}"), Said { value: value.clone(), u95: extra_u95(reading, name) });
        }
    }
    all
}

/// The uncertainty of an extra, where the document states one: `NAME_u95` beside `NAME`.
fn extra_u95(reading: &Reading, name: &str) -> Option<f64> {
    match reading.extras.get(&format!("{name}_u95"))? {
        Value::Number(u95) => Some(*u95),
        Value::Text(_) => None,
    }
}
