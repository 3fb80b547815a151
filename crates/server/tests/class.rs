//! The class in the app: the numbers of the command line, each role its part, blind grading, decisions, deletion.

mod common;

use std::collections::{BTreeMap, BTreeSet};

use axum::body::Body;
use axum::http::{Method, StatusCode, header};
use common::{Answer, Bench, request};
use kerfwright_batch::{kept_exercises, kept_ratings, records, scan_row};
use kerfwright_exercise::{library, to_toml};
use kerfwright_grade::grade;
use kerfwright_measure::{Document, ScanFile};
use kerfwright_overview::{Wish, plot, report, sheet};
use kerfwright_server::accounts::{Role, add};
use kerfwright_store::{Chosen, Measured, NewGrade, NewMeasured, SessionRow, Store};
use serde_json::{Value, json};

const PASSWORD: &str = "a tray of three burs";
const EXERCISE: &str = "cast-crown-molar";
const READING: &str = "reduction.axial.distal.middle_mm";

/// A measurement of which little is read.
fn document(reduction_mm: f64) -> Document {
    let rows =
        json!([[1.0, 0.0, 0.0, 0.0], [0.0, 1.0, 0.0, 0.0], [0.0, 0.0, 1.0, 0.0], [0.0, 0.0, 0.0, 1.0]]);
    let readings = json!({
        READING: { "value": reduction_mm, "unit": "mm", "u95": 0.04 },
        "undercut.depth_mm": { "value": 0.0, "unit": "mm", "u95": 0.02 }
    });
    serde_json::from_value(json!({
        "schema": "kerfwright-measurement-1",
        "tool": { "name": "kerf", "version": "0.1.0" },
        "inputs": {},
        "tooth": { "fdi": 26, "taken_for": "26", "mesial_because": "given" },
        "frame": { "tooth_from_after": rows, "axis_sigma_deg": 0.1, "axis_evidence": [] },
        "path": { "direction": [0.0, 0.0, 1.0], "choice": "best" },
        "finish_line": { "length_mm": 30.0, "points": [], "stations": [] },
        "readings": readings, "refused": {}, "warnings": [], "cautions": []
    }))
    .unwrap()
}

/// Eight attempts of six learners, whose readings are told; one of them could not be measured.
struct Class {
    bench: Bench,
    store: Store,
    /// Ids by order of coming.
    attempts: Vec<String>,
}

/// Whose session an account sits in; nobody's without one.
type Cookie = Option<String>;

impl Class {
    async fn open() -> Self {
        let bench = Bench::open().await;
        let store = Store::open(bench.folder.path()).await.unwrap();
        let exercise = library::exercise(EXERCISE).unwrap();
        let version = store.keep_exercise(EXERCISE, &exercise.title, &to_toml(&exercise)).await.unwrap();
        for (code, instructor) in [("week-1", "QS-I1"), ("week-2", "QS-I2")] {
            let session = SessionRow {
                code: code.into(),
                title: code.into(),
                cohort: None,
                instructor: Some(instructor.into()),
                held: None,
            };
            store.keep_session(&session, "QS-D1").await.unwrap();
        }
        let scan = keep_scan(&store).await;
        let mut attempts = Vec::new();
        for (k, (learner, value)) in [
            ("QS-01", 0.1),
            ("QS-01", 0.6),
            ("QS-02", 0.2),
            ("QS-03", 0.3),
            ("QS-04", 0.41),
            ("QS-05", 0.7),
            ("QS-06", 0.8),
        ]
        .into_iter()
        .enumerate()
        {
            let document = document(value);
            let graded = grade(&document, &exercise, None).unwrap();
            let outcome = Measured::Done {
                layout: "kerfwright-measurement-1".into(),
                document: serde_json::to_string(&document).unwrap(),
                grade: Some(NewGrade {
                    exercise_version: version.clone(),
                    stage: graded.stage.id.clone(),
                    version: graded.version.clone(),
                    grade: serde_json::to_string(&graded).unwrap(),
                }),
            };
            let new = measured(&scan, k, learner, Some((&version, &graded.stage.id)), outcome);
            attempts.push(store.keep_measured(&new).await.unwrap());
        }
        let refused =
            Measured::Refused { code: "find".into(), text: "QS-06.stl: no tooth was cut here".into() };
        let new = measured(&scan, 7, "QS-06", Some((&version, "final")), refused);
        attempts.push(store.keep_measured(&new).await.unwrap());
        Self { bench, store, attempts }
    }

