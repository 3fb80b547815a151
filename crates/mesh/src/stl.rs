//! STL, binary and text.

mod binary;
mod text;

pub(crate) use binary::{fits_exactly, read_binary, resembles_binary};
pub(crate) use text::read_text;
