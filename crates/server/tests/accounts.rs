//! With accounts: each sees only what it may, and what is tried wrong is refused.

mod common;

use std::time::Duration;

use axum::body::Body;
use axum::http::{Method, StatusCode, header};
use common::{Answer, Bench, phantom, request};
use kerfwright_server::Config;
use kerfwright_server::accounts::{Role, add};
use kerfwright_store::{NewAttempt, Store};
use serde_json::{Value, json};

const ORIGIN: &str = "http://127.0.0.1:4177";
const PASSWORD: &str = "a tray of three burs";

/// An app with one director, one instructor and two learners.
struct Class {
    bench: Bench,
    store: Store,
}

/// A browser that is signed in, or not.
#[derive(Clone, Default)]
struct Browser {
    cookie: Option<String>,
}

impl Class {
    async fn open() -> Self {
        Self::open_with(|config| config).await
    }

    async fn open_with(change: impl FnOnce(Config) -> Config) -> Self {
        let bench = Bench::open_with(change).await;
        let store = Store::open(bench.folder.path()).await.unwrap().acting_as("command line");
        for (code, role) in [
            ("QS-D1", Role::Director),
            ("QS-I1", Role::Instructor),
            ("QS-07", Role::Learner),
            ("QS-08", Role::Learner),
        ] {
            add(&store, code, role, None, PASSWORD).await.unwrap();
        }
        Self { bench, store }
    }

    async fn send(&self, browser: &Browser, method: Method, path: &str, body: Option<&Value>) -> Answer {
        let bytes = body.map_or_else(Body::empty, |body| Body::from(body.to_string()));
        let mut request = request(method, &format!("/api/v1{path}"), bytes);
        let headers = request.headers_mut();
        headers.insert(header::CONTENT_TYPE, "application/json".parse().unwrap());
        headers.insert(header::ORIGIN, ORIGIN.parse().unwrap());
        headers.insert("x-kerfwright", "1".parse().unwrap());
        if let Some(cookie) = &browser.cookie {
            headers.insert(header::COOKIE, cookie.parse().unwrap());
        }
        self.bench.send(request).await
    }

    async fn get(&self, browser: &Browser, path: &str) -> Answer {
        self.send(browser, Method::GET, path, None).await
    }

    async fn post(&self, browser: &Browser, path: &str, body: &Value) -> Answer {
        self.send(browser, Method::POST, path, Some(body)).await
    }

    async fn try_sign_in(&self, code: &str, password: &str) -> Answer {
        self.post(&Browser::default(), "/session", &json!({ "code": code, "password": password })).await
    }

    async fn sign_in(&self, code: &str) -> Browser {
        let answer = self.try_sign_in(code, PASSWORD).await;
        assert_eq!(answer.status, StatusCode::OK, "{}", answer.text());
        Browser { cookie: Some(cookie_of(&answer)) }
    }

    async fn upload(&self, browser: &Browser, name: &str, bytes: &[u8]) -> Answer {
        let mut request =
            request(Method::POST, &format!("/api/v1/scans?name={name}"), Body::from(bytes.to_vec()));
        let headers = request.headers_mut();
        headers.insert(header::ORIGIN, ORIGIN.parse().unwrap());
        headers.insert("x-kerfwright", "1".parse().unwrap());
        headers.insert(header::COOKIE, browser.cookie.clone().unwrap().parse().unwrap());
        self.bench.send(request).await
    }

    /// An attempt of a learner as the instructor would keep it, not yet measured.
    async fn keep_attempt(&self, after: &str, learner: &str) -> String {
        let new = NewAttempt {
            scans: (after.into(), None, None),
            request: json!({ "after": after, "tooth": "26", "learner": learner }).to_string(),
            fdi: 26,
            learner: Some(learner.into()),
            exercise: None,
        };
        self.store.add_attempt(&new).await.unwrap()
    }
}

/// The cookie's name and value.
fn cookie_of(answer: &Answer) -> String {
    let line = answer.headers[header::SET_COOKIE].to_str().unwrap();
    line.split(';').next().unwrap().to_owned()
}

