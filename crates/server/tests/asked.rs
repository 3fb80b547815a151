//! What the command line can be asked, the app can: several teeth, dies, path, jaw, exercises of one's own. The answers are the
//! library's, byte for byte.

mod common;

use axum::body::Body;
use axum::http::{Method, StatusCode, header};
use common::{Answer, Bench, request};
use kerfwright_jaw::JawSettings;
use kerfwright_measure::{Attempt, JawWishes, OpposingFrame, PathChoice, Request, ScanFile};
use kerfwright_mesh::Extent;
use kerfwright_trial::common::row::{Body as Tooth, CROWN, bytes, pose, row};
use nalgebra::{Point3, Vector3};
use serde_json::{Value, json};

fn wish(number: &str) -> Request {
    let tooth = kerfwright_tooth::parse(number, None).unwrap();
    Request { tooth, mesial_point: None, path: PathChoice::Best, jaw: JawWishes::default() }
}

fn pretty(document: &impl serde::Serialize) -> String {
    serde_json::to_string_pretty(document).unwrap() + "\n"
}

fn attempt<'a>(after: &'a ScanFile, before: Option<&'a ScanFile>) -> Attempt<'a> {
    Attempt { after, before, opposing: None, opposing_frame: OpposingFrame::Before }
}

async fn kept(bench: &Bench, path: &str, bytes: &[u8]) -> String {
    let answer = bench.send(request(Method::POST, path, Body::from(bytes.to_vec()))).await;
    assert_eq!(answer.status, StatusCode::CREATED, "{}", answer.text());
    answer.json()["id"].as_str().unwrap().into()
}

/// Waits for the end of an attempt.
async fn ended(bench: &Bench, id: &str) {
    let events = bench.get(&format!("/api/v1/attempts/{id}/events")).await.text();
    assert!(events.contains("event: done"), "{events}");
}

async fn of(bench: &Bench, id: &str, what: &str) -> Answer {
    bench.get(&format!("/api/v1/attempts/{id}/{what}")).await
}

#[tokio::test(flavor = "multi_thread")]
async fn several_prepared_teeth_become_an_attempt_each_with_one_joint_document() {
    let mut bodies = row(&[3.6, 3.7, 5.3, 5.0, 4.7]);
    let before_bytes = bytes(&bodies, &pose(7), 1);
    bodies[1] = bodies[1].cut(CROWN);
    bodies[3] = bodies[3].cut(CROWN);
    let after_bytes = bytes(&bodies, &pose(8), 2);
    let bench = Bench::open().await;
    let after = kept(&bench, "/api/v1/scans?name=after.stl", &after_bytes).await;
    let before = kept(&bench, "/api/v1/scans?name=before.stl", &before_bytes).await;
    let asked = json!({ "after": after, "before": before, "tooth": "35,37" });
    let created = bench.post("/api/v1/attempts", &asked).await;
    assert_eq!(created.status, StatusCode::CREATED, "{}", created.text());
    let (first, second) = (created.json()["id"].clone(), created.json()["others"][0].clone());
    let (first, second) = (first.as_str().unwrap(), second.as_str().unwrap());
    ended(&bench, first).await;
    ended(&bench, second).await;

    let (after, before) = (
        ScanFile::read("after.stl", &after_bytes).unwrap(),
        ScanFile::read("before.stl", &before_bytes).unwrap(),
    );
    let (attempt, requests) = (attempt(&after, Some(&before)), [wish("35"), wish("37")]);
    let preparations = attempt.find_each(attempt.align().unwrap().as_ref(), &requests).unwrap();
    let joint = attempt.joint_document(&preparations, &requests);
    for (id, k) in [(first, 0), (second, 1)] {
        assert_eq!(of(&bench, id, "document").await.text(), pretty(&joint.teeth[k]), "{k}");
        assert_eq!(of(&bench, id, "joint").await.text(), pretty(&joint), "{k}");
        assert_eq!(of(&bench, id, "scene").await.json()["fdi"], [35, 37][k]);
    }
    let titles = of(&bench, first, "titles").await.json();
    let abutments = titles.as_array().unwrap().iter().find(|group| group["id"] == "abutments").unwrap();
    assert_eq!(abutments["heading"], "Several abutments");
    assert_eq!(abutments["readings"][0]["title"], "Angle between the best paths");
}

