//! PLY headers announce anything in any order.

use kerfwright_mesh::{Finding, Format, ReadError, Scan, read_scan};

fn refused(bytes: &[u8]) -> String {
    read_scan(bytes).expect_err("must be refused").to_string()
}

/// A square of 20 mm with everything a header may hold; numbers as `number` writes them.
fn rich(format: &str, number: impl Fn(&str, f64) -> Vec<u8>, row_end: &[u8], line_end: &str) -> Vec<u8> {
    let header = format!(
        "ply\nformat {format} 1.0\ncomment a remark\nobj_info another\n\
         element camera 1\nproperty float64 view\nproperty list uint16 int8 notes\n\
         element nothing 4000000000\n\
         element face 2\nproperty list uint32 int16 vertex_indices\nproperty uchar flags\n\
         property list uchar float texcoord\n\
         element vertex 4\nproperty uchar blue\nproperty float nx\nproperty double z\nproperty list char uchar seen_by\n\
         property int32 y\nproperty ushort red\nproperty float x\nproperty float green\n\
         end_header\n"
    );
    let mut bytes = header.replace('\n', line_end).into_bytes();
    let mut row = |numbers: &[(&str, f64)]| {
        numbers.iter().for_each(|&(kind, value)| bytes.extend(number(kind, value)));
        bytes.extend_from_slice(row_end);
    };
    row(&[("f64", 1.0), ("u16", 2.0), ("i8", -1.0), ("i8", 5.0)]);
    row(&[("u32", 3.0), ("i16", 0.0), ("i16", 1.0), ("i16", 2.0), ("u8", 9.0), ("u8", 1.0), ("f32", 0.5)]);
    row(&[("u32", 3.0), ("i16", 0.0), ("i16", 2.0), ("i16", 3.0), ("u8", 9.0), ("u8", 0.0)]);
    for (x, y) in [(0.0, 0.0), (20.0, 0.0), (20.0, 20.0), (0.0, 20.0)] {
        let first = [("u8", 51.0), ("f32", 0.0), ("f64", 0.25), ("i8", 1.0), ("u8", 7.0)];
        row(&[&first[..], &[("i32", y), ("u16", 65535.0), ("f32", x), ("f32", 0.2)]].concat());
    }
    bytes
}

fn big_endian(kind: &str, value: f64) -> Vec<u8> {
    match kind {
        "i8" => (value as i8).to_be_bytes().to_vec(),
        "u8" => (value as u8).to_be_bytes().to_vec(),
        "i16" => (value as i16).to_be_bytes().to_vec(),
        "u16" => (value as u16).to_be_bytes().to_vec(),
        "i32" => (value as i32).to_be_bytes().to_vec(),
        "u32" => (value as u32).to_be_bytes().to_vec(),
        "f32" => (value as f32).to_be_bytes().to_vec(),
        "f64" => value.to_be_bytes().to_vec(),
        _ => unreachable!("{kind}"),
    }
}

fn little_endian(kind: &str, value: f64) -> Vec<u8> {
    let mut bytes = big_endian(kind, value);
    bytes.reverse();
    bytes
}

fn check_rich(scan: &Scan, format: Format) {
    assert_eq!(scan.format, format);
    assert_eq!(scan.mesh.triangles, [[0, 1, 2], [0, 2, 3]]);
    assert_eq!(scan.mesh.vertices[2], nalgebra::Point3::new(20.0, 20.0, 0.25));
    assert_eq!(scan.vertex_colours, Some(vec![[255, 51, 51]; 4]));
    assert_eq!(scan.audit.findings, [Finding::Open { edges: 4, loops: 1 }]);
}

#[test]
fn reads_every_type_in_any_order() {
    for line_end in ["\n", "\r\n", "\r"] {
        let bytes = rich("binary_big_endian", big_endian, b"", line_end);
        check_rich(&read_scan(&bytes).unwrap(), Format::PlyBigEndian);
        let bytes = rich("binary_little_endian", little_endian, b"", line_end);
        check_rich(&read_scan(&bytes).unwrap(), Format::PlyLittleEndian);
        let text = |_: &str, value: f64| format!("{value} ").into_bytes();
        let bytes = rich("ascii", text, line_end.as_bytes(), line_end);
        check_rich(&read_scan(&bytes).unwrap(), Format::PlyText);
    }
}

#[test]
fn a_binary_file_cut_anywhere_says_so() {
    let bytes = rich("binary_big_endian", big_endian, b"", "\n");
    for length in 10..bytes.len() {
        let message = refused(&bytes[..length]);
        assert!(
            message.contains("cut short")
                || message.contains("ends inside the header")
                || message.contains("PLY header"),
            "{length}: {message}"
        );
    }
    let longer = [bytes, b"tail".to_vec()].concat();
    assert_eq!(read_scan(&longer).unwrap().audit.findings[0], Finding::TrailingBytes { bytes: 4 });
}

