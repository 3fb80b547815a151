//! What goes over the wire, where the core has no type for it. Field by field the browser's `api.ts`.

mod about;
mod attempt;
mod class;
mod error;
mod exercise;
mod grading;
mod reading;
mod remark;
mod scan;
mod scene;

pub use about::{About, ToothAnswer};
pub use attempt::{
    AttemptAnswer, AttemptEvent, AttemptRequest, AttemptState, Created, ExtentName, FrameName, PathName,
    PathWish, StageName, StageState, SystemName,
};
pub use class::{
    AgreementAnswer, ClassAnswer, ClassAttemptAnswer, ClassExercise, CohortAnswer, CriterionAgreement,
    DecisionRequest, GradeSummary, LearnerAnswer, LearnerPage, LearnerStage, Leaving, RemovedAnswer,
    ReportAnswer, RosterAnswer, SessionSummary,
};
pub use error::{ErrorAnswer, ErrorBody};
pub use exercise::{ExerciseSummary, StageSummary};
pub use grading::{
    CalibrationAnswer, GradeLevel, GradedCriterion, GradingAnswer, GradingRequest, Mark, MarksRequest,
    ProposalAnswer, ProposalRequest, ProposedAttempt, SheetAnswer, SheetCode, SheetSummary,
};
pub use reading::{ReadingGroup, ReadingTitle};
pub use remark::{RemarkAnswer, RemarkChange, RemarkRequest};
pub use scan::{DemoAnswer, DemoScan, RoleAnswer, RolesRequest, ScanAnswer, WatchedAnswer};
pub use scene::{AspectAnswer, Directions, LimitAnswer, MapAnswer, Scene, TargetPart, ViewAnswer};
