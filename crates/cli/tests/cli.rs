//! The built program on files, as a user runs it.
//!
//! The scans are a phantom's. What is compared here are files with each other, and faults with what is said of them;
//! how near the readings come to the truth is checked in the crate that takes them.

mod files;

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use files::{Format, folder, scans, write};
use kerfwright_mesh::Mesh;
use serde_json::Value;

fn kerf(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_kerf")).args(arguments).output().unwrap()
}

fn text(path: &Path) -> &str {
    path.to_str().unwrap()
}

/// The three scans as binary STL, written once.
struct Usual {
    after: PathBuf,
    before: PathBuf,
    opposing: PathBuf,
}

fn usual() -> &'static Usual {
    static USUAL: std::sync::OnceLock<Usual> = std::sync::OnceLock::new();
    USUAL.get_or_init(|| Usual {
        after: write("after.stl", &scans().after, Format::StlBinary),
        before: write("before.stl", &scans().before, Format::StlBinary),
        opposing: write("opposing.stl", &scans().opposing, Format::StlBinary),
    })
}

/// Measures an after scan against the usual other two and returns the JSON.
fn measured(after: &Path, name: &str) -> Value {
    let json = folder().join(name);
    let usual = usual();
    let output = kerf(&[
        "measure",
        text(after),
        "--before",
        text(&usual.before),
        "--opposing",
        text(&usual.opposing),
        "--tooth",
        "26",
        "--json",
        text(&json),
        "--quiet",
    ]);
    let stderr = String::from_utf8_lossy(&output.stderr).into_owned();
    assert_eq!(output.status.code(), Some(0), "{}: {stderr}", after.display());
    assert!(output.stdout.is_empty() && stderr.is_empty(), "--quiet prints: {stderr}");
    serde_json::from_slice(&std::fs::read(json).unwrap()).unwrap()
}

#[test]
fn every_format_gives_the_same_readings() {
    let expected = measured(&usual().after, "stl_binary.json");
    assert!(expected["readings"].as_object().unwrap().len() > 80);
    // STL as text and gzip hold the same single-precision numbers: the same readings to the last digit.
    for (name, format) in [
        ("after_text.stl", Format::StlText),
        ("after.stl.gz", Format::StlGzip),
        ("after_text.ply", Format::PlyText),
    ] {
        let found = measured(&write(name, &scans().after, format), &format!("{name}.json"));
        let readings = expected["readings"].as_object().unwrap();
        let other: Vec<_> =
            readings.iter().filter(|(id, reading)| found["readings"][*id] != **reading).collect();
        assert!(other.is_empty(), "{name} gives other readings than binary STL: {other:?}");
    }
    for (name, format) in [("after.ply", Format::PlyBinary), ("after.obj", Format::Obj)] {
        let found = measured(&write(name, &scans().after, format), &format!("{name}.json"));
        alike(&found, &expected, name);
    }
}

/// Readings of lengths within their own uncertainty, the same ids: more digits can change which of two nearly equal fits
/// is taken.
fn alike(found: &Value, expected: &Value, name: &str) {
    let (found, expected) =
        (found["readings"].as_object().unwrap(), expected["readings"].as_object().unwrap());
    assert_eq!(found.keys().collect::<Vec<_>>(), expected.keys().collect::<Vec<_>>(), "{name}");
    let lengths: Vec<_> = expected
        .iter()
        .filter(|(_, one)| one["unit"] == "mm")
        .map(|(id, one)| {
            let limit = one["u95"].as_f64().unwrap_or(0.0).max(0.002);
            (id, one["value"].as_f64().unwrap(), found[id]["value"].as_f64().unwrap(), limit)
        })
        .collect();
    assert!(lengths.len() > 40, "{name}: {} lengths compared", lengths.len());
    let other: Vec<_> =
        lengths.iter().filter(|(_, one, other, limit)| (one - other).abs() > *limit).collect();
    assert!(other.is_empty(), "{name}: {other:?}");
}

