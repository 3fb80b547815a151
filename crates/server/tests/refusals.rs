//! Tried wrong: other names, other pages, other files.

mod common;

use axum::body::Body;
use axum::http::{Method, Request, StatusCode, header};
use common::{Bench, phantom, request};
use kerfwright_measure::ScanFile;
use serde_json::json;

#[tokio::test]
async fn a_foreign_host_is_refused_everywhere() {
    let bench = Bench::open().await;
    for path in ["/", "/api/v1/about", "/api/v1/attempts"] {
        for host in ["example.test", "127.0.0.1.example.test:4177"] {
            let foreign = Request::get(path).header(header::HOST, host).body(Body::empty()).unwrap();
            let answer = bench.send(foreign).await;
            assert_eq!(answer.status, StatusCode::FORBIDDEN, "{path} {host}");
            assert_eq!(answer.json()["error"]["code"], "host");
        }
        let nameless = Request::get(path).body(Body::empty()).unwrap();
        assert_eq!(bench.send(nameless).await.status, StatusCode::FORBIDDEN, "{path}");
        assert_eq!(bench.get(path).await.status, StatusCode::OK, "{path}");
    }
}

#[tokio::test]
async fn a_foreign_page_writes_nothing() {
    let bench = Bench::open().await;
    for (name, value) in [
        ("origin", "http://example.test"),
        ("origin", "http://127.0.0.1:9"),
        ("origin", "null"),
        ("sec-fetch-site", "cross-site"),
        ("sec-fetch-site", "same-site"),
    ] {
        let mut foreign =
            request(Method::POST, "/api/v1/scans?name=a.stl", Body::from(phantom().1[0].clone()));
        foreign.headers_mut().insert(name, value.parse().unwrap());
        let answer = bench.send(foreign).await;
        assert_eq!(answer.status, StatusCode::FORBIDDEN, "{name}: {value}");
        assert_eq!(answer.json()["error"]["code"], "origin");
    }
    let mut own = request(Method::POST, "/api/v1/scans?name=a.stl", Body::from(phantom().1[0].clone()));
    own.headers_mut().insert("origin", "http://127.0.0.1:4177".parse().unwrap());
    own.headers_mut().insert("sec-fetch-site", "same-origin".parse().unwrap());
    assert_eq!(bench.send(own).await.status, StatusCode::CREATED);
}

#[tokio::test]
async fn the_page_is_kept_to_itself() {
    let bench = Bench::open().await;
    let answer = bench.get("/attempts/any").await;
    let policy = answer.headers[header::CONTENT_SECURITY_POLICY].to_str().unwrap();
    assert!(policy.contains("default-src 'none'") && policy.contains("frame-ancestors 'none'"), "{policy}");
    assert!(!policy.contains("unsafe"), "{policy}");
    assert_eq!(answer.headers[header::X_CONTENT_TYPE_OPTIONS], "nosniff");
    assert!(answer.headers.get(header::ACCESS_CONTROL_ALLOW_ORIGIN).is_none());
}

#[tokio::test]
async fn a_wrong_file_gets_the_sentence_of_the_command_line() {
    let bench = Bench::open().await;
    let tiny = {
        // The phantom's scan in metres.
        let mut mesh = phantom().0.after.clone();
        mesh.vertices.iter_mut().for_each(|vertex| *vertex = (vertex.coords * 1e-3).into());
        kerfwright_mesh::write_stl_binary(&mesh)
    };
    let cut_off = &phantom().1[0][..70_000];
    for (name, bytes) in [
        ("notes.txt", &b"this is no scan"[..]),
        ("empty.stl", b""),
        ("metres.stl", &tiny),
        ("half.stl", cut_off),
    ] {
        let answer = bench.upload(name, bytes).await;
        let expected = ScanFile::read(name, bytes).unwrap_err().to_string();
        assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY, "{name}");
        assert_eq!(answer.json()["error"]["message"], json!(expected));
        assert!(!expected.contains('\n'));
    }
}

