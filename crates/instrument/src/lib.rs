//! Kits of rotary instruments, bar gauges and probes, and what each leaves on a tooth, from its geometry alone.
//!
//! - [`Head`] is a solid of revolution from the few numbers that describe it; numbers that contradict each other are refused.
//! - [`taper_deg`], [`finish_line`], [`deepest_chamfer_mm`], [`shoulder`], [`depth_mm`], [`room_in_gap_mm`] and
//!   [`facial_planes`] say what it leaves and where it passes.
//! - [`check`] and [`read`] take a [`Kit`] from TOML, every fault with its line. [`shipped`] holds our own.
//! - [`suitable`] ranks a kit for a [`Target`] and says of each instrument why it is not fit; [`by_stage`] does so for a course.
//! - [`state`] says from a log of uses and measured diameters whether an instrument is retired; [`in_hand`] takes the kit as worn.
//!
//! The crate knows no exercises and no meshes. Lengths are millimetres, angles degrees.
//!
//! ```
//! use kerfwright_instrument::{Dimensions, Head, HeadKind, deepest_chamfer_mm, finish_line};
//!
//! let given = Dimensions { diameter_mm: 1.2, length_mm: Some(8.0), ..Dimensions::default() };
//! let head = Head::new(HeadKind::RoundCylinder, &given).unwrap();
//! assert_eq!(deepest_chamfer_mm(&head), Some(0.6));
//! let left = finish_line(&head, 0.3).unwrap();
//! assert!((left.declination_deg - 30.0).abs() < 1e-9 && left.lip_mm == 0.0);
//! ```

mod fault;
mod finish_line;
mod fit;
pub mod gauge;
mod head;
mod iso;
mod kind;
mod kit;
mod limits;
mod outline;
mod profile;
mod read;
mod stages;
mod table;
mod wall;
mod wear;

pub use fault::{Fault, Faults, Weight, nearest};
pub use finish_line::{FinishLine, Floor, Shoulder, deepest_chamfer_mm, finish_line, shoulder};
pub use fit::{FinishKind, Fit, Surface, Target, Wall, fit, suitable};
pub use head::{Cuts, Dimensions, Head, HeadFault};
pub use iso::{Grit, IsoCode, IsoError};
pub use kind::HeadKind;
pub use kit::{Gauge, Instrument, Kit, Probe, Retirement, SCHEMA, shipped};
pub use limits::Limits;
pub use read::{check, read};
pub use stages::{Stage, StageChoice, by_stage, for_stage};
pub use wall::{
    Depth, FacialPlanes, Sunk, convergence_deg, depth_mm, facial_planes, hollow_radius_mm, room_in_gap_mm,
    taper_deg,
};
pub use wear::{
    LogEntry, LogError, Measured, State, in_hand, log_from_json, log_from_toml, state, strangers,
};
