//! What goes over the wire, where the core has no type for it. Field by field the browser's `api.ts`.

mod about;
mod attempt;
mod error;
mod exercise;
mod reading;
mod remark;
mod scan;
mod scene;

pub use about::{About, ToothAnswer};
pub use attempt::{
    AttemptAnswer, AttemptEvent, AttemptRequest, AttemptState, Created, ExtentName, FrameName, PathName,
    PathWish, StageName, StageState, SystemName,
};
pub use error::{ErrorAnswer, ErrorBody};
pub use exercise::{ExerciseSummary, StageSummary};
pub use reading::{ReadingGroup, ReadingTitle};
pub use remark::{RemarkAnswer, RemarkChange, RemarkRequest};
pub use scan::{DemoAnswer, DemoScan, RoleAnswer, RolesRequest, ScanAnswer, WatchedAnswer};
pub use scene::{AspectAnswer, Directions, LimitAnswer, MapAnswer, Scene, TargetPart, ViewAnswer};
