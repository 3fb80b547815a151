//! What is asked of a preparation.
//!
//! An [`Exercise`] is a TOML file: tooth, restoration, stages in order, and per stage the limits on readings. It may inherit
//! from another; [`library`] holds those that are shipped. [`check`] names every fault of a file by line, with the next
//! step. Limits live in these files alone, each with its source.
//!
//! ```
//! use kerfwright_exercise::{check, library};
//!
//! let exercise = library::exercise("cast-crown-molar").unwrap();
//! assert_eq!(exercise.stages.last().unwrap().id, "final");
//!
//! let faults = check("name = \"mine\"\nbase = \"cast-crown-molr\"\n");
//! assert_eq!(faults[0].line, 2);
//! assert!(faults[0].next.contains("`cast-crown-molar`"));
//! ```

mod draft;
mod exercise;
pub mod fault;
pub mod library;
mod merge;
mod range;
mod reader;
pub mod readings;
mod resolve;
mod shelf;
mod sources;
mod teeth;
mod write;

pub use draft::SCHEMA;
pub use exercise::{
    Asked, Credit, Criterion, Critical, Exception, Exercise, Gauge, NotMeasured, Onlay, PlacesScore, Scoring,
    Stage, TooClose, Wanted,
};
pub use fault::{Fault, Faults};
pub use range::Range;
pub use shelf::Shelf;
pub use sources::Source;
pub use teeth::Teeth;
pub use write::to_toml;

/// Every fault of a file whose bases are in the library; none means that it can be used.
pub fn check(text: &str) -> Vec<Fault> {
    check_in("exercise", text, &Shelf::library())
}

/// Every fault of a file, known to people as `file`, with bases from the shelf. A template is held to less: what its heirs
/// are to fill in may be missing.
pub fn check_in(file: &str, text: &str, shelf: &Shelf) -> Vec<Fault> {
    resolve::resolve(file, text, shelf).faults
}

/// Reads a file, known to people as `file`, with bases from the shelf.
///
/// # Errors
/// Every fault found, by line; also where the file is a template.
pub fn read(file: &str, text: &str, shelf: &Shelf) -> Result<Exercise, Faults> {
    resolve::exercise(file, text, shelf)
}

/// The name of the base that a file inherits from, if it can be read so far.
pub fn base_of(text: &str) -> Option<String> {
    draft::read(&mut reader::Reader::new("", text)).base.map(|base| base.value)
}

/// Whether a file is a template, from which others inherit.
pub fn is_template(text: &str) -> bool {
    draft::read(&mut reader::Reader::new("", text)).template.is_some_and(|template| template.value)
}
