//! Triangle meshes as scanners export them: read, checked, written.
//!
//! Bytes in, values out: this crate opens no files. [`read_scan`] recognises STL, PLY and OBJ by their content,
//! also packed by gzip, welds equal points, repairs what is safe to repair and says what it found.

mod audit;
mod error;
mod mesh;
mod read;
mod stl;
mod weld;

pub use audit::{Audit, Finding};
pub use error::ReadError;
pub use mesh::Mesh;
pub use read::{Format, Scan, read_scan};
