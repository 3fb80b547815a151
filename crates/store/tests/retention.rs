//! What is deleted is in no file any more.

mod common;

use std::fs;
use std::path::Path;

use common::{attempt, class, keep_scan};
use kerfwright_store::{Chosen, NewMeasured, NewRemark, RatingRow, Store};

/// Names of the files under a folder that hold some bytes.
fn files_with(folder: &Path, bytes: &[u8]) -> Vec<String> {
    let mut found = Vec::new();
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            found.extend(files_with(&path, bytes));
        } else if fs::read(&path).unwrap().windows(bytes.len()).any(|window| window == bytes) {
            found.push(path.file_name().unwrap().to_string_lossy().into_owned());
        }
    }
    found
}

/// Bytes of a scan that are like no others.
fn scan_of(learner: &str) -> Vec<u8> {
    (0..20_000).flat_map(|n| format!("{learner} facet {n} ").into_bytes()).collect()
}

/// Three learners, each with attempts, a remark and a rating; all share the scan of the uncut tooth.
async fn busy_class(folder: &Path) -> Store {
    let (store, exercise) = class(folder).await;
    let before = keep_scan(&store, "uncut.stl", b"uncut tooth of the exercise").await;
    for learner in ["QS-01", "QS-02", "QS-03"] {
        for number in 0..12 {
            let mut bytes = scan_of(learner);
            bytes.push(number);
            let scan = keep_scan(&store, &format!("{learner}_{number}.stl"), &bytes).await;
            let mut new: NewMeasured = attempt(learner, &scan, &exercise, 0.5);
            new.scans.1 = Some(before.clone());
            new.session = (learner == "QS-02" && number < 4).then(|| "week-1".into());
            let id = store.keep_measured(&new).await.unwrap();
            let remark =
                NewRemark { at: [0.0; 3], text: format!("{learner} left a lip"), author: learner.into() };
            store.add_remark(&id, &remark).await.unwrap();
            let rating = RatingRow {
                examiner: "QS-I1".into(),
                attempt: id,
                criterion: "width".into(),
                occasion: 1,
                value: 3.0,
            };
            store.keep_ratings(&[rating], "QS-I1").await.unwrap();
        }
    }
    store
}

async fn n_attempts(store: &Store, learner: &str) -> usize {
    let chosen = Chosen { learner: Some(learner.into()), ..Default::default() };
    store.class_attempts(&chosen).await.unwrap().len()
}

#[tokio::test]
async fn a_deleted_learner_is_in_no_file() {
    let folder = tempfile::tempdir().unwrap();
    let store = busy_class(folder.path()).await;
    for trace in ["QS-01", "Wilhelmina Tide", "QS-01 left a lip", "QS-01 facet 7 "] {
        assert!(!files_with(folder.path(), trace.as_bytes()).is_empty(), "the search finds `{trace}` before");
    }
    let removed = store.delete_learner("QS-01", "QS-D1").await.unwrap();
    assert_eq!((removed.learners, removed.attempts, removed.scans), (1, 12, 12));
    for trace in ["QS-01", "Wilhelmina", "facet 7 QS-01"] {
        assert_eq!(files_with(folder.path(), trace.as_bytes()), Vec::<String>::new(), "{trace}");
    }
    assert_eq!(n_attempts(&store, "QS-02").await, 12);
    assert!(!files_with(folder.path(), b"uncut tooth").is_empty(), "what others use stays");
    store.check().await.unwrap();
    assert!(store.delete_learner("QS-01", "QS-D1").await.is_err(), "nobody is deleted twice");
}

#[tokio::test]
async fn a_deleted_cohort_takes_its_own_learners_along() {
    let folder = tempfile::tempdir().unwrap();
    let store = busy_class(folder.path()).await;
    let removed = store.delete_cohort("spring", "QS-D1").await.unwrap();
    // QS-01 was in this cohort alone; QS-02 is also in the other and loses the four attempts of this one's session.
    assert_eq!((removed.learners, removed.attempts, removed.scans), (1, 16, 16));
    assert_eq!([n_attempts(&store, "QS-02").await, n_attempts(&store, "QS-03").await], [8, 12]);
    for trace in ["QS-01", "Wilhelmina", "spring", "week-1"] {
        assert_eq!(files_with(folder.path(), trace.as_bytes()), Vec::<String>::new(), "{trace}");
    }
    store.check().await.unwrap();
}

#[tokio::test]
async fn erased_names_are_in_no_file_and_codes_stay() {
    let folder = tempfile::tempdir().unwrap();
    let store = busy_class(folder.path()).await;
    assert_eq!(store.erase_names(Some("QS-03"), "QS-D1").await.unwrap(), 1);
    assert_eq!(files_with(folder.path(), b"Ottoline"), Vec::<String>::new());
    assert!(!files_with(folder.path(), b"Barnaby").is_empty());
    assert_eq!(store.erase_names(None, "QS-D1").await.unwrap(), 2);
    assert_eq!(files_with(folder.path(), b"Barnaby"), Vec::<String>::new());
    assert_eq!(n_attempts(&store, "QS-03").await, 12);
}

#[tokio::test]
async fn old_scans_go_and_their_readings_stay() {
    let folder = tempfile::tempdir().unwrap();
    let store = busy_class(folder.path()).await;
    assert_eq!(store.erase_scans_before("2000-01-01", "QS-D1").await.unwrap().scans, 0);
    let readings = store.class_readings(&Chosen::default(), None).await.unwrap().len();
    assert_eq!(store.erase_scans_before("2999-01-01", "QS-D1").await.unwrap().scans, 37);
    assert_eq!(files_with(folder.path(), b" facet 7 "), Vec::<String>::new());
    assert_eq!(files_with(folder.path(), b"QS-02_3.stl"), Vec::<String>::new());
    assert_eq!(store.class_readings(&Chosen::default(), None).await.unwrap().len(), readings);
    let attempt = store.attempts(1).await.unwrap().remove(0);
    assert_eq!(store.scan_bytes(&attempt.after).await.unwrap(), None);
    store.check().await.unwrap();
    // The same bytes again bring the scan back.
    let mut bytes = scan_of("QS-03");
    bytes.push(11);
    assert_eq!(keep_scan(&store, "again.stl", &bytes).await, attempt.after);
    assert_eq!(store.scan_bytes(&attempt.after).await.unwrap().unwrap(), bytes);
}

#[tokio::test]
async fn a_deletion_that_broke_off_is_finished_at_the_next_start() {
    let folder = tempfile::tempdir().unwrap();
    let store = busy_class(folder.path()).await;
    let kept: Vec<_> =
        fs::read_dir(folder.path().join("scans")).unwrap().map(|entry| entry.unwrap().path()).collect();
    let copies: Vec<_> = kept.iter().map(|path| (path.clone(), fs::read(path).unwrap())).collect();
    store.delete_learner("QS-01", "QS-D1").await.unwrap();
    store.close().await;
    // As if the program had ended between the rows and the files: the files are there again, and the note of what is to go.
    let gone: Vec<_> = copies.into_iter().filter(|(path, _)| !path.exists()).collect();
    assert_eq!(gone.len(), 12);
    for (path, bytes) in &gone {
        fs::write(path, bytes).unwrap();
        common::doom(folder.path(), path.file_stem().unwrap().to_str().unwrap()).await;
    }
    let store = Store::open(folder.path()).await.unwrap();
    assert!(gone.iter().all(|(path, _)| !path.exists()));
    store.check().await.unwrap();
}
