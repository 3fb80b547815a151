//! Why a file could not be read.

/// Why a file gave no mesh: the fault and the next step, in one line without the file's name.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ReadError {
    /// No bytes at all.
    #[error("the file is empty: export or copy the scan again")]
    Empty,
    /// Something else than a mesh, recognised by its first bytes.
    #[error("this is {what}, not a mesh: {next_step}")]
    NotAMesh {
        /// What it is, with its article.
        what: &'static str,
        /// What to do about it.
        next_step: &'static str,
    },
    /// No format that can be read here.
    #[error("the content is no STL, PLY or OBJ mesh: export the scan as binary STL or PLY")]
    Unknown,
    /// Text in two bytes a character.
    #[error("the text is UTF-16: save the file as plain text (UTF-8) or export binary STL")]
    Utf16,
    /// Numbers written with a comma.
    #[error(
        "line {line}: numbers are written with decimal commas: export with decimal points or as binary STL"
    )]
    DecimalComma {
        /// Counted from 1.
        line: usize,
    },
    /// A gzip stream that ends early or fails its checksum.
    #[error("the gzip data is damaged or cut short: copy the file again")]
    DamagedGzip,
    /// A gzip stream that unpacks to far more than a scan.
    #[error("the gzip data unpacks to more than {limit_mib} MiB, too much for a scan: export it again")]
    UnpacksTooLarge {
        /// Where unpacking stopped.
        limit_mib: u64,
    },
    /// The file ends before what it announces.
    #[error(
        "the file is cut short: it announces {claimed} {what} and holds {present}: export or copy it again"
    )]
    CutShort {
        /// The things announced, plural.
        what: String,
        /// How many the header names.
        claimed: u64,
        /// How many are there.
        present: u64,
    },
    /// Points only.
    #[error("the file holds only points ({n_points}), no surface: export the scan as a triangle mesh")]
    PointsOnly {
        /// Number of points.
        n_points: usize,
    },
    /// Neither points nor faces.
    #[error("the file holds no triangles: export the scan again")]
    NoTriangles,
    /// A PLY header that cannot be followed.
    #[error("PLY header, line {line}: {fault}: export the scan again, as binary PLY or STL")]
    PlyHeader {
        /// Counted from 1.
        line: usize,
        /// What is wrong.
        fault: String,
    },
    /// A text that stops in the middle of a face.
    #[error("the text ends inside a triangle at line {line}, it is cut short: export or copy it again")]
    EndsInside {
        /// The last line, counted from 1.
        line: usize,
    },
    /// A line of text that cannot be understood.
    #[error("line {line}: {fault}: export the scan again, as binary PLY or STL if possible")]
    BadLine {
        /// Counted from 1.
        line: usize,
        /// What is wrong.
        fault: String,
    },
    /// A face that names a vertex that does not exist.
    #[error("face {face} names vertex {index}, but {}: export the scan again", numbering(*lowest, *n_vertices))]
    BadIndex {
        /// Counted from 1.
        face: usize,
        /// The index as written.
        index: i64,
        /// The number of the first vertex in this format.
        lowest: usize,
        /// How many vertices there are, for an index that counts back those above the face.
        n_vertices: usize,
    },
    /// Too many triangles without a place in space.
    #[error(
        "{faces} of {total} triangles have coordinates that are not finite numbers: scan or export again"
    )]
    NotFinite {
        /// Triangles hit.
        faces: usize,
        /// All triangles.
        total: usize,
    },
    /// A non-convex polygon with very many corners.
    #[error("face {face} is a polygon of {n_corners} corners: export the scan as triangles")]
    PolygonTooLarge {
        /// Counted from 1.
        face: usize,
        /// Its corners.
        n_corners: usize,
    },
    /// More than 32-bit indices can name.
    #[error("the mesh has more than {limit} corners: reduce the scan or cut out the quadrant")]
    TooLarge {
        /// The most that can be read.
        limit: u32,
    },
}

impl ReadError {
    /// The same error when the text it was found in begins `n_lines` further down.
    pub(crate) fn moved_down(mut self, n_lines: usize) -> Self {
        if let Self::DecimalComma { line } | Self::BadLine { line, .. } | Self::EndsInside { line } =
            &mut self
        {
            *line += n_lines;
        }
        self
    }
}

fn numbering(lowest: usize, n_vertices: usize) -> String {
    match n_vertices {
        0 => "no vertices are there".into(),
        _ => format!("vertices are numbered from {lowest} to {}", lowest + n_vertices - 1),
    }
}
