//! What is wrong with a scan.

use std::fmt;

/// What was found in a scan, and what was repaired while reading it.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Audit {
    /// Everything worth telling, in the order it was found.
    pub findings: Vec<Finding>,
}

/// One fact about a scan that its user should know; its text is one sentence.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum Finding {
    /// Bytes after the last triangle.
    TrailingBytes {
        /// How many.
        bytes: usize,
    },
    /// A binary STL whose count is a placeholder.
    CountIgnored {
        /// The count in the header.
        claimed: u32,
        /// Triangles in the file.
        present: usize,
    },
}

impl fmt::Display for Finding {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::TrailingBytes { bytes } => {
                write!(out, "{bytes} bytes after the last triangle were ignored.")
            }
            Self::CountIgnored { claimed, present } => {
                write!(out, "The header counts {claimed} triangles, the file holds {present}: all were read.")
            }
        }
    }
}