fn id_of(answer: &Answer) -> String {
    answer.json()["id"].as_str().unwrap_or_else(|| panic!("{}", answer.text())).to_owned()
}

#[tokio::test]
async fn without_signing_in_nothing_of_the_class_is_told() {
    let class = Class::open().await;
    let stranger = Browser::default();
    let document: Value = serde_json::from_str(&kerfwright_server::openapi()).unwrap();
    let open = ["/about", "/session"];
    let mut n_refused = 0;
    for (path, methods) in document["paths"].as_object().unwrap() {
        let short = path.strip_prefix("/api/v1").unwrap();
        for method in methods.as_object().unwrap().keys() {
            let asked = short.replace(['{', '}'], "x");
            let method: Method = method.to_uppercase().parse().unwrap();
            let answer = class.send(&stranger, method.clone(), &asked, Some(&json!({}))).await;
            if open.contains(&short) {
                assert_ne!(answer.json_code(), "sign_in", "{method} {short}");
            } else {
                assert_eq!(answer.status, StatusCode::UNAUTHORIZED, "{method} {short}: {}", answer.text());
                n_refused += 1;
            }
        }
    }
    assert!(n_refused > 25, "{n_refused}");
    let session = class.get(&stranger, "/session").await.json();
    assert_eq!(session["accounts"], true);
    assert_eq!(session["account"], Value::Null);
    let may = session["may"].as_object().unwrap();
    assert!(may.len() > 3 && may.values().all(|may| *may == false), "{may:?}");
    // The pages themselves are no secret: one of them is where one signs in.
    assert_eq!(class.bench.get("/attempt/any").await.status, StatusCode::OK);
}

#[tokio::test]
async fn a_learner_sees_own_work_alone_and_cannot_tell_what_else_there_is() {
    let class = Class::open().await;
    let (learner, other) = (class.sign_in("QS-07").await, class.sign_in("QS-08").await);
    let instructor = class.sign_in("QS-I1").await;
    let own_scan = id_of(&class.upload(&learner, "mine.stl", &phantom().1[0]).await);
    let other_scan = id_of(&class.upload(&other, "theirs.stl", &phantom().1[1]).await);
    let own = class.keep_attempt(&own_scan, "QS-07").await;
    let others = class.keep_attempt(&other_scan, "QS-08").await;

    let list = class.get(&learner, "/attempts").await.json();
    assert_eq!(list.as_array().unwrap().iter().map(|one| &one["id"]).collect::<Vec<_>>(), [&json!(own)]);
    assert_eq!(class.get(&instructor, "/attempts").await.json().as_array().unwrap().len(), 2);
    assert_eq!(class.get(&learner, &format!("/attempts/{own}")).await.status, StatusCode::OK);
    assert_eq!(class.get(&learner, &format!("/scans/{own_scan}")).await.json()["name"], "mine.stl");

    // Another's id is answered as one that was never given out, word for word.
    for rest in [
        "",
        "/events",
        "/document",
        "/grade",
        "/scene",
        "/value?x=0&y=0&z=0",
        "/ring",
        "/movements",
        "/remarks",
        "/after.glb",
    ] {
        let theirs = class.get(&learner, &format!("/attempts/{others}{rest}")).await;
        let none = class.get(&learner, &format!("/attempts/0123456789abcdef0123{rest}")).await;
        assert_eq!(theirs.status, StatusCode::NOT_FOUND, "{rest}");
        assert_eq!((theirs.status, theirs.text()), (none.status, none.text()), "{rest}");
    }
    for rest in ["/section", "/gauge", "/cancel"] {
        let theirs = class.post(&learner, &format!("/attempts/{others}{rest}"), &json!({})).await;
        assert_eq!(theirs.status, StatusCode::NOT_FOUND, "{rest}");
    }
    for path in [format!("/scans/{other_scan}"), format!("/scans/{other_scan}/mesh.glb")] {
        assert_eq!(class.get(&learner, &path).await.status, StatusCode::NOT_FOUND, "{path}");
        assert_eq!(class.get(&instructor, &path).await.status, StatusCode::OK, "{path}");
    }
    let roles = class.post(&learner, "/scans/roles", &json!({ "scans": [own_scan, other_scan] })).await;
    assert_eq!(roles.status, StatusCode::NOT_FOUND);
    let stolen = json!({ "after": other_scan, "tooth": "26" });
    assert_eq!(class.post(&learner, "/attempts", &stolen).await.status, StatusCode::NOT_FOUND);

    // What the role may not do is refused, and the id makes no difference.
    let remark = json!({ "at": [0, 0, 0], "text": "good", "by": "QS-I1" });
    for id in [&own, &others, &"none".to_owned()] {
        let answer = class.post(&learner, &format!("/attempts/{id}/remarks"), &remark).await;
        assert_eq!((answer.status, answer.json_code().as_str()), (StatusCode::FORBIDDEN, "role"));
        let path = format!("/attempts/{id}/remarks/any");
        assert_eq!(class.send(&learner, Method::DELETE, &path, None).await.status, StatusCode::FORBIDDEN);
    }
    for path in ["/accounts", "/audit", "/watched"] {
        assert_eq!(class.get(&learner, path).await.status, StatusCode::FORBIDDEN, "{path}");
    }
    assert_eq!(class.post(&learner, "/demo", &json!(null)).await.status, StatusCode::FORBIDDEN);
    for path in ["/accounts", "/audit"] {
        assert_eq!(class.get(&instructor, path).await.status, StatusCode::FORBIDDEN, "{path}");
    }
}

