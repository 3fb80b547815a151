//! STL, binary and text.

mod binary;

pub(crate) use binary::{fits_exactly, read_binary, resembles_binary};
