//! Scans that come by themselves.

mod common;

use std::time::Duration;

use axum::body::Body;
use axum::http::Method;
use common::{phantom, request};
use http_body_util::BodyExt;
use kerfwright_server::{App, Config, router};
use serde_json::Value;
use tower::ServiceExt;

#[tokio::test(flavor = "multi_thread")]
async fn a_file_is_taken_once_it_is_whole() {
    let (data, folder) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    let bytes = &phantom().1[0];
    std::fs::write(folder.path().join("old.stl"), bytes).unwrap();
    let config = Config { watch: Some(folder.path().into()), ..Config::new(data.path()) };
    let router = router(App::open(config).await.unwrap());
    let watched = async || -> Value {
        let answer =
            router.clone().oneshot(request(Method::GET, "/api/v1/watched", Body::empty())).await.unwrap();
        serde_json::from_slice(&answer.into_body().collect().await.unwrap().to_bytes()).unwrap()
    };
    tokio::time::sleep(Duration::from_millis(900)).await;
    // Written in two parts, as over a slow network, and beside it what is no scan.
    std::fs::write(folder.path().join("new.stl"), &bytes[..50_000]).unwrap();
    std::fs::write(folder.path().join("bad.ply"), b"no scan").unwrap();
    std::fs::write(folder.path().join("notes.txt"), b"notes").unwrap();
    tokio::time::sleep(Duration::from_millis(300)).await;
    std::fs::write(folder.path().join("new.stl"), bytes).unwrap();
    let mut found = watched().await;
    for _ in 0..60 {
        if found
            .as_array()
            .unwrap()
            .iter()
            .any(|entry| entry["name"] == "new.stl" && entry["scan"].is_object())
        {
            break;
        }
        tokio::time::sleep(Duration::from_millis(250)).await;
        found = watched().await;
    }
    let entries = found.as_array().unwrap();
    let of = |name: &str| entries.iter().filter(|entry| entry["name"] == name).collect::<Vec<_>>();
    assert_eq!(of("new.stl").last().unwrap()["scan"]["name"], "new.stl", "{found}");
    assert!(of("bad.ply")[0]["error"]["message"].as_str().unwrap().starts_with("bad.ply: "), "{found}");
    assert!(of("old.stl").is_empty() && of("notes.txt").is_empty(), "{found}");
}
