//! One attempt as a file that another copy of the program opens.
//!
//! A ZIP file: `bundle.json` says what the attempt is and the SHA-256 of every other file; scans, documents and the exercise lie
//! beside it as they were. Codes go along, names do not.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

use crate::zipped::{ZipFault, pack, unzip};

/// Names the layout of [`Bundle`]; the number rises when a field changes its meaning.
pub const SCHEMA: &str = "kerfwright-bundle-1";
/// The description's name in the archive.
const DESCRIPTION: &str = "bundle.json";
/// Most that a bundle unpacks to.
const MOST_MB: u64 = 1024;

/// One attempt.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Bundle {
    /// [`SCHEMA`].
    pub schema: String,
    /// SHA-256 of every other file in the archive, by name.
    pub files: BTreeMap<String, String>,
    /// The attempt.
    pub attempt: BundleAttempt,
    /// The scans: roles `after`, `before`, `opposing`.
    pub scans: BTreeMap<String, BundleScan>,
    /// The documents, oldest first.
    pub documents: Vec<BundleDocument>,
    /// The exercise, if it was held against one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub exercise: Option<BundleExercise>,
    /// The grades, each with the decisions on it.
    #[serde(default)]
    pub grades: Vec<BundleGrade>,
    /// Remarks that were not removed.
    #[serde(default)]
    pub remarks: Vec<BundleRemark>,
}

/// What was asked, by whom.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BundleAttempt {
    /// Hash of all that makes the attempt what it is.
    pub identity: String,
    /// All that was asked, JSON.
    pub request: String,
    /// The tooth.
    pub fdi: u8,
    /// Code of the learner.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub learner: Option<String>,
    /// The stage.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stage: Option<String>,
    /// The day of cutting.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub taken: Option<String>,
}

/// One scan; its file is called by its hash.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BundleScan {
    /// Name in the archive.
    pub name: String,
    /// Name of the file as first given.
    pub file: String,
    /// SHA-256 of its bytes.
    pub sha256: String,
    /// Format, in words.
    pub format: String,
    /// After repair.
    pub n_triangles: i64,
    /// Sides of the box around it.
    pub size_mm: [f64; 3],
    /// What was found and repaired.
    pub findings: Vec<String>,
}

/// One document.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BundleDocument {
    /// Name in the archive.
    pub name: String,
    /// Version of the program.
    pub version: String,
    /// The document's schema.
    pub layout: String,
}

/// The exercise.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BundleExercise {
    /// Its name.
    pub name: String,
    /// What people call it.
    pub title: String,
    /// Complete TOML.
    pub toml: String,
}

/// A computed grade.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BundleGrade {
    /// The stage.
    pub stage: String,
    /// Version of the program.
    pub version: String,
    /// As computed, JSON.
    pub grade: String,
    /// Decisions on it, in order: by, reason, change.
    pub overrides: Vec<[String; 3]>,
}

/// A remark.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BundleRemark {
    /// Frame of the after scan.
    pub at_mm: [f64; 3],
    /// What is said.
    pub text: String,
    /// Code of who says it.
    pub author: String,
}

/// Why a bundle is not taken.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum BundleFault {
    /// The archive.
    #[error(transparent)]
    Zip(#[from] ZipFault),
    /// No description, or one of another layout.
    #[error(
        "is no bundle of an attempt that this version reads ({0}); export it again with kerf class export"
    )]
    Description(String),
    /// A file that is not what the description says.
    #[error("`{name}` {fault}; the bundle was changed or broke off: export it again")]
    File {
        /// The file.
        name: String,
        /// What is wrong.
        fault: &'static str,
    },
}

/// Packs an attempt; the hashes are filled in here.
///
/// # Errors
/// [`ZipFault`] of an archive that cannot be written.
pub fn write(mut bundle: Bundle, mut files: BTreeMap<String, Vec<u8>>) -> Result<Vec<u8>, BundleFault> {
    bundle.files = files.iter().map(|(name, bytes)| (name.clone(), hash(bytes))).collect();
    let text =
        serde_json::to_vec_pretty(&bundle).map_err(|error| BundleFault::Description(error.to_string()))?;
    files.insert(DESCRIPTION.into(), text);
    Ok(pack(&files)?)
}

