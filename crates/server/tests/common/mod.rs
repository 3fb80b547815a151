//! The app over a small phantom, asked without a network.
#![allow(dead_code)] // Each test file uses its part.

use std::sync::OnceLock;

use axum::Router;
use axum::body::Body;
use axum::http::{Method, Request, StatusCode, header};
use http_body_util::BodyExt;
use kerfwright_mesh::write_stl_binary;
use kerfwright_phantom::{Phantom, ScanOptions, Scans, Spec};
use kerfwright_server::{App, Config, router};
use serde_json::{Value, json};
use tower::ServiceExt;

/// One phantom for all tests of a file: coarse, so that it is measured soon.
pub fn phantom() -> &'static (Scans, [Vec<u8>; 3]) {
    static PHANTOM: OnceLock<(Scans, [Vec<u8>; 3])> = OnceLock::new();
    PHANTOM.get_or_init(|| {
        let scans =
            Phantom::new(&Spec::default()).scan(&ScanOptions { edge_mm: 0.2, ..ScanOptions::default() });
        let bytes = [&scans.after, &scans.before, &scans.opposing].map(write_stl_binary);
        (scans, bytes)
    })
}

/// An app with a data folder of its own, which goes with it.
pub struct Bench {
    pub router: Router,
    pub folder: tempfile::TempDir,
}

/// An answer that has come whole.
pub struct Answer {
    pub status: StatusCode,
    pub headers: axum::http::HeaderMap,
    pub bytes: Vec<u8>,
}

impl Answer {
    pub fn json(&self) -> Value {
        serde_json::from_slice(&self.bytes).unwrap_or_else(|_| panic!("no JSON: {}", self.text()))
    }

    /// The word for programs of a refusal.
    pub fn json_code(&self) -> String {
        let code = serde_json::from_slice::<Value>(&self.bytes)
            .ok()
            .and_then(|body| body["error"]["code"].as_str().map(str::to_owned));
        code.unwrap_or_default()
    }

    pub fn text(&self) -> String {
        String::from_utf8_lossy(&self.bytes).into_owned()
    }
}

impl Bench {
    pub async fn open() -> Self {
        Self::open_with(|config| config).await
    }

    /// With settings of its own.
    pub async fn open_with(change: impl FnOnce(Config) -> Config) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let router = router(App::open(change(Config::new(folder.path()))).await.unwrap());
        Self { router, folder }
    }

    /// The same folder, as after a restart.
    pub async fn reopened(self) -> Self {
        let router = router(App::open(Config::new(self.folder.path())).await.unwrap());
        Self { router, folder: self.folder }
    }

    pub async fn send(&self, request: Request<Body>) -> Answer {
        let response = self.router.clone().oneshot(request).await.unwrap();
        let (status, headers) = (response.status(), response.headers().clone());
        let bytes = response.into_body().collect().await.unwrap().to_bytes().to_vec();
        Answer { status, headers, bytes }
    }

    pub async fn get(&self, path: &str) -> Answer {
        self.send(request(Method::GET, path, Body::empty())).await
    }

    pub async fn write(&self, method: Method, path: &str, body: &Value) -> Answer {
        let mut request = request(method, path, Body::from(body.to_string()));
        request.headers_mut().insert(header::CONTENT_TYPE, "application/json".parse().unwrap());
        self.send(request).await
    }

    pub async fn post(&self, path: &str, body: &Value) -> Answer {
        self.write(Method::POST, path, body).await
    }

    pub async fn upload(&self, name: &str, bytes: &[u8]) -> Answer {
        let path = format!("/api/v1/scans?name={name}");
        self.send(request(Method::POST, &path, Body::from(bytes.to_vec()))).await
    }

    /// Ids of after, before and opposing.
    pub async fn upload_phantom(&self) -> [String; 3] {
        let mut ids = Vec::new();
        for (name, bytes) in ["after.stl", "before.stl", "opposing.stl"].iter().zip(&phantom().1) {
            let answer = self.upload(name, bytes).await;
            assert_eq!(answer.status, StatusCode::CREATED, "{}", answer.text());
            ids.push(answer.json()["id"].as_str().unwrap().to_owned());
        }
        ids.try_into().unwrap()
    }

    /// Measures the phantom and waits for the end; gives the attempt and the text of its events.
    pub async fn measure_phantom(&self) -> (String, String) {
        let [after, before, opposing] = self.upload_phantom().await;
        let request = json!({ "after": after, "before": before, "opposing": opposing, "tooth": "26" });
        let created = self.post("/api/v1/attempts", &request).await;
        assert_eq!(created.status, StatusCode::CREATED, "{}", created.text());
        let id = created.json()["id"].as_str().unwrap().to_owned();
        let events = self.get(&format!("/api/v1/attempts/{id}/events")).await.text();
        (id, events)
    }
}

pub fn request(method: Method, path: &str, body: Body) -> Request<Body> {
    Request::builder().method(method).uri(path).header(header::HOST, "127.0.0.1:4177").body(body).unwrap()
}
