//! Scans of crown preparations whose geometry is known exactly.
//!
//! Everything here is made up: teeth drawn from a table of average sizes, cut by a solid given in numbers.
//! The truth comes from those exact surfaces and never from the code that measures scans.

mod anatomy;
mod arch;
mod arch_line;
pub mod bodies;
mod bridge;
mod demo;
mod die;
mod effects;
mod extract;
mod field;
mod finish_line;
mod flaw_curve;
mod flaws;
mod front;
mod front_cut;
mod gingiva;
mod losses;
mod nearest;
mod partial;
mod phantom;
mod planar;
mod preparation;
mod rng;
mod scan;
mod section;
mod spec;
mod spline;
mod teeth;
mod tidy;
mod tooth;
mod truth;

pub use bridge::BridgeTruth;
pub use demo::{quayside_attempt, quayside_demo, quayside_scan};
pub use flaws::{Flaws, Ledge, LineStep, Lip, PartShoulder, Ripple, Stretch};
pub use phantom::Phantom;
pub use scan::{ScanOptions, Scans};
pub use spec::{
    ArchForm, ByAspect, Coverage, CutForm, Extent, Finish, IncisalReduction, OcclusalReduction, Onlay,
    Remount, RowLevel, SecondPlane, Spec, SpecError, Tilt, WallCut,
};
pub use teeth::{Fdi, ToothSize};
pub use truth::{
    FlawTruth, Inclines, Jump, LedgeTruth, LipTruth, Occlusal, RippleTruth, Run, Spread, Truth, Undercut,
    Walls,
};
