//! STL, binary: 80 bytes of anything, a count, then 50 bytes a triangle.

use nalgebra::Point3;
use rayon::prelude::*;

use crate::read::{Format, Parsed};
use crate::weld::weld;
use crate::{Finding, Mesh, ReadError};

const HEADER: usize = 84;
const RECORD: usize = 50;

/// Whether the count in the header agrees with the length of the file.
pub(crate) fn fits_exactly(bytes: &[u8]) -> bool {
    claimed(bytes).is_some_and(|count| bytes.len() as u64 == HEADER as u64 + RECORD as u64 * u64::from(count))
}

/// Whether the triangles could be those of a scan, for files whose count does not agree with their length.
///
/// Bytes of another kind, read as numbers, are soon absurdly large or small.
pub(crate) fn resembles_binary(bytes: &[u8]) -> bool {
    let Some(body) = bytes.get(HEADER..) else { return false };
    let (records, _) = body.as_chunks::<RECORD>();
    // What follows the last triangle counted may be anything.
    let n_counted = claimed(bytes).filter(|&count| count > 0).map_or(usize::MAX, |count| count as usize);
    let sample = &records[..records.len().min(n_counted).min(200)];
    let plausible = |bits: u32| {
        let size = f32::from_bits(bits).abs();
        size == 0.0 || (1e-12..1e7).contains(&size)
    };
    let good =
        sample.iter().filter(|record| corner_keys(record).as_flattened().iter().all(|&bits| plausible(bits)));
    !sample.is_empty() && good.count() * 10 >= sample.len() * 9
}

/// Reads a binary STL: never more triangles than there are bytes for.
pub(crate) fn read_binary(bytes: &[u8]) -> Result<Parsed, ReadError> {
    let claimed = claimed(bytes).ok_or(ReadError::Unknown)?;
    let (records, rest) = bytes[HEADER..].as_chunks::<RECORD>();
    let (records, findings) = counted(records, rest.len(), claimed)?;
    if records.is_empty() {
        return Err(ReadError::NoTriangles);
    }
    if records.len() > (u32::MAX / 3) as usize - 1 {
        return Err(ReadError::TooLarge { limit: u32::MAX });
    }
    Ok(Parsed { mesh: welded(records), format: Format::StlBinary, colours: None, findings })
}

fn claimed(bytes: &[u8]) -> Option<u32> {
    bytes.get(80..HEADER)?.first_chunk().map(|&count| u32::from_le_bytes(count))
}

/// The triangles to read, held against the count in the header.
fn counted(
    records: &[[u8; RECORD]],
    n_rest: usize,
    claimed: u32,
) -> Result<(&[[u8; RECORD]], Vec<Finding>), ReadError> {
    let present = records.len();
    // Programs that write while they count leave one of these in the header.
    if matches!(claimed, 0 | u32::MAX) && n_rest == 0 && present > 0 {
        return Ok((records, vec![Finding::CountIgnored { claimed, present }]));
    }
    if claimed as usize > present {
        return Err(ReadError::CutShort {
            what: "triangles".into(),
            claimed: claimed.into(),
            present: present as u64,
        });
    }
    let bytes = (present - claimed as usize) * RECORD + n_rest;
    let findings = if bytes > 0 { vec![Finding::TrailingBytes { bytes }] } else { Vec::new() };
    Ok((&records[..claimed as usize], findings))
}

fn welded(records: &[[u8; RECORD]]) -> Mesh {
    let corners: Vec<[[u32; 3]; 3]> = records.par_iter().with_min_len(4096).map(corner_keys).collect();
    let keys = corners.as_flattened();
    let welded = weld(keys);
    let point = |&corner: &u32| {
        let [x, y, z] = keys[corner as usize];
        let number = |bits: u32| f64::from(f32::from_bits(bits));
        Point3::new(number(x), number(y), number(z))
    };
    Mesh {
        vertices: welded.first.iter().map(point).collect(),
        triangles: welded.vertex_of.as_chunks::<3>().0.to_vec(),
    }
}

/// The bits of the nine coordinates, -0.0 as 0.0; the stored normal and the attribute bytes are left out.
fn corner_keys(record: &[u8; RECORD]) -> [[u32; 3]; 3] {
    let (numbers, _) = record.as_chunks::<4>();
    let bits = |index: usize| (f32::from_le_bytes(numbers[index]) + 0.0).to_bits();
    let corner = |first: usize| [bits(first), bits(first + 1), bits(first + 2)];
    [corner(3), corner(6), corner(9)]
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A tetrahedron of 10 mm edges along the axes.
    fn tetrahedron(header: &[u8], claimed: u32, extra: &[u8]) -> Vec<u8> {
        let corners = [[0.0_f32, 0.0, 0.0], [10.0, 0.0, 0.0], [0.0, 10.0, 0.0], [0.0, -0.0, 10.0]];
        let mut bytes = header.to_vec();
        bytes.resize(80, 0);
        bytes.extend(claimed.to_le_bytes());
        for face in [[0, 2, 1], [0, 1, 3], [0, 3, 2], [1, 2, 3]] {
            bytes.extend([0; 12]);
            bytes.extend(face.iter().flat_map(|&corner: &usize| corners[corner]).flat_map(f32::to_le_bytes));
            bytes.extend([0x12, 0x80]);
        }
        bytes.extend(extra);
        bytes
    }

    #[test]
    fn welds_a_tetrahedron() {
        let bytes = tetrahedron(b"any header", 4, b"");
        assert!(fits_exactly(&bytes));
        let parsed = read_binary(&bytes).unwrap();
        assert_eq!(parsed.mesh.triangles, [[0, 1, 2], [0, 2, 3], [0, 3, 1], [2, 1, 3]]);
        assert_eq!(parsed.mesh.vertices[3], Point3::new(0.0, 0.0, 10.0));
        assert_eq!(parsed.findings, []);
    }

    #[test]
    fn reports_what_follows_the_last_triangle() {
        let bytes = tetrahedron(b"", 4, b"appended by a mail gateway");
        assert!(!fits_exactly(&bytes) && resembles_binary(&bytes));
        assert_eq!(read_binary(&bytes).unwrap().findings, [Finding::TrailingBytes { bytes: 26 }]);
    }

    #[test]
    fn refuses_a_count_beyond_the_bytes() {
        let error = read_binary(&tetrahedron(b"", 9, b"")).err();
        assert_eq!(error, Some(ReadError::CutShort { what: "triangles".into(), claimed: 9, present: 4 }));
    }

    #[test]
    fn reads_past_a_placeholder_count() {
        for claimed in [0, u32::MAX] {
            let parsed = read_binary(&tetrahedron(b"", claimed, b"")).unwrap();
            assert_eq!(parsed.mesh.triangles.len(), 4);
            assert_eq!(parsed.findings, [Finding::CountIgnored { claimed, present: 4 }]);
        }
    }
}
