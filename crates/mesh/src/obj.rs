//! OBJ: the `v` and `f` lines; all other lines say nothing about the surface.

use nalgebra::Point3;
use rayon::prelude::*;

use crate::ReadError;
use crate::colour::{VertexColours, from_unit};
use crate::polygon::{Faces, FirstIndex};
use crate::read::{Format, Parsed};
use crate::text::{Lines, joined, next_line, number, parse_number, pieces, shown, words};

/// Bytes read by one thread at a time.
const PIECE: usize = 1 << 18;

/// Whether some line places a vertex or makes a face.
pub(crate) fn resembles_obj(bytes: &[u8]) -> bool {
    let begins_number = |word: &[u8]| matches!(word[0], b'0'..=b'9' | b'-' | b'+' | b'.' | b'n' | b'i');
    Lines::new(bytes).any(|line| {
        let mut words = words(line);
        matches!(words.next(), Some(b"v" | b"f")) && words.next().is_some_and(begins_number)
    })
}

/// Reads an OBJ.
pub(crate) fn read(bytes: &[u8]) -> Result<Parsed, ReadError> {
    let read: Vec<_> = pieces(bytes, PIECE, next_whole_line).into_par_iter().map(read_piece).collect();
    let read = joined(read, |piece| piece.n_lines)?;
    let mut faces = Faces::default();
    let mut vertices = Vec::new();
    let mut colours = VertexColours::default();
    for piece in read {
        let n_corners_before = faces.corners.len();
        for (face, corner) in piece.corners {
            let n_vertices_then = (vertices.len() + corner.n_vertices_then) as i64;
            let index = corner.place(n_vertices_then);
            if index < 0 {
                let face = faces.ends.len() + face + 1;
                let n_vertices = n_vertices_then as usize;
                return Err(ReadError::BadIndex { face, index: corner.written, lowest: 1, n_vertices });
            }
            faces.corners.push(index);
        }
        faces.ends.extend(piece.ends.iter().map(|end| n_corners_before + end));
        vertices.extend(piece.vertices);
        colours.extend(piece.colours);
    }
    let mut parsed = faces.into_parsed(vertices, Format::Obj, FirstIndex::One)?;
    colours.hand_to(&mut parsed);
    Ok(parsed)
}

/// The start of the next line that does not continue the one before.
fn next_whole_line(bytes: &[u8], mut at: usize) -> Option<usize> {
    loop {
        at = next_line(bytes, at)?;
        let before = &bytes[..at];
        let line = before.strip_suffix(b"\n").unwrap_or(before);
        if !line.strip_suffix(b"\r").unwrap_or(line).ends_with(b"\\") {
            return Some(at);
        }
    }
}

/// A vertex as a face names it.
struct Corner {
    /// From 1 on, or from -1 down for the newest vertices.
    written: i64,
    /// Vertices of the piece above the face.
    n_vertices_then: usize,
}

impl Corner {
    /// The vertex number from 0; negative where there is no such vertex.
    fn place(&self, n_vertices_then: i64) -> i64 {
        if self.written > 0 { self.written - 1 } else { n_vertices_then.saturating_add(self.written) }
    }
}

#[derive(Default)]
struct Piece {
    vertices: Vec<Point3<f64>>,
    colours: VertexColours,
    /// Corners with the number of their face in the piece.
    corners: Vec<(usize, Corner)>,
    ends: Vec<usize>,
    n_lines: usize,
}

fn read_piece(bytes: &[u8]) -> Result<Piece, ReadError> {
    let mut piece = Piece::default();
    let mut lines = Lines::new(bytes);
    let mut whole = Vec::new();
    while let Some(mut line) = lines.next() {
        let first = lines.number;
        if line.ends_with(b"\\") {
            whole.clear();
            while let Some(part) = line.strip_suffix(b"\\") {
                whole.extend_from_slice(part);
                whole.push(b' ');
                line = lines.next().unwrap_or_default();
            }
            whole.extend_from_slice(line);
            line = &whole;
        }
        read_line(line, first, &mut piece)?;
    }
    piece.n_lines = lines.number;
    Ok(piece)
}

fn read_line(text: &[u8], line: usize, piece: &mut Piece) -> Result<(), ReadError> {
    // A remark may follow the numbers.
    let mut words = words(text).take_while(|word| word[0] != b'#');
    match words.next() {
        Some(b"v") => read_vertex(words, line, piece),
        Some(b"f") => read_face(words, line, piece),
        _ => Ok(()),
    }
}

/// `v x y z`, then nothing, a weight, a colour or a colour with its opacity.
fn read_vertex<'a>(
    mut words: impl Iterator<Item = &'a [u8]>,
    line: usize,
    piece: &mut Piece,
) -> Result<(), ReadError> {
    let mut next = || number(&mut words, line);
    piece.vertices.push(Point3::new(next()?, next()?, next()?));
    let mut extra = [f64::NAN; 4];
    let mut n_extra = 0;
    for word in words {
        if let Some(place) = extra.get_mut(n_extra) {
            *place = parse_number(word, line)?;
        }
        n_extra += 1;
    }
    piece
        .colours
        .push((3..=4).contains(&n_extra).then_some([extra[0], extra[1], extra[2]]).and_then(from_unit));
    Ok(())
}

