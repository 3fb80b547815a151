//! Places that the pictures point at.

use kerfwright_measure::Document;
use kerfwright_measure::document::Value;
use nalgebra::Point3;

use crate::text::{fixed, plain, rounded_pair, with_unit};
use crate::titles;

/// Readings whose place is worth pointing at: the id, the extra that belongs to the place, what it is called.
const WORTH: &[(&str, Option<&str>, &str)] = &[
    ("reduction.occlusal.functional_mm", Some("least"), "least reduction, functional cusps"),
    ("reduction.occlusal.nonfunctional_mm", Some("least"), "least reduction, non-functional cusps"),
    ("clearance.mip_mm", Some("least"), "least clearance in maximal intercuspal position"),
    ("undercut.depth_mm", None, "deepest undercut"),
    ("neighbour.mesial.depth_mm", None, "damage to the mesial neighbour"),
    ("neighbour.distal.depth_mm", None, "damage to the distal neighbour"),
    ("path.blocked_by", Some("overlap_mm"), "path of placement blocked, overlap"),
    ("finish_line.lip_mm", None, "lip at the finish line"),
];

/// A place with the letter that stands for it.
#[derive(Debug)]
pub struct Mark {
    /// A, B, C …
    pub letter: char,
    /// What is there, with its number.
    pub words: String,
    /// Where, after scan's frame.
    pub point: Point3<f64>,
}

/// The places of a document that are worth pointing at.
pub fn marks(document: &Document) -> Vec<Mark> {
    let found = WORTH.iter().filter_map(|&(id, extra, name)| {
        let reading = document.readings.get(id)?;
        let place = reading.place.as_ref()?;
        let special = extra.and_then(|extra| match reading.extras.get(extra)? {
            Value::Number(number) => {
                Some(with_unit(&fixed(*number, 2), titles::extra_unit(extra, &reading.unit)))
            }
            Value::Text(_) => None,
        });
        let own =
            || Some(with_unit(&rounded_pair(reading.number()?, reading.u95, &reading.unit).0, &reading.unit));
        let number = special.or_else(own)?;
        let [x, y, z] = place.point;
        Some((format!("{name}: {number} ({})", plain(&place.aspect)), Point3::new(x, y, z)))
    });
    let letters = ('A'..='Z').zip(found);
    letters.map(|(letter, (words, point))| Mark { letter, words, point }).collect()
}

/// The title of a reading together with its group, for lists outside the groups.
pub fn full_title(id: &str) -> String {
    let first = id.split('.').next().unwrap_or(id);
    format!("{}: {}", titles::group(first).0, titles::title(id))
}
