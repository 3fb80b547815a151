//! Nothing panics on any bytes, and what is written is read back.

mod common;

use common::{cuboid, ply_text, sheet, stl_text, together};
use kerfwright_mesh::{Mesh, read_scan, write_obj, write_ply_binary, write_stl_binary};
use nalgebra::Point3;
use proptest::prelude::*;

/// One small file of each format.
fn files() -> Vec<Vec<u8>> {
    let mesh = together(&sheet(3), &cuboid([50.0, 0.0, 0.0], [10.0; 3]));
    vec![write_stl_binary(&mesh), stl_text(&mesh), write_ply_binary(&mesh), ply_text(&mesh), write_obj(&mesh)]
}

/// Reads anything and uses whatever comes out.
fn read(bytes: &[u8]) {
    match read_scan(bytes) {
        Ok(scan) => {
            assert!(
                scan.mesh
                    .triangles
                    .iter()
                    .flatten()
                    .all(|&corner| (corner as usize) < scan.mesh.vertices.len())
            );
            assert!(scan.mesh.vertices.iter().all(|vertex| vertex.iter().all(|value| value.is_finite())));
            scan.audit.findings.iter().for_each(|finding| assert!(!finding.to_string().is_empty()));
            let colours = scan.vertex_colours.as_ref().map_or(scan.mesh.vertices.len(), Vec::len);
            assert_eq!(colours, scan.mesh.vertices.len());
            scan.without_debris();
        }
        Err(error) => {
            let message = error.to_string();
            assert!(!message.chars().any(char::is_control), "{message:?}");
        }
    }
}

/// A word or number that a text format may hold where another is expected.
fn word() -> impl Strategy<Value = String> {
    prop_oneof![
        "[a-z]{1,8}",
        any::<f64>().prop_map(|value| value.to_string()),
        any::<i64>().prop_map(|value| value.to_string()),
        prop::sample::select(vec![
            "v", "f", "facet", "vertex", "endfacet", "solid", "\\", "1/2/3", "-1", "0", "\n", "3"
        ])
        .prop_map(str::to_string),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_bytes_are_read_or_refused(bytes in prop::collection::vec(any::<u8>(), 0..600)) {
        read(&bytes);
        for start in [&b"ply\n"[..], b"solid \n", b"v 1 2 3\nf ", b"\x1F\x8B\x08\0"] {
            read(&[start, &bytes].concat());
        }
    }

    #[test]
    fn cut_files_are_read_or_refused(which in 0..5_usize, share in 0.0..1.0_f64) {
        let file = &files()[which];
        read(&file[..(share * file.len() as f64) as usize]);
    }

    #[test]
    fn damaged_files_are_read_or_refused(
        which in 0..5_usize,
        damage in prop::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 1..8),
    ) {
        let mut file = files().swap_remove(which);
        for (place, value) in damage {
            let place = place.index(file.len());
            file[place] ^= value;
        }
        read(&file);
    }

    #[test]
    fn misplaced_words_are_read_or_refused(
        which in prop::sample::select(vec![1, 3, 4]),
        words in prop::collection::vec((any::<prop::sample::Index>(), word()), 1..6),
    ) {
        let mut file = String::from_utf8(files().swap_remove(which)).unwrap();
        for (place, word) in words {
            let breaks: Vec<usize> = file.match_indices([' ', '\n']).map(|(at, _)| at).collect();
            file.insert_str(breaks[place.index(breaks.len())], &format!(" {word}"));
        }
        read(file.as_bytes());
    }

    #[test]
    fn what_is_written_is_read_back(points in prop::collection::vec(any::<[f32; 3]>(), 3..60)) {
        let finite = |value: f32| if value.is_finite() { f64::from(value) + 0.0 } else { 0.5 };
        let vertices: Vec<_> = points.iter().map(|&point| Point3::from(point.map(finite))).collect();
        let triangles = (0..vertices.len() as u32 / 3).map(|k| [3 * k, 3 * k + 1, 3 * k + 2]).collect();
        let mesh = Mesh { vertices, triangles };
        let Ok(first) = read_scan(&write_obj(&mesh)) else { return Ok(()) };
        let corners =
            |mesh: &Mesh| (0..mesh.triangles.len() as u32).map(|t| mesh.corners(t)).collect::<Vec<_>>();
        for bytes in [
            write_stl_binary(&first.mesh),
            write_ply_binary(&first.mesh),
            write_obj(&first.mesh),
            stl_text(&first.mesh),
        ] {
            let again = read_scan(&bytes).unwrap();
            prop_assert_eq!(corners(&again.mesh), corners(&first.mesh));
        }
    }
}
