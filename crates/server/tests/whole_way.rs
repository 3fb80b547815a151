//! From dropped files to everything that is shown, over one coarse phantom.

mod common;

use axum::body::Body;
use axum::http::{Method, StatusCode, header};
use common::{Bench, phantom, request};
use kerfwright_measure::{Attempt, JawWishes, OpposingFrame, PathChoice, Request, ScanFile};
use nalgebra::{Matrix4, Point3};
use serde_json::{Value, json};

/// The document as the library makes it.
fn by_library() -> String {
    let names = ["after.stl", "before.stl", "opposing.stl"];
    let [after, before, opposing] = [0, 1, 2].map(|k| ScanFile::read(names[k], &phantom().1[k]).unwrap());
    let attempt = Attempt {
        after: &after,
        before: Some(&before),
        opposing: Some(&opposing),
        opposing_frame: OpposingFrame::Before,
    };
    let tooth = kerfwright_tooth::parse("26", None).unwrap();
    let request = Request { tooth, mesial_point: None, path: PathChoice::Best, jaw: JawWishes::default() };
    let aligned = attempt.align().unwrap();
    let preparation = attempt.find(aligned.as_ref(), &request).unwrap();
    serde_json::to_string_pretty(&attempt.document(&preparation, &request)).unwrap() + "\n"
}

fn matrix(rows: &Value) -> Matrix4<f64> {
    Matrix4::from_fn(|row, column| rows[row][column].as_f64().unwrap())
}

fn point(value: &Value) -> Point3<f64> {
    Point3::new(value[0].as_f64().unwrap(), value[1].as_f64().unwrap(), value[2].as_f64().unwrap())
}

#[tokio::test(flavor = "multi_thread")]
async fn dropped_files_become_everything_that_is_shown() {
    let bench = Bench::open().await;
    let ids = bench.upload_phantom().await;
    roles_are_told(&bench, &ids).await;
    let (id, events) = bench.measure_phantom().await;
    events_tell_each_stage(&events);
    let at = |what: &str| format!("/api/v1/attempts/{id}/{what}");
    assert_eq!(bench.get(&at("document")).await.text(), by_library(), "the document is the library's");
    let scene = bench.get(&at("scene?exercise=quayside-26")).await.json();
    the_scene_fits_the_tooth(&scene);
    the_mesh_is_true(&bench, &at("after.glb"), &scene).await;
    a_value_is_the_mesh_s(&bench, &id, &scene).await;
    the_ring_is_the_document_s(&bench, &id).await;
    the_jaw_moves(&bench, &id).await;
    places_of_a_grade_lie_on_the_tooth(&bench, &id).await;
    let list = bench.get("/api/v1/attempts").await.json();
    assert_eq!((list[0]["id"].as_str(), list[0]["state"].as_str()), (Some(&*id), Some("done")));
    after_a_restart_all_is_there(bench, &id).await;
}

async fn roles_are_told(bench: &Bench, ids: &[String; 3]) {
    let shuffled = [&ids[2], &ids[0], &ids[1]];
    let roles = bench.post("/api/v1/scans/roles", &json!({ "scans": shuffled })).await.json();
    let found: Vec<_> = (0..3).map(|k| roles[k]["role"].as_str().unwrap_or("none")).collect();
    assert_eq!(found, ["opposing", "after", "before"], "{roles}");
    assert_eq!(roles[1]["certain"], true, "{roles}");
    assert!(roles[1]["because"].as_str().unwrap().contains("less tooth"), "{roles}");
}

fn events_tell_each_stage(events: &str) {
    let places: Vec<usize> = ["read", "align", "find", "measure", "show", "move", "target"]
        .iter()
        .map(|stage| {
            events
                .find(&format!("\"name\":\"{stage}\",\"state\":\"done\""))
                .unwrap_or_else(|| panic!("{events}"))
        })
        .collect();
    assert!(places.is_sorted(), "{events}");
    assert!(events.trim_end().lines().rev().any(|line| line == "event: done"), "{events}");
}

