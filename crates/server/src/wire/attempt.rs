//! Attempts: asked for, on their way, done.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};
use ts_rs::TS;
use utoipa::ToSchema;

use super::ErrorBody;

/// An attempt to be measured.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, TS, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct AttemptRequest {
    /// Scan of the prepared tooth with its neighbours.
    pub after: String,
    /// Scan of the same arch before cutting.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[ts(optional)]
    pub before: Option<String>,
    /// Scan of the opposing arch, jaws closed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[ts(optional)]
    pub opposing: Option<String>,
    /// Whose frame the opposing scan shares: `before` (the usual) or `after`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[ts(optional)]
    pub opposing_frame: Option<FrameName>,
    /// Number of the prepared tooth. Several prepared teeth of one scan, as a bridge's abutments, are named `35,37`: each becomes an
    /// attempt of its own.
    pub tooth: String,
    /// All prepared teeth of the scan, this one among them; set by the server where `tooth` names several.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[ts(optional)]
    pub together: Option<Vec<String>>,
    /// How much of the mouth the after scan shows; an arch or a part of one where nothing is said.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[ts(optional)]
    pub extent: Option<ExtentName>,
    /// Numbering system; FDI where nothing is said.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[ts(optional)]
    pub system: Option<SystemName>,
    /// A point on the mesial side of the tooth, in the frame of the before scan (of the after scan where there is none), mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[ts(optional)]
    pub mesial_point: Option<[f64; 3]>,
    /// Path of placement; the best where nothing is said.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[ts(optional)]
    pub path: Option<PathWish>,
    /// Jaw settings that differ from the average jaw, by key, as `condylar_inclination_right_deg`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[ts(optional, type = "{ [key: string]: number }")]
    pub jaw: Option<BTreeMap<String, f64>>,
    /// Recorded jaw motion in place of the model: comma-separated text, one 4×4 pose of the lower jaw a line, in the opposing scan's
    /// frame.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[ts(optional)]
    pub motion: Option<String>,
    /// What to hold it against.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[ts(optional)]
    pub exercise: Option<String>,
    /// The stage after which the scan was taken; the last where nothing is said.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[ts(optional)]
    pub stage: Option<String>,
    /// Code of the learner, never a name.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[ts(optional)]
    pub learner: Option<String>,
}

/// Frames by name.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, TS, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum FrameName {
    /// The before scan's.
    Before,
    /// The after scan's.
    After,
}

/// How much of the mouth a scan shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, TS, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum ExtentName {
    /// An arch, a quadrant, or a few teeth.
    Arch,
    /// One tooth alone.
    Die,
}

/// Paths of placement.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, TS, ToSchema)]
#[serde(untagged)]
pub enum PathWish {
    /// By name.
    Named(PathName),
    /// A direction in the after scan's frame, of any length but 0.
    Fixed([f64; 3]),
}

/// Paths by name.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, TS, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum PathName {
    /// The one that leaves the least undercut.
    Best,
    /// The tooth's axis.
    Axis,
}

/// Numbering systems by name.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, TS, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum SystemName {
    /// Two digits, ISO 3950.
    Fdi,
    /// 1 to 32.
    Universal,
    /// Quadrant and 1 to 8, as UL6.
    Palmer,
}

/// The id of something new.
#[derive(Debug, Clone, Serialize, Deserialize, TS, ToSchema)]
pub struct Created {
    /// Its id.
    pub id: String,
    /// Ids of the others, where several teeth were named, in their order.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub others: Vec<String>,
}

/// How far an attempt has come.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, TS, ToSchema)]
pub struct AttemptAnswer {
    /// Its id.
    pub id: String,
    /// `waiting`, `running`, `done`, `refused`, `cancelled`.
    pub state: AttemptState,
    /// The stage at hand, while it is running.
    pub stage: Option<StageName>,
    /// Why it was refused.
    pub error: Option<ErrorBody>,
    /// All that was asked.
    pub request: AttemptRequest,
    /// The tooth, ISO 3950.
    pub fdi: u8,
    /// When it came, UTC.
    pub created: String,
}

/// States by name.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, TS, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum AttemptState {
    /// Not begun.
    Waiting,
    /// Being measured.
    Running,
    /// Measured.
    Done,
    /// Could not be measured.
    Refused,
    /// Stopped by the user.
    Cancelled,
}

/// The stages of a measurement, in order.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, TS, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum StageName {
    /// The scans are read.
    Read,
    /// Before and after are aligned.
    Align,
    /// The prepared tooth is found.
    Find,
    /// The readings are taken; then the document is there.
    Measure,
    /// The maps are made; then meshes, sections, gauges, values and the ring are there.
    Show,
    /// The jaw is moved; then the movements are there.
    Move,
    /// The target is laid in; then deviation and target are there.
    Target,
}

/// What happens to an attempt. The event's name is `type`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, TS, ToSchema)]
#[serde(tag = "type", rename_all = "snake_case")]
pub enum AttemptEvent {
    /// A stage began or ended.
    Stage {
        /// Which.
        name: StageName,
        /// `started` or `done`.
        state: StageState,
        /// Stages that are done.
        done: usize,
        /// Stages in all.
        of: usize,
        /// Since the job began, ms.
        elapsed_ms: f64,
    },
    /// Everything is there.
    Done {
        /// Since the job began, ms.
        elapsed_ms: f64,
    },
    /// It cannot be measured.
    Refused(ErrorBody),
    /// It was stopped.
    Cancelled,
}

/// Whether a stage began or ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, TS, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum StageState {
    /// It began.
    Started,
    /// It ended.
    Done,
}