/// Unpacks an attempt and checks every part against its hash.
///
/// # Errors
/// [`BundleFault`]; then nothing of it is to be trusted.
pub fn read(bytes: &[u8]) -> Result<(Bundle, BTreeMap<String, Vec<u8>>), BundleFault> {
    let mut files = unzip(bytes, MOST_MB)?;
    let text = files.remove(DESCRIPTION).ok_or_else(|| BundleFault::Description("no bundle.json".into()))?;
    let unread = |error: serde_json::Error| BundleFault::Description(error.to_string());
    let schema: serde_json::Value = serde_json::from_slice(&text).map_err(unread)?;
    if schema.get("schema").and_then(|schema| schema.as_str()) != Some(SCHEMA) {
        return Err(BundleFault::Description(format!("its layout is not {SCHEMA}")));
    }
    let bundle: Bundle = serde_json::from_value(schema).map_err(unread)?;
    let fault = |name: &str, fault| BundleFault::File { name: name.into(), fault };
    for (name, expected) in &bundle.files {
        let found = files.get(name).ok_or_else(|| fault(name, "is missing"))?;
        if hash(found) != *expected {
            return Err(fault(name, "has another hash than the description says"));
        }
    }
    if let Some(name) = files.keys().find(|name| !bundle.files.contains_key(*name)) {
        return Err(fault(name, "is not in the description"));
    }
    for scan in bundle.scans.values() {
        if bundle.files.get(&scan.name) != Some(&scan.sha256) {
            return Err(fault(&scan.name, "is not the scan that it is said to be"));
        }
    }
    if let Some(missing) = bundle.documents.iter().find(|document| !files.contains_key(&document.name)) {
        return Err(fault(&missing.name, "is missing"));
    }
    if !bundle.scans.contains_key("after") {
        return Err(fault("after", "is missing"));
    }
    Ok((bundle, files))
}

fn hash(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().map(|byte| format!("{byte:02x}")).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn bundle() -> (Bundle, BTreeMap<String, Vec<u8>>) {
        let scan = BundleScan {
            name: "after.scan".into(),
            file: "QS-01.stl".into(),
            sha256: hash(b"scan"),
            format: "STL, binary".into(),
            n_triangles: 1,
            size_mm: [1.0, 2.0, 3.0],
            findings: Vec::new(),
        };
        let attempt = BundleAttempt {
            identity: "i".into(),
            request: "{}".into(),
            fdi: 26,
            learner: Some("QS-01".into()),
            stage: None,
            taken: None,
        };
        let document =
            BundleDocument { name: "0.json".into(), version: "0.1.0".into(), layout: "layout".into() };
        let bundle = Bundle {
            schema: SCHEMA.into(),
            files: BTreeMap::new(),
            attempt,
            scans: BTreeMap::from([("after".to_owned(), scan)]),
            documents: vec![document],
            exercise: None,
            grades: Vec::new(),
            remarks: Vec::new(),
        };
        let files = BTreeMap::from([
            ("after.scan".to_owned(), b"scan".to_vec()),
            ("0.json".to_owned(), b"{}".to_vec()),
        ]);
        (bundle, files)
    }

    #[test]
    fn a_bundle_is_read_as_it_was_written() {
        let (given, files) = bundle();
        let (read_again, read_files) = read(&write(given.clone(), files.clone()).unwrap()).unwrap();
        assert_eq!(read_files, files);
        assert_eq!(Bundle { files: BTreeMap::new(), ..read_again }, given);
    }

    #[test]
    fn a_bundle_that_was_changed_is_refused() {
        let (given, files) = bundle();
        let packed = write(given, files).unwrap();
        let changed = |change: fn(&mut BTreeMap<String, Vec<u8>>)| {
            let mut files = unzip(&packed, 1).unwrap();
            change(&mut files);
            read(&pack(&files).unwrap()).unwrap_err().to_string()
        };
        let told = changed(|files| drop(files.insert("after.scan".into(), b"other".to_vec())));
        assert!(told.starts_with("`after.scan` has another hash"), "{told}");
        let told = changed(|files| drop(files.remove("0.json")));
        assert!(told.starts_with("`0.json` is missing"), "{told}");
        let told = changed(|files| drop(files.insert("more".into(), Vec::new())));
        assert!(told.starts_with("`more` is not in the description"), "{told}");
        let told = changed(|files| {
            let text = String::from_utf8(files[DESCRIPTION].clone()).unwrap();
            files.insert(DESCRIPTION.into(), text.replace("bundle-1", "bundle-9").into_bytes());
        });
        assert!(told.starts_with("is no bundle"), "{told}");
    }
}