fn the_scene_fits_the_tooth(scene: &Value) {
    assert_eq!(scene["bodies"], json!(["after", "before", "opposing", "target"]));
    let maps: Vec<&str> =
        scene["maps"].as_array().unwrap().iter().map(|map| map["id"].as_str().unwrap()).collect();
    assert_eq!(maps, ["reduction", "clearance", "taper", "undercut", "damage", "deviation"]);
    assert!(!scene["maps"][0]["limits"].as_array().unwrap().is_empty(), "the exercise limits the reduction");
    // 26 is in quadrant 2: its tooth frame is left-handed, the screen's is not.
    assert_eq!(scene["directions"]["facial"], json!([0.0, -1.0, 0.0]));
    let truth = phantom().0.tooth_from_after();
    let screen = matrix(&scene["screen_from_after"]);
    assert!((screen.fixed_view::<3, 3>(0, 0).determinant() - 1.0).abs() < 1e-9, "nothing is mirrored");
    // The phantom's own frame mirrors this tooth; turned back it must agree with the screen's to the tolerance of the axis.
    let turned = Matrix4::from_diagonal(&nalgebra::Vector4::new(1.0, -1.0, 1.0, 1.0)) * truth;
    let off = screen.fixed_view::<3, 3>(0, 0) - turned.fixed_view::<3, 3>(0, 0);
    assert!(off.norm() < 0.15, "{screen} against {turned}");
}

async fn the_mesh_is_true(bench: &Bench, path: &str, scene: &Value) {
    let answer = bench.get(path).await;
    assert_eq!(answer.headers[header::CONTENT_TYPE], "model/gltf-binary");
    let read = gltf::Gltf::from_slice(&answer.bytes).unwrap();
    let (document, blob) = (read.document, read.blob.unwrap());
    let node = document.nodes().next().unwrap();
    assert_eq!(node.transform().decomposed().2, [0.001; 3]);
    let primitive = document.meshes().next().unwrap().primitives().next().unwrap();
    let reader = primitive.reader(|_| Some(&blob));
    let positions: Vec<[f32; 3]> = reader.read_positions().unwrap().collect();
    let scan = ScanFile::read("after.stl", &phantom().1[0]).unwrap();
    assert_eq!(positions.len(), scan.surface.mesh.vertices.len());
    let screen = matrix(&scene["screen_from_after"]);
    for (shown, own) in positions.iter().zip(&scan.surface.mesh.vertices).step_by(997) {
        let expected = screen.transform_point(own);
        let shown = Point3::from(shown.map(f64::from));
        assert!((shown - expected).norm() < 1e-5, "{shown} {expected}");
    }
    let attributes: Vec<String> = primitive.attributes().map(|(name, _)| name.to_string()).collect();
    for map in scene["maps"].as_array().unwrap() {
        let name = map["attribute"].as_str().unwrap();
        for name in [name.to_owned(), format!("{name}_KNOWN")] {
            assert!(
                attributes.iter().any(|own| own.trim_start_matches('_') == name.trim_start_matches('_')),
                "{name}: {attributes:?}"
            );
        }
    }
    // The same mesh is not sent twice.
    let mut again = request(Method::GET, path, Body::empty());
    again.headers_mut().insert(header::IF_NONE_MATCH, answer.headers[header::ETAG].clone());
    assert_eq!(bench.send(again).await.status, StatusCode::NOT_MODIFIED);
}

/// In the middle of the occlusal surface: what the map says is the distance to the before scan, looked up on its own.
async fn a_value_is_the_mesh_s(bench: &Bench, id: &str, scene: &Value) {
    let after = ScanFile::read("after.stl", &phantom().1[0]).unwrap();
    let screen = matrix(&scene["screen_from_after"]);
    let after_from_screen = screen.try_inverse().unwrap();
    let (from, down) = (Point3::new(1.0, 1.0, 30.0), nalgebra::Vector3::new(0.0, 0.0, -1.0));
    let hit = after
        .surface
        .tree
        .ray(&after_from_screen.transform_point(&from), &after_from_screen.transform_vector(&down), 60.0)
        .unwrap();
    let at = screen.transform_point(&hit.point);
    let spot =
        bench.get(&format!("/api/v1/attempts/{id}/value?x={}&y={}&z={}", at.x, at.y, at.z)).await.json();
    assert!((point(&spot["point"]) - at).norm() < 1e-3, "{spot} {at}");
    let before = ScanFile::read("before.stl", &phantom().1[1]).unwrap();
    let own = phantom().0.before_from_after * hit.point;
    let exact_mm = -before.surface.signed(&own, 5.0).unwrap().distance_mm;
    let values = spot["values"].as_array().unwrap();
    let reduction = values.iter().find(|value| value["map"] == "reduction").unwrap();
    let (value, u95) = (reduction["value"].as_f64().unwrap(), reduction["u95"].as_f64().unwrap());
    // Averaging over half a millimetre follows a curved surface to a few hundredths.
    assert!((value - exact_mm).abs() < u95 + 0.03, "{value} ± {u95} against {exact_mm}");
    assert!((0.3..3.0).contains(&value), "{value}");
}

