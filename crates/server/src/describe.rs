//! The interface, described: TypeScript for our pages, OpenAPI for everybody else.

use kerfwright_advice as advice;
use kerfwright_class as statistics;
use kerfwright_exercise as exercise;
use kerfwright_grade as grading;
use kerfwright_measure::{Abutments, JointDocument, document};
use kerfwright_overview as overview;
use kerfwright_view::gauge::{GaugeAnswer, GaugeTouch, GaugeWish, Toward};
use kerfwright_view::maps::{LegendStep, MapKind};
use kerfwright_view::movement::MovementAnswer;
use kerfwright_view::ring::{RingAnswer, RingStation, Uncertain};
use kerfwright_view::section::{Section, SectionPlane, SectionWall, SectionWish};
use kerfwright_view::spot::{Spot, SpotValue};
use kerfwright_view::{Role, Which};
use ts_rs::{Config, TS};
use utoipa::OpenApi;

use crate::accounts;
use crate::common_answers::CommonAnswers;
use crate::handlers::{
    about, accounts as keep, agreement, attempts, calibration, class, decisions, demo, exercises, grade,
    gradings, readings, remarks, report, retention, roster, scans, session, views, watched,
};
use crate::wire;

/// The interface.
#[derive(OpenApi)]
#[openapi(
    modifiers(&CommonAnswers),
    components(schemas(wire::ErrorAnswer)),
    info(
        title = "Kerfwright",
        description = "The app at the bench. Lengths are mm, angles degrees; positions are in the screen frame unless said otherwise. Where there \
                       are accounts: POST /api/v1/session sets a cookie, and what changes something needs it, Origin, and X-Kerfwright: 1."
    ),
    paths(
        about::about,
        about::teeth,
        session::one,
        session::begin,
        session::end,
        session::password,
        keep::list,
        keep::add,
        keep::remove,
        keep::password,
        keep::audit,
        exercises::list,
        exercises::one,
        exercises::add,
        scans::add,
        scans::one,
        scans::mesh,
        scans::roles,
        attempts::add,
        attempts::list,
        attempts::one,
        attempts::events,
        attempts::cancel,
        attempts::document,
        attempts::joint,
        readings::list,
        grade::grade,
        views::scene,
        views::body,
        views::value,
        views::section,
        views::gauge,
        views::ring,
        views::movements,
        remarks::list,
        remarks::add,
        remarks::change,
        remarks::remove,
        demo::demo,
        watched::list,
        decisions::add,
        class::roster,
        class::attempts,
        class::table,
        report::class,
        report::class_file,
        report::learner,
        report::learner_file,
        retention::learner,
        retention::cohort,
        roster::take,
        agreement::one,
        agreement::as_file,
        gradings::list,
        gradings::add,
        calibration::propose,
        gradings::remove,
        calibration::result,
        calibration::result_csv,
        gradings::sheet,
        gradings::give,
        gradings::mesh
    )
)]
struct Described;

/// `docs/openapi.json`.
pub fn openapi() -> String {
    // A description of texts and numbers can always be written.
    Described::openapi().to_pretty_json().unwrap_or_default() + "\n"
}

