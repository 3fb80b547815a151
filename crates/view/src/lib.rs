//! What a screen shows of a measured preparation, and what can be asked of it there: meshes with values painted on them, plane
//! sections, a round gauge that is pushed until it no longer fits, values at a point, the unrolled finish line, the moving jaw.
//!
//! Pure: values in, values out. [`View`] owns or shares all it needs, so that it may outlive the measuring. Lengths are mm, angles
//! degrees; every position is in the *screen frame* (see [`ScreenFrame`]), which is never mirrored.

mod body;
pub mod colour;
mod frame;
pub mod gauge;
pub mod glb;
pub mod maps;
pub mod movement;
pub mod paint;
pub mod ring;
mod roles;
pub mod section;
pub mod spot;
mod target;
pub mod view;

pub use body::{Body, Which};
pub use frame::ScreenFrame;
pub use roles::{Role, RoleGuess, guess_roles};
pub use target::{Aim, Held, hold};
pub use view::{Scans, View};