#[test]
fn the_json_is_valid_and_names_the_files() {
    let schema: Value = serde_json::from_str(include_str!("../../../docs/measurement.schema.json")).unwrap();
    let document = measured(&usual().after, "valid.json");
    let faults: Vec<String> = jsonschema::draft202012::new(&schema)
        .unwrap()
        .iter_errors(&document)
        .map(|fault| fault.to_string())
        .collect();
    assert_eq!(faults, Vec::<String>::new());
    assert_eq!(document["inputs"]["after"]["file"], "after.stl");
    assert_eq!(document["inputs"]["before"]["file"], "before.stl");
    assert_eq!(document["inputs"]["opposing"]["file"], "opposing.stl");
    assert_eq!(document["tooth"]["fdi"], 26);
}

#[test]
fn without_quiet_a_table_goes_to_standard_output() {
    let usual = usual();
    let output = kerf(&["measure", text(&usual.after), "--before", text(&usual.before), "--tooth", "26"]);
    assert_eq!(output.status.code(), Some(0));
    let table = String::from_utf8(output.stdout).unwrap();
    for part in ["taper.mesial_deg", "reduction.volume_mm3", "--opposing", "not a diagnosis", "after.stl"] {
        assert!(table.contains(part), "the table lacks {part}:\n{table}");
    }
}

/// Exit status 2, nothing on standard output, and one line on standard error that holds all `parts`: the file or
/// option, the fault, the next step.
fn refused(arguments: &[&str], parts: &[&str]) {
    let output = kerf(arguments);
    let stderr = String::from_utf8(output.stderr).unwrap();
    let case = format!("kerf {}\n{stderr}", arguments.join(" "));
    assert_eq!(output.status.code(), Some(2), "{case}");
    assert!(output.stdout.is_empty(), "prints before it fails: {case}");
    assert_eq!(stderr.trim_end().lines().count(), 1, "not one line: {case}");
    let missing: Vec<_> = parts.iter().filter(|part| !stderr.contains(**part)).collect();
    assert!(missing.is_empty(), "lacks {missing:?}: {case}");
}

/// A file given as the after scan is refused.
fn refused_after(path: &Path, parts: &[&str]) {
    let name = path.file_name().unwrap().to_str().unwrap();
    let parts: Vec<&str> = parts.iter().copied().chain([name]).collect();
    refused(&["measure", text(path), "--before", text(&usual().before), "--tooth", "26"], &parts);
}

fn save(name: &str, bytes: &[u8]) -> PathBuf {
    let path = folder().join(name);
    std::fs::write(&path, bytes).unwrap();
    path
}

#[test]
fn files_that_are_no_scan_are_refused() {
    refused_after(&folder().join("nowhere.stl"), &["cannot be read", "check the name"]);
    refused_after(&save("empty.stl", b""), &["is empty", "again"]);
    let whole = std::fs::read(&usual().after).unwrap();
    refused_after(&save("half.stl", &whole[..whole.len() / 2]), &["cut short", "again"]);
    refused_after(
        &save("letter.stl", b"Dear colleague,\nplease find enclosed\nthe scan.\n"),
        &["not a mesh", "exported as STL"],
    );
    refused_after(
        &save("points.ply", &files::point_cloud(&scans().after)),
        &["only points", "triangle mesh"],
    );
}

#[test]
fn other_units_are_refused_by_name() {
    let scaled = |factor: f64| {
        let mut mesh = scans().after.clone();
        mesh.vertices.iter_mut().for_each(|vertex| *vertex *= factor);
        mesh
    };
    let metres = write("metres.stl", &scaled(0.001), Format::StlBinary);
    refused_after(&metres, &["metres", "in millimetres"]);
    let too_large = write("too_large.stl", &scaled(25.4), Format::StlBinary);
    refused_after(&too_large, &["mm long", "in millimetres"]);
}

