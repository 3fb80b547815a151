//! Who may sign in, who did what, and whose a scan is.

use kerfwright_store::{OwnExerciseRow, Store};

use crate::bench::Bench;
use crate::common::keep_scan;

async fn store_with_accounts(bench: &Bench) -> Store {
    let store = bench.open().await;
    assert!(!store.has_accounts().await.unwrap());
    assert!(store.add_account("QS-D1", "director", None, "hash of D1").await.unwrap());
    assert!(store.add_account("qs-07", "learner", Some("QS-07"), "hash of 07").await.unwrap());
    store
}

pub async fn an_account_is_one_however_it_is_written(bench: &Bench) {
    let store = store_with_accounts(bench).await;
    assert!(!store.add_account("qs-d1", "instructor", None, "another").await.unwrap());
    let (row, hash) = store.account("Qs-d1").await.unwrap().unwrap();
    assert_eq!((row.code.as_str(), row.role.as_str(), hash.as_str()), ("QS-D1", "director", "hash of D1"));
    assert!(store.set_password("QS-d1", "hash 2").await.unwrap());
    assert_eq!(store.account("QS-D1").await.unwrap().unwrap().1, "hash 2");
    assert_eq!(store.account("QS-D2").await.unwrap(), None);
    let codes: Vec<String> = store.accounts().await.unwrap().into_iter().map(|row| row.code).collect();
    assert_eq!(codes, ["QS-D1", "qs-07"], "by role");
    assert!(store.add_account("QS-08", "learner", None, "hash").await.is_err(), "a learner without work");
}

pub async fn signing_in_ends(bench: &Bench) {
    let store = store_with_accounts(bench).await;
    store.sign_in("qs-D1", "token", 600).await.unwrap();
    let row = store.signed_in("token", 300).await.unwrap().unwrap();
    assert_eq!(row.code, "QS-D1");
    assert_eq!(store.signed_in("other", 300).await.unwrap(), None);
    assert_eq!(store.signed_in("token", 0).await.unwrap(), None, "left idle");
    store.sign_in("QS-D1", "short", 0).await.unwrap();
    assert_eq!(store.signed_in("short", 300).await.unwrap(), None, "its time is over");
    bench.meddle("UPDATE sign_ins SET used = '2000-01-01T00:00:00.000Z' WHERE token = 'token'").await;
    assert_eq!(store.signed_in("token", 300).await.unwrap(), None);
    store.sign_out("token").await.unwrap();
    assert_eq!(store.signed_in("token", 4_000_000_000).await.unwrap(), None);
    assert!(store.sign_in("nobody", "token", 600).await.is_err());
}

pub async fn an_account_that_goes_is_signed_out(bench: &Bench) {
    let store = store_with_accounts(bench).await;
    store.sign_in("QS-D1", "one", 600).await.unwrap();
    store.sign_in("qs-07", "two", 600).await.unwrap();
    assert!(store.set_password("QS-07", "hash 2").await.unwrap());
    assert_eq!(store.signed_in("two", 300).await.unwrap(), None);
    assert!(store.remove_account("qs-d1").await.unwrap());
    assert!(!store.remove_account("qs-d1").await.unwrap());
    assert_eq!(store.signed_in("one", 300).await.unwrap(), None);
}

pub async fn the_trail_names_who(bench: &Bench) {
    let store = store_with_accounts(bench).await.acting_as("QS-D1");
    store.note_refused_sign_in("QS-09").await.unwrap();
    store.add_account("QS-I1", "instructor", None, "hash").await.unwrap();
    let told: Vec<_> =
        store.audit(2).await.unwrap().into_iter().map(|row| (row.who, row.what, row.subject)).collect();
    let line = |who: &str, what: &str, subject: &str| (who.to_owned(), what.to_owned(), subject.to_owned());
    assert_eq!(
        told,
        [line("QS-D1", "account added", "QS-I1"), line("unknown", "sign-in refused", "QS-09")],
        "the latest first"
    );
    let at = &store.audit(1).await.unwrap()[0].at;
    assert!(at.len() == 24 && at.as_bytes()[10] == b'T' && at.ends_with('Z'), "{at}");
}

pub async fn scans_belong_to_who_sent_them(bench: &Bench) {
    let store = bench.open().await;
    let scan = keep_scan(&store, "one.stl", b"one").await;
    assert!(!store.is_own_scan(&scan, "QS-07").await.unwrap());
    store.note_sender(&scan, Some("QS-07"), "mine.stl").await.unwrap();
    store.note_sender(&scan, Some("QS-07"), "mine again.stl").await.unwrap();
    assert!(store.is_own_scan(&scan, "QS-07").await.unwrap());
    assert!(!store.is_own_scan(&scan, "QS-08").await.unwrap());
    assert_eq!(store.sent_as(&scan, "QS-07").await.unwrap().as_deref(), Some("mine again.stl"));
    assert!(store.note_sender("none", Some("QS-07"), "x").await.is_err());
}

pub async fn own_exercises_stay(bench: &Bench) {
    let store = bench.open().await;
    let row =
        |text: &str| OwnExerciseRow { name: "own-1".into(), file: "own.toml".into(), text: text.into() };
    store.keep_own_exercise(&row("first")).await.unwrap();
    store.keep_own_exercise(&row("second")).await.unwrap();
    assert_eq!(store.own_exercise("own-1").await.unwrap(), Some(row("first")));
    assert_eq!(store.own_exercises().await.unwrap(), [row("first")]);
    assert_eq!(store.own_exercise("own-2").await.unwrap(), None);
}
