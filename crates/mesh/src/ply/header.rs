//! The header of a PLY: which elements follow, and of what numbers they consist.

use crate::ReadError;
use crate::text::{shown, words};

/// More tables than any program writes; each is held against all others.
const MAX_ELEMENTS: usize = 100;

/// How the numbers after the header are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Encoding {
    Text,
    LittleEndian,
    BigEndian,
}

/// A type of number.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Scalar {
    I8,
    U8,
    I16,
    U16,
    I32,
    U32,
    I64,
    U64,
    F32,
    F64,
}

impl Scalar {
    fn named(name: &[u8]) -> Option<Self> {
        Some(match name {
            b"char" | b"int8" => Self::I8,
            b"uchar" | b"uint8" => Self::U8,
            b"short" | b"int16" => Self::I16,
            b"ushort" | b"uint16" => Self::U16,
            b"int" | b"int32" => Self::I32,
            b"uint" | b"uint32" => Self::U32,
            b"int64" => Self::I64,
            b"uint64" => Self::U64,
            b"float" | b"float32" => Self::F32,
            b"double" | b"float64" => Self::F64,
            _ => return None,
        })
    }

    /// Bytes in a binary file.
    pub fn size(self) -> usize {
        match self {
            Self::I8 | Self::U8 => 1,
            Self::I16 | Self::U16 => 2,
            Self::I32 | Self::U32 | Self::F32 => 4,
            Self::I64 | Self::U64 | Self::F64 => 8,
        }
    }
}

/// One number, or a count and so many numbers.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    One(Scalar),
    List { count: Scalar, item: Scalar },
}

pub(super) struct Property {
    pub name: String,
    pub kind: Kind,
}

/// A table of the file: its name, the number of its rows and its columns.
pub(super) struct Element {
    pub name: String,
    pub count: u64,
    pub properties: Vec<Property>,
}

impl Element {
    pub fn cut_short(&self, present: u64) -> ReadError {
        let what = match self.name.as_str() {
            "vertex" => "vertices".into(),
            "face" => "faces".into(),
            other => format!("“{}” entries", shown(other.as_bytes())),
        };
        ReadError::CutShort { what, claimed: self.count, present }
    }

    /// Bytes of one row in a binary file, a list counted as empty.
    pub fn least_row_size(&self) -> usize {
        let least = |property: &Property| match property.kind {
            Kind::One(scalar) | Kind::List { count: scalar, .. } => scalar.size(),
        };
        self.properties.iter().map(least).sum()
    }
}

pub(super) struct Header {
    pub encoding: Encoding,
    pub elements: Vec<Element>,
    /// Bytes up to the first number.
    pub n_bytes: usize,
    pub n_lines: usize,
}

/// Whether the bytes begin as a PLY does.
pub(crate) fn resembles_ply(bytes: &[u8]) -> bool {
    matches!(bytes, [b'p', b'l', b'y', b'\r' | b'\n' | b' ' | b'\t', ..] | b"ply")
}

impl Header {
    pub fn read(bytes: &[u8]) -> Result<Self, ReadError> {
        let mut encoding = None;
        let mut elements: Vec<Element> = Vec::new();
        let mut lines = HeaderLines::new(bytes);
        while let Some((line, text)) = lines.next() {
            let wrong = |fault: String| ReadError::PlyHeader { line, fault };
            let words: Vec<&[u8]> = words(text).collect();
            match words.as_slice() {
                [b"ply"] if line == 1 => {}
                [] | [b"comment" | b"obj_info", ..] => {}
                [b"format", name, ..] => encoding = Some(encoding_named(name).map_err(wrong)?),
                [b"element", ..] if elements.len() == MAX_ELEMENTS => {
                    return Err(wrong(format!("more than {MAX_ELEMENTS} elements are announced")));
                }
                [b"element", name, count, ..] => {
                    elements.push(element(name, count, &elements).map_err(wrong)?)
                }
                [b"property", rest @ ..] => {
                    let element =
                        elements.last_mut().ok_or_else(|| wrong("a property before any element".into()))?;
                    element.properties.push(property(rest).map_err(wrong)?);
                }
                [b"end_header", ..] => {
                    let encoding = encoding.ok_or_else(|| wrong("no “format” line".into()))?;
                    return Ok(Self { encoding, elements, n_bytes: lines.n_bytes, n_lines: line });
                }
                [word, ..] => return Err(wrong(format!("“{}” is no header line", shown(word)))),
            }
        }
        Err(ReadError::PlyHeader { line: lines.n_lines, fault: "the file ends inside the header".into() })
    }
}

/// Header lines, all ended as the first one is: numbers may begin with any byte, so that guessing would lose one.
struct HeaderLines<'a> {
    bytes: &'a [u8],
    line_end: &'static [u8],
    n_bytes: usize,
    n_lines: usize,
}

impl<'a> HeaderLines<'a> {
    fn new(bytes: &'a [u8]) -> Self {
        let first =
            bytes.iter().position(|byte| matches!(byte, b'\r' | b'\n')).map_or(&b""[..], |at| &bytes[at..]);
        let line_end: &[u8] = match first {
            [b'\r', b'\n', ..] => b"\r\n",
            [b'\r', ..] => b"\r",
            _ => b"\n",
        };
        Self { bytes, line_end, n_bytes: 0, n_lines: 0 }
    }

    fn next(&mut self) -> Option<(usize, &'a [u8])> {
        let rest = &self.bytes[self.n_bytes..];
        if rest.is_empty() {
            return None;
        }
        let (n_text, n_break) = match memchr::memmem::find(rest, self.line_end) {
            Some(at) => (at, self.line_end.len()),
            None => (rest.len(), 0),
        };
        self.n_bytes += n_text + n_break;
        self.n_lines += 1;
        Some((self.n_lines, rest[..n_text].trim_ascii()))
    }
}

fn encoding_named(name: &[u8]) -> Result<Encoding, String> {
    match name {
        b"ascii" => Ok(Encoding::Text),
        b"binary_little_endian" => Ok(Encoding::LittleEndian),
        b"binary_big_endian" => Ok(Encoding::BigEndian),
        _ => Err(format!("“{}” is no known format", shown(name))),
    }
}

fn element(name: &[u8], count: &[u8], before: &[Element]) -> Result<Element, String> {
    let name = String::from_utf8_lossy(name).into_owned();
    if before.iter().any(|element| element.name == name) {
        return Err(format!("“{}” is announced twice", shown(name.as_bytes())));
    }
    let count = std::str::from_utf8(count)
        .ok()
        .and_then(|count| count.parse().ok())
        .ok_or_else(|| format!("“{}” is no number of rows", shown(count)))?;
    Ok(Element { name, count, properties: Vec::new() })
}

fn property(words: &[&[u8]]) -> Result<Property, String> {
    let scalar =
        |name: &[u8]| Scalar::named(name).ok_or_else(|| format!("“{}” is no type of number", shown(name)));
    let (kind, name) = match *words {
        [b"list", count, item, name, ..] => (Kind::List { count: scalar(count)?, item: scalar(item)? }, name),
        [kind, name, ..] => (Kind::One(scalar(kind)?), name),
        _ => return Err("a property lacks its type or name".into()),
    };
    Ok(Property { name: String::from_utf8_lossy(name).into_owned(), kind })
}
