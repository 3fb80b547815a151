//! What is shown of an attempt besides meshes.

use kerfwright_view::Which;
use kerfwright_view::maps::{LegendStep, MapKind};
use serde::{Deserialize, Serialize};
use ts_rs::TS;
use utoipa::ToSchema;

/// What can be shown of an attempt.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, TS, ToSchema)]
pub struct Scene {
    /// The tooth, ISO 3950.
    pub fdi: u8,
    /// The bodies that there are.
    pub bodies: Vec<Which>,
    /// What is painted on them.
    pub maps: Vec<MapAnswer>,
    /// Best views, with a key each.
    pub views: Vec<ViewAnswer>,
    /// Unit vectors of the screen frame.
    pub directions: Directions,
    /// 4×4, row by row: takes points of the after scan (as the document has them) into the screen frame.
    pub screen_from_after: [[f64; 4]; 4],
    /// The eight aspects by rising angle: 0 mesial, 90 facial, 180 distal, 270 lingual.
    pub aspects: Vec<AspectAnswer>,
    /// The finish line, mm.
    pub finish_line: Vec<[f64; 3]>,
    /// What to know of the target, or why there is none.
    pub target_notes: Vec<String>,
    /// By part of the preparation, against the target.
    pub target_parts: Vec<TargetPart>,
}

/// How one part of the preparation lies to the target.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, TS, ToSchema)]
pub struct TargetPart {
    /// `occlusal`, `floor`, or the wall: `mesial`, `facial`, `distal`, `lingual`.
    pub part: String,
    /// Median signed distance, mm; positive: too little was cut.
    pub median_mm: f64,
    /// Most that is cut too deep, mm.
    pub over_cut_mm: f64,
    /// Most that is still to be cut, mm.
    pub under_cut_mm: f64,
}

/// Where things lie on the screen: unit vectors.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, TS, ToSchema)]
pub struct Directions {
    /// Towards the midline.
    pub mesial: [f64; 3],
    /// Away from it.
    pub distal: [f64; 3],
    /// Towards cheek or lip.
    pub facial: [f64; 3],
    /// Towards tongue or palate.
    pub lingual: [f64; 3],
    /// The tooth's axis, towards the opposing teeth.
    pub occlusal: [f64; 3],
    /// The path of placement, away from the tooth.
    pub path: [f64; 3],
}

/// A map.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, TS, ToSchema)]
pub struct MapAnswer {
    /// Which.
    pub id: MapKind,
    /// What people call it.
    pub title: String,
    /// `mm` or `deg`.
    pub unit: String,
    /// The vertex attribute; with `_KNOWN` behind it that of the companion which is 1 where the value is known.
    pub attribute: String,
    /// On which body.
    pub of: Which,
    /// Value of the first colour.
    pub least: f64,
    /// Value of the last colour.
    pub most: f64,
    /// Lines are drawn at multiples of this.
    pub step: f64,
    /// `batlow` or `vik`.
    pub colour_map: String,
    /// All 256 colours, `#rrggbb`.
    pub colours: Vec<String>,
    /// The steps.
    pub legend: Vec<LegendStep>,
    /// Expanded uncertainty of the value at one place.
    pub u95: f64,
    /// Limits of the exercise on what the map shows, if one was given.
    pub limits: Vec<LimitAnswer>,
}

/// A limit of an exercise.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, TS, ToSchema)]
pub struct LimitAnswer {
    /// What people call the criterion.
    pub title: String,
    /// The reading.
    pub reading: String,
    /// Its place, where the criterion has several.
    pub place: Option<String>,
    /// Ideal, lower end.
    pub ideal_from: Option<f64>,
    /// Ideal, upper end.
    pub ideal_to: Option<f64>,
    /// Acceptable, lower end.
    pub acceptable_from: Option<f64>,
    /// Acceptable, upper end.
    pub acceptable_to: Option<f64>,
}

/// A view of the tooth.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, TS, ToSchema)]
pub struct ViewAnswer {
    /// `occlusal`, `facial` …
    pub name: String,
    /// The key that shows it.
    pub key: String,
    /// From the tooth to the viewer, unit.
    pub direction: [f64; 3],
    /// Up on the screen, unit.
    pub up: [f64; 3],
}

/// An aspect.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, TS, ToSchema)]
pub struct AspectAnswer {
    /// `mesial`, `mesiofacial` …
    pub name: String,
    /// The middle of its sector.
    pub angle_deg: f64,
    /// The same as a unit vector square on the axis.
    pub direction: [f64; 3],
}
