//! Who may do what, once there are accounts.
//!
//! Without accounts the app answers this machine alone and knows nobody. With accounts every question passes one `gate`: it finds out
//! who asks (`sign_in`), looks the route up in one table (`permissions`), and lets a learner see own work alone.

mod gate;
mod keep;
mod limits;
mod password;
mod permissions;
mod person;
mod sign_in;
pub(crate) mod wire;

pub use keep::{AccountError, add, remove, set_password};
pub use person::Role;

pub(crate) use gate::gate;
pub(crate) use limits::{Limits, Running};
pub(crate) use permissions::{PREFIX, RULES, Right};
pub(crate) use person::Person;
pub(crate) use sign_in::{clear_cookie, sign_in, token_of};
