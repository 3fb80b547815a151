//! A backup is whole, and a damaged one is told.

mod common;

use std::fs;

use common::{attempt, class, keep_scan};
use kerfwright_store::{Chosen, Store, StoreError, check_backup};

async fn backed_up() -> (tempfile::TempDir, kerfwright_store::Checked) {
    let folder = tempfile::tempdir().unwrap();
    let (store, exercise) = class(&folder.path().join("data")).await;
    for learner in ["QS-01", "QS-02"] {
        let scan = keep_scan(&store, learner, learner.as_bytes()).await;
        store.keep_measured(&attempt(learner, &scan, &exercise, 0.5)).await.unwrap();
    }
    let checked = store.backup(&folder.path().join("backup")).await.unwrap();
    (folder, checked)
}

#[tokio::test]
async fn what_is_restored_is_what_was_kept() {
    let (folder, checked) = backed_up().await;
    assert_eq!((checked.scans, checked.attempts), (2, 2));
    let restored = folder.path().join("restored");
    Store::restore(&folder.path().join("backup"), &restored).await.unwrap();
    let (was, is) =
        (Store::open(&folder.path().join("data")).await.unwrap(), Store::open(&restored).await.unwrap());
    is.check().await.unwrap();
    let all = Chosen::default();
    assert_eq!(is.class_attempts(&all).await.unwrap(), was.class_attempts(&all).await.unwrap());
    assert_eq!(is.class_readings(&all, None).await.unwrap(), was.class_readings(&all, None).await.unwrap());
    assert_eq!(is.class_grades(&all).await.unwrap(), was.class_grades(&all).await.unwrap());
    assert_eq!(is.learners().await.unwrap(), was.learners().await.unwrap());
    for row in was.attempts(9).await.unwrap() {
        assert_eq!(is.scan_bytes(&row.after).await.unwrap(), was.scan_bytes(&row.after).await.unwrap());
    }
}

/// What becomes of a file; `None` takes it away.
type Damage = fn(&[u8]) -> Option<Vec<u8>>;

#[tokio::test]
async fn every_kind_of_damage_is_told_and_nothing_restored() {
    let (folder, _) = backed_up().await;
    let backup = folder.path().join("backup");
    let scan = fs::read_dir(backup.join("scans")).unwrap().next().unwrap().unwrap().path();
    let damages: [(&str, &std::path::Path, Damage); 5] = [
        ("a flipped bit in the database", &backup.join("kerfwright.sqlite"), |bytes| {
            let mut bytes = bytes.to_vec();
            bytes[5000] ^= 1;
            Some(bytes)
        }),
        ("a scan cut short", &scan, |bytes| Some(bytes[1..].to_vec())),
        ("a missing scan", &scan, |_| None),
        ("a list that names other places", &backup.join("SHA256SUMS"), |bytes| {
            let text = String::from_utf8(bytes.to_vec()).unwrap();
            Some(text.replace("scans/", "../").into_bytes())
        }),
        ("a list with a line too few", &backup.join("SHA256SUMS"), |bytes| {
            let text = String::from_utf8(bytes.to_vec()).unwrap();
            Some(text.lines().take(2).map(|line| format!("{line}\n")).collect::<String>().into_bytes())
        }),
    ];
    for (what, path, damage) in damages {
        let sound = fs::read(path).unwrap();
        match damage(&sound) {
            Some(bytes) => fs::write(path, bytes).unwrap(),
            None => fs::remove_file(path).unwrap(),
        }
        let restored = folder.path().join("restored");
        let fault = Store::restore(&backup, &restored).await.unwrap_err();
        assert!(matches!(fault, StoreError::Unsound { .. }), "{what}: {fault}");
        assert!(!restored.exists(), "{what}");
        fs::write(path, sound).unwrap();
        check_backup(&backup).await.unwrap();
    }
}

#[tokio::test]
async fn nothing_is_written_over() {
    let (folder, _) = backed_up().await;
    let store = Store::open(&folder.path().join("data")).await.unwrap();
    let taken = store.backup(&folder.path().join("backup")).await.unwrap_err();
    assert!(matches!(taken, StoreError::Taken { .. }), "{taken}");
    let taken = Store::restore(&folder.path().join("backup"), &folder.path().join("data")).await.unwrap_err();
    assert!(matches!(taken, StoreError::Taken { .. }), "{taken}");
}

#[tokio::test]
async fn a_kept_scan_that_changed_is_found() {
    let (folder, _) = backed_up().await;
    let store = Store::open(&folder.path().join("data")).await.unwrap();
    let row = store.attempts(1).await.unwrap().remove(0);
    fs::write(folder.path().join(format!("data/scans/{}.scan", row.after)), b"other").unwrap();
    assert!(matches!(store.check().await.unwrap_err(), StoreError::Unsound { .. }));
}
