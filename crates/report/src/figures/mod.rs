//! Figures for the definitions of the readings: each drawn from what a reading was really taken from.
//!
//! Nothing in a figure is drawn by hand: sections are cuts through the scans, dots and lines lie where the measurement
//! found them, and every number is the document's.

mod alignment;
mod bridge;
mod canvas;
mod channel;
mod clearance;
mod cut;
mod edges;
mod facial;
mod finish_line;
mod floor;
mod frame;
mod inclines;
mod neighbours;
mod occlusal;
mod plan;
mod reduction;
mod resistance;
mod space;
mod taper;
mod undercut;
mod unrolled;
mod walls;

use kerfwright_measure::document::Value;
use kerfwright_measure::{Document, JointDocument, Preparation};
use nalgebra::Point3;

use crate::text::{rounded_pair, with_unit};

/// A drawing as a file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Figure {
    /// Its name without ending.
    pub name: &'static str,
    /// An SVG document that stands alone: its own colours, title and description.
    pub svg: String,
}

/// A prepared tooth with the document made from it.
#[derive(Debug, Clone, Copy)]
pub struct Subject<'a> {
    /// What was found.
    pub preparation: &'a Preparation<'a>,
    /// What was measured.
    pub document: &'a Document,
}

/// The measured teeth that the figures show, all with before and opposing scans.
#[derive(Debug, Clone, Copy)]
pub struct Subjects<'a> {
    /// A molar with a chamfer and nothing the matter but a nicked mesial neighbour.
    pub chamfer: Subject<'a>,
    /// A premolar with a shoulder and two facial planes.
    pub shoulder: Subject<'a>,
    /// A molar with an undercut mesial wall and another kind of finish line on each side.
    pub undercut: Subject<'a>,
    /// A molar with part of a shoulder, a lip, a jump of the finish line and a ledge.
    pub flaws: Subject<'a>,
    /// A molar with an onlay's channel and boxes.
    pub onlay: Subject<'a>,
    /// Two abutments, the first with its own measurement.
    pub bridge: &'a [Preparation<'a>],
    /// What the two have in common.
    pub joint: &'a JointDocument,
}

/// Every figure, in the order of `docs/measures.md`. The same scans give the same bytes.
pub fn all(subjects: &Subjects<'_>) -> Vec<Figure> {
    let Subjects { chamfer, shoulder, undercut, flaws, onlay, bridge, joint } = subjects;
    vec![
        frame::draw(chamfer),
        alignment::draw(chamfer),
        reduction::draw(chamfer),
        occlusal::zones(chamfer),
        occlusal::cusp_line(chamfer),
        inclines::draw(chamfer),
        clearance::closed(chamfer),
        clearance::excursion(chamfer),
        space::draw(chamfer),
        taper::draw(shoulder),
        bridge::path(bridge, joint),
        undercut::draw(undercut),
        walls::height(chamfer),
        walls::area(chamfer),
        resistance::draw(chamfer),
        facial::draw(shoulder),
        finish_line::section(shoulder),
        floor::kinds(undercut),
        floor::lip(flaws),
        unrolled::draw(flaws),
        channel::draw(onlay),
        edges::line_angle(chamfer),
        edges::surface(flaws),
        neighbours::draw(chamfer),
        bridge::common_path(bridge, joint),
    ]
}

impl Subject<'_> {
    /// A reading with its uncertainty, as words.
    fn said(&self, id: &str) -> String {
        let Some(reading) = self.document.readings.get(id) else { return "not taken".into() };
        match &reading.value {
            Value::Text(words) => words.clone(),
            Value::Number(value) => quantity(*value, reading.u95, &reading.unit),
        }
    }

    /// The same, or a dash where there is nothing to read.
    fn said_or_dash(&self, id: &str) -> String {
        if self.document.readings.contains_key(id) { self.said(id) } else { "–".into() }
    }

    /// A reading's number; NaN if it was not taken.
    fn number(&self, id: &str) -> f64 {
        self.document.readings.get(id).and_then(|reading| reading.number()).unwrap_or(f64::NAN)
    }

    /// A number beside a reading; NaN if there is none.
    fn extra(&self, id: &str, name: &str) -> f64 {
        match self.document.readings.get(id).and_then(|reading| reading.extras.get(name)) {
            Some(Value::Number(value)) => *value,
            _ => f64::NAN,
        }
    }

    /// Where a reading was taken.
    fn place(&self, id: &str) -> Option<Point3<f64>> {
        let place = self.document.readings.get(id)?.place.as_ref()?;
        Some(Point3::from(place.point))
    }

    /// The station nearest to an angle around the tooth.
    fn station_at(&self, angle_deg: f64) -> Option<&kerfwright_measure::station::Station> {
        let off = |at_deg: f64| {
            let turn = (at_deg - angle_deg).rem_euclid(360.0);
            turn.min(360.0 - turn)
        };
        let known = self.preparation.stations.iter().filter(|station| station.wall.is_some());
        known.min_by(|a, b| off(a.angle_deg).total_cmp(&off(b.angle_deg)))
    }
}

/// A value with its uncertainty and unit.
fn quantity(value: f64, u95: Option<f64>, unit: &str) -> String {
    let (value, u95) = rounded_pair(value, u95, unit);
    match u95 {
        Some(u95) if unit == "deg" => format!("{value}° ± {u95}°"),
        Some(u95) => with_unit(&format!("{value} ± {u95}"), unit),
        None => with_unit(&value, unit),
    }
}
