//! Scans in a folder: what a crash leaves, and what names from outside lead to.

mod common;

use common::{hash, keep_scan};
use kerfwright_store::Store;

#[tokio::test]
async fn a_file_that_broke_off_is_written_anew() {
    let folder = tempfile::tempdir().unwrap();
    let store = Store::open(folder.path()).await.unwrap();
    // As a crash leaves it: half a file beside, and none in place.
    std::fs::write(folder.path().join("scans/aa.scan#1"), b"by").unwrap();
    assert_eq!(store.scan_bytes(&hash(b"bytes")).await.unwrap(), None);
    keep_scan(&store, "one.stl", b"bytes").await;
    assert_eq!(store.scan_bytes(&hash(b"bytes")).await.unwrap().unwrap(), b"bytes");
}

#[tokio::test]
async fn ids_from_outside_lead_to_no_file() {
    let folder = tempfile::tempdir().unwrap();
    let store = Store::open(folder.path()).await.unwrap();
    std::fs::write(folder.path().join("secret.scan"), b"secret").unwrap();
    for id in ["../secret", "' OR '1'='1", ""] {
        assert_eq!(store.scan_bytes(id).await.unwrap(), None, "{id}");
    }
}
