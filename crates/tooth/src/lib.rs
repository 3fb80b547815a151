//! Permanent teeth: their numbers in three systems, their neighbours, sides and typical sizes.
//!
//! [`Tooth`] is a permanent tooth. [`parse`] reads what a person types and says what it was taken for:
//! the same digits mean different teeth in the FDI and the Universal system, so nothing is guessed in silence.
//!
//! ```
//! let numbered = kerfwright_tooth::parse("26", None)?;
//! assert_eq!(numbered.to_string(), "26: upper left first molar (FDI; Universal 14, Palmer UL6)");
//!
//! let refused = kerfwright_tooth::parse("19", None).unwrap_err();
//! assert!(refused.to_string().contains("--system universal"));
//! # Ok::<(), kerfwright_tooth::ToothError>(())
//! ```

mod dimensions;
mod error;
mod numbering;
mod tooth;

pub use dimensions::Dimensions;
pub use error::ToothError;
pub use numbering::{Numbered, System, parse};
pub use tooth::{Kind, Side, Tooth};
