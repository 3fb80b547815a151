//! One attempt, from scans to a document: the same calls as `kerf measure`, so that the document is the same, byte for byte.

use kerfwright_jaw::JawSettings;
use kerfwright_measure::{Attempt, Document, JawWishes, OpposingFrame, PathChoice, Request, ScanFile};
use kerfwright_tooth::Numbered;
use nalgebra::Point3;

/// What is asked.
pub struct Wanted {
    pub tooth: Numbered,
    pub mesial_point: Option<[f64; 3]>,
    /// Whether the scan need not show a finish line yet.
    pub is_early: bool,
}

/// Measures, or says why not: a word for programs, a sentence for people.
pub fn measure(
    scans: (&ScanFile, Option<&ScanFile>, Option<&ScanFile>),
    wanted: &Wanted,
) -> Result<Document, (&'static str, String)> {
    let (after, before, opposing) = scans;
    let attempt = Attempt { after, before, opposing, opposing_frame: OpposingFrame::Before };
    let request = Request {
        tooth: wanted.tooth.clone(),
        mesial_point: wanted.mesial_point.map(Point3::from),
        path: PathChoice::Best,
        jaw: JawWishes { settings: JawSettings::default(), recordings: Vec::new() },
    };
    let aligned = attempt.align().map_err(|error| ("align", error.to_string()))?;
    let found = match wanted.is_early {
        true => attempt.find_early(aligned.as_ref(), &request),
        false => attempt.find(aligned.as_ref(), &request),
    };
    let preparation = found.map_err(|error| {
        let alignment = aligned.as_ref().map_or(String::new(), |aligned| format!(" ({})", aligned.summary()));
        ("find", format!("{}: {error}{alignment}", after.file))
    })?;
    Ok(attempt.document(&preparation, &request))
}

/// A document as `kerf measure --json` writes it.
pub fn json(document: &Document) -> String {
    // Pretty-printing numbers and texts cannot fail.
    serde_json::to_string_pretty(document).unwrap_or_default() + "\n"
}