#[tokio::test]
async fn the_same_bytes_from_two_learners_tell_neither_of_the_other() {
    let class = Class::open().await;
    let (one, two) = (class.sign_in("QS-07").await, class.sign_in("QS-08").await);
    let first = class.upload(&one, "one.stl", &phantom().1[0]).await;
    let id = id_of(&first);
    assert_eq!(class.get(&two, &format!("/scans/{id}")).await.status, StatusCode::NOT_FOUND);
    let second = class.upload(&two, "two.stl", &phantom().1[0]).await;
    assert_eq!((second.status, id_of(&second)), (first.status, id.clone()));
    assert_eq!(class.get(&two, &format!("/scans/{id}")).await.json()["name"], "two.stl");
    assert_eq!(class.get(&one, &format!("/scans/{id}")).await.json()["name"], "one.stl");
}

#[tokio::test(flavor = "multi_thread")]
async fn a_learner_s_attempt_carries_the_own_code_and_a_remark_its_account() {
    let class = Class::open().await;
    let (learner, instructor) = (class.sign_in("QS-07").await, class.sign_in("QS-I1").await);
    let mut ids = Vec::new();
    for (name, bytes) in ["after.stl", "before.stl", "opposing.stl"].iter().zip(&phantom().1) {
        ids.push(id_of(&class.upload(&learner, name, bytes).await));
    }
    let mut body =
        json!({ "after": ids[0], "before": ids[1], "opposing": ids[2], "tooth": "26", "learner": "QS-08" });
    let refused = class.post(&learner, "/attempts", &body).await;
    assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY, "{}", refused.text());
    body.as_object_mut().unwrap().remove("learner");
    let id = id_of(&class.post(&learner, "/attempts", &body).await);
    let events = class.get(&learner, &format!("/attempts/{id}/events")).await.text();
    assert!(events.contains("event: done"), "{events}");
    assert_eq!(
        class.get(&instructor, &format!("/attempts/{id}")).await.json()["request"]["learner"],
        "QS-07"
    );

    let path = format!("/attempts/{id}/remarks");
    let remark = json!({ "at": [0, 0, 0], "text": "hold the axis", "by": "somebody else" });
    assert_eq!(class.post(&instructor, &path, &remark).await.status, StatusCode::CREATED);
    let seen = class.get(&learner, &path).await.json();
    assert_eq!((&seen[0]["by"], &seen[0]["text"]), (&json!("QS-I1"), &json!("hold the axis")));
    let lines = class.store.audit(100).await.unwrap();
    let has = |who: &str, what: &str| lines.iter().any(|line| line.who == who && line.what == what);
    assert!(
        has("QS-07", "attempt added") && has("QS-07", "scan sent") && has("QS-I1", "remark added"),
        "{lines:?}"
    );
    assert!(has("command line", "account added") && has("QS-07", "signed in"));
    // Ids alone: neither what was said nor what files were called.
    let trail = format!("{lines:?}");
    assert!(
        !trail.contains("hold the axis") && !trail.contains(".stl") && !trail.contains("somebody"),
        "{trail}"
    );
}