    /// With one account of each kind that matters.
    async fn with_accounts() -> Self {
        let class = Self::open().await;
        for (code, role) in [
            ("QS-D1", Role::Director),
            ("QS-I1", Role::Instructor),
            ("QS-I2", Role::Instructor),
            ("QS-01", Role::Learner),
        ] {
            add(&class.store, code, role, None, PASSWORD).await.unwrap();
        }
        class
    }

    async fn ask(&self, cookie: &Cookie, method: Method, path: &str, body: Option<&Value>) -> Answer {
        let bytes = body.map_or_else(Body::empty, |body| Body::from(body.to_string()));
        self.send(cookie, method, path, "application/json", bytes).await
    }

    async fn send(&self, cookie: &Cookie, method: Method, path: &str, kind: &str, body: Body) -> Answer {
        let mut asked = request(method, &format!("/api/v1{path}"), body);
        let headers = asked.headers_mut();
        headers.insert(header::CONTENT_TYPE, kind.parse().unwrap());
        headers.insert(header::ORIGIN, "http://127.0.0.1:4177".parse().unwrap());
        headers.insert("x-kerfwright", "1".parse().unwrap());
        if let Some(cookie) = cookie {
            headers.insert(header::COOKIE, cookie.parse().unwrap());
        }
        self.bench.send(asked).await
    }

    async fn get(&self, cookie: &Cookie, path: &str) -> Answer {
        self.ask(cookie, Method::GET, path, None).await
    }

    async fn status(&self, cookie: &Cookie, method: Method, path: &str) -> u16 {
        self.ask(cookie, method, path, Some(&json!({}))).await.status.as_u16()
    }

    async fn sign_in(&self, code: &str) -> Cookie {
        let body = json!({ "code": code, "password": PASSWORD });
        let answer = self.ask(&None, Method::POST, "/session", Some(&body)).await;
        assert_eq!(answer.status, StatusCode::OK, "{}", answer.text());
        let line = answer.headers[header::SET_COOKIE].to_str().unwrap();
        Some(line.split(';').next().unwrap().to_owned())
    }
}

fn measured(
    scan: &str,
    k: usize,
    learner: &str,
    held: Option<(&str, &str)>,
    outcome: Measured,
) -> NewMeasured {
    let (version, stage) = held.unzip();
    NewMeasured {
        identity: format!("attempt {k}"),
        scans: (scan.into(), None, None),
        request: json!({ "after": scan, "tooth": "26", "learner": learner, "exercise": EXERCISE })
            .to_string(),
        fdi: 26,
        learner: Some(learner.into()),
        session: Some(if k.is_multiple_of(2) { "week-1" } else { "week-2" }.into()),
        exercise: Some(EXERCISE.into()),
        exercise_version: version.map(str::to_owned),
        stage: stage.map(str::to_owned),
        taken: Some(format!("2026-11-{:02}", k + 1)),
        version: "0.1.0".into(),
        outcome,
    }
}

/// A real scan, since examiners look at it.
async fn keep_scan(store: &Store) -> String {
    let bytes = &common::phantom().1[0];
    let scan = ScanFile::read("QS-01_26.stl", bytes).unwrap();
    let row = scan_row(&scan, bytes.len());
    store.keep_scan(&row, bytes).await.unwrap().id
}

