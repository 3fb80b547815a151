//! Databases of every released version come forward with all they hold.
//!
//! `tests/data/first.sql` is the dump of a database that the store made when it had its first migration alone: two attempts, one of
//! them refused, with scans, a document and a remark.

use kerfwright_store::{Chosen, Store, StoreError};
use sqlx::Executor;
use sqlx::sqlite::SqliteConnectOptions;

const FIRST: &str = include_str!("data/first.sql");

async fn opened(folder: &std::path::Path) -> sqlx::SqlitePool {
    let file = folder.join("kerfwright.sqlite");
    let options = SqliteConnectOptions::new().filename(file).create_if_missing(true).foreign_keys(false);
    sqlx::SqlitePool::connect_with(options).await.unwrap()
}

async fn first(folder: &std::path::Path) {
    let pool = opened(folder).await;
    pool.execute(FIRST).await.unwrap();
    pool.close().await;
}

#[tokio::test]
async fn the_first_version_comes_forward() {
    let folder = tempfile::tempdir().unwrap();
    first(folder.path()).await;
    std::fs::create_dir(folder.path().join("scans")).unwrap();
    let scan = folder
        .path()
        .join(format!("scans/{}.scan", "277089d91c0bdf4f2e6862ba7e4a07605119431f5d13f726dd352b06f1b206a9"));
    std::fs::write(scan, b"bytes").unwrap();
    let store = Store::open(folder.path()).await.unwrap();
    store.check().await.unwrap();
    let attempts = store.class_attempts(&Chosen::default()).await.unwrap();
    let told: Vec<_> = attempts
        .iter()
        .map(|attempt| (attempt.learner.as_deref(), attempt.state.as_str(), attempt.version.as_deref()))
        .collect();
    assert_eq!(told, [(Some("QS-07"), "done", Some("0.1.0")), (Some("QS-08"), "refused", None)]);
    let codes: Vec<String> =
        store.learners().await.unwrap().into_iter().map(|learner| learner.code).collect();
    assert_eq!(codes, ["QS-07", "QS-08"]);
    // Its document was unfolded on the way.
    let rows = store.class_readings(&Chosen::default(), None).await.unwrap();
    let told: Vec<_> = rows.iter().map(|row| (row.reading.as_str(), row.part.as_str(), row.value)).collect();
    assert_eq!(
        told,
        [
            ("contact.mesial_mm", "", None),
            ("finish_line.width.distal_mm", "", Some(0.55)),
            ("finish_line.width.distal_mm", "least", Some(0.3)),
        ]
    );
    assert_eq!(store.remarks(&attempts[0].id).await.unwrap()[0].text, "a lip here");
    store.delete_learner("QS-07", "QS-D1").await.unwrap();
    store.check().await.unwrap();
}

#[tokio::test]
async fn a_later_version_is_refused_and_left_as_it_is() {
    let folder = tempfile::tempdir().unwrap();
    Store::open(folder.path()).await.unwrap().close().await;
    let pool = opened(folder.path()).await;
    let later = "INSERT INTO _sqlx_migrations (version, description, success, checksum, execution_time) \
                 VALUES (9999, 'later', true, x'00', 0)";
    pool.execute(later).await.unwrap();
    pool.close().await;
    let fault = Store::open(folder.path()).await.unwrap_err();
    assert!(matches!(fault, StoreError::Migrate { .. }), "{fault}");
    assert!(fault.to_string().contains("later version of kerf"), "{fault}");
}

#[tokio::test]
async fn a_migration_that_breaks_off_leaves_the_version_before() {
    let folder = tempfile::tempdir().unwrap();
    first(folder.path()).await;
    // Something in the way of the second migration's last steps.
    let pool = opened(folder.path()).await;
    pool.execute("CREATE TABLE ratings (something TEXT)").await.unwrap();
    pool.close().await;
    Store::open(folder.path()).await.unwrap_err();
    let pool = opened(folder.path()).await;
    let tables: Vec<String> =
        sqlx::query_scalar("SELECT name FROM sqlite_master WHERE name IN ('learners', 'readings')")
            .fetch_all(&pool)
            .await
            .unwrap();
    assert_eq!(tables, Vec::<String>::new(), "nothing of the second migration stays");
    pool.execute("DROP TABLE ratings").await.unwrap();
    pool.close().await;
    let store = Store::open(folder.path()).await.unwrap();
    assert_eq!(store.class_attempts(&Chosen::default()).await.unwrap().len(), 2);
}