async fn the_ring_is_the_document_s(bench: &Bench, id: &str) {
    let ring = bench.get(&format!("/api/v1/attempts/{id}/ring")).await.json();
    let document = bench.get(&format!("/api/v1/attempts/{id}/document")).await.json();
    let (shown, own) = (&ring["stations"], &document["finish_line"]["stations"]);
    assert_eq!(shown.as_array().unwrap().len(), own.as_array().unwrap().len());
    for k in (0..own.as_array().unwrap().len()).step_by(17) {
        assert_eq!(shown[k]["width_mm"]["value"], own[k]["width_mm"], "{k}");
        assert_eq!(shown[k]["taper_deg"]["value"], own[k]["taper_deg"], "{k}");
        assert!(shown[k]["width_mm"]["u95"].as_f64().unwrap() > 0.0);
    }
    let length_mm = ring["length_mm"].as_f64().unwrap();
    let last_mm = shown.as_array().unwrap().last().unwrap()["along_mm"].as_f64().unwrap();
    assert!(last_mm < length_mm && last_mm > 0.98 * length_mm, "{last_mm} of {length_mm}");
}

async fn the_jaw_moves(bench: &Bench, id: &str) {
    let movements = bench.get(&format!("/api/v1/attempts/{id}/movements")).await.json();
    let document = bench.get(&format!("/api/v1/attempts/{id}/document")).await.json();
    let protrusion = movements.as_array().unwrap().iter().find(|one| one["name"] == "protrusion").unwrap();
    let poses = protrusion["poses"].as_array().unwrap();
    assert!((matrix(&poses[0]) - Matrix4::identity()).norm() < 1e-9, "closed at first");
    let end = matrix(&poses[poses.len() - 1]);
    // The lower jaw goes forward: for a molar that is towards mesial, and down.
    assert!(end[(0, 3)].abs() > 1.0 && (end.fixed_view::<3, 3>(0, 0).determinant() - 1.0).abs() < 1e-6);
    let reading = &document["readings"]["clearance.excursion.protrusion_mm"];
    assert_eq!(protrusion["least_clearance_mm"], reading["value"]);
}

async fn places_of_a_grade_lie_on_the_tooth(bench: &Bench, id: &str) {
    let answer = bench.get(&format!("/api/v1/attempts/{id}/grade?exercise=quayside-26&language=en")).await;
    assert_eq!(answer.status, StatusCode::OK, "{}", answer.text());
    let grade = answer.json();
    let mut n_places = 0;
    for criterion in grade["grade"]["criteria"].as_array().unwrap() {
        for item in criterion["items"].as_array().unwrap() {
            if item["where"].is_object() {
                n_places += 1;
                assert!(point(&item["where"]["point"]).coords.norm() < 12.0, "{item}");
            }
        }
    }
    assert!(n_places > 3, "{grade}");
    let nothing = bench.get(&format!("/api/v1/attempts/{id}/grade")).await;
    assert_eq!(nothing.status, StatusCode::UNPROCESSABLE_ENTITY);
}

async fn after_a_restart_all_is_there(bench: Bench, id: &str) {
    let document = bench.get(&format!("/api/v1/attempts/{id}/document")).await.text();
    let bench = bench.reopened().await;
    assert_eq!(bench.get(&format!("/api/v1/attempts/{id}/document")).await.text(), document);
    assert!(bench.get(&format!("/api/v1/attempts/{id}/events")).await.text().contains("event: done"));
    // Measured again from the kept scans.
    assert_eq!(bench.get(&format!("/api/v1/attempts/{id}/after.glb")).await.status, StatusCode::OK);
}

