//! STL, text: `facet … vertex x y z … endfacet`, with names in any encoding.

use nalgebra::Point3;
use rayon::prelude::*;

use crate::read::{Format, Parsed};
use crate::text::{Lines, joined, next_line, number, pieces, shown, words};
use crate::weld::{key_of_point, weld};
use crate::{Finding, Mesh, ReadError};

/// Bytes read by one thread at a time.
const PIECE: usize = 1 << 18;

/// Reads a text STL.
pub(crate) fn read_text(bytes: &[u8]) -> Result<Parsed, ReadError> {
    let read: Vec<_> = pieces(bytes, PIECE, next_facet).into_par_iter().map(read_piece).collect();
    let read = joined(read, |piece| piece.n_lines)?;
    let is_ended = read.last().is_some_and(|piece| piece.is_ended);
    let keys: Vec<[u64; 3]> = read.into_iter().flat_map(|piece| piece.keys).collect();
    if keys.is_empty() {
        return Err(ReadError::NoTriangles);
    }
    if keys.len() >= u32::MAX as usize {
        return Err(ReadError::TooLarge { limit: u32::MAX });
    }
    let welded = weld(&keys);
    let point = |&corner: &u32| Point3::from(keys[corner as usize].map(f64::from_bits));
    let mesh = Mesh {
        vertices: welded.first.iter().map(point).collect(),
        triangles: welded.vertex_of.as_chunks::<3>().0.to_vec(),
    };
    let findings = if is_ended { Vec::new() } else { vec![Finding::NoEnd] };
    Ok(Parsed { mesh, format: Format::StlText, colours: None, findings })
}

/// The start of the next line that begins with `facet`.
fn next_facet(bytes: &[u8], mut at: usize) -> Option<usize> {
    loop {
        at = next_line(bytes, at)?;
        let line = bytes[at..].trim_ascii_start();
        if line.get(..5).is_some_and(|word| word.eq_ignore_ascii_case(b"facet")) {
            return Some(at);
        }
    }
}

#[derive(Default)]
struct Piece {
    keys: Vec<[u64; 3]>,
    n_lines: usize,
    /// Whether `endsolid` came last.
    is_ended: bool,
}

fn read_piece(bytes: &[u8]) -> Result<Piece, ReadError> {
    let mut piece = Piece::default();
    let mut n_corners = None;
    let mut lines = Lines::new(bytes);
    while let Some(line) = lines.next() {
        let read = read_line(line, lines.number, &mut n_corners, &mut piece);
        if read.is_err() && n_corners.is_some() && lines.left().is_empty() {
            return Err(ReadError::EndsInside { line: lines.number });
        }
        read?;
    }
    if n_corners.is_some() {
        return Err(ReadError::EndsInside { line: lines.number });
    }
    piece.n_lines = lines.number;
    Ok(piece)
}

/// Reads one line; `n_corners` counts those of the open facet.
fn read_line(
    text: &[u8],
    line: usize,
    n_corners: &mut Option<u8>,
    piece: &mut Piece,
) -> Result<(), ReadError> {
    let wrong = |fault: String| Err(ReadError::BadLine { line, fault });
    let mut words = words(text);
    while let Some(word) = words.next() {
        match (word.to_ascii_lowercase().as_slice(), *n_corners) {
            (b"vertex", Some(n @ 0..3)) => {
                let mut next = || number(&mut words, line);
                piece.keys.push(key_of_point(&Point3::new(next()?, next()?, next()?)));
                *n_corners = Some(n + 1);
            }
            (b"vertex", Some(_)) => return wrong("the facet has more than three corners".into()),
            (b"facet", None) => (*n_corners, piece.is_ended) = (Some(0), false),
            (b"facet", Some(_)) => return wrong("a facet begins before the last one ended".into()),
            // The stored normal is not used, so it may be anything.
            (b"normal", Some(_)) => drop(words.by_ref().take(3).count()),
            (b"outer" | b"loop" | b"endloop", Some(_)) => {}
            (b"endfacet", Some(3)) => *n_corners = None,
            (b"endfacet", Some(_)) => return wrong("the facet has fewer than three corners".into()),
            (b"endsolid", None) => {
                piece.is_ended = true;
                return Ok(());
            }
            // Names, comments and colours of other makers stand between facets.
            (_, None) => return Ok(()),
            (_, Some(_)) => return wrong(format!("“{}” does not belong into a facet", shown(word))),
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    const FACET: &str = "facet normal 0 0 1\n outer loop\n  vertex 0 0 0\n  vertex 10 0 -0\n  vertex 0 1e1 0\n endloop\nendfacet\n";

    fn error_of(text: &str) -> String {
        read_text(text.as_bytes()).err().unwrap().to_string()
    }

    #[test]
    fn reads_any_line_end_case_and_name() {
        let name = b"solid z\xe4hne vertex facet \xff\n".to_vec();
        let lf = [name, FACET.repeat(2).to_ascii_uppercase().into_bytes(), b"endsolid\n".to_vec()].concat();
        let cr: Vec<u8> = lf.iter().map(|&byte| if byte == b'\n' { b'\r' } else { byte }).collect();
        for bytes in [&lf, &cr] {
            let parsed = read_text(bytes).unwrap();
            assert_eq!(parsed.mesh.triangles, [[0, 1, 2], [0, 1, 2]]);
            assert_eq!(parsed.mesh.vertices[1], Point3::new(10.0, 0.0, 0.0));
            assert_eq!(parsed.findings, []);
        }
    }

    #[test]
    fn pieces_read_as_the_whole() {
        let n = 3 * PIECE / FACET.len();
        let text = format!("solid\n{}endsolid\n", FACET.repeat(n));
        assert_eq!(read_text(text.as_bytes()).unwrap().mesh.triangles.len(), n);
        let broken = text.replace("endsolid\n", &FACET.replace("1e1", "x1"));
        assert!(error_of(&broken).starts_with(&format!("line {}: “x1”", 7 * n + 6)), "{}", error_of(&broken));
    }

    #[test]
    fn says_where_a_text_breaks() {
        assert!(error_of("solid\nfacet\nvertex 0 0\nvertex").contains("line 3: a number is missing"));
        assert!(error_of("solid\nfacet\nvertex 0 0").contains("ends inside a triangle at line 3"));
        assert!(error_of("solid\nfacet\nvertex 0 0 0\n").contains("ends inside a triangle at line 3"));
        assert!(error_of("solid\nfacet\nvertex 0,0 0,0 0,0\nendloop").contains("decimal commas"));
        assert!(error_of("solid\nfacet\nvertex 0 0 0\nendfacet\nendsolid\n").contains("fewer than three"));
        assert!(error_of("solid empty\nendsolid empty\n").contains("no triangles"));
        let open = read_text(format!("solid\n{FACET}").as_bytes()).unwrap();
        assert_eq!(open.findings, [Finding::NoEnd]);
    }
}
