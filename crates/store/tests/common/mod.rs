//! A small class of the Quayside Skills Lab.
#![allow(dead_code, reason = "every test program takes what it needs")]

use std::fmt::Write;
use std::path::Path;

use kerfwright_exchange::{Roster, RosterCohort, RosterLearner};
use kerfwright_store::{Measured, NewGrade, NewMeasured, RosterOptions, ScanRow, SessionRow, Store};
use sha2::{Digest, Sha256};

pub const VERSION: &str = "0.1.0";

pub fn hash(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().fold(String::new(), |mut text, byte| {
        write!(text, "{byte:02x}").unwrap();
        text
    })
}

/// Keeps some bytes as a scan and gives its id.
pub async fn keep_scan(store: &Store, file: &str, bytes: &[u8]) -> String {
    let row = ScanRow {
        id: hash(bytes),
        file: file.into(),
        n_bytes: bytes.len() as i64,
        format: "STL, binary".into(),
        n_triangles: 1,
        size_mm: [1.0, 2.0, 3.0].into(),
        findings: Vec::new().into(),
        created: String::new(),
        erased: None,
    };
    store.keep_scan(&row, bytes).await.unwrap().id
}

/// The document that a measurement of these values becomes, as far as the store looks into it.
pub fn document(file: &str, width_mm: f64) -> String {
    format!(
        r#"{{"inputs": {{"after": {{"file": "{file}"}}}},
            "readings": {{
              "finish_line.width.distal_mm": {{"value": {width_mm}, "unit": "mm", "u95": 0.04, "least": 0.3, "seen_pct": 91,
                "where": {{"point": [1, 2, 3], "aspect": "distal", "angle_deg": 181.5}}, "note": "n"}},
              "finish_line.kind": {{"value": "chamfer", "unit": ""}}
            }},
            "refused": {{"contact.mesial_mm": "no neighbour"}}}}"#
    )
}

/// An attempt of a learner for an exercise; its scan says whose it is and which.
pub fn attempt(learner: &str, scan: &str, exercise: &str, width_mm: f64) -> NewMeasured {
    NewMeasured {
        identity: hash(format!("{learner} {scan}").as_bytes()),
        scans: (scan.into(), None, None),
        request: format!(r#"{{"after":"{scan}","tooth":"26","learner":"{learner}"}}"#),
        fdi: 26,
        learner: Some(learner.into()),
        session: Some("week-1".into()),
        exercise: Some("quayside-26".into()),
        exercise_version: Some(exercise.into()),
        stage: Some("final".into()),
        taken: Some("2026-11-02".into()),
        version: VERSION.into(),
        outcome: Measured::Done {
            layout: "kerfwright-measurement-1".into(),
            document: document(&format!("{learner}.stl"), width_mm),
            grade: Some(NewGrade {
                exercise_version: exercise.into(),
                stage: "final".into(),
                version: VERSION.into(),
                grade: format!(r#"{{"points": 7, "by": "program", "width": {width_mm}}}"#),
            }),
        },
    }
}

/// Two cohorts; QS-02 is in both.
pub fn roster() -> Roster {
    let learner = |code: &str, name: &str| RosterLearner {
        code: Some(code.into()),
        name: Some(name.into()),
        roster_id: None,
    };
    let cohort = |code: &str| RosterCohort { code: code.into(), title: code.into(), roster_id: None };
    Roster {
        learners: vec![
            learner("QS-01", "Wilhelmina Tide"),
            learner("QS-02", "Barnaby Shoal"),
            learner("QS-03", "Ottoline Reef"),
        ],
        cohorts: vec![cohort("spring"), cohort("autumn")],
        members: vec![(0, 0), (0, 1), (1, 1), (1, 2)],
        leaving: Vec::new(),
    }
}

pub const OPTIONS: RosterOptions<'_> = RosterOptions { who: "QS-D1", prefix: "QS", with_names: true };

/// Roster, session and exercise; gives the version of the exercise.
pub async fn class(folder: &Path) -> (Store, String) {
    class_in(Store::open(folder).await.unwrap()).await
}

/// The same in a store that is open.
pub async fn class_in(store: Store) -> (Store, String) {
    store.take_roster(&roster(), &OPTIONS).await.unwrap();
    let session = SessionRow {
        code: "week-1".into(),
        title: "Week 1".into(),
        cohort: Some("spring".into()),
        instructor: Some("QS-I1".into()),
        held: Some("2026-11-02".into()),
    };
    store.keep_session(&session, "QS-D1").await.unwrap();
    let exercise =
        store.keep_exercise("quayside-26", "Crown on 26", "name = \"quayside-26\"\n").await.unwrap();
    (store, exercise)
}
