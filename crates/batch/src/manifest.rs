//! A table that says what is to be measured.

use std::path::Path;

use kerfwright_class::table;
use kerfwright_exchange::person_code;

use crate::job::{About, Job};

/// Columns of a manifest.
const COLUMNS: [&str; 10] = [
    "after",
    "learner",
    "tooth",
    "before",
    "opposing",
    "mesial_point",
    "exercise",
    "stage",
    "session",
    "date",
];

/// A fault of a manifest.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("line {line}: {fault}")]
pub struct ManifestFault {
    /// Counted from 1.
    pub line: u32,
    /// What is wrong, and what to do.
    pub fault: String,
}

/// Reads a manifest: a CSV table with the column `after` (a file) and, where they differ from line to line, `learner`, `tooth`,
/// `before`, `opposing`, `mesial_point` (three numbers with blanks between), `exercise`, `stage`, `session`, `date`. Files are named from
/// `folder`, that of the manifest.
///
/// # Errors
/// Every fault, by line; then nothing is given.
pub fn read_manifest(bytes: &[u8], folder: &Path) -> Result<Vec<Job>, Vec<ManifestFault>> {
    let fault = |line, fault: String| ManifestFault { line, fault };
    let text = table::text_of(bytes)
        .map_err(|line| vec![fault(line, "is no UTF-8 text; save the table as CSV in UTF-8".into())])?;
    let (lines, _) = table::split(text).map_err(|error| vec![fault(1, error.to_string())])?;
    let Some(((line, heading), lines)) = lines.split_first() else {
        return Err(vec![fault(1, "the manifest is empty; it needs a heading with the column after".into())]);
    };
    let heading: Vec<String> = heading.iter().map(|name| name.to_lowercase()).collect();
    let mut faults = Vec::new();
    if !heading.iter().any(|name| name == COLUMNS[0]) {
        faults.push(fault(*line, "no column `after` in the heading".into()));
    }
    for (place, name) in heading.iter().enumerate().filter(|(_, name)| COLUMNS.contains(&name.as_str())) {
        if heading[..place].contains(name) {
            faults.push(fault(*line, format!("column `{name}` stands twice; keep one")));
        }
    }
    let mut jobs = Vec::new();
    for (line, cells) in lines {
        if cells.len() != heading.len() {
            let told = format!("{} cells where the heading has {}", cells.len(), heading.len());
            faults.push(fault(*line, format!("{told}; look for a missing separator or quote")));
            continue;
        }
        let cell = |column: &str| {
            let place = heading.iter().position(|name| name == column)?;
            Some(cells[place].clone()).filter(|cell| !cell.is_empty())
        };
        match job(&cell, folder) {
            Ok(job) => jobs.push(job),
            Err(told) => faults.push(fault(*line, told)),
        }
    }
    if faults.is_empty() { Ok(jobs) } else { Err(faults) }
}

fn job(cell: &dyn Fn(&str) -> Option<String>, folder: &Path) -> Result<Job, String> {
    let file = |column: &str| cell(column).map(|name| folder.join(name));
    let learner = cell("learner");
    if let Some(learner) = &learner {
        person_code(learner).map_err(|error| format!("learner `{learner}`: {error}"))?;
    }
    let about = About {
        learner,
        tooth: cell("tooth"),
        before: file("before"),
        opposing: file("opposing"),
        mesial_point: cell("mesial_point").map(|text| point(&text)).transpose()?,
        exercise: cell("exercise"),
        stage: cell("stage"),
        session: cell("session"),
        date: cell("date"),
    };
    Ok(Job { after: file("after").ok_or("after is empty; name the scan after cutting")?, about })
}

fn point(text: &str) -> Result<[f64; 3], String> {
    let numbers: Vec<f64> = text.split_whitespace().filter_map(|part| part.parse().ok()).collect();
    <[f64; 3]>::try_from(numbers)
        .ok()
        .filter(|point| point.iter().all(|value| value.is_finite()) && text.split_whitespace().count() == 3)
        .ok_or_else(|| format!("mesial_point `{text}` is not three numbers in mm, as 1.5 -20 3"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_manifest_is_read() {
        let text =
            "after,learner,tooth,before,mesial_point\nq1.stl,QS-01,26,base/b.stl,1 -2.5 3\nq2.stl,,,,\n";
        let jobs = read_manifest(text.as_bytes(), Path::new("lab")).unwrap();
        assert_eq!(jobs[0].after, Path::new("lab/q1.stl"));
        assert_eq!(jobs[0].about.before.as_deref(), Some(Path::new("lab/base/b.stl")));
        assert_eq!(jobs[0].about.mesial_point, Some([1.0, -2.5, 3.0]));
        assert_eq!(jobs[1].about, About::default());
    }

    #[test]
    fn every_fault_is_named_by_its_line() {
        let text = "after,mesial_point,learner\nq1.stl,1 2,\n,1 2 3,\nq3.stl\nq4.stl,,Maria Lopez\n";
        let told: Vec<String> = read_manifest(text.as_bytes(), Path::new(""))
            .unwrap_err()
            .iter()
            .map(ToString::to_string)
            .collect();
        assert_eq!(told.len(), 4, "{told:?}");
        assert!(told[0].starts_with("line 2: mesial_point `1 2`"), "{told:?}");
        assert!(told[1].starts_with("line 3: after is empty"), "{told:?}");
        assert!(told[2].starts_with("line 4: 1 cells"), "{told:?}");
        assert!(told[3].starts_with("line 5: learner `Maria Lopez`: a code has"), "{told:?}");
        let told = read_manifest(b"learner\nQS-01\n", Path::new("")).unwrap_err();
        assert!(told[0].to_string().starts_with("line 1: no column `after`"));
    }
}
