//! What is acknowledged stays.

use kerfwright_store::{NewAttempt, NewRemark, ScanRow, State};

use crate::bench::Bench;

fn scan(id: &str, file: &str) -> ScanRow {
    ScanRow {
        id: id.into(),
        file: file.into(),
        n_bytes: 5,
        format: "STL, binary".into(),
        n_triangles: 1,
        size_mm: [1.0, 2.0, 3.0].into(),
        findings: vec!["one hole".to_owned()].into(),
        created: String::new(),
        erased: None,
    }
}

fn attempt(after: &str) -> NewAttempt {
    NewAttempt {
        scans: (after.into(), None, None),
        request: "{}".into(),
        fdi: 26,
        learner: Some("QS-07".into()),
        exercise: None,
    }
}

pub async fn the_same_bytes_are_one_scan(bench: &Bench) {
    let store = bench.open().await;
    let first = store.keep_scan(&scan("aa", "one.stl"), b"bytes").await.unwrap();
    let again = store.keep_scan(&scan("aa", "two.stl"), b"bytes").await.unwrap();
    assert_eq!(first, again);
    assert_eq!(again.file, "one.stl");
    assert_eq!(store.scan_bytes("aa").await.unwrap().unwrap(), b"bytes");
}

pub async fn what_ran_when_the_program_ended_waits_again(bench: &Bench) {
    let store = bench.open().await;
    store.keep_scan(&scan("aa", "one.stl"), b"bytes").await.unwrap();
    let mut ids = Vec::new();
    for _ in 0..3 {
        ids.push(store.add_attempt(&attempt("aa")).await.unwrap());
    }
    store.set_state(&ids[0], State::Running, None).await.unwrap();
    store.set_state(&ids[1], State::Refused, Some(("find", "no prepared tooth"))).await.unwrap();
    store.keep_document(&ids[1], "0.1.0", "layout", "{\"a\":1}").await.unwrap();
    drop(store);
    let store = bench.open().await;
    store.requeue().await.unwrap();
    let waiting: Vec<String> = store.waiting().await.unwrap().into_iter().map(|row| row.id).collect();
    assert_eq!(waiting, [ids[0].clone(), ids[2].clone()], "oldest first");
    let refused = store.attempt(&ids[1]).await.unwrap().unwrap();
    assert_eq!(
        (refused.state.as_str(), refused.error_text.as_deref()),
        ("refused", Some("no prepared tooth"))
    );
    assert_eq!(store.document(&ids[1]).await.unwrap().as_deref(), Some("{\"a\":1}"));
    let newest: Vec<String> = store.attempts(2).await.unwrap().into_iter().map(|row| row.id).collect();
    assert_eq!(newest, [ids[2].clone(), ids[1].clone()]);
}

pub async fn an_attempt_needs_scans_that_are_kept(bench: &Bench) {
    let store = bench.open().await;
    assert!(store.add_attempt(&attempt("none")).await.is_err());
}

pub async fn a_removed_remark_can_be_brought_back(bench: &Bench) {
    let store = bench.open().await;
    store.keep_scan(&scan("aa", "one.stl"), b"bytes").await.unwrap();
    let id = store.add_attempt(&attempt("aa")).await.unwrap();
    let new = NewRemark { at: [1.5, -2.0, 3.25], text: "here".into(), author: "QS-I1".into() };
    let added = store.add_remark(&id, &new).await.unwrap();
    assert_eq!([added.x_mm, added.y_mm, added.z_mm], new.at);
    store.set_remark_removed(&id, &added.id, true).await.unwrap().unwrap();
    assert!(store.remarks(&id).await.unwrap().is_empty());
    let back = store.set_remark_removed(&id, &added.id, false).await.unwrap().unwrap();
    assert_eq!(back, added);
    assert_eq!(store.set_remark_removed("other", &added.id, true).await.unwrap(), None);
}
