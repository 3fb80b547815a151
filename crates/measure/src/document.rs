//! The one document that a measurement becomes.

use std::collections::BTreeMap;

use nalgebra::{Matrix4, Point3};
use serde::{Deserialize, Serialize};

/// Names the layout of [`Document`]; the number rises when a field changes its meaning.
pub const SCHEMA: &str = "kerfwright-measurement-1";

/// A measurement as written out. Field by field the JSON of `docs/measurement.schema.json`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS))]
pub struct Document {
    /// [`SCHEMA`].
    pub schema: String,
    /// What made it.
    pub tool: Tool,
    /// The scans, by role.
    pub inputs: BTreeMap<String, Input>,
    /// The tooth.
    pub tooth: ToothEntry,
    /// Frames, row by row.
    pub frame: Frames,
    /// Path of placement, unit vector in the after scan's frame, and how it was chosen.
    pub path: PathEntry,
    /// The finish line in the after scan's frame.
    pub finish_line: FinishLineEntry,
    /// Readings by id.
    pub readings: BTreeMap<String, Reading>,
    /// Readings that could not be taken, by id, each with the reason.
    pub refused: BTreeMap<String, String>,
    /// What the user should know.
    pub warnings: Vec<String>,
    /// What the readings are not.
    pub cautions: Vec<String>,
}

/// What made a document.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS))]
pub struct Tool {
    /// `kerf`.
    pub name: String,
    /// Its version.
    pub version: String,
}

/// One scan.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS))]
pub struct Input {
    /// File name without its folder.
    pub file: String,
    /// Of the bytes as given.
    pub sha256: String,
    /// File format.
    pub format: String,
    /// After repair.
    pub n_triangles: usize,
    /// What was found and repaired.
    pub findings: Vec<String>,
}

/// The tooth, in all numbering systems.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS))]
pub struct ToothEntry {
    /// FDI (ISO 3950) number.
    pub fdi: u8,
    /// What the given number was taken for.
    pub taken_for: String,
    /// Why this side is mesial.
    pub mesial_because: String,
}

/// Where things are.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS), ts(optional_fields))]
pub struct Frames {
    /// x mesial, y facial, z occlusal, origin at the centre of the finish line; left-handed in quadrants 2 and 4.
    pub tooth_from_after: [[f64; 4]; 4],
    /// From the alignment; absent without a before scan.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub before_from_after: Option<[[f64; 4]; 4]>,
    /// Standard uncertainty of the tooth's axis, degrees.
    pub axis_sigma_deg: f64,
    /// What the axis rests on.
    pub axis_evidence: Vec<String>,
}

/// The path of placement.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS))]
pub struct PathEntry {
    /// Unit vector in the after scan's frame.
    pub direction: [f64; 3],
    /// `best`, `axis` or `fixed`.
    pub choice: String,
}

/// The finish line.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS))]
pub struct FinishLineEntry {
    /// Length, mm.
    pub length_mm: f64,
    /// Points in the after scan's frame, mm.
    pub points: Vec<[f64; 3]>,
    /// One entry a point at which the section could be read.
    pub stations: Vec<StationEntry>,
}

/// What one section says.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS))]
pub struct StationEntry {
    /// Around the tooth: 0 mesial, 90 facial, 180 distal, 270 lingual.
    pub angle_deg: f64,
    /// The finish-line point, after scan's frame.
    pub point: [f64; 3],
    /// Whether the finish line was seen here or bridged.
    pub seen: bool,
    /// Angle of the wall line to the path.
    pub taper_deg: Option<f64>,
    /// From the edge to the wall line.
    pub width_mm: Option<f64>,
    /// From the finish line to the occlusal line angle.
    pub wall_height_mm: Option<f64>,
    /// Slope of the floor.
    pub declination_deg: Option<f64>,
    /// Over the gingiva, along the tooth's axis.
    pub above_gingiva_mm: Option<f64>,
}

/// A number or a word.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS))]
#[serde(untagged)]
pub enum Value {
    /// In the reading's unit.
    Number(f64),
    /// A kind, an aspect.
    Text(String),
}

/// One reading.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS), ts(optional_fields))]
pub struct Reading {
    /// The value.
    pub value: Value,
    /// `mm`, `deg`, `um`, `mm2`, `mm3`, `pct`, or empty.
    pub unit: String,
    /// Expanded uncertainty, k = 2, in the same unit.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub u95: Option<f64>,
    /// Where on the tooth.
    #[serde(default, rename = "where", skip_serializing_if = "Option::is_none")]
    pub place: Option<Place>,
    /// Where the greatest single value lies, if `place` is that of the least.
    #[serde(default, rename = "where_greatest", skip_serializing_if = "Option::is_none")]
    pub place_of_greatest: Option<Place>,
    /// What to know about it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
    /// More about the same reading: `p05`, `median`, `least`, `along_axis` …
    #[serde(flatten)]
    pub extras: BTreeMap<String, Value>,
}

/// A place on the tooth.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "api", derive(ts_rs::TS))]
pub struct Place {
    /// After scan's frame, mm.
    pub point: [f64; 3],
    /// The aspect it lies in.
    pub aspect: String,
    /// Around the tooth.
    pub angle_deg: f64,
}

impl Reading {
    /// The value, if it is a number.
    pub fn number(&self) -> Option<f64> {
        match self.value {
            Value::Number(value) => Some(value),
            Value::Text(_) => None,
        }
    }

    /// Adds an extra number; one that is not finite is left out.
    pub fn with(mut self, name: &str, value: f64) -> Self {
        if value.is_finite() {
            self.extras.insert(name.into(), Value::Number(rounded(value)));
        }
        self
    }

    /// Adds a note.
    pub fn noted(mut self, note: impl Into<String>) -> Self {
        self.note = Some(note.into());
        self
    }

    /// Adds a place.
    pub fn at(mut self, place: Option<Place>) -> Self {
        self.place = place;
        self
    }

    /// Adds the place of the greatest beside that of the least.
    pub fn greatest_at(mut self, place: Option<Place>) -> Self {
        self.place_of_greatest = place;
        self
    }
}

/// Four decimals: 0.1 µm or 0.36″, far below any uncertainty here, and short to read.
pub fn rounded(value: f64) -> f64 {
    let rounded = (value * 1e4).round() / 1e4;
    if rounded == 0.0 { 0.0 } else { rounded }
}

/// A point with rounded coordinates.
pub fn rounded_point(point: &Point3<f64>) -> [f64; 3] {
    [rounded(point.x), rounded(point.y), rounded(point.z)]
}

/// A matrix row by row, to ten decimals.
pub fn rows(matrix: &Matrix4<f64>) -> [[f64; 4]; 4] {
    let at = |row: usize, column: usize| {
        let value = (matrix[(row, column)] * 1e10).round() / 1e10;
        if value == 0.0 { 0.0 } else { value }
    };
    [0, 1, 2, 3].map(|row| [0, 1, 2, 3].map(|column| at(row, column)))
}
