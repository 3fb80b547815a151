//! What goes over the wire, where the core has no type for it. Field by field the browser's `api.ts`.

use kerfwright_view::maps::{LegendStep, MapKind};
use kerfwright_view::{Role, Which};
use serde::{Deserialize, Serialize};
use ts_rs::TS;
use utoipa::ToSchema;

/// What stands in an answer with a status of 400 or more.
#[derive(Debug, Clone, Serialize, Deserialize, TS, ToSchema)]
pub struct ErrorAnswer {
    /// What went wrong.
    pub error: ErrorBody,
}

/// A fault.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, TS, ToSchema)]
pub struct ErrorBody {
    /// For programs.
    pub code: String,
    /// For people: the fault and the next step.
    pub message: String,
}

/// The program.
#[derive(Debug, Clone, Serialize, Deserialize, TS, ToSchema)]
pub struct About {
    /// `kerf`.
    pub name: String,
    /// Its version.
    pub version: String,
    /// To be shown with every result.
    pub cautions: Vec<String>,
    /// Largest file that is taken.
    pub upload_bytes: u64,
    /// Whether scans come by themselves from a folder.
    pub watches: bool,
}

/// One of the teeth.
#[derive(Debug, Clone, Serialize, Deserialize, TS, ToSchema)]
pub struct ToothAnswer {
    /// ISO 3950 number.
    pub fdi: u8,
    /// Number 1 to 32.
    pub universal: u8,
    /// Quadrant and position, as UL6.
    pub palmer: String,
    /// In words.
    pub name: String,
    /// `incisor`, `canine`, `premolar`, `molar`.
    pub kind: String,
    /// `upper` or `lower`.
    pub arch: String,
    /// The person's `left` or `right`.
    pub side: String,
}

/// An exercise in a list.
#[derive(Debug, Clone, Serialize, Deserialize, TS, ToSchema)]
pub struct ExerciseSummary {
    /// By which it is called.
    pub name: String,
    /// What people call it.
    pub title: String,
    /// A sentence or two for the learner.
    pub summary: Option<String>,
    /// The teeth it is for, in words.
    pub teeth: String,
    /// The same by number.
    pub fdi: Vec<u8>,
    /// In order.
    pub stages: Vec<StageSummary>,
}

/// A stage in a list.
#[derive(Debug, Clone, Serialize, Deserialize, TS, ToSchema)]
pub struct StageSummary {
    /// Within the exercise.
    pub id: String,
    /// What people call it.
    pub title: String,
}

/// A scan that was taken in.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, TS, ToSchema)]
pub struct ScanAnswer {
    /// SHA-256 of its bytes, hexadecimal.
    pub id: String,
    /// Name of the file, without a folder.
    pub name: String,
    /// Length of the file.
    pub bytes: u64,
    /// Format, in words.
    pub format: String,
    /// After repair.
    pub triangles: u64,
    /// Sides of the box around it, mm.
    pub size_mm: [f64; 3],
    /// What was found and repaired.
    pub warnings: Vec<String>,
}

/// Which scans are to be told apart.
#[derive(Debug, Clone, Serialize, Deserialize, TS, ToSchema)]
pub struct RolesRequest {
    /// One to three.
    pub scans: Vec<String>,
}

/// What a scan seems to be.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, TS, ToSchema)]
pub struct RoleAnswer {
    /// The scan.
    pub scan: String,
    /// What it is taken for; absent where nothing tells.
    pub role: Option<Role>,
    /// Whether the shapes prove it; else ask the user.
    pub certain: bool,
    /// Why.
    pub because: String,
}

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
    /// Number of the prepared tooth.
    pub tooth: String,
    /// Numbering system; FDI where nothing is said.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[ts(optional)]
    pub system: Option<SystemName>,
    /// A point on the mesial side of the tooth, in the frame of the before scan (of the after scan where there is none), mm.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[ts(optional)]
    pub mesial_point: Option<[f64; 3]>,
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

/// A remark to be pinned.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, TS, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct RemarkRequest {
    /// Screen frame, mm.
    pub at: [f64; 3],
    /// What is said; 1 to 2000 characters.
    pub text: String,
    /// Code of who says it; 1 to 40 characters.
    pub by: String,
}

/// What changes on a remark.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, TS, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct RemarkChange {
    /// Settled, or open again.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[ts(optional)]
    pub resolved: Option<bool>,
    /// Removed, or brought back.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[ts(optional)]
    pub removed: Option<bool>,
}

/// A pinned remark.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, TS, ToSchema)]
pub struct RemarkAnswer {
    /// Its id.
    pub id: String,
    /// Screen frame, mm.
    pub at: [f64; 3],
    /// What is said.
    pub text: String,
    /// Code of who says it.
    pub by: String,
    /// When it came, UTC.
    pub created: String,
    /// Whether it is settled.
    pub resolved: bool,
    /// Whether it is removed.
    pub removed: bool,
}

/// The demo's scans, taken in.
#[derive(Debug, Clone, Serialize, Deserialize, TS, ToSchema)]
pub struct DemoAnswer {
    /// With their roles.
    pub scans: Vec<DemoScan>,
    /// The tooth, ISO 3950.
    pub tooth: String,
    /// What it may be held against.
    pub exercise: String,
    /// The stage.
    pub stage: String,
    /// Code of the made-up learner.
    pub learner: String,
}

/// One scan of the demo.
#[derive(Debug, Clone, Serialize, Deserialize, TS, ToSchema)]
pub struct DemoScan {
    /// Its id.
    pub id: String,
    /// Name of the file.
    pub name: String,
    /// What it is.
    pub role: Role,
}

/// A file that came into the watched folder.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, TS, ToSchema)]
pub struct WatchedAnswer {
    /// Order of coming since the start, from 1.
    pub number: usize,
    /// Name of the file.
    pub name: String,
    /// The scan, if it is one.
    pub scan: Option<ScanAnswer>,
    /// Why it is none.
    pub error: Option<ErrorBody>,
}