#[tokio::test]
async fn requests_that_make_no_sense_are_told_so() {
    let bench = Bench::open().await;
    let scan = bench.upload("after.stl", &phantom().1[0]).await.json();
    let after = scan["id"].as_str().unwrap();
    let cases = [
        (json!({ "after": after, "tooth": "99" }), StatusCode::UNPROCESSABLE_ENTITY, "tooth"),
        (json!({ "after": "0000", "tooth": "26" }), StatusCode::NOT_FOUND, "missing"),
        (json!({ "after": "../../etc/passwd", "tooth": "26" }), StatusCode::NOT_FOUND, "missing"),
        (json!({ "after": after, "tooth": "26", "exercise": "none" }), StatusCode::NOT_FOUND, "missing"),
        (
            json!({ "after": after, "tooth": "26", "path": "/etc" }),
            StatusCode::UNPROCESSABLE_ENTITY,
            "request",
        ),
        (json!({ "tooth": "26" }), StatusCode::UNPROCESSABLE_ENTITY, "request"),
    ];
    for (body, status, code) in cases {
        let answer = bench.post("/api/v1/attempts", &body).await;
        assert_eq!((answer.status, answer.json()["error"]["code"].as_str()), (status, Some(code)), "{body}");
    }
    assert_eq!(bench.get("/api/v1/attempts/x/document").await.status, StatusCode::NOT_FOUND);
    assert_eq!(bench.get("/api/v1/nothing").await.status, StatusCode::NOT_FOUND);
    assert_eq!(
        bench.get("/api/v1/scans/..%2F..%2Fkerfwright.sqlite/mesh.glb").await.status,
        StatusCode::NOT_FOUND
    );
    assert_eq!(bench.get("/../Cargo.toml").await.status, StatusCode::NOT_FOUND);
}

#[tokio::test(flavor = "multi_thread")]
async fn what_cannot_be_measured_is_refused_with_file_and_next_step() {
    let bench = Bench::open().await;
    let before = bench.upload("before.stl", &phantom().1[1]).await.json()["id"].clone();
    let body = json!({ "after": before, "before": before, "tooth": "26" });
    let id = bench.post("/api/v1/attempts", &body).await.json()["id"].as_str().unwrap().to_owned();
    let events = bench.get(&format!("/api/v1/attempts/{id}/events")).await.text();
    assert!(events.contains("event: refused"), "{events}");
    let attempt = bench.get(&format!("/api/v1/attempts/{id}")).await.json();
    assert_eq!(attempt["state"], "refused");
    let message = attempt["error"]["message"].as_str().unwrap();
    assert!(message.starts_with("before.stl: no prepared tooth found"), "{message}");
    assert_eq!(bench.get(&format!("/api/v1/attempts/{id}/document")).await.status, StatusCode::CONFLICT);
}

#[tokio::test(flavor = "multi_thread")]
async fn a_waiting_attempt_can_be_stopped_and_another_goes_on() {
    let bench = Bench::open().await;
    let [after, before, opposing] = bench.upload_phantom().await;
    let first = json!({ "after": after, "before": before, "opposing": opposing, "tooth": "26" });
    let second = json!({ "after": after, "before": before, "tooth": "26" });
    let mut ids = Vec::new();
    for body in [first, second] {
        ids.push(bench.post("/api/v1/attempts", &body).await.json()["id"].as_str().unwrap().to_owned());
    }
    let (running, waiting) = (&ids[0], &ids[1]);
    let cancel = bench.post(&format!("/api/v1/attempts/{waiting}/cancel"), &json!(null)).await;
    assert_eq!(cancel.status, StatusCode::ACCEPTED);
    let events = bench.get(&format!("/api/v1/attempts/{waiting}/events")).await.text();
    assert!(events.contains("event: cancelled") && !events.contains("event: done"), "{events}");
    assert_eq!(bench.get(&format!("/api/v1/attempts/{waiting}")).await.json()["state"], "cancelled");
    let events = bench.get(&format!("/api/v1/attempts/{running}/events")).await.text();
    assert!(events.contains("event: done"), "{events}");
}
