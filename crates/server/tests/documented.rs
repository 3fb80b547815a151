//! Nonsense thrown at every route that the description names: no fault of the server, and no answer that is not described.
//! `cargo xtask fuzz` does the same with many more requests, made up by a general-purpose fuzzer.

mod common;

use axum::body::Body;
use axum::http::{Method, StatusCode, header};
use common::{Answer, Bench, request};
use serde_json::{Value, json};

/// What stands for a value in the address.
const WORDS: [&str; 9] = [
    "x",
    "..%2F..%2Fkerfwright.sqlite",
    "%27%20OR%201%3D1%20--",
    "%00",
    "%FF%FE",
    "null",
    "-1",
    "1e400",
    "%F0%9F%A6%B7",
];

fn bodies() -> Vec<Vec<u8>> {
    let values = [
        json!(null),
        json!(true),
        json!([]),
        json!({}),
        json!("text"),
        json!(-1e300),
        json!({ "after": null, "tooth": 26 }),
        json!({ "after": "x", "tooth": "26", "mesial_point": [1e308, -1e308, 0] }),
        json!({ "scans": ["x", "x", "x", "x"] }),
        json!({ "scans": [] }),
        json!({ "point": [0, 0, 0], "normal": [0, 0, 0] }),
        json!({ "point": [1e308, 1e308, 1e308], "normal": [1e-308, 0, 1e308] }),
        json!({ "at": [1e9, 0, 0], "text": "x", "by": "x" }),
        json!({ "at": [0, 0, 0], "text": "", "by": "" }),
        json!({ "code": "x", "password": "x".repeat(2000) }),
        json!({ "resolved": null, "removed": true }),
    ];
    let mut bodies: Vec<Vec<u8>> = values.iter().map(|value| value.to_string().into_bytes()).collect();
    bodies.extend([
        b"".to_vec(),
        b"{".to_vec(),
        vec![0xff, 0xfe, 0],
        b"{\"a\":".repeat(2000),
        vec![b'['; 100_000],
    ]);
    bodies
}

/// An address of a route: its parameters filled, and something in the query.
fn address(path: &str, fill: impl Fn(&str) -> String, query: &str) -> String {
    let parts: Vec<String> = path
        .split('/')
        .map(|part| match part.strip_prefix('{').and_then(|rest| rest.strip_suffix('}')) {
            Some(name) => fill(name),
            None => part.to_owned(),
        })
        .collect();
    format!("{}{query}", parts.join("/"))
}

/// What is wrong with an answer, if anything.
fn fault_of(answer: &Answer, operation: &Value) -> Option<String> {
    let status = answer.status.as_u16().to_string();
    let described = &operation["responses"][&status];
    if described.is_null() || answer.status.is_server_error() {
        return Some(format!("{status} is not described: {}", answer.text()));
    }
    let kind = answer.headers.get(header::CONTENT_TYPE).map_or("", |kind| kind.to_str().unwrap());
    let kinds: Vec<&String> =
        described["content"].as_object().map_or(Vec::new(), |content| content.keys().collect());
    if !kinds.is_empty() && !kinds.iter().any(|other| kind.starts_with(other.as_str())) {
        return Some(format!("{status}: {kind:?}, not {kinds:?}: {}", answer.text()));
    }
    let error: Value = serde_json::from_slice(&answer.bytes).unwrap_or_default();
    let message = error["error"]["message"].as_str().unwrap_or_default();
    let is_told = !message.is_empty() && !message.contains('\n') && error["error"]["code"].is_string();
    (answer.status.is_client_error() && !is_told).then(|| format!("{status}: {}", answer.text()))
}

#[tokio::test(flavor = "multi_thread")]
async fn nonsense_gets_an_answer_that_is_described() {
    let bench = Bench::open().await;
    let (attempt, _) = bench.measure_phantom().await;
    let scan = bench.get(&format!("/api/v1/attempts/{attempt}")).await.json()["request"]["after"].clone();
    let real = |path: &str| {
        let scan = scan.as_str().unwrap().to_owned();
        let (attempt, is_scan) = (attempt.clone(), path.contains("/scans/"));
        move |name: &str| match name {
            "id" if is_scan => scan.clone(),
            "id" => attempt.clone(),
            "name" => "quayside-26".to_owned(),
            "body" => "after.glb".to_owned(),
            _ => "x".to_owned(),
        }
    };
    let description: Value = serde_json::from_str(&kerfwright_server::openapi()).unwrap();
    let (mut n_asked, mut faults) = (0, Vec::new());
    for (path, methods) in description["paths"].as_object().unwrap() {
        for (method, operation) in methods.as_object().unwrap() {
            let method: Method = method.to_uppercase().parse().unwrap();
            let mut addresses: Vec<String> = WORDS
                .iter()
                .map(|word| address(path, |_| (*word).to_owned(), &format!("?x={word}&after={word}")))
                .collect();
            let queries = [
                "",
                "?x=0&y=0&z=0",
                "?x=nan&y=inf&z=1e309",
                "?x=1e308&y=-1e308&z=0",
                "?exercise=x",
                "?language=xx",
                "?stage=x",
            ];
            addresses.extend(queries.map(|query| address(path, real(path), query)));
            let bodies = if operation["requestBody"].is_null() { vec![Vec::new()] } else { bodies() };
            for asked in &addresses {
                for body in &bodies {
                    for kind in [Some("application/json"), None] {
                        let mut sent = request(method.clone(), asked, Body::from(body.clone()));
                        if let Some(kind) = kind {
                            sent.headers_mut().insert(header::CONTENT_TYPE, kind.parse().unwrap());
                        }
                        let answer = bench.send(sent).await;
                        let shown = format!(
                            "{method} {asked} {}",
                            String::from_utf8_lossy(&body[..body.len().min(80)])
                        );
                        faults.extend(fault_of(&answer, operation).map(|fault| format!("{shown}: {fault}")));
                        n_asked += 1;
                    }
                }
            }
        }
    }
    assert!(
        faults.is_empty(),
        "{} faults, the first:\n{}",
        faults.len(),
        faults[..faults.len().min(40)].join("\n")
    );
    assert!(n_asked > 5000, "{n_asked}");
    assert_eq!(bench.get(&format!("/api/v1/attempts/{attempt}")).await.status, StatusCode::OK);
}