const HEAD: &str =
    "ply\nformat ascii 1.0\nelement vertex 4\nproperty float x\nproperty float y\nproperty float z\n";

/// A text PLY of four points with the given faces.
fn square(n_faces: usize, faces: &str) -> Vec<u8> {
    let points = "0 0 0\n20 0 0\n20 20 0\n0 20 0\n";
    format!(
        "{HEAD}element face {n_faces}\nproperty list uchar int vertex_indices\nend_header\n{points}{faces}"
    )
    .into_bytes()
}

#[test]
fn cuts_polygons() {
    assert_eq!(read_scan(&square(1, "4 0 1 2 3\n")).unwrap().mesh.area_mm2(), 400.0);
}

#[test]
fn refuses_faces_that_name_no_vertex() {
    assert!(
        refused(&square(2, "3 0 1 2\n3 0 1 -1\n"))
            .contains("face 2 names vertex -1, but vertices are numbered from 0 to 3")
    );
    assert!(refused(&square(1, "3 0 1 4\n")).contains("face 1 names vertex 4"));
    assert!(refused(&square(1, "3 0 1 1.5\n")).contains("face 1 names vertex"));
}

#[test]
fn refuses_rows_that_do_not_fit_the_header() {
    let cut = ReadError::CutShort { what: "faces".into(), claimed: 2, present: 1 };
    assert_eq!(read_scan(&square(2, "3 0 1 2\n")), Err(cut.clone()));
    assert_eq!(read_scan(&square(2, "3 0 1 2\n3 0 2")), Err(cut));
    assert!(refused(&square(2, "3 0 1 2 3\n3 0 2 3\n")).contains("line 14: the line holds more numbers"));
    assert!(refused(&square(2, "3 0 1\n3 0 2 3\n")).contains("line 14: a number is missing"));
    assert!(refused(&square(1, "3 0 1 x\n")).contains("line 14: “x” is no number"));
    assert!(refused(&square(1, "3 0,0 1,0 2,0\n")).contains("decimal commas"));
}

#[test]
fn refuses_points_and_broken_headers() {
    let points = format!("{HEAD}end_header\n0 0 0\n20 0 0\n20 20 0\n0 20 0\n");
    assert!(refused(points.as_bytes()).contains("only points (4), no surface"));
    let broken = [
        ("ply\nformat ascii 1.0\n", "line 2: the file ends inside the header"),
        ("ply\nformat ebcdic 1.0\nend_header\n", "line 2: “ebcdic” is no known format"),
        ("ply\nend_header\n", "line 2: no “format” line"),
        ("ply\nformat ascii 1.0\nproperty float x\nend_header\n", "line 3: a property before any element"),
        ("ply\nformat ascii 1.0\nelement vertex -4\nend_header\n", "line 3: “-4” is no number of rows"),
        (
            "ply\nformat ascii 1.0\nelement vertex 1\nproperty half x\nend_header\n",
            "line 4: “half” is no type",
        ),
        (
            "ply\nformat ascii 1.0\nelement vertex 1\nelement vertex 1\n",
            "line 4: “vertex” is announced twice",
        ),
        ("ply\nformat ascii 1.0\nelement vertex 1\nproperty float x\nend_header\n0\n", "no x, y and z"),
        ("ply\nformat ascii 1.0\nhello\nend_header\n", "line 3: “hello” is no header line"),
        ("ply\nformat ascii 1.0\nelement face 1\nproperty int a\nend_header\n0\n", "no list vertex_indices"),
        (
            "ply\nformat ascii 1.0\nelement tristrips 1\nproperty list int int a\nend_header\n0\n",
            "stored as strips",
        ),
    ];
    for (header, fault) in broken {
        let message = refused(header.as_bytes());
        assert!(message.contains(fault), "{message}");
    }
}

#[test]
fn a_header_without_end_takes_no_time() {
    let elements: String = (0..200_000).map(|k| format!("element e{k} 0\n")).collect();
    assert!(
        refused(format!("ply\nformat ascii 1.0\n{elements}").as_bytes()).contains("more than 100 elements")
    );
}

#[test]
fn a_claimed_count_takes_no_memory() {
    for count in ["4000000000", "18446744073709551615"] {
        for format in ["ascii", "binary_little_endian", "binary_big_endian"] {
            let header = HEAD.replace("ascii", format).replace("vertex 4", &format!("vertex {count}"));
            assert!(refused(format!("{header}end_header\n").as_bytes()).contains("cut short"));
        }
    }
}