#[tokio::test]
async fn numbers_and_plots_are_those_of_the_command_line() {
    let class = Class::open().await;
    let kept = records(&class.store, &Chosen::default()).await.unwrap();
    let (exercises, versions) = kept_exercises(&class.store).await.unwrap();
    let settings = kerfwright_class::Settings::default();
    let wish = Wish { learner: None, exercises: &exercises, versions: &versions, settings: &settings };
    let reports = report(&kept.entries, &wish);
    let file = async |name: &str| {
        let answer = class.get(&None, &format!("/class/report/{name}?exercise={EXERCISE}")).await;
        assert_eq!(answer.status, StatusCode::OK, "{name}: {}", answer.text());
        assert!(answer.headers[header::CONTENT_DISPOSITION].to_str().unwrap().starts_with("attachment"));
        answer.text()
    };
    assert_eq!(file("report.csv").await, sheet::csv(&reports));
    assert_eq!(file("report.json").await, serde_json::to_string_pretty(&reports).unwrap() + "\n");
    assert_eq!(file("readings.svg").await, plot::distributions(&reports[0]));
    assert_eq!(file("places.svg").await, plot::places(&reports[0]).unwrap());
    let page = class.get(&None, "/class/report").await.json();
    let criteria = page[0]["criteria"].as_array().unwrap();
    let place = criteria.iter().position(|criterion| criterion["reading"] == READING).unwrap();
    // Of QS-01 the latest counts: 0.2 and 0.3 lie below 0.4, 0.41 cannot be told from it.
    let distribution = &criteria[place]["distribution"];
    assert_eq!(
        (&distribution["n"], criteria[place]["name"].as_str().unwrap()),
        (&json!(6), "axial reduction, middle third, distal")
    );
    assert!((distribution["under"]["value"].as_f64().unwrap() - 2.0 / 6.0).abs() < 1e-12);
    assert_eq!(page[0]["drawn"][place], plot::distribution(&reports[0].criteria[place]));
    assert_eq!(class.get(&None, "/class/report?cohort=nobody").await.json(), json!([]));
    assert_eq!(
        class.get(&None, "/class/report/report.csv?cohort=nobody").await.status,
        StatusCode::NOT_FOUND
    );
}

#[tokio::test]
async fn a_learner_is_followed_and_may_leave_with_the_numbers() {
    let class = Class::open().await;
    let page = class.get(&None, "/class/learners/QS-01").await.json();
    let stage = &page["reports"][0];
    let courses = stage["report"]["courses"].as_array().unwrap();
    let course = courses.iter().find(|course| course["criterion"] == READING).unwrap();
    let values: Vec<f64> =
        course["points"].as_array().unwrap().iter().map(|p| p["value"].as_f64().unwrap()).collect();
    assert_eq!(values, [0.1, 0.6]);
    assert_eq!(stage["drawn"].as_array().unwrap().len(), courses.len());
    assert_eq!(stage["ids"]["1"], json!(class.attempts[0]));
    assert_eq!(stage["report"]["readings"][READING]["unit"], "mm");
    let csv = class.get(&None, "/class/learners/QS-01/learner.csv").await.text();
    assert!(csv.lines().any(|line| line.contains(READING) && line.contains(",0.6,")), "{csv}");
    assert!(class.get(&None, "/class/learners/QS-01/learner.svg").await.text().starts_with("<svg"));
    assert_eq!(class.get(&None, "/class/learners/QS-99").await.status, StatusCode::NOT_FOUND);
    let list = class.get(&None, "/class/attempts?learner=QS-06").await.json();
    let states: Vec<&str> =
        list.as_array().unwrap().iter().map(|row| row["state"].as_str().unwrap()).collect();
    assert_eq!(states, ["refused", "done"]);
    let grades = class.get(&None, "/class/tables/grades.csv").await.text();
    assert_eq!(grades.lines().count(), 8, "{grades}");
    assert!(class.get(&None, "/class/tables/readings.parquet").await.bytes.starts_with(b"PAR1"));
    assert_eq!(class.get(&None, "/class/tables/grades.xml").await.status, StatusCode::NOT_FOUND);
}

#[tokio::test]
async fn each_role_sees_its_part_of_the_class() {
    let class = Class::with_accounts().await;
    let (learner, instructor, director) =
        (class.sign_in("QS-01").await, class.sign_in("QS-I1").await, class.sign_in("QS-D1").await);
    let get = Method::GET;
    for path in [
        "/class",
        "/class/report",
        "/class/agreement",
        "/class/tables/grades.csv",
        "/class/report/report.csv",
        "/gradings",
    ] {
        assert_eq!(class.status(&learner, get.clone(), path).await, 403, "{path}");
        assert_ne!(class.status(&instructor, get.clone(), path).await, 403, "{path}");
    }
    // The own page, and of others not even whether there is one.
    assert_eq!(class.status(&learner, get.clone(), "/class/learners/QS-01").await, 200);
    for path in [
        "/class/learners/QS-02",
        "/class/learners/nobody",
        "/class/learners/QS-02/learner.csv",
        "/class/learners/qs-01",
    ] {
        let answer = class.get(&learner, path).await;
        assert_eq!((answer.status.as_u16(), answer.json_code().as_str()), (404, "missing"), "{path}");
    }
    let own = class.get(&learner, "/class/attempts?learner=QS-02&cohort=spring").await;
    let own: BTreeSet<String> = own
        .json()
        .as_array()
        .unwrap()
        .iter()
        .map(|row| row["learner"].as_str().unwrap().to_owned())
        .collect();
    assert_eq!(own, BTreeSet::from(["QS-01".to_owned()]));
    for (method, path) in [
        (Method::POST, "/gradings"),
        (Method::DELETE, "/class/learners/QS-01"),
        (Method::DELETE, "/class/cohorts/spring"),
    ] {
        assert_eq!(class.status(&learner, method.clone(), path).await, 403, "{path}");
        assert_eq!(class.status(&instructor, method.clone(), path).await, 403, "{path}");
    }
    let path = format!("/attempts/{}/decisions", class.attempts[0]);
    assert_eq!(class.status(&learner, Method::POST, &path).await, 403);
    assert_eq!(class.status(&director, Method::POST, "/gradings").await, 422);
}