#[tokio::test]
async fn wrong_passwords_are_refused_alike_and_not_for_ever() {
    let class = Class::open().await;
    let unknown = class.try_sign_in("QS-99", PASSWORD).await;
    let wrong = class.try_sign_in("QS-07", "another tray of burs").await;
    assert_eq!(wrong.status, StatusCode::UNAUTHORIZED);
    assert_eq!(wrong.text(), unknown.text());
    assert!(wrong.headers.get(header::SET_COOKIE).is_none());
    for code in ["", "' OR '1'='1", "QS-07\u{0}", &"x".repeat(500)] {
        assert_eq!(class.try_sign_in(code, PASSWORD).await.status, StatusCode::UNAUTHORIZED, "{code}");
    }
    for _ in 0..9 {
        assert_eq!(class.try_sign_in("qs-07", "x").await.status, StatusCode::UNAUTHORIZED);
    }
    let stopped = class.try_sign_in("QS-07", PASSWORD).await;
    assert_eq!((stopped.status, stopped.json_code().as_str()), (StatusCode::TOO_MANY_REQUESTS, "too_often"));
    // Others are not held up by it, and right passwords are not counted.
    for _ in 0..12 {
        class.sign_in("QS-08").await;
    }
}

#[tokio::test]
async fn one_machine_cannot_try_all_accounts() {
    let class = Class::open().await;
    let mut n_tried = 0;
    for k in 0..100 {
        let answer = class.try_sign_in(&format!("QS-{k}"), "").await;
        if answer.status == StatusCode::TOO_MANY_REQUESTS {
            break;
        }
        n_tried += 1;
    }
    assert_eq!(n_tried, 60);
}

#[tokio::test]
async fn what_does_not_come_from_an_own_page_changes_nothing() {
    let class = Class::open().await;
    let director = class.sign_in("QS-D1").await;
    let forged = |origin: Option<&str>, own_header: bool, site: Option<&str>| {
        let body = json!({ "code": "QS-X", "role": "director", "password": PASSWORD }).to_string();
        let mut request = request(Method::POST, "/api/v1/accounts", Body::from(body));
        let headers = request.headers_mut();
        headers.insert(header::CONTENT_TYPE, "application/json".parse().unwrap());
        headers.insert(header::COOKIE, director.cookie.clone().unwrap().parse().unwrap());
        if let Some(origin) = origin {
            headers.insert(header::ORIGIN, origin.parse().unwrap());
        }
        if let Some(site) = site {
            headers.insert("sec-fetch-site", site.parse().unwrap());
        }
        if own_header {
            headers.insert("x-kerfwright", "1".parse().unwrap());
        }
        request
    };
    for (origin, own_header, site) in [
        (Some("http://example.test"), true, None),
        (Some("https://127.0.0.1:4177"), true, None),
        (Some("http://127.0.0.1:9"), true, None),
        (Some("null"), true, None),
        (None, true, None),
        (Some(ORIGIN), false, None),
        (Some(ORIGIN), true, Some("cross-site")),
        (Some(ORIGIN), true, Some("same-site")),
    ] {
        let answer = class.bench.send(forged(origin, own_header, site)).await;
        assert_eq!(
            (answer.status, answer.json_code().as_str()),
            (StatusCode::FORBIDDEN, "origin"),
            "{origin:?} {own_header} {site:?}"
        );
    }
    assert_eq!(class.store.accounts().await.unwrap().len(), 4);
    let own = class.bench.send(forged(Some(ORIGIN), true, Some("same-origin"))).await;
    assert_eq!(own.status, StatusCode::CREATED, "{}", own.text());
}

