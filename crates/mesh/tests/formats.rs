//! Files as programs really write them: each is a mesh, or one clear line.

mod common;

use std::io::Write;

use common::{cuboid, ply_text, sheet, stl_text};
use flate2::{Compression, write::GzEncoder};
use kerfwright_mesh::{
    Finding, Format, Mesh, ReadError, read_scan, write_obj, write_ply_binary, write_stl_binary,
};

fn packed(content: &[u8]) -> Vec<u8> {
    let mut encoder = GzEncoder::new(Vec::new(), Compression::fast());
    encoder.write_all(content).unwrap();
    encoder.finish().unwrap()
}

/// Reads bytes that must be refused; the message is one line, with the next step after a colon.
#[track_caller]
fn refused(bytes: &[u8]) -> ReadError {
    let error = read_scan(bytes).expect_err("must be refused");
    let message = error.to_string();
    assert!(!message.contains('\n') && message.len() < 200 && message.contains(": "), "{message}");
    error
}

#[test]
fn every_format_gives_the_same_box() {
    let mesh = cuboid([-1.5, 0.0, 2.25], [30.0, 20.0, 10.0]);
    let files = [
        (Format::StlBinary, write_stl_binary(&mesh)),
        (Format::StlText, stl_text(&mesh)),
        (Format::PlyText, ply_text(&mesh)),
        (Format::PlyLittleEndian, write_ply_binary(&mesh)),
        (Format::Obj, write_obj(&mesh)),
    ];
    for (format, bytes) in files {
        for bytes in [packed(&bytes), bytes] {
            let scan = read_scan(&bytes).unwrap();
            assert_eq!(scan.format, format);
            assert_eq!((scan.mesh.vertices.len(), scan.mesh.triangles.len()), (8, 12), "{format:?}");
            assert_eq!(scan.audit.volume_mm3, Some(6000.0), "{format:?}");
            assert_eq!(scan.mesh.area_mm2(), 2200.0);
            assert_eq!(scan.audit.findings, [], "{format:?}");
        }
    }
}

#[test]
fn indexed_formats_keep_the_order_of_vertices_and_triangles() {
    let mesh = sheet(20);
    for bytes in [write_ply_binary(&mesh), write_obj(&mesh), ply_text(&mesh)] {
        assert_eq!(read_scan(&bytes).unwrap().mesh, mesh);
    }
    // STL numbers vertices by first appearance: the corners are the same.
    let scan = read_scan(&write_stl_binary(&mesh)).unwrap();
    let corners = |mesh: &Mesh| (0..mesh.triangles.len() as u32).map(|t| mesh.corners(t)).collect::<Vec<_>>();
    assert_eq!(corners(&scan.mesh), corners(&mesh));
    assert_eq!(scan.mesh.vertices.len(), mesh.vertices.len());
}

#[test]
fn any_number_of_threads_gives_the_same_mesh() {
    let mesh = sheet(150);
    for bytes in [write_stl_binary(&mesh), stl_text(&mesh), write_obj(&mesh)] {
        let read_with = |n_threads| {
            let pool = rayon::ThreadPoolBuilder::new().num_threads(n_threads).build().unwrap();
            pool.install(|| read_scan(&bytes).unwrap())
        };
        assert_eq!(read_with(1), read_with(3));
    }
}

#[test]
fn a_binary_stl_may_call_itself_solid() {
    let mut bytes = write_stl_binary(&cuboid([0.0; 3], [20.0; 3]));
    bytes[..24].copy_from_slice(b"solid exported facet 26 ");
    assert_eq!(read_scan(&bytes).unwrap().format, Format::StlBinary);
    bytes.extend_from_slice(b"\r\n-- end of mail --\r\n");
    let scan = read_scan(&bytes).unwrap();
    assert_eq!(scan.audit.findings, [Finding::TrailingBytes { bytes: 21 }]);
    bytes[80..84].copy_from_slice(&900_u32.to_le_bytes());
    let error = refused(&bytes);
    assert_eq!(error, ReadError::CutShort { what: "triangles".into(), claimed: 900, present: 12 });
}

#[test]
fn text_comes_from_many_systems() {
    let text = stl_text(&cuboid([0.0; 3], [20.0; 3]));
    let with = |from: &str, to: &str| String::from_utf8(text.clone()).unwrap().replace(from, to).into_bytes();
    let marked = [b"\xEF\xBB\xBF".to_vec(), text.clone()].concat();
    let padded = [text.clone(), vec![0; 3], vec![0x1A]].concat();
    let named = [b"solid Z\xE4hne \x96 26\n".to_vec(), with("solid made here\n", "\n")].concat();
    for bytes in [with("\n", "\r\n"), with("\n", "\r"), marked, padded, named] {
        let scan = read_scan(&bytes).unwrap();
        assert_eq!((scan.format, scan.audit.volume_mm3), (Format::StlText, Some(8000.0)));
    }
    let letters = String::from_utf8_lossy(&text);
    let wide = |bytes: fn(u16) -> [u8; 2]| letters.encode_utf16().flat_map(bytes).collect::<Vec<u8>>();
    for bytes in [wide(u16::to_le_bytes), wide(u16::to_be_bytes)] {
        assert_eq!(refused(&bytes), ReadError::Utf16);
        assert_eq!(refused(&[b"\xFF\xFE".to_vec(), bytes].concat()), ReadError::Utf16);
    }
    assert_eq!(refused(&with("vertex 2e1 0e0", "vertex 2,0 0,0")), ReadError::DecimalComma { line: 13 });
}

#[test]
fn other_files_are_named() {
    let named: [(&[u8], &str); 9] = [
        (b"PK\x03\x04 and so on", "a zip archive"),
        (b"%PDF-1.7 ...", "a PDF document"),
        (b"\n<!DOCTYPE html><p>404", "a web page"),
        (b"<?xml version='1.0'?><scan/>", "XML or JSON"),
        (b"Dear colleague, find the scan attached.", "text without vertices"),
        (b"\xFF\xD8\xFF\xE0 JFIF", "a picture"),
        (b"# only a remark\n", "text without vertices"),
        (b"7z\xBC\xAF\x27\x1C", "a 7z archive"),
        (b"Rar!\x1A\x07", "a RAR archive"),
    ];
    for (bytes, what) in named {
        assert!(refused(bytes).to_string().contains(what), "{what}");
        assert!(refused(&packed(bytes)).to_string().contains(what), "{what}");
    }
    assert_eq!(refused(b""), ReadError::Empty);
    assert_eq!(refused(&packed(b"")), ReadError::Empty);
    assert!(refused(&packed(&packed(b"solid"))).to_string().contains("gzip file inside"));
    assert_eq!(refused(&[7; 500]), ReadError::Unknown);
    let ends = write_stl_binary(&Mesh::default());
    assert_eq!(refused(&ends), ReadError::NoTriangles);
}

#[test]
fn too_many_places_that_are_none_refuse_the_scan() {
    let spoilt = |n: u32, value: f32| {
        let mut bytes = write_stl_binary(&sheet(n));
        bytes[84 + 12..84 + 16].copy_from_slice(&value.to_le_bytes());
        read_scan(&bytes)
    };
    for value in [f32::NAN, f32::INFINITY] {
        assert_eq!(spoilt(3, value), Err(ReadError::NotFinite { faces: 1, total: 18 }));
        let scan = spoilt(10, value).unwrap();
        assert_eq!(scan.audit.findings[0], Finding::NotFinite { faces: 1, total: 200 });
        assert!(scan.mesh.vertices.iter().all(|vertex| vertex.iter().all(|value| value.is_finite())));
    }
}