#[tokio::test(flavor = "multi_thread")]
async fn a_die_is_taken_when_it_is_called_one() {
    let pose = pose(3);
    let scan = bytes(&[Tooth::new(4.2, Vector3::zeros()).cut(CROWN)], &pose, 1);
    let bench = Bench::open().await;
    let doubtful = bench.upload("die.stl", &scan).await;
    assert_eq!(doubtful.status, StatusCode::UNPROCESSABLE_ENTITY);
    let error = &doubtful.json()["error"];
    assert_eq!(error["code"], "maybe_die");
    assert!(!error["message"].as_str().unwrap().contains("--"), "{error}");

    let after = kept(&bench, "/api/v1/scans?name=die.stl&extent=die", &scan).await;
    let mesial = pose * Point3::new(-6.0, 0.0, 1.0);
    let point = [mesial.x, mesial.y, mesial.z];
    let asked =
        json!({ "after": after, "tooth": "35", "extent": "die", "path": "axis", "mesial_point": point });
    let created = bench.post("/api/v1/attempts", &asked).await.json();
    let id = created["id"].as_str().unwrap();
    ended(&bench, id).await;
    let file = ScanFile::read_as("die.stl", &scan, Some(Extent::Die)).unwrap();
    let wish = Request { mesial_point: Some(mesial), path: PathChoice::Axis, ..wish("35") };
    let attempt = attempt(&file, None);
    let preparation = attempt.find(None, &wish).unwrap();
    assert_eq!(of(&bench, id, "document").await.text(), pretty(&attempt.document(&preparation, &wish)));
    // Its picture is shown, although nothing more is said than its id.
    assert_eq!(bench.get(&format!("/api/v1/scans/{after}/mesh.glb")).await.status, StatusCode::OK);
    assert_eq!(of(&bench, id, "joint").await.status, StatusCode::NOT_FOUND);
}

#[tokio::test(flavor = "multi_thread")]
async fn the_jaw_moves_as_it_is_told_to() {
    let bench = Bench::open().await;
    let [after, before, opposing] = bench.upload_phantom().await;
    let steep = json!({ "condylar_inclination_right_deg": 55.0, "condylar_inclination_left_deg": 55.0 });
    let asked =
        json!({ "after": after, "before": before, "opposing": opposing, "tooth": "26", "jaw": steep });
    let created = bench.post("/api/v1/attempts", &asked).await.json();
    let id = created["id"].as_str().unwrap();
    ended(&bench, id).await;
    let names = ["after.stl", "before.stl", "opposing.stl"];
    let [after, before, opposing] =
        [0, 1, 2].map(|k| ScanFile::read(names[k], &common::phantom().1[k]).unwrap());
    let text = "condylar_inclination_right_deg = 55.0\ncondylar_inclination_left_deg = 55.0\n";
    let jaw = JawWishes { settings: JawSettings::from_toml(text).unwrap(), ..JawWishes::default() };
    let wish = Request { jaw, ..wish("26") };
    let attempt = Attempt { opposing: Some(&opposing), ..attempt(&after, Some(&before)) };
    let preparation = attempt.find(attempt.align().unwrap().as_ref(), &wish).unwrap();
    assert_eq!(of(&bench, id, "document").await.text(), pretty(&attempt.document(&preparation, &wish)));

    for (wrong, word) in
        [(json!({ "jaw": { "no_such": 1 } }), "no_such"), (json!({ "path": [0, 0, 0] }), "direction")]
    {
        let mut asked = asked.clone();
        asked.as_object_mut().unwrap().extend(wrong.as_object().unwrap().clone());
        let refused = bench.post("/api/v1/attempts", &asked).await;
        assert_eq!(refused.status, StatusCode::UNPROCESSABLE_ENTITY);
        assert!(refused.text().contains(word), "{}", refused.text());
    }
}

const OWN: &str = "schema = \"kerfwright-exercise-1\"\nbase = \"cast-crown-molar\"\nname = \"mine\"\ntitle = \"Cast crown, morning group\"\n";

