//! Triangle meshes as scanners export them: read, checked, written.
//!
//! Bytes in, values out: this crate opens no files. [`read_scan`] recognises STL, PLY and OBJ by their content,
//! also packed by gzip, welds points with equal coordinates, makes the repairs that cannot change a reading, and
//! says what it found. [`check_units`] tells whether lengths are millimetres, [`Scan::without_debris`] drops loose
//! bits; both are steps of their own, so that the caller decides.
//!
//! The same bytes give the same mesh on any number of threads: vertices keep the order of their first appearance.
//!
//! ```
//! let text = b"v 0 0 0\nv 20 0 0\nv 0 20 0\nf 1 2 3\n";
//! let scan = kerfwright_mesh::read_scan(text)?;
//! kerfwright_mesh::check_units(&scan.mesh)?;
//! assert_eq!(scan.mesh.area_mm2(), 200.0);
//! assert_eq!(scan.audit.findings[0].to_string(), "The surface is open: 3 edges in 1 rim.");
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

mod audit;
mod colour;
mod debris;
mod edges;
mod error;
mod mesh;
mod obj;
mod ply;
mod polygon;
mod read;
mod repair;
mod sniff;
mod stl;
mod text;
mod units;
mod unpack;
mod weld;
mod write;

pub use audit::{Audit, FAR_AWAY_MM, Finding, Island, Rim};
pub use debris::{DEBRIS_AREA_MM2, DEBRIS_TRIANGLES};
pub use error::ReadError;
pub use mesh::Mesh;
pub use read::{Format, Scan, read_scan};
pub use units::{DIE_MM, Extent, PLAUSIBLE_MM, Unit, UnitError, check_extent, check_units};
pub use write::{write_obj, write_ply_binary, write_ply_with, write_stl_binary};