#[tokio::test]
async fn the_cookie_is_for_the_browser_alone_and_ends_with_signing_out() {
    let class = Class::open().await;
    let answer = class.try_sign_in("QS-07", PASSWORD).await;
    let line = answer.headers[header::SET_COOKIE].to_str().unwrap();
    for part in ["HttpOnly", "SameSite=Strict", "Path=/", "Max-Age=43200"] {
        assert!(line.contains(part), "{line}");
    }
    let browser = Browser { cookie: Some(cookie_of(&answer)) };
    let token = browser.cookie.clone().unwrap().split_once('=').unwrap().1.to_owned();
    assert_eq!(token.len(), 64);
    for file in
        std::fs::read_dir(class.bench.folder.path()).unwrap().flatten().filter(|file| file.path().is_file())
    {
        let bytes = std::fs::read(file.path()).unwrap();
        let holds = |text: &str| bytes.windows(text.len()).any(|part| part == text.as_bytes());
        assert!(!holds(&token) && !holds(PASSWORD), "{:?}", file.path());
    }
    assert_eq!(class.get(&browser, "/attempts").await.status, StatusCode::OK);
    let out = class.send(&browser, Method::DELETE, "/session", None).await;
    assert_eq!(out.status, StatusCode::NO_CONTENT);
    assert!(out.headers[header::SET_COOKIE].to_str().unwrap().contains("Max-Age=0"));
    assert_eq!(class.get(&browser, "/attempts").await.status, StatusCode::UNAUTHORIZED);
    for cookie in ["kerfwright=", "kerfwright=0", "kerfwright=' OR 1=1", "other=1"] {
        let forged = Browser { cookie: Some(cookie.into()) };
        assert_eq!(class.get(&forged, "/attempts").await.status, StatusCode::UNAUTHORIZED, "{cookie}");
    }
}

#[tokio::test]
async fn time_ends_a_sign_in_whether_it_is_used_or_not() {
    let class = Class::open_with(|config| Config { signed_in_s: 2, idle_s: 60, ..config }).await;
    let browser = class.sign_in("QS-07").await;
    assert_eq!(class.get(&browser, "/attempts").await.status, StatusCode::OK);
    tokio::time::sleep(Duration::from_millis(2100)).await;
    assert_eq!(class.get(&browser, "/attempts").await.json_code(), "sign_in");

    let class = Class::open_with(|config| Config { signed_in_s: 60, idle_s: 2, ..config }).await;
    let (busy, idle) = (class.sign_in("QS-07").await, class.sign_in("QS-08").await);
    for _ in 0..3 {
        tokio::time::sleep(Duration::from_millis(900)).await;
        assert_eq!(class.get(&busy, "/attempts").await.status, StatusCode::OK);
    }
    assert_eq!(class.get(&idle, "/attempts").await.json_code(), "sign_in");
}

