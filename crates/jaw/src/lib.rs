//! How the lower jaw moves against the upper one: by an average-value model, or as it was recorded.
//!
//! - [`JawSettings`] holds what the model needs, each value with its spread, as a file that a user may edit.
//! - [`JawModel`] is the Bonwill triangle with its condylar paths; it gives a pose for each [`Movement`].
//! - [`jaw_from_scan`] says where that triangle lies in the frame of a scan that shows teeth and no skull.
//! - [`Motion`] is a path of rigid poses, from the model or [recorded](read_recording), and [`Sweep`] bounds how far
//!   it carries any point of a ball: what a search needs in order to miss nothing between two poses.
//!
//! The frame of the jaw: origin at the lower incisal point with the jaws closed, `x` to the patient's left, `y` to the
//! rear along the occlusal plane, `z` up. Lengths are millimetres.
//!
//! ```
//! use kerfwright_jaw::{JawModel, JawSettings, Movement};
//! let model = JawModel::new(&JawSettings::average());
//! let travel_mm = model.end_mm(Movement::Protrusion);
//! let incisal = model.pose(Movement::Protrusion, travel_mm) * nalgebra::Point3::origin();
//! assert!((incisal.y + 4.0).abs() < 1e-9, "four millimetres forward");
//! assert!(incisal.z < 0.0, "and down");
//! ```

mod error;
mod model;
mod motion;
mod placement;
mod recorded;
mod settings;

pub use error::JawError;
pub use model::{JawModel, Movement};
pub use motion::{Ball, Motion, Sweep};
pub use placement::{Seat, jaw_from_scan};
pub use recorded::{Recording, read_recording};
pub use settings::{JawSettings, Parameter, Setting, bennett_from_inclination_deg};