/// What the director sets up for two instructors: everything once, two attempts twice.
fn grading(examiners: &[&str]) -> Value {
    json!({
        "title": "Calibration", "exercise": EXERCISE, "stage": "final", "latest_only": true,
        "criteria": ["axial_reduction"], "examiners": examiners, "n_repeats": 2, "least_gap": 3
    })
}

fn criterion_id() -> String {
    library::exercise(EXERCISE).unwrap().stage(Some("final")).unwrap().criteria[0].id.clone()
}

#[tokio::test]
async fn examiners_grade_codes_once_and_see_nothing_else() {
    let class = Class::with_accounts().await;
    let (first, second, director) =
        (class.sign_in("QS-I1").await, class.sign_in("QS-I2").await, class.sign_in("QS-D1").await);
    let mut wanted = grading(&["qs-i1", "QS-I2"]);
    wanted["criteria"] = json!([criterion_id()]);
    let made = class.ask(&director, Method::POST, "/gradings", Some(&wanted)).await;
    assert_eq!(made.status, StatusCode::CREATED, "{}", made.text());
    let id = made.json()["id"].as_str().unwrap().to_owned();
    for wrong in [json!(["QS-01"]), json!(["nobody"]), json!([])] {
        wanted["examiners"] = wrong;
        assert_eq!(
            class.ask(&director, Method::POST, "/gradings", Some(&wanted)).await.status,
            StatusCode::UNPROCESSABLE_ENTITY
        );
    }

    let own = format!("/gradings/{id}/sheets/QS-I1");
    let sheet = class.get(&first, &own).await;
    let codes: Vec<String> = sheet.json()["codes"]
        .as_array()
        .unwrap()
        .iter()
        .map(|code| code["code"].as_str().unwrap().to_owned())
        .collect();
    // Six learners' latest measured attempts, two of them twice.
    assert_eq!(codes.len(), 8);
    let told = sheet.text() + &class.get(&first, "/gradings").await.text();
    for secret in class.attempts.iter().map(String::as_str).chain(["QS-0", "QS-I2", "week-"]) {
        assert!(!told.contains(secret), "{secret} in {told}");
    }
    for (cookie, path) in
        [(&first, format!("/gradings/{id}/sheets/QS-I2")), (&director, own.clone()), (&second, own.clone())]
    {
        assert_eq!(class.status(cookie, Method::GET, &path).await, 404, "{path}");
    }
    let mesh = class.get(&first, &format!("{own}/{}/mesh.glb", codes[0])).await;
    assert_eq!((mesh.status, &mesh.bytes[..4]), (StatusCode::OK, &b"glTF"[..]));
    let text = String::from_utf8_lossy(&mesh.bytes).into_owned();
    assert!(
        !text.contains("QS-0") && !text.contains("REDUCTION"),
        "no name and no reading goes with the mesh"
    );
    assert!(
        !mesh.headers[header::ETAG]
            .to_str()
            .unwrap()
            .contains(&class.store.attempt(&class.attempts[0]).await.unwrap().unwrap().after)
    );

    // One who still grades is told nothing of what others gave.
    assert_eq!(class.status(&first, Method::GET, "/class/agreement").await, 409);
    let marks = |value: f64| json!({ "marks": [{ "criterion": criterion_id(), "value": value }] });
    for wrong in
        [json!({ "marks": [] }), marks(1.5), json!({ "marks": [{ "criterion": "other", "value": 1 }] })]
    {
        let answer = class.ask(&first, Method::POST, &format!("{own}/{}", codes[0]), Some(&wrong)).await;
        assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY, "{}", answer.text());
    }
    for code in &codes {
        let answer = class.ask(&first, Method::POST, &format!("{own}/{code}"), Some(&marks(1.0))).await;
        assert_eq!(answer.status, StatusCode::NO_CONTENT, "{}", answer.text());
        let again = class.ask(&first, Method::POST, &format!("{own}/{code}"), Some(&marks(2.0))).await;
        assert_eq!(again.status, StatusCode::CONFLICT);
    }
    let ratings = kept_ratings(&class.store).await.unwrap();
    let mut times: BTreeMap<String, Vec<u32>> = BTreeMap::new();
    for rating in &ratings {
        assert_eq!((rating.examiner.as_str(), rating.value), ("QS-I1", 1.0));
        times.entry(rating.attempt.clone()).or_default().push(rating.occasion);
    }
    assert_eq!((times.len(), times.values().filter(|times| **times == [0, 1]).count()), (6, 2));
    assert_eq!(class.status(&first, Method::GET, "/class/agreement").await, 200);
    assert_eq!(class.status(&second, Method::GET, "/class/agreement").await, 409);
    let figures = class.get(&director, "/class/agreement").await.json();
    assert_eq!(figures["agreement"]["examiners"], json!(["QS-I1"]));
    assert!(
        class
            .get(&director, "/class/agreement/agreement.csv")
            .await
            .text()
            .starts_with("criterion,examiners,statistic")
    );
    assert_eq!(class.status(&director, Method::DELETE, &format!("/gradings/{id}")).await, 204);
    assert_eq!(kept_ratings(&class.store).await.unwrap().len(), ratings.len(), "what was given stays");
}

