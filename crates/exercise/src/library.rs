//! The shipped exercises, from `library/*.toml`.

use crate::exercise::Exercise;
use crate::shelf::Shelf;

macro_rules! shelf {
    ($($name:literal),* $(,)?) => {
        &[$(($name, include_str!(concat!("../library/", $name, ".toml")))),*]
    };
}

/// Name and text, by name.
const FILES: &[(&str, &str)] = shelf![
    "cast-crown",
    "cast-crown-molar",
    "cast-crown-premolar",
    "ceramic-crown-front",
    "ceramic-crown-posterior",
    "crown-front",
    "crown-posterior",
    "lithium-disilicate-canine",
    "lithium-disilicate-incisor",
    "lithium-disilicate-molar",
    "lithium-disilicate-posterior",
    "lithium-disilicate-premolar",
    "metal-ceramic-canine",
    "metal-ceramic-front",
    "metal-ceramic-incisor",
    "metal-ceramic-molar",
    "metal-ceramic-posterior",
    "metal-ceramic-premolar",
    "onlay",
    "onlay-cast",
    "onlay-ceramic",
    "quayside-21",
    "quayside-26",
    "quayside-35",
    "quayside-37",
    "three-unit-bridge-cast",
    "three-unit-bridge-layered-zirconia",
    "three-unit-bridge-metal-ceramic",
    "three-unit-bridge-metal-ceramic-canine",
    "three-unit-bridge-metal-ceramic-front",
    "zirconia-layered-canine",
    "zirconia-layered-incisor",
    "zirconia-layered-molar",
    "zirconia-layered-posterior",
    "zirconia-layered-premolar",
    "zirconia-monolithic-canine",
    "zirconia-monolithic-incisor",
    "zirconia-monolithic-molar",
    "zirconia-monolithic-posterior",
    "zirconia-monolithic-premolar",
];

/// All names, templates included.
pub fn names() -> impl Iterator<Item = &'static str> {
    FILES.iter().map(|file| file.0)
}

/// The names of exercises that can be used, without the templates from which they inherit.
pub fn exercise_names() -> impl Iterator<Item = &'static str> {
    FILES.iter().filter(|file| !crate::is_template(file.1)).map(|file| file.0)
}

/// The text of one file.
pub fn text(name: &str) -> Option<&'static str> {
    FILES.iter().find(|file| file.0 == name).map(|file| file.1)
}

/// One exercise, ready for use; `None` for templates and unknown names.
pub fn exercise(name: &str) -> Option<Exercise> {
    crate::read(name, text(name)?, &Shelf::library()).ok()
}
