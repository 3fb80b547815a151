//! Triangles, planes and fits: the geometry under every reading, which knows nothing of teeth.
//!
//! - [`Surface`] is a scan made ready to be asked: [`TriangleTree`], [`Topology`], normals.
//! - [`Surface::signed_many`] gives signed distances, [`Surface::section`] plane sections.
//! - [`fit`] has planes, lines, circles and robust statistics; [`noise_mm`] reads the scan's own noise.
//!
//! Lengths are millimetres. The same input gives the same bits out, whatever the number of threads.

pub mod fit;
mod noise;
mod plane;
mod section;
mod solid;
mod surface;
mod topology;
mod tree;
mod triangle;

pub use noise::{Noise, noise, noise_mm};
pub use plane::Plane;
pub use section::Polyline;
pub use solid::{area_mm2, volume_mm3};
pub use surface::{Signed, Surface};
pub use topology::Topology;
pub use tree::{Closest, RayHit, TriangleTree};
pub use triangle::{Feature, closest_on_triangle};

/// The example of the README, kept working.
#[cfg(doctest)]
#[doc = include_str!("../README.md")]
struct Readme;

#[cfg(test)]
#[path = "../tests/bodies/mod.rs"]
mod bodies;