async fn put_exercise(bench: &Bench, name: &str, text: &str) -> Answer {
    let path = format!("/api/v1/exercises?name={name}");
    let mut put = request(Method::POST, &path, Body::from(text.to_owned()));
    put.headers_mut().insert(header::CONTENT_TYPE, "text/plain".parse().unwrap());
    bench.send(put).await
}

#[tokio::test(flavor = "multi_thread")]
async fn an_exercise_of_one_s_own_is_held_against_and_stays_what_it_was() {
    let bench = Bench::open().await;
    let faulty = put_exercise(&bench, "mine.toml", "nonsense = 1\n").await;
    assert_eq!(faulty.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert!(faulty.text().contains("mine.toml:1"), "{}", faulty.text());

    let added = put_exercise(&bench, "mine.toml", OWN).await;
    assert_eq!(added.status, StatusCode::CREATED, "{}", added.text());
    let own = added.json();
    let name = own["name"].as_str().unwrap();
    assert_eq!((&own["title"], &own["is_own"]), (&json!("Cast crown, morning group"), &json!(true)));
    assert_eq!(
        put_exercise(&bench, "mine.toml", OWN).await.json()["name"],
        name,
        "the same again is no new one"
    );
    let other = put_exercise(&bench, "mine.toml", &OWN.replace("morning", "evening")).await.json();
    assert_ne!(other["name"], name);
    let bench = bench.reopened().await;
    let listed = bench.get("/api/v1/exercises").await.json();
    let n_own = listed.as_array().unwrap().iter().filter(|entry| entry["is_own"] == true).count();
    assert_eq!(n_own, 2);

    let [after, before, opposing] = bench.upload_phantom().await;
    let asked =
        json!({ "after": after, "before": before, "opposing": opposing, "tooth": "26", "exercise": name });
    let created = bench.post("/api/v1/attempts", &asked).await;
    assert_eq!(created.status, StatusCode::CREATED, "{}", created.text());
    let created = created.json();
    let id = created["id"].as_str().unwrap();
    ended(&bench, id).await;
    let grade = of(&bench, id, "grade").await.json();
    assert_eq!(grade["grade"]["exercise"]["title"], "Cast crown, morning group");
    // Maps show its limits and the target is its own, without its name being said again.
    let scene = of(&bench, id, "scene").await.json();
    assert!(!scene["maps"][0]["limits"].as_array().unwrap().is_empty());
    assert!(
        scene["target_notes"][0].as_str().unwrap().contains("morning group"),
        "{}",
        scene["target_notes"]
    );
}

/// How the parts of the phantom lie to the target of an exercise.
async fn target_parts(bench: &Bench, exercise: &str) -> Value {
    let [after, before, opposing] = bench.upload_phantom().await;
    let asked = json!({ "after": after, "before": before, "opposing": opposing, "tooth": "26", "exercise": exercise });
    let created = bench.post("/api/v1/attempts", &asked).await.json();
    let id = created["id"].as_str().unwrap();
    ended(bench, id).await;
    of(bench, id, "scene").await.json()["target_parts"].clone()
}

#[tokio::test(flavor = "multi_thread")]
async fn the_target_is_that_of_the_exercise() {
    let bench = Bench::open().await;
    let median = |parts: &Value, name: &str| {
        let part = parts.as_array().unwrap().iter().find(|part| part["part"] == name).unwrap();
        part["median_mm"].as_f64().unwrap()
    };
    let cast = target_parts(&bench, "cast-crown-molar").await;
    let layered = target_parts(&bench, "zirconia-layered-molar").await;
    // The layered crown asks for more room over the same attempt: more is still to be cut.
    let tooth = kerfwright_tooth::Tooth::from_fdi(26).unwrap();
    let asked = |name: &str| {
        let exercise = kerfwright_exercise::library::exercise(name).unwrap();
        kerfwright_plan::Targets::of_exercise(&exercise, tooth).unwrap().targets.occlusal.functional_mm
    };
    let more_mm = asked("zirconia-layered-molar") - asked("cast-crown-molar");
    assert!(more_mm > 0.1, "{more_mm}");
    let found_mm = median(&layered, "occlusal") - median(&cast, "occlusal");
    assert!(found_mm > 0.5 * more_mm, "{found_mm} of {more_mm}");
}
