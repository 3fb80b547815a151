//! Everything goes from any place to any other, and nothing is there before all of it is.

use std::collections::BTreeSet;

use crate::bench::Bench;
use crate::common::{attempt, class_in, keep_scan};
use kerfwright_store::{COPIED, Chosen, LEFT, NewGrading, NewRemark, Place, RatingRow, Store, StoreError};

/// A store of which every table that is copied has rows.
async fn full(bench: &Bench) -> Store {
    let (store, exercise) = class_in(bench.open().await).await;
    let mut ids = Vec::new();
    for learner in ["QS-01", "QS-02"] {
        let scan = keep_scan(&store, &format!("{learner}.stl"), learner.as_bytes()).await;
        store.note_sender(&scan, Some(learner), "mine.stl").await.unwrap();
        ids.push(store.keep_measured(&attempt(learner, &scan, &exercise, 1.0 / 3.0)).await.unwrap());
    }
    let gone = keep_scan(&store, "gone.stl", b"gone").await;
    store.keep_measured(&attempt("QS-03", &gone, &exercise, 0.5)).await.unwrap();
    bench.meddle("UPDATE scans SET erased = '2026-11-30' WHERE file = 'gone.stl'").await;
    let remark = NewRemark {
        at: [0.1, -2.0, 1e-9],
        text: "a lip here, at 0\u{202f}°; 'so'".into(),
        author: "QS-I1".into(),
    };
    store.add_remark(&ids[0], &remark).await.unwrap();
    let grade = store.grades(&ids[0]).await.unwrap().remove(0).id;
    store.add_override(&grade, "QS-I1", "because", "{}").await.unwrap();
    let grading = NewGrading {
        title: "Calibration".into(),
        exercise: "quayside-26".into(),
        stage: "final".into(),
        criteria: "[]".into(),
        is_calibration: true,
        sheets: vec![(
            "QS-E1".into(),
            vec![("G001".into(), ids[0].clone()), ("G002".into(), ids[1].clone())],
        )],
    };
    let grading = store.add_grading(&grading).await.unwrap();
    assert!(store.give_marks(&grading, "QS-E1", "G001", &[("taper".into(), 1.0)]).await.unwrap());
    let rating = RatingRow {
        examiner: "QS-E2".into(),
        attempt: ids[1].clone(),
        criterion: "taper".into(),
        occasion: 1,
        value: 0.1 + 0.2,
    };
    store.keep_ratings(&[rating], "QS-I1").await.unwrap();
    store.reserve_numbers(&[("to come".into(), Some("QS-01".into()))]).await.unwrap();
    let own =
        kerfwright_store::OwnExerciseRow { name: "own-1".into(), file: "own.toml".into(), text: "x".into() };
    store.keep_own_exercise(&own).await.unwrap();
    store.add_account("QS-D1", "director", None, "hash").await.unwrap();
    store
}

pub async fn all_of_it_goes_into_a_folder_and_back(bench: &Bench) {
    let store = full(bench).await;
    for (table, _) in COPIED {
        bench.meddle(&format!("SELECT 1 / (SELECT count(*) FROM {table})")).await;
    }
    let folder = tempfile::tempdir().unwrap();
    let copy = Store::open(folder.path()).await.unwrap();
    let checked = store.copy_to(&copy, |_, _| ()).await.unwrap();
    assert_eq!((checked.scans, checked.attempts), (2, 3));
    assert_eq!(copy.check().await.unwrap(), checked);
    let all = Chosen::default();
    assert_eq!(copy.class_attempts(&all).await.unwrap(), store.class_attempts(&all).await.unwrap());
    assert_eq!(
        copy.class_readings(&all, None).await.unwrap(),
        store.class_readings(&all, None).await.unwrap()
    );
    assert_eq!(copy.ratings().await.unwrap(), store.ratings().await.unwrap());
    assert_eq!(copy.learners().await.unwrap(), store.learners().await.unwrap());
    assert!(matches!(store.copy_to(&copy, |_, _| ()).await, Err(StoreError::Occupied { .. })));

    // What was copied lives: numbers go on after the reserved one.
    let scan = keep_scan(&copy, "more.stl", b"more").await;
    let exercise = copy.exercises().await.unwrap()[0].id.clone();
    copy.keep_measured(&attempt("QS-09", &scan, &exercise, 0.5)).await.unwrap();
    assert_eq!(copy.class_attempts(&all).await.unwrap().iter().map(|row| row.number).max(), Some(5));

    // And back, into a place of the same kind as the first.
    let back = Bench::new(bench.backend()).await;
    let again = back.open().await;
    copy.copy_to(&again, |_, _| ()).await.unwrap();
    assert_eq!(again.class_attempts(&all).await.unwrap(), copy.class_attempts(&all).await.unwrap());
    again
        .add_override(
            &again.grades(&again.ratings().await.unwrap()[0].attempt).await.unwrap()[0].id,
            "QS-I1",
            "more",
            "{}",
        )
        .await
        .unwrap();
    assert_eq!(again.all_overrides().await.unwrap().len(), 2);
    again.close().await;
    back.end().await;
}

pub async fn what_is_damaged_or_breaks_off_leaves_nothing_there(bench: &Bench) {
    let store = full(bench).await;
    let folder = tempfile::tempdir().unwrap();
    let copy = Store::open_at(&Place::folder(folder.path())).await.unwrap();
    // Broken off after the first scan.
    let cut = std::panic::AssertUnwindSafe(store.copy_to(&copy, |_, _| panic!("cut off")));
    assert!(futures_cut(cut).await);
    let all = Chosen::default();
    assert!(copy.class_attempts(&all).await.unwrap().is_empty() && copy.learners().await.unwrap().is_empty());
    // A scan that is not what it was.
    let scan = store.class_attempts(&all).await.unwrap()[0].id.clone();
    let scan = store.attempt(&scan).await.unwrap().unwrap().after;
    let file = bench.scans().join(format!("{scan}.scan"));
    let bytes = std::fs::read(&file).unwrap();
    std::fs::write(&file, b"other").unwrap();
    assert!(matches!(store.copy_to(&copy, |_, _| ()).await, Err(StoreError::Unsound { .. })));
    assert!(copy.class_attempts(&all).await.unwrap().is_empty());
    std::fs::write(&file, bytes).unwrap();
    // It can be repeated.
    assert_eq!(store.copy_to(&copy, |_, _| ()).await.unwrap().attempts, 3);
}

/// Whether a future panicked.
async fn futures_cut<T>(future: std::panic::AssertUnwindSafe<impl Future<Output = T>>) -> bool {
    let mut future = Box::pin(future.0);
    std::future::poll_fn(|context| {
        let polled = std::panic::AssertUnwindSafe(|| future.as_mut().poll(context));
        match std::panic::catch_unwind(polled) {
            Ok(std::task::Poll::Pending) => std::task::Poll::Pending,
            Ok(std::task::Poll::Ready(_)) => std::task::Poll::Ready(false),
            Err(_) => std::task::Poll::Ready(true),
        }
    })
    .await
}

pub async fn every_table_is_copied_or_left_for_a_reason(bench: &Bench) {
    bench.open().await.close().await;
    let known: BTreeSet<String> =
        COPIED.iter().map(|(table, _)| *table).chain(LEFT).map(str::to_owned).collect();
    assert_eq!(bench.tables().await, known);
}