/// `web/src/lib/api.ts`.
pub fn typescript() -> String {
    let mut out =
        "// Written by `cargo test -p kerfwright-server`; the Rust types decide. Do not edit.\n".to_owned();
    let config = Config::default().with_large_int("number");
    macro_rules! declare {
        ($($name:ty),* $(,)?) => {
            $(out += &declaration::<$name>(&config);)*
        };
    }
    declare!(
        wire::ErrorAnswer,
        wire::ErrorBody,
        wire::About,
        accounts::Role,
        accounts::wire::SignInRequest,
        accounts::wire::SessionAnswer,
        accounts::wire::SignedIn,
        accounts::wire::May,
        accounts::wire::OwnPasswordRequest,
        accounts::wire::PasswordRequest,
        accounts::wire::AccountRequest,
        accounts::wire::AccountAnswer,
        accounts::wire::AuditAnswer,
        wire::ToothAnswer,
        wire::ExerciseSummary,
        wire::StageSummary,
        wire::ScanAnswer,
        wire::RolesRequest,
        Role,
        wire::RoleAnswer,
        wire::AttemptRequest,
        wire::FrameName,
        wire::SystemName,
        wire::ExtentName,
        wire::PathWish,
        wire::PathName,
        wire::Created,
        wire::AttemptAnswer,
        wire::AttemptState,
        wire::StageName,
        wire::AttemptEvent,
        wire::StageState,
        wire::Scene,
        wire::TargetPart,
        wire::Directions,
        wire::MapAnswer,
        wire::LimitAnswer,
        wire::ViewAnswer,
        wire::AspectAnswer,
        wire::ReadingGroup,
        wire::ReadingTitle,
        wire::RemarkRequest,
        wire::RemarkChange,
        wire::RemarkAnswer,
        wire::DemoAnswer,
        wire::DemoScan,
        wire::WatchedAnswer,
        wire::ClassAnswer,
        wire::LearnerAnswer,
        wire::CohortAnswer,
        wire::SessionSummary,
        wire::ClassExercise,
        wire::ClassAttemptAnswer,
        wire::GradeSummary,
        wire::ReportAnswer,
        wire::LearnerPage,
        wire::LearnerStage,
        wire::AgreementAnswer,
        wire::CriterionAgreement,
        wire::DecisionRequest,
        wire::RemovedAnswer,
        wire::RosterAnswer,
        wire::Leaving,
        wire::GradingRequest,
        wire::ProposalRequest,
        wire::ProposalAnswer,
        wire::ProposedAttempt,
        wire::CalibrationAnswer,
        overview::Calibration,
        overview::Leaning,
        overview::Way,
        overview::CriterionCalibration,
        overview::CodeCalibration,
        overview::KnownReading,
        overview::Repeat,
        wire::GradingAnswer,
        wire::GradedCriterion,
        wire::GradeLevel,
        wire::SheetSummary,
        wire::SheetAnswer,
        wire::SheetCode,
        wire::MarksRequest,
        wire::Mark,
        overview::Report,
        overview::CriterionReport,
        overview::Dot,
        overview::PlacesReport,
        overview::Comparison,
        overview::Compared,
        overview::LearnerReport,
        overview::Named,
        overview::Figure,
        overview::FigureOf,
        statistics::Answer<f64>,
        statistics::Told,
        statistics::Refusal,
        statistics::Estimate,
        statistics::Interval,
        statistics::cohort::Band,
        statistics::cohort::Standing,
        statistics::cohort::Distribution,
        statistics::cohort::Comparison,
        statistics::cohort::Groups,
        statistics::cohort::Test,
        statistics::items::ItemReport,
        statistics::items::ItemStatistics,
        statistics::learner::CriterionCourse,
        statistics::learner::Point,
        statistics::learner::Practice,
        statistics::learner::Training,
        statistics::learner::Trend,
        statistics::place::Bin,
        statistics::place::Third,
        statistics::place::Fault,
        statistics::place::Finding,
        statistics::severity::Place,
        Which,
        MapKind,
        LegendStep,
        SectionWish,
        Section,
        SectionPlane,
        SectionWall,
        GaugeWish,
        Toward,
        GaugeAnswer,
        GaugeTouch,
        RingAnswer,
        RingStation,
        Uncertain,
        Spot,
        SpotValue,
        MovementAnswer,
        JointDocument,
        Abutments,
        document::Document,
        document::Tool,
        document::Input,
        document::ToothEntry,
        document::Frames,
        document::PathEntry,
        document::FinishLineEntry,
        document::StationEntry,
        document::Value,
        document::Reading,
        document::Place,
        exercise::Exercise,
        exercise::Stage,
        exercise::Gauge,
        exercise::Criterion,
        exercise::Exception,
        exercise::Wanted,
        exercise::Critical,
        exercise::PlacesScore,
        exercise::Credit,
        exercise::TooClose,
        exercise::NotMeasured,
        exercise::Scoring,
        exercise::Onlay,
        exercise::Range,
        exercise::Source,
        exercise::Teeth,
        grade::GradeAnswer,
        grading::Grade,
        grading::ExerciseEntry,
        grading::StageEntry,
        grading::DocumentEntry,
        grading::Tally,
        grading::Outcome,
        grading::CriterionGrade,
        grading::Item,
        grading::Level,
        grading::Lost,
        grading::Finding,
        grading::FindingKind,
        grading::Mend,
        grading::Decision,
        grading::Override,
        grading::Change,
        advice::Advice,
        advice::Instrument,
        advice::Urgency,
        advice::Concern,
        advice::Language,
    );
    // The generator leaves spaces at the ends of lines.
    out.lines().map(|line| line.trim_end().to_owned() + "\n").collect()
}

fn declaration<T: TS>(config: &Config) -> String {
    let docs = T::docs().unwrap_or_default();
    format!("\n{docs}export {}\n", T::decl(config))
}