#[test]
fn a_scan_as_small_as_a_die_is_asked_about() {
    let (low, high) = scans().after.bounds().unwrap();
    let scaled = |longest_mm: f64| {
        let mut mesh = scans().after.clone();
        mesh.vertices.iter_mut().for_each(|vertex| *vertex *= longest_mm / (high - low).max());
        mesh
    };
    let centimetres = write("centimetres.stl", &scaled(9.8), Format::StlBinary);
    refused_after(&centimetres, &["9.8 mm", "single die", "--extent die", "arch in centimetres"]);
    let large = write("large.stl", &scaled(62.0), Format::StlBinary);
    refused(
        &["measure", text(&large), "--tooth", "26", "--extent", "die"],
        &["large.stl", "a single die has 4 to 40 mm", "leave out --extent die"],
    );
}

#[test]
fn teeth_that_were_not_prepared_cannot_be_named_too() {
    let usual = usual();
    let (after, before) = (text(&usual.after), text(&usual.before));
    refused(
        &["measure", after, "--before", before, "--tooth", "26,27"],
        &["after.stl", "2 teeth are named", "1 prepared teeth were found", "name exactly the prepared ones"],
    );
    refused(
        &["measure", after, "--before", before, "--tooth", "26", "--tooth", "36"],
        &["--tooth", "26 and 36 stand in two jaws"],
    );
    refused(&["measure", after, "--tooth", "26,99"], &["--tooth", "99"]);
}

#[test]
fn scans_in_the_wrong_place_are_refused() {
    let usual = usual();
    let (after, before, opposing) = (text(&usual.after), text(&usual.before), text(&usual.opposing));
    refused(&["measure", before, "--before", after, "--tooth", "26"], &["before.stl", "swapped", "exchange"]);
    refused(
        &["measure", after, "--before", opposing, "--tooth", "26"],
        &["after.stl", "opposing.stl", "no pose", "same arch"],
    );
    let mut mirrored: Mesh = scans().after.reversed();
    mirrored.vertices.iter_mut().for_each(|vertex| vertex.x = -vertex.x);
    refused_after(&write("mirror.stl", &mirrored, Format::StlBinary), &["mirrored", "without mirroring"]);
    refused(
        &["measure", before, "--before", before, "--tooth", "26"],
        &["before.stl", "no prepared tooth", "--before"],
    );
}

#[test]
fn options_that_cannot_be_are_refused() {
    let after = text(&usual().after);
    refused(&["measure", after, "--tooth", "99"], &["--tooth", "99"]);
    // A milk tooth by ISO 3950.
    refused(&["measure", after, "--tooth", "55"], &["--tooth", "55"]);
    refused(
        &["measure", after, "--tooth", "26", "--path", "steepest"],
        &["--path", "best, axis or a direction"],
    );
    refused(&["measure", after, "--tooth", "26", "--path", "0,0,0"], &["--path", "no direction"]);
    refused(&["measure", after, "--tooth", "26", "--exercise", "any"], &["--exercise", "kerf exercise list"]);
}

#[test]
fn results_that_cannot_be_written_are_told() {
    let usual = usual();
    let json = folder().join("no_such_folder").join("out.json");
    refused(
        &[
            "measure",
            text(&usual.after),
            "--before",
            text(&usual.before),
            "--tooth",
            "26",
            "--json",
            text(&json),
        ],
        &["out.json", "cannot be written", "check the folder"],
    );
}

#[test]
fn jaw_files_that_do_not_fit_are_refused_in_one_line() {
    let usual = usual();
    let pose = "1,0,0,0,0,1,0,0,0,0,1,0,0,0,0,1";
    let cases = [
        ("--jaw", "jaw.toml", "bonwill_side_mm = 10.5", "outside 70 to 130"),
        ("--jaw", "other.toml", "bonwil = 105", "there is no key bonwil"),
        ("--motion", "short.csv", pose, "at least 2"),
        ("--motion", "mirror.csv", &format!("{pose}\n-{pose}"), "mirrors"),
    ];
    for (option, name, content, expected) in cases {
        let path = folder().join(name);
        std::fs::write(&path, content).unwrap();
        let said = kerf(&["measure", text(&usual.after), "--tooth", "26", option, text(&path)]);
        assert_eq!(said.status.code(), Some(2), "{name}");
        let error = String::from_utf8(said.stderr).unwrap();
        assert!(error.contains(expected) && error.contains(name) && error.lines().count() == 1, "{error}");
    }
}