#[tokio::test]
async fn the_director_keeps_accounts_and_new_passwords_sign_out() {
    let class = Class::open().await;
    let (director, learner) = (class.sign_in("QS-D1").await, class.sign_in("QS-07").await);
    let password = json!({ "password": "five burs in a tray" });
    let answer = class.post(&director, "/accounts/QS-07/password", &password).await;
    assert_eq!(answer.status, StatusCode::NO_CONTENT, "{}", answer.text());
    assert_eq!(class.get(&learner, "/attempts").await.status, StatusCode::UNAUTHORIZED);
    assert_eq!(class.try_sign_in("QS-07", PASSWORD).await.status, StatusCode::UNAUTHORIZED);
    let answer = class.try_sign_in("QS-07", "five burs in a tray").await;
    let learner = Browser { cookie: Some(cookie_of(&answer)) };

    let own = json!({ "old": "five burs in a tray", "new": "six burs in a tray" });
    let changed = class.post(&learner, "/session/password", &own).await;
    assert_eq!(changed.status, StatusCode::OK, "{}", changed.text());
    assert_eq!(class.get(&learner, "/attempts").await.status, StatusCode::UNAUTHORIZED);
    let learner = Browser { cookie: Some(cookie_of(&changed)) };
    assert_eq!(class.get(&learner, "/attempts").await.status, StatusCode::OK);
    let wrong = class.post(&learner, "/session/password", &own).await;
    assert_eq!(wrong.status, StatusCode::UNPROCESSABLE_ENTITY);

    assert_eq!(
        class.send(&director, Method::DELETE, "/accounts/qs-d1", None).await.status,
        StatusCode::CONFLICT
    );
    assert_eq!(
        class.send(&director, Method::DELETE, "/accounts/QS-07", None).await.status,
        StatusCode::NO_CONTENT
    );
    assert_eq!(
        class.send(&director, Method::DELETE, "/accounts/QS-07", None).await.status,
        StatusCode::NOT_FOUND
    );
    assert_eq!(class.get(&learner, "/attempts").await.status, StatusCode::UNAUTHORIZED);
    let twice = json!({ "code": "qs-08", "role": "learner", "password": PASSWORD });
    assert_eq!(class.post(&director, "/accounts", &twice).await.status, StatusCode::CONFLICT);
    for (code, role, password) in
        [("A B", "learner", PASSWORD), ("QS-09", "learner", "short"), ("QS-09", "owner", PASSWORD)]
    {
        let body = json!({ "code": code, "role": role, "password": password });
        assert_eq!(
            class.post(&director, "/accounts", &body).await.status,
            StatusCode::UNPROCESSABLE_ENTITY,
            "{body}"
        );
    }
    let codes: Vec<String> = class.store.accounts().await.unwrap().into_iter().map(|row| row.code).collect();
    assert_eq!(codes, ["QS-D1", "QS-I1", "QS-08"]);
}

#[tokio::test]
async fn large_and_many_uploads_are_refused() {
    let class = Class::open_with(|config| Config { upload_bytes: 1 << 20, ..config }).await;
    let learner = class.sign_in("QS-07").await;
    let large = class.upload(&learner, "large.stl", &vec![0; (1 << 20) + 1]).await;
    assert_eq!(large.status, StatusCode::PAYLOAD_TOO_LARGE);
    assert!(large.text().contains("large.stl: is larger than 1 MB"), "{}", large.text());
    let mut n_taken = 1;
    while class.upload(&learner, "small.stl", b"").await.status == StatusCode::UNPROCESSABLE_ENTITY {
        n_taken += 1;
    }
    assert_eq!(n_taken, 240);
    let other = class.sign_in("QS-08").await;
    assert_eq!(class.upload(&other, "small.stl", b"").await.status, StatusCode::UNPROCESSABLE_ENTITY);
    let long = json!({ "code": "x".repeat(300 << 10), "password": "x" });
    let answer = class.post(&Browser::default(), "/session", &long).await;
    assert_eq!(answer.status, StatusCode::PAYLOAD_TOO_LARGE);
}

#[tokio::test]
async fn the_first_account_shuts_the_open_app() {
    let bench = Bench::open().await;
    assert_eq!(bench.get("/api/v1/attempts").await.status, StatusCode::OK);
    let session = bench.get("/api/v1/session").await.json();
    assert_eq!((&session["accounts"], &session["may"]["remark"]), (&json!(false), &json!(true)));
    assert_eq!(bench.get("/api/v1/accounts").await.status, StatusCode::FORBIDDEN);
    let store = Store::open(bench.folder.path()).await.unwrap();
    add(&store, "QS-D1", Role::Director, None, PASSWORD).await.unwrap();
    assert_eq!(bench.get("/api/v1/attempts").await.status, StatusCode::UNAUTHORIZED);
}
