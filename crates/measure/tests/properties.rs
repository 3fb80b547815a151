//! What must not depend on accidents: the scan's frame, the order of its triangles, the number of threads.

use std::sync::OnceLock;

use kerfwright_measure::document::Value;
use kerfwright_measure::{Attempt, Document, OpposingFrame, ScanFile};
use kerfwright_mesh::{Mesh, write_stl_binary};
use kerfwright_phantom::{ScanOptions, Scans};
use kerfwright_trial::common;
use kerfwright_trial::common::tolerance::Tolerance;
use kerfwright_trial::common::{Said, phantoms, request, said};
use nalgebra::{Isometry3, Vector3};

fn scans() -> &'static Scans {
    static SCANS: OnceLock<Scans> = OnceLock::new();
    SCANS.get_or_init(|| phantoms::short_arch_26().scan(&ScanOptions { seed: 5, ..ScanOptions::default() }))
}

/// From bytes to the document, reading included.
fn measured(after: &Mesh) -> Document {
    let read = |name: &str, mesh: &Mesh| ScanFile::read(name, &write_stl_binary(mesh)).unwrap();
    let (after, before) = (read("after.stl", after), read("before.stl", &scans().before));
    let opposing = read("opposing.stl", &scans().opposing);
    let attempt = Attempt {
        after: &after,
        before: Some(&before),
        opposing: Some(&opposing),
        opposing_frame: OpposingFrame::Before,
    };
    common::measure(&attempt, &request(26)).unwrap()
}

fn original() -> &'static Document {
    static DOCUMENT: OnceLock<Document> = OnceLock::new();
    DOCUMENT.get_or_init(|| measured(&scans().after))
}

#[test]
fn the_json_is_the_same_for_any_number_of_threads() {
    let expected = serde_json::to_string(original()).unwrap();
    assert!(expected.len() > 10_000, "the document holds {} bytes only", expected.len());
    for n_threads in [1, 2, 5] {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(n_threads).build().unwrap();
        let json = pool.install(|| serde_json::to_string(&measured(&scans().after)).unwrap());
        assert!(json == expected, "{n_threads} threads: {}", first_difference(&expected, &json));
    }
}

/// The text around the first byte that differs.
fn first_difference(one: &str, other: &str) -> String {
    let at = one.bytes().zip(other.bytes()).position(|(a, b)| a != b).unwrap_or(one.len().min(other.len()));
    let around = |text: &str| text.chars().skip(at.saturating_sub(80)).take(120).collect::<String>();
    format!("…{}… became …{}…", around(one), around(other))
}

#[test]
fn moving_and_turning_the_after_scan_changes_no_reading() {
    for (shift_mm, turn_rad) in [(Vector3::new(40.0, -11.0, 7.0), 1.0), (Vector3::new(-5.0, 3.0, 60.0), 2.9)]
    {
        let axis = shift_mm.normalize();
        let moved = scans().after.transformed(&Isometry3::new(shift_mm, axis * turn_rad));
        alike(&measured(&moved), "moved");
    }
}

#[test]
fn the_order_of_the_triangles_changes_no_reading() {
    let mut after = scans().after.clone();
    // Halves riffled into each other from behind, corners turned: no triangle keeps its neighbours in the file.
    let n = after.triangles.len();
    let riffled = |k: usize| if k.is_multiple_of(2) { n - 1 - k / 2 } else { k / 2 };
    after.triangles = (0..n)
        .map(|k| {
            let [a, b, c] = scans().after.triangles[riffled(k)];
            if k % 3 == 0 { [b, c, a] } else { [c, a, b] }
        })
        .collect();
    alike(&measured(&after), "reordered");
}

/// The same readings, within their own uncertainty or a fifth of the tolerance.
///
/// Which of two fits is taken (an arc or a line, a longer or a shorter stretch) can hang on the last bit where both are
/// nearly as good, so a reading may change by as much as it is uncertain, but not by more. The floor's angles on line
/// angles, where the floor's form changes, are left out.
fn alike(document: &Document, what: &str) {
    let (expected, found) = (said(original()), said(document));
    assert_eq!(
        expected.keys().collect::<Vec<_>>(),
        found.keys().collect::<Vec<_>>(),
        "{what}: other readings were taken"
    );
    let differs = |(id, one): (&String, &Said)| {
        let tolerance = Tolerance::find(id)?;
        let on_line_angle = ["mesiofacial", "distofacial", "mesiolingual", "distolingual"];
        if (id.contains("cavosurface") || id.contains("declination"))
            && on_line_angle.iter().any(|a| id.contains(a))
        {
            return None;
        }
        let (same, text) = match (&one.value, &found[id].value) {
            (Value::Number(one_value), Value::Number(other)) => {
                // What is itself nothing may change by a fifth of a small amount.
                let u95 = |said: &Said| said.u95.unwrap_or(0.0);
                let floor = 0.2 * tolerance.of(id, *one_value)?.max(0.005);
                let limit = floor.max(u95(one)).max(u95(&found[id]));
                (
                    (one_value - other).abs() <= limit,
                    format!("{id}: {one_value} became {other}, {limit:.4} allowed"),
                )
            }
            (one, other) => (one == other, format!("{id}: {one:?} became {other:?}")),
        };
        (!same).then_some(text)
    };
    let different: Vec<String> = expected.iter().filter_map(differs).collect();
    assert!(different.is_empty(), "{what}:\n{}", different.join("\n"));
}
