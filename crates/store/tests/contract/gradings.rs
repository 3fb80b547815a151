//! Blind gradings: what is drawn stays, what is given is given once, and what is deleted leaves no place behind.

use crate::bench::Bench;
use crate::common::{attempt, class_in, keep_scan};
use kerfwright_store::{NewGrading, Store};

async fn three_attempts(store: &Store, exercise: &str) -> Vec<String> {
    let mut ids = Vec::new();
    for learner in ["QS-01", "QS-02", "QS-03"] {
        let scan = keep_scan(store, &format!("{learner}.stl"), learner.as_bytes()).await;
        ids.push(store.keep_measured(&attempt(learner, &scan, exercise, 0.5)).await.unwrap());
    }
    ids
}

/// QS-E1 sees the first attempt twice, QS-E2 each once.
fn new_grading(ids: &[String]) -> NewGrading {
    let sheet = |codes: &[(&str, usize)]| {
        codes.iter().map(|&(code, attempt)| (code.to_owned(), ids[attempt].clone())).collect()
    };
    NewGrading {
        title: "Calibration".into(),
        exercise: "quayside-26".into(),
        stage: "final".into(),
        criteria: "[]".into(),
        is_calibration: true,
        sheets: vec![
            ("QS-E1".into(), sheet(&[("G003", 1), ("G001", 0), ("G004", 2), ("G002", 0)])),
            ("QS-E2".into(), sheet(&[("G002", 2), ("G001", 0), ("G003", 1)])),
        ],
    }
}

pub async fn a_code_is_graded_once_and_its_second_sight_is_the_next_occasion(bench: &Bench) {
    let (store, exercise) = class_in(bench.open().await).await;
    let ids = three_attempts(&store, &exercise).await;
    let grading = store.add_grading(&new_grading(&ids)).await.unwrap();
    let codes = |places: Vec<kerfwright_store::SheetPlace>| {
        places.into_iter().map(|place| place.code).collect::<Vec<_>>()
    };
    assert_eq!(codes(store.sheet(&grading, "qs-e1").await.unwrap()), ["G003", "G001", "G004", "G002"]);
    assert!(store.sheet(&grading, "QS-E3").await.unwrap().is_empty());
    let marks = |value: f64| [("taper".to_owned(), value), ("width".to_owned(), 2.0)];
    for (code, value) in [("G001", 1.0), ("G002", 0.0)] {
        // However the code is written, the examiner is one.
        assert!(store.give_marks(&grading, "qs-e1", code, &marks(value)).await.unwrap());
        assert!(!store.give_marks(&grading, "QS-E1", code, &marks(2.0)).await.unwrap(), "given already");
    }
    assert!(!store.give_marks(&grading, "QS-E1", "G009", &marks(2.0)).await.unwrap());
    assert!(!store.give_marks("none", "QS-E1", "G003", &marks(2.0)).await.unwrap());
    let given: Vec<_> = store
        .ratings()
        .await
        .unwrap()
        .into_iter()
        .filter(|row| row.criterion == "taper")
        .map(|row| (row.examiner, row.attempt, row.occasion, row.value))
        .collect();
    let by = |occasion, value| ("QS-E1".to_owned(), ids[0].clone(), occasion, value);
    assert_eq!(given, [by(1, 1.0), by(2, 0.0)]);
    let marks = store.marks(&grading, "qs-e1").await.unwrap();
    let told: Vec<_> = marks
        .iter()
        .map(|mark| (mark.code.as_str(), &mark.attempt, mark.criterion.as_str(), mark.value))
        .collect();
    let first = &ids[0];
    let both = |code, value| [(code, first, "taper", value), (code, first, "width", 2.0)];
    assert_eq!(told, [both("G001", 1.0), both("G002", 0.0)].concat(), "by code, in the order of the sheet");
    assert!(store.gradings().await.unwrap()[0].is_calibration);
    let sheets = store.sheets().await.unwrap();
    let far: Vec<_> = sheets.iter().map(|row| (row.examiner.as_str(), row.n, row.n_given)).collect();
    assert_eq!(far, [("QS-E1", 4, 2), ("QS-E2", 3, 0)]);
    assert!(store.remove_grading(&grading).await.unwrap() && !store.remove_grading(&grading).await.unwrap());
    assert!(!store.has_open_sheet("QS-E2").await.unwrap());
    assert!(store.marks(&grading, "QS-E1").await.unwrap().is_empty());
    assert_eq!(store.ratings().await.unwrap().len(), 4, "what was given stays");
}

pub async fn a_deleted_learner_leaves_no_place_on_a_sheet(bench: &Bench) {
    let (store, exercise) = class_in(bench.open().await).await;
    let ids = three_attempts(&store, &exercise).await;
    let grading = store.add_grading(&new_grading(&ids)).await.unwrap();
    for code in ["G003", "G004"] {
        assert!(store.give_marks(&grading, "QS-E1", code, &[("taper".to_owned(), 1.0)]).await.unwrap());
    }
    assert!(store.has_open_sheet("QS-E1").await.unwrap());
    store.delete_learner("QS-01", "QS-D1").await.unwrap();
    assert!(!store.has_open_sheet("qs-e1").await.unwrap(), "the two places of QS-01 are gone");
    assert_eq!(store.sheet(&grading, "QS-E2").await.unwrap().len(), 2);
    let trail = store.audit(50).await.unwrap();
    assert!(
        trail
            .iter()
            .filter(|row| row.what == "graded blind")
            .all(|row| row.subject == grading && row.who == "QS-E1")
    );
    assert_eq!(store.check().await.unwrap().attempts, 2);
}
