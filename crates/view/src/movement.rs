//! The moving jaw.

use kerfwright_measure::document::{Value, rounded, rows};
use kerfwright_measure::{Document, Preparation, jaw_motion};
use nalgebra::Point3;
use rayon::prelude::*;
use serde::{Deserialize, Serialize};

use crate::frame::ScreenFrame;
use crate::view::coordinates;

/// One movement of the jaw.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS, utoipa::ToSchema))]
pub struct MovementAnswer {
    /// Its id, as in the reading `clearance.excursion.<name>_mm`.
    pub name: String,
    /// The opposing teeth against their closed place, at equal shares from 0 closed to 1; 4×4, row by row, screen frame. The
    /// prepared tooth rests. Empty where the movement could not be followed.
    pub poses: Vec<[[f64; 4]; 4]>,
    /// Way of the lower incisal point at each pose, mm.
    pub travel_mm: Vec<f64>,
    /// How far the teeth open the jaw at each pose, mm at the prepared tooth.
    pub opened_mm: Vec<f64>,
    /// Whether it was recorded.
    pub is_recorded: bool,
    /// The reading: least clearance over the whole path, mm.
    pub least_clearance_mm: Option<f64>,
    /// Its expanded uncertainty, mm.
    pub u95_mm: Option<f64>,
    /// At which pose it is least, as a fractional place in `poses`.
    pub at_pose: Option<f64>,
    /// Where on the prepared tooth, screen frame, mm.
    pub at: Option<[f64; 3]>,
    /// Why there are no poses, or no reading.
    pub refused: Option<String>,
}

/// Every movement that was measured; the numbers are the document's.
pub fn movements(
    preparation: &Preparation<'_>,
    frame: &ScreenFrame,
    document: &Document,
) -> Vec<MovementAnswer> {
    let names = preparation.jaw.movements();
    names.par_iter().with_max_len(1).map(|name| movement(preparation, frame, document, name)).collect()
}

fn movement(
    preparation: &Preparation<'_>,
    frame: &ScreenFrame,
    document: &Document,
    name: &str,
) -> MovementAnswer {
    let id = format!("clearance.excursion.{name}_mm");
    let reading = document.readings.get(&id);
    let number = |key: &str| match reading?.extras.get(key)? {
        Value::Number(value) => Some(*value),
        Value::Text(_) => None,
    };
    let to_screen = frame.screen_from_after;
    let motion = jaw_motion(preparation, name);
    let stops = motion.as_ref().map_or(&[][..], |motion| motion.relative.stops());
    // The reading moves the prepared arch against the resting opponents; a viewer keeps the prepared tooth still.
    let poses = stops.iter().map(|pose| to_screen * pose.inverse() * to_screen.inverse());
    let last = stops.len().saturating_sub(1) as f64;
    let all_rounded = |values: &[f64]| values.iter().map(|&value| rounded(value)).collect();
    MovementAnswer {
        name: name.to_owned(),
        poses: poses.map(|pose| rows(&pose.to_homogeneous())).collect(),
        travel_mm: motion.as_ref().map_or(Vec::new(), |motion| all_rounded(&motion.travel_mm)),
        opened_mm: motion.as_ref().map_or(Vec::new(), |motion| all_rounded(&motion.opened_mm)),
        is_recorded: motion.as_ref().is_ok_and(|motion| motion.is_recorded),
        least_clearance_mm: reading.and_then(|reading| reading.number()),
        u95_mm: reading.and_then(|reading| reading.u95),
        at_pose: number("share").map(|share| rounded(share * last)),
        at: reading
            .and_then(|reading| reading.place.as_ref())
            .map(|place| coordinates(&(to_screen * Point3::from(place.point)))),
        refused: document.refused.get(&id).cloned().or(motion.err()),
    }
}
