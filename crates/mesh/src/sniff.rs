//! What a file is, judged by its content alone.

use crate::read::Parsed;
use crate::{ReadError, obj, ply, stl};

/// First bytes of common files that are no mesh, what they are, and what to do.
const NOT_A_MESH: &[(&[u8], &str, &str)] = &[
    (b"PK\x03\x04", "a zip archive", UNPACK),
    (b"PK\x05\x06", "an empty zip archive", UNPACK),
    (b"Rar!", "a RAR archive", UNPACK),
    (b"7z\xBC\xAF\x27\x1C", "a 7z archive", UNPACK),
    (b"\x1F\x8B", "a gzip file inside a gzip file", UNPACK),
    (b"BZh", "a bzip2 file", UNPACK),
    (b"\xFD7zXZ\0", "an xz file", UNPACK),
    (b"\x28\xB5\x2F\xFD", "a zstd file", UNPACK),
    (b"%PDF", "a PDF document", EXPORT),
    (b"\x89PNG", "a picture (PNG)", EXPORT),
    (b"\xFF\xD8\xFF", "a picture (JPEG)", EXPORT),
    (b"GIF8", "a picture (GIF)", EXPORT),
    (b"II*\0", "a picture (TIFF)", EXPORT),
    (b"MM\0*", "a picture (TIFF)", EXPORT),
    (b"glTF", "a glTF scene", EXPORT),
    (b"SQLite format 3\0", "a database", EXPORT),
];

const UNPACK: &str = "unpack it and choose the scan inside";
const EXPORT: &str = "choose the scan itself, exported as STL, PLY or OBJ";

/// Reads whatever mesh the bytes hold; gzip is unpacked already.
pub(crate) fn read_any(bytes: &[u8]) -> Result<Parsed, ReadError> {
    if bytes.is_empty() {
        return Err(ReadError::Empty);
    }
    // A length that fits its count cannot be chance, whatever the header says, even “solid”.
    if stl::fits_exactly(bytes) {
        return stl::read_binary(bytes);
    }
    if let Some(&(_, what, next_step)) = NOT_A_MESH.iter().find(|(magic, ..)| bytes.starts_with(magic)) {
        return Err(ReadError::NotAMesh { what, next_step });
    }
    if is_utf16(bytes) {
        return Err(ReadError::Utf16);
    }
    let unmarked = bytes.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(bytes);
    if ply::resembles_ply(unmarked) {
        return ply::read(unmarked);
    }
    // Some copies end in padding or in the end mark of old systems.
    let end = unmarked.iter().rposition(|byte| !matches!(byte, 0 | 0x1A)).map_or(0, |last| last + 1);
    if is_text(&unmarked[..end]) {
        return read_text(&unmarked[..end]);
    }
    if stl::resembles_binary(bytes) { stl::read_binary(bytes) } else { Err(ReadError::Unknown) }
}

fn read_text(text: &[u8]) -> Result<Parsed, ReadError> {
    let start = text.trim_ascii_start();
    let begins = |word: &[u8]| start.get(..word.len()).is_some_and(|head| head.eq_ignore_ascii_case(word));
    if begins(b"solid") || begins(b"facet") {
        return stl::read_text(text);
    }
    let next_step = EXPORT;
    if begins(b"<!doctype html") || begins(b"<html") {
        return Err(ReadError::NotAMesh {
            what: "a web page",
            next_step: "download or export the scan again",
        });
    }
    if begins(b"<") || begins(b"{") {
        return Err(ReadError::NotAMesh { what: "XML or JSON text", next_step });
    }
    if obj::resembles_obj(text) {
        return obj::read(text);
    }
    Err(ReadError::NotAMesh { what: "text without vertices and faces", next_step })
}

/// Whether the file begins as text in any encoding of one byte a letter, or UTF-8.
fn is_text(bytes: &[u8]) -> bool {
    let is_text_byte = |&byte: &u8| byte >= 0x20 && byte != 0x7F || matches!(byte, b'\t'..=b'\r');
    !bytes.is_empty() && bytes[..bytes.len().min(4096)].iter().all(is_text_byte)
}

/// A byte order mark, or plain letters with a zero on one side of each.
fn is_utf16(bytes: &[u8]) -> bool {
    let head = &bytes[..bytes.len().min(64)];
    let (pairs, _) = head.as_chunks::<2>();
    let is_letter = |byte: u8| byte.is_ascii_graphic() || byte.is_ascii_whitespace();
    let is_wide = |low: usize| pairs.iter().all(|pair| is_letter(pair[low]) && pair[1 - low] == 0);
    let is_marked = matches!(head, [0xFF, 0xFE, ..] | [0xFE, 0xFF, ..]);
    pairs.len() >= 8 && (is_marked || is_wide(0) || is_wide(1))
}
