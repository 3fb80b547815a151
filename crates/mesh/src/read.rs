//! From bytes to a checked mesh.

use std::fmt;

use crate::{Audit, Finding, Mesh, ReadError, repair, sniff, stl, unpack};

/// How a scan was written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Format {
    /// STL, binary.
    StlBinary,
    /// STL, text.
    StlText,
    /// PLY, text.
    PlyText,
    /// PLY, binary, least significant byte first.
    PlyLittleEndian,
    /// PLY, binary, most significant byte first.
    PlyBigEndian,
    /// OBJ.
    Obj,
}

impl fmt::Display for Format {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str(match self {
            Self::StlBinary => "binary STL",
            Self::StlText => "text STL",
            Self::PlyText => "text PLY",
            Self::PlyLittleEndian | Self::PlyBigEndian => "binary PLY",
            Self::Obj => "OBJ",
        })
    }
}

/// A scan that was read: the mesh, and what to know about it.
#[derive(Debug, Clone, PartialEq)]
pub struct Scan {
    /// The mesh after the safe repairs named in `audit`.
    pub mesh: Mesh,
    /// How it was written.
    pub format: Format,
    /// What was found and what was repaired.
    pub audit: Audit,
    /// Red, green, blue of each vertex, if the file has them.
    pub vertex_colours: Option<Vec<[u8; 3]>>,
}

/// What a format's reader hands on.
pub(crate) struct Parsed {
    pub mesh: Mesh,
    pub format: Format,
    pub colours: Option<Vec<[u8; 3]>>,
    pub findings: Vec<Finding>,
}

/// Reads a scan from the bytes of a file, whatever its name.
///
/// # Errors
/// [`ReadError`] says in one line what is wrong and what to do next.
pub fn read_scan(bytes: &[u8]) -> Result<Scan, ReadError> {
    if unpack::is_gzip(bytes) && !stl::fits_exactly(bytes) {
        return checked(sniff::read_any(&unpack::unpacked(bytes)?)?);
    }
    checked(sniff::read_any(bytes)?)
}

fn checked(parsed: Parsed) -> Result<Scan, ReadError> {
    let Parsed { mut mesh, format, mut colours, mut findings } = parsed;
    if mesh.triangles.is_empty() {
        let n_points = mesh.vertices.len();
        return Err(if n_points > 0 { ReadError::PointsOnly { n_points } } else { ReadError::NoTriangles });
    }
    // STL is welded as it is read.
    if !matches!(format, Format::StlBinary | Format::StlText) {
        repair::weld_vertices(&mut mesh, &mut colours);
    }
    let audit = repair::repair(&mut mesh, &mut colours, &mut findings)?.after(findings);
    Ok(Scan { mesh, format, audit, vertex_colours: colours })
}