#[tokio::test]
async fn a_calibration_is_shown_to_who_graded_all_of_it() {
    let class = Class::with_accounts().await;
    let (first, second, director) =
        (class.sign_in("QS-I1").await, class.sign_in("QS-I2").await, class.sign_in("QS-D1").await);
    let all: Vec<String> = library::exercise(EXERCISE)
        .unwrap()
        .stage(Some("final"))
        .unwrap()
        .criteria
        .iter()
        .map(|criterion| criterion.id.clone())
        .collect();
    let wish = json!({
        "exercise": EXERCISE, "stage": "final", "latest_only": false, "criteria": all, "n": 3
    });
    assert_eq!(class.ask(&first, Method::POST, "/gradings/proposal", Some(&wish)).await.status, 403);
    let proposal = class.ask(&director, Method::POST, "/gradings/proposal", Some(&wish)).await;
    assert_eq!(proposal.status, StatusCode::OK, "{}", proposal.text());
    let proposal = proposal.json();
    let known = proposal["attempts"].as_array().unwrap();
    let proposed: Vec<&str> = known
        .iter()
        .filter(|attempt| attempt["is_proposed"] == json!(true))
        .map(|attempt| attempt["id"].as_str().unwrap())
        .collect();
    assert_eq!(proposed.len(), 3, "{proposal}");
    let levels = known[0]["levels"].as_object().unwrap();
    let criteria: Vec<&String> = levels.keys().collect();

    let mut wanted = grading(&["QS-I1", "QS-I2"]);
    wanted["criteria"] = json!(criteria);
    wanted["n_repeats"] = json!(1);
    wanted["least_gap"] = json!(2);
    // The refused attempt is not known.
    wanted["attempts"] = json!([proposed[0], class.attempts[7]]);
    let refused = class.ask(&director, Method::POST, "/gradings", Some(&wanted)).await;
    assert!(refused.status == 422 && refused.text().contains("no reading is known"), "{}", refused.text());
    wanted["attempts"] = json!(proposed);
    let made = class.ask(&director, Method::POST, "/gradings", Some(&wanted)).await;
    assert_eq!(made.status, StatusCode::CREATED, "{}", made.text());
    let id = made.json()["id"].as_str().unwrap().to_owned();

    let own = |examiner: &str| format!("/gradings/{id}/sheets/{examiner}");
    let result = |examiner: &str| own(examiner) + "/calibration";
    assert_eq!(class.status(&first, Method::GET, &result("QS-I1")).await, 409, "not graded yet");
    let marks: Vec<Value> = criteria.iter().map(|one| json!({ "criterion": one, "value": 1 })).collect();
    for (cookie, examiner) in [(&first, "QS-I1"), (&second, "QS-I2")] {
        let sheet = class.get(cookie, &own(examiner)).await.json();
        assert_eq!(sheet["grading"]["is_calibration"], json!(true));
        for code in sheet["codes"].as_array().unwrap() {
            let path = format!("{}/{}", own(examiner), code["code"].as_str().unwrap());
            let body = json!({ "marks": marks });
            assert_eq!(class.ask(cookie, Method::POST, &path, Some(&body)).await.status, 204);
        }
        let told = class.get(cookie, &result(examiner)).await;
        assert_eq!(told.status, StatusCode::OK, "{}", told.text());
        let is_over = examiner == "QS-I2";
        for attempt in &proposed {
            assert_eq!(told.text().contains(attempt), is_over, "told once nobody grades any more");
        }
        let told = told.json();
        assert_eq!(told["examiner"], json!(examiner));
        // The same level both times, since one level was given to all.
        assert_eq!(told["n_repeats_same"], json!(told["repeats"].as_array().unwrap().len()));
        let codes = told["criteria"][0]["codes"].as_array().unwrap();
        assert_eq!(codes.len(), 4);
        for code in codes.iter().filter(|code| !code["known"].is_null()) {
            let apart = (code["given"].as_f64().unwrap() - code["known"].as_f64().unwrap()).abs();
            assert_eq!(code["differs"], json!(apart > 0.5), "{code}");
        }
    }
    // An examiner sees the own one alone, who set it up all of them; the file has the same lines.
    assert_eq!(class.status(&second, Method::GET, &result("QS-I1")).await, 404);
    assert_eq!(class.status(&director, Method::GET, &result("QS-I1")).await, 200);
    let csv = class.get(&first, &(result("QS-I1") + ".csv")).await.text();
    assert_eq!(csv.lines().count(), 1 + 4 * criteria.len(), "{csv}");
    assert!(csv.starts_with("examiner,criterion,code,attempt,given,known,differs"));
}

