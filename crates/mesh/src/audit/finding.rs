//! One fact about a scan, as data and as a sentence.

use std::fmt;

/// One fact about a scan that its user should know; its text is one sentence.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum Finding {
    /// Read past: bytes after the last triangle.
    TrailingBytes {
        /// How many.
        bytes: usize,
    },
    /// Read past: a binary STL whose count is a placeholder.
    CountIgnored {
        /// The count in the header.
        claimed: u32,
        /// Triangles in the file.
        present: usize,
    },
    /// A text STL without its last line: it may have been cut short between two triangles.
    NoEnd,
    /// Some vertices lack a colour, so the colours were left out.
    ColoursIncomplete {
        /// Vertices without a colour.
        vertices: usize,
    },
    /// Dropped: faces of one or two corners.
    ShortFaces {
        /// How many.
        faces: usize,
    },
    /// Dropped: triangles with a corner at no finite place.
    NotFinite {
        /// How many.
        faces: usize,
        /// Of how many.
        total: usize,
    },
    /// Dropped: triangles without an area.
    Degenerate {
        /// How many.
        faces: usize,
    },
    /// Dropped: triangles that repeat another, corner by corner and in the same winding.
    Duplicate {
        /// How many.
        faces: usize,
    },
    /// Dropped: vertices that no triangle uses.
    LooseVertices {
        /// How many.
        vertices: usize,
    },
    /// Turned over: few triangles that ran against all others of their island.
    WindingMended {
        /// How many.
        faces: usize,
    },
    /// Dropped on demand: small loose pieces.
    Debris {
        /// Pieces.
        islands: usize,
        /// Their triangles.
        faces: usize,
    },
    /// The surface has a rim, as the scan of an arch has.
    Open {
        /// Edges with one triangle.
        edges: usize,
        /// Separate rims.
        loops: usize,
    },
    /// Edges with three or more triangles.
    NonManifold {
        /// How many.
        edges: usize,
    },
    /// Edges whose two triangles disagree about which side is outside.
    Inconsistent {
        /// How many.
        edges: usize,
    },
    /// Triangles on the same corners as another one, seen from the other side.
    BackToBack {
        /// How many.
        faces: usize,
    },
    /// The surface falls into several pieces.
    Islands {
        /// How many.
        islands: usize,
        /// Triangles outside the largest.
        faces_outside_largest: usize,
    },
    /// A closed surface that encloses a negative volume.
    InsideOut {
        /// The signed volume, mm³.
        volume_mm3: f64,
    },
    /// Coordinates so large that single precision is coarse there.
    FarAway {
        /// The largest coordinate without its sign, mm.
        reach_mm: f64,
        /// The step between neighbouring numbers of single precision there, mm.
        step_mm: f64,
    },
}

impl Finding {
    /// Whether the mesh differs from the file because of it.
    pub fn is_repair(&self) -> bool {
        matches!(
            self,
            Self::ShortFaces { .. }
                | Self::NotFinite { .. }
                | Self::Degenerate { .. }
                | Self::Duplicate { .. }
                | Self::LooseVertices { .. }
                | Self::WindingMended { .. }
                | Self::Debris { .. }
        )
    }

    /// Whether it describes the mesh as it stands, not the file or what was done to it.
    pub(crate) fn is_state(&self) -> bool {
        matches!(
            self,
            Self::Open { .. }
                | Self::NonManifold { .. }
                | Self::Inconsistent { .. }
                | Self::BackToBack { .. }
                | Self::Islands { .. }
                | Self::InsideOut { .. }
                | Self::FarAway { .. }
        )
    }
}

/// A number with its noun: `1 triangle`, `2 triangles`.
struct Count(usize, &'static str, &'static str);

impl fmt::Display for Count {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self(n, one, many) = *self;
        write!(out, "{n} {}", if n == 1 { one } else { many })
    }
}

impl fmt::Display for Finding {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        let triangles = |&n: &usize| Count(n, "triangle", "triangles");
        let edges = |&n: &usize| Count(n, "edge", "edges");
        match self {
            Self::TrailingBytes { bytes } => {
                write!(
                    out,
                    "After the mesh the file goes on for {}, ignored.",
                    Count(*bytes, "byte", "bytes")
                )
            }
            Self::CountIgnored { claimed, present } => {
                write!(out, "The header counts {claimed} triangles, the file holds {present}: all were read.")
            }
            Self::NoEnd => write!(out, "The text stops without its closing line and may be cut short."),
            Self::ColoursIncomplete { vertices } => {
                write!(
                    out,
                    "Colours were left out: {} none.",
                    Count(*vertices, "vertex has", "vertices have")
                )
            }
            Self::ShortFaces { faces } => {
                write!(out, "Dropped {} of fewer than three corners.", Count(*faces, "face", "faces"))
            }
            Self::NotFinite { faces, total } => {
                write!(out, "Dropped {} of {total} without finite coordinates.", triangles(faces))
            }
            Self::Degenerate { faces } => write!(out, "Dropped {} without an area.", triangles(faces)),
            Self::Duplicate { faces } => {
                write!(out, "Dropped {}.", Count(*faces, "repeated triangle", "repeated triangles"))
            }
            Self::LooseVertices { vertices } => {
                write!(out, "Dropped {} that no triangle uses.", Count(*vertices, "vertex", "vertices"))
            }
            Self::WindingMended { faces } => {
                write!(out, "Turned over {} that faced against all around.", triangles(faces))
            }
            Self::Debris { islands, faces } => {
                write!(out, "Dropped {} of debris, {}.", Count(*islands, "piece", "pieces"), triangles(faces))
            }
            Self::Open { edges: n, loops } => {
                write!(out, "The surface is open: {} in {}.", edges(n), Count(*loops, "rim", "rims"))
            }
            Self::NonManifold { edges: n } => write!(out, "Three or more triangles meet at {}.", edges(n)),
            Self::Inconsistent { edges: n } => {
                write!(out, "Neighbours disagree about the outside at {}.", edges(n))
            }
            Self::BackToBack { faces } => {
                write!(out, "Back to back with another triangle: {}.", triangles(faces))
            }
            Self::Islands { islands, faces_outside_largest } => {
                write!(out, "The surface is in {islands} pieces, ")?;
                write!(out, "{} outside the largest.", triangles(faces_outside_largest))
            }
            Self::InsideOut { volume_mm3 } => {
                write!(out, "The closed surface is inside out: its volume is {volume_mm3:.1} mm³.")
            }
            Self::FarAway { reach_mm, step_mm } => write!(
                out,
                "Coordinates reach {reach_mm:.0} mm, where single precision is {step_mm:.3} mm coarse: \
                 centre the scan before export."
            ),
        }
    }
}
