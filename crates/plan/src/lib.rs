//! The target preparation for a tooth that is not yet cut: where its surface is to lie, how much is to be cut where, what
//! can be told of it beforehand, and an index to check it with.
//!
//! Pure: a scan and wishes in, meshes and numbers out. Lengths in mm, angles in degrees, everything in the frame of the
//! scan before cutting.

mod asked;
mod axes;
mod build;
pub mod deviation;
mod error;
pub mod forecast;
pub mod index;
mod line;
mod of_exercise;
mod onlay;
mod own;
mod plan;
mod profile;
mod site;
pub mod stages;
mod targets;
pub mod tools;
mod top;

pub use error::PlanError;
pub use line::TargetLine;
pub use of_exercise::Asked;
pub use onlay::{Channel, ChannelPlace, Onlay, OnlayPlan};
pub use plan::{Plan, plan};
pub use site::{Site, Wish};
pub use targets::{ByAspect, Edges, Finish, Front, Occlusal, SecondPlane, Targets};