#[tokio::test(flavor = "multi_thread")]
async fn sections_and_gauges_answer_in_the_planes_that_were_asked() {
    let bench = Bench::open().await;
    let (id, _) = bench.measure_phantom().await;
    let at = |what: &str| format!("/api/v1/attempts/{id}/{what}");
    let wish = json!({ "point": [0.0, 0.0, 0.0], "normal": [0.0, 2.0, 0.0] });
    let section = bench.post(&at("section"), &wish).await.json();
    assert_eq!(section["plane"]["up"], json!([0.0, 0.0, 1.0]));
    for body in ["after", "before", "opposing", "target"] {
        assert!(!section["bodies"][body].as_array().unwrap().is_empty(), "{body}");
    }
    let walls = section["walls"].as_array().unwrap();
    let mut aspects: Vec<&str> = walls.iter().map(|wall| wall["aspect"].as_str().unwrap()).collect();
    aspects.sort_unstable();
    assert_eq!(aspects, ["distal", "mesial"], "{walls:?}");
    let flat = bench.post(&at("section"), &json!({ "point": [0, 0, 0], "normal": [0, 0, 0] })).await;
    assert_eq!(flat.status, StatusCode::UNPROCESSABLE_ENTITY);
    let gauge = |width_mm: f64| json!({ "point": [0.0, 9.0, 5.0], "direction": [0.0, -1.0, 0.0], "width_mm": width_mm, "toward": "opposing" });
    // What stops a thin bar stops a thick one no later.
    let mut last_mm = f64::INFINITY;
    for width_mm in [0.2, 0.6, 1.0, 1.6, 2.4] {
        let answer = bench.post(&at("gauge"), &gauge(width_mm)).await;
        assert_eq!(answer.status, StatusCode::OK, "{}", answer.text());
        let stops_at_mm = answer.json()["stops_at_mm"].as_f64().unwrap();
        assert!(stops_at_mm <= last_mm + 0.05, "{width_mm}: {stops_at_mm} after {last_mm}");
        last_mm = stops_at_mm;
    }
    assert_eq!(bench.post(&at("gauge"), &gauge(77.0)).await.status, StatusCode::UNPROCESSABLE_ENTITY);
}

#[tokio::test(flavor = "multi_thread")]
async fn remarks_are_pinned_removed_and_brought_back() {
    let bench = Bench::open().await;
    let (id, _) = bench.measure_phantom().await;
    let path = format!("/api/v1/attempts/{id}/remarks");
    let remark = json!({ "at": [1.25, -2.5, 4.0], "text": "lean the bur less", "by": "QS-I1" });
    let added = bench.post(&path, &remark).await;
    assert_eq!(added.status, StatusCode::CREATED, "{}", added.text());
    let own = format!("{path}/{}", added.json()["id"].as_str().unwrap());
    let listed = bench.get(&path).await.json();
    assert!((point(&listed[0]["at"]) - Point3::new(1.25, -2.5, 4.0)).norm() < 1e-3, "{listed}");
    assert_eq!(listed[0]["text"], "lean the bur less");
    let removed = bench.send(request(Method::DELETE, &own, Body::empty())).await;
    assert_eq!(removed.json()["removed"], true);
    assert_eq!(bench.get(&path).await.json(), json!([]));
    let back = bench.write(Method::PATCH, &own, &json!({ "removed": false, "resolved": true })).await.json();
    assert_eq!((&back["removed"], &back["resolved"]), (&json!(false), &json!(true)));
    let bench = bench.reopened().await;
    assert_eq!(bench.get(&path).await.json()[0]["text"], "lean the bur less");
    let empty = json!({ "at": [0, 0, 0], "text": " ", "by": "QS-I1" });
    assert_eq!(bench.post(&path, &empty).await.status, StatusCode::UNPROCESSABLE_ENTITY);
    let other = bench.post("/api/v1/attempts/none/remarks", &remark).await;
    assert_eq!(other.status, StatusCode::NOT_FOUND);
}