#[tokio::test]
async fn a_roster_is_shown_before_it_is_kept() {
    let class = Class::with_accounts().await;
    let (instructor, learner) = (class.sign_in("QS-I1").await, class.sign_in("QS-01").await);
    let send = async |cookie: &Cookie, more: &str, text: &str| {
        let (path, body) = (format!("/class/roster?name=spring.csv{more}"), Body::from(text.to_owned()));
        class.send(cookie, Method::POST, &path, "application/octet-stream", body).await
    };
    let table = "learner,cohort,name\nQS-01,spring,Wilhelmina Tide\nQS-77,spring,Barnaby Shoal\n";
    assert_eq!(send(&learner, "", table).await.status, StatusCode::FORBIDDEN);
    let fault = send(&instructor, "&keep=true", "learner,cohort\nQS-01\n,spring\n").await;
    assert_eq!(fault.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(fault.text().contains("nothing was taken in: spring.csv: line 2: "), "{}", fault.text());
    let before = class.store.learners().await.unwrap();
    let shown = send(&instructor, "&names=true", table).await;
    assert_eq!(shown.status, StatusCode::OK, "{}", shown.text());
    let shown = shown.json();
    assert_eq!((&shown["new_learners"], &shown["n_named"]), (&json!(["QS-77"]), &json!(2)));
    assert!(
        shown["sentence"].as_str().unwrap().starts_with("1 learners new, 1 known; 1 cohorts new; 2 joined")
    );
    assert_eq!(class.store.learners().await.unwrap(), before, "shown, not kept");
    assert_eq!(send(&instructor, "&keep=true", table).await.json()["sentence"], shown["sentence"]);
    let kept = class.store.learners().await.unwrap();
    let new = kept.iter().find(|row| row.code == "QS-77").unwrap();
    assert_eq!(new.name, None, "names were not asked for");
    assert_eq!(class.store.members("spring").await.unwrap(), ["QS-01", "QS-77"]);
    let trail = class.store.audit(5).await.unwrap();
    assert!(trail.iter().any(|row| row.what == "roster taken in" && row.who == "QS-I1"));
}

#[tokio::test]
async fn a_decision_counts_and_the_computed_grade_stays() {
    let class = Class::with_accounts().await;
    let instructor = class.sign_in("QS-I1").await;
    let attempt = &class.attempts[2];
    let path = format!("/attempts/{attempt}/decisions");
    let unexplained = json!({ "change": { "outcome": "passed" }, "reason": " " });
    let answer = class.ask(&instructor, Method::POST, &path, Some(&unexplained)).await;
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY, "{}", answer.text());
    // Whoever is signed in decides, whatever code is sent.
    let decided = json!({ "change": { "outcome": "passed" }, "reason": "The scan is short of the distal wall.", "by": "QS-I9" });
    let before = class.get(&instructor, &format!("/attempts/{attempt}/grade")).await.json();
    assert_eq!(
        (&before["is_kept"], &before["grade"]["standing"]),
        (&json!(true), &before["grade"]["computed"])
    );
    assert_eq!(
        class.ask(&instructor, Method::POST, &path, Some(&decided)).await.status,
        StatusCode::NO_CONTENT
    );
    let after = class.get(&instructor, &format!("/attempts/{attempt}/grade")).await.json();
    assert_eq!(after["grade"]["computed"], before["grade"]["computed"]);
    assert_eq!(after["grade"]["standing"]["outcome"], "passed");
    assert_eq!(after["grade"]["overrides"][0]["by"], "QS-I1");
    let list = class.get(&instructor, "/class/attempts?learner=QS-02").await.json();
    assert_eq!(
        (&list[0]["grade"]["outcome"], &list[0]["grade"]["is_decided"]),
        (&json!("passed"), &json!(true))
    );
}