/// `f a b c …`, each corner `vertex`, `vertex/texture` or `vertex/texture/normal`.
fn read_face<'a>(
    words: impl Iterator<Item = &'a [u8]>,
    line: usize,
    piece: &mut Piece,
) -> Result<(), ReadError> {
    for word in words {
        let vertex = word.split(|&byte| byte == b'/').next().unwrap_or_default();
        let Some(written) = std::str::from_utf8(vertex).ok().and_then(|vertex| vertex.parse::<i64>().ok())
        else {
            let fault = format!("“{}” names no vertex", shown(word));
            return Err(ReadError::BadLine { line, fault });
        };
        if written == 0 {
            let fault = "a face names vertex 0, but vertices are numbered from 1".into();
            return Err(ReadError::BadLine { line, fault });
        }
        piece.corners.push((piece.ends.len(), Corner { written, n_vertices_then: piece.vertices.len() }));
    }
    piece.ends.push(piece.corners.len());
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Finding;

    fn triangles(text: &str) -> Vec<[u32; 3]> {
        read(text.as_bytes()).unwrap().mesh.triangles
    }

    fn error_of(text: &str) -> String {
        read(text.as_bytes()).err().unwrap().to_string()
    }

    const SQUARE: &str = "v 0 0 0\nv 10 0 0\nv 10 10 0\nv 0 10 0\n";

    #[test]
    fn reads_every_way_to_name_a_corner() {
        for face in [
            "f 1 2 3",
            "f 1/7 2/8 3/9",
            "f 1//1 2//1 3//1",
            "f 1/1/1 2/2/2 3/3/3",
            "f -4 -3 -2",
            "f 1 2 3 # b",
        ] {
            assert_eq!(triangles(&format!("{SQUARE}{face}\n")), [[0, 1, 2]], "{face}");
        }
        assert_eq!(triangles(&format!("{SQUARE}o two\nf 1 2 \\\r\n 3 4\ng three\nf 1 2 3")).len(), 3);
        assert_eq!(triangles(&format!("f 1 2 3\n{SQUARE}")), [[0, 1, 2]]);
    }

    #[test]
    fn negative_indices_count_from_their_own_line() {
        assert_eq!(triangles(&format!("{SQUARE}f -4 -3 -2\n{SQUARE}f -4 -3 -2\n")), [[0, 1, 2], [4, 5, 6]]);
    }

    #[test]
    fn pieces_read_as_the_whole() {
        let block = format!("{SQUARE}f -4 -3 \\\n-2\n");
        let n = 3 * PIECE / block.len();
        let text = block.repeat(n);
        let expected: Vec<_> = (0..n as u32).map(|k| [4 * k, 4 * k + 1, 4 * k + 2]).collect();
        assert_eq!(triangles(&text), expected);
        assert!(error_of(&format!("{text}f 1 x 3")).starts_with(&format!("line {}:", 6 * n + 1)));
        let error = error_of(&format!("{text}f 1 2 -99999999"));
        assert!(error.starts_with(&format!("face {} names vertex -99999999", n + 1)), "{error}");
    }

    #[test]
    fn tells_a_weight_from_a_colour() {
        let parsed = read(b"v 0 0 0 0.5\nv 1 0 0 0.5\nv 0 1 0 0.5\nf 1 2 3\n").unwrap();
        assert_eq!(parsed.colours, None);
        let parsed = read(b"v 0 0 0 1 0 0\nv 1 0 0 0 1 0\nv 0 1 0 0 0 0.5\nf 1 2 3\n").unwrap();
        assert_eq!(parsed.colours, Some(vec![[255, 0, 0], [0, 255, 0], [0, 0, 128]]));
        let parsed = read(b"v 0 0 0 1 0 0\nv 1 0 0 nan nan nan\nv 0 1 0 0 0 0.5\nf 1 2 3\n").unwrap();
        assert_eq!(parsed.colours, None);
        assert_eq!(parsed.findings, [Finding::ColoursIncomplete { vertices: 1 }]);
    }

    #[test]
    fn says_which_face_is_wrong() {
        assert!(error_of(&format!("{SQUARE}f 0 1 2")).contains("line 5: a face names vertex 0"));
        assert!(error_of(&format!("{SQUARE}f 1 2 3\nf 1 2 5")).contains("face 2 names vertex 5"));
        assert!(error_of("f -4 -3 -2").contains("face 1 names vertex -4"));
        assert!(error_of("v 0,0 0,0 0,0").contains("decimal commas"));
        assert!(error_of("v 0 0\nf 1 1 1").contains("line 1: a number is missing"));
    }

    #[test]
    fn counts_faces_of_fewer_than_three_corners() {
        let parsed = read(format!("{SQUARE}f 1 2\nf 1 2 3\nf 4\n").as_bytes()).unwrap();
        assert_eq!(parsed.mesh.triangles.len(), 1);
        assert_eq!(parsed.findings, [Finding::ShortFaces { faces: 2 }]);
    }
}