#[tokio::test]
async fn what_the_director_deletes_is_gone_from_memory_too() {
    let class = Class::with_accounts().await;
    let (learner, director) = (class.sign_in("QS-01").await, class.sign_in("QS-D1").await);
    let attempt = class.attempts[0].clone();
    assert_eq!(class.status(&learner, Method::GET, &format!("/attempts/{attempt}")).await, 200);
    let removed = class.ask(&director, Method::DELETE, "/class/learners/QS-01", None).await;
    assert_eq!(
        removed.json(),
        json!({ "learners": 1, "attempts": 2, "scans": 0 }),
        "others use the scan too"
    );
    assert_eq!(class.status(&director, Method::GET, "/class/learners/QS-01").await, 404);
    assert_eq!(class.status(&director, Method::GET, &format!("/attempts/{attempt}")).await, 404);
    assert_eq!(class.status(&director, Method::DELETE, "/class/learners/QS-01").await, 404);
    // The account went too.
    assert_eq!(class.status(&learner, Method::GET, "/class/attempts").await, 401);
    let trail = class.get(&director, "/audit").await.text();
    assert!(trail.contains("learner deleted") && !trail.contains("QS-01"), "{trail}");
}

/// What is measured in the app counts in the class.
#[tokio::test(flavor = "multi_thread")]
async fn an_attempt_of_the_app_is_graded_and_counted() {
    let bench = Bench::open().await;
    let [after, before, opposing] = bench.upload_phantom().await;
    let wanted = json!({
        "after": after, "before": before, "opposing": opposing, "tooth": "26", "exercise": "quayside-26", "learner": "QS-07"
    });
    let id = bench.post("/api/v1/attempts", &wanted).await.json()["id"].as_str().unwrap().to_owned();
    let events = bench.get(&format!("/api/v1/attempts/{id}/events")).await.text();
    assert!(events.contains("event: done"), "{events}");
    let list = bench.get("/api/v1/class/attempts").await.json();
    assert_eq!((&list[0]["id"], &list[0]["learner"]), (&json!(id), &json!("QS-07")));
    let reports = bench.get("/api/v1/class/report").await.json();
    assert_eq!((&reports[0]["exercise"], &reports[0]["n_attempts"]), (&json!("quayside-26"), &json!(1)));
    assert!(list[0]["grade"]["outcome"].is_string(), "{list}");
    let decided =
        json!({ "change": { "outcome": "not_passed" }, "reason": "Cut without water.", "by": "QS-I1" });
    let answer = bench.post(&format!("/api/v1/attempts/{id}/decisions"), &decided).await;
    assert_eq!(answer.status, StatusCode::NO_CONTENT, "{}", answer.text());
    let list = bench.get("/api/v1/class/attempts").await.json();
    assert_eq!(list[0]["grade"]["outcome"], "not_passed");
}
