//! From scans to everything that can be shown, stage by stage.

use std::sync::{Arc, OnceLock, PoisonError, RwLock};

use kerfwright_exercise::Exercise;
use kerfwright_grade::needs_no_finish_line;
use kerfwright_measure::{Attempt, Document, OpposingFrame, ScanFile};
use kerfwright_view::movement::{MovementAnswer, movements};
use kerfwright_view::{Held, Scans, View, hold};

use crate::aim::aim_of;
use crate::error::ApiError;
use crate::wire::{AttemptRequest, ErrorBody, FrameName, StageName};
use crate::wishes::{is_own, requests_for};

/// All stages, in order.
pub const STAGES: [StageName; 7] = [
    StageName::Read,
    StageName::Align,
    StageName::Find,
    StageName::Measure,
    StageName::Show,
    StageName::Move,
    StageName::Target,
];

/// What was measured of an attempt, as far as it has come.
#[derive(Debug, Default)]
pub struct Measured {
    document: OnceLock<Kept>,
    joint: OnceLock<String>,
    view: RwLock<Option<Arc<View>>>,
    movements: OnceLock<Vec<MovementAnswer>>,
    target: OnceLock<Result<Arc<Held>, String>>,
}

/// A document and its JSON as the command line writes it.
#[derive(Debug)]
pub struct Kept {
    /// The document.
    pub document: Document,
    /// The same, pretty-printed.
    pub json: String,
}

/// What the pipeline tells and asks while it runs.
pub trait Watcher {
    /// A stage begins.
    fn starts(&self, stage: StageName);
    /// A stage has ended.
    fn ends(&self, stage: StageName);
    /// Whether the user wants it to stop.
    fn is_cancelled(&self) -> bool;
}

/// Why a pipeline ended early.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Stop {
    /// The user wanted it.
    Cancelled,
    /// It cannot be measured.
    Refused(ErrorBody),
}

impl Measured {
    /// The document, once it is there.
    pub fn document(&self) -> Result<&Kept, ApiError> {
        self.document.get().ok_or_else(|| ApiError::not_ready("the readings are still being taken"))
    }

    /// The document of all teeth that were named together, as the command line writes it; `None` where one tooth was.
    pub fn joint(&self) -> Option<&String> {
        self.joint.get()
    }

    /// The view, once it is there.
    pub fn view(&self) -> Result<Arc<View>, ApiError> {
        let view = self.view.read().unwrap_or_else(PoisonError::into_inner);
        view.clone().ok_or_else(|| ApiError::not_ready("the pictures are still being made"))
    }

    /// The movements, once they are there.
    pub fn movements(&self) -> Result<&Vec<MovementAnswer>, ApiError> {
        self.movements.get().ok_or_else(|| ApiError::not_ready("the jaw is still being moved"))
    }

    /// The target, or why there is none, once that is known.
    pub fn target(&self) -> Option<&Result<Arc<Held>, String>> {
        self.target.get()
    }

    /// What it takes in memory, roughly, without the scans.
    pub fn n_bytes(&self) -> usize {
        let json = self.document.get().map_or(0, |kept| 3 * kept.json.len());
        let view = self.view().map_or(0, |view| {
            let values: usize = view.maps.iter().map(|map| 4 * map.values.len()).sum();
            let target = view.target.as_ref().map_or(0, |body| 260 * body.surface().mesh.triangles.len());
            values + target + 300 * view.stations.len()
        });
        json + view
    }

    fn set_view(&self, view: View) {
        *self.view.write().unwrap_or_else(PoisonError::into_inner) = Some(Arc::new(view));
    }
}

/// Runs all stages; what is done already can be fetched from `measured` meanwhile.
pub fn run(
    scans: &Scans,
    asked: &AttemptRequest,
    exercise: Option<&Exercise>,
    measured: &Measured,
    watcher: &dyn Watcher,
) -> Result<(), Stop> {
    let refuse =
        |error: ApiError| Stop::Refused(ErrorBody { code: error.code.into(), message: error.message });
    let requests = requests_for(asked).map_err(refuse)?;
    let own = requests.iter().position(|request| is_own(asked, request)).unwrap_or(0);
    let attempt = attempt_of(scans, asked);
    let stage = Stages { watcher };
    let aligned = stage.run(StageName::Align, || attempt.align())?;
    let aligned = aligned.map_err(|error| refusal("align", &scans.after, &error.to_string(), None))?;
    let is_early = exercise.is_some_and(|exercise| needs_no_finish_line(exercise, asked.stage.as_deref()));
    let found = stage.run(StageName::Find, || match &requests[..] {
        [request] if is_early => {
            attempt.find_early(aligned.as_ref(), request).map(|preparation| vec![preparation])
        }
        [request] => attempt.find(aligned.as_ref(), request).map(|preparation| vec![preparation]),
        several => attempt.find_each(aligned.as_ref(), several),
    })?;
    let summary = aligned.as_ref().map(|aligned| aligned.summary());
    let preparations = found.map_err(|error| {
        let code = match error {
            kerfwright_measure::MeasureError::MesialUnknown { .. } => "mesial_unknown",
            _ => "find",
        };
        let may_be_early = scans.before.is_some() && error.is_of_finish_line() && !is_early;
        let early = if may_be_early {
            "; if only the top is cut so far, choose the exercise and the stage after which the scan was taken"
        } else {
            ""
        };
        refusal(code, &scans.after, &format!("{error}{early}"), summary.as_deref())
    })?;
    let preparation = &preparations[own];
    let document = stage.run(StageName::Measure, || {
        let document = match &requests[..] {
            [request] => attempt.document(preparation, request),
            several => {
                let joint = attempt.joint_document(&preparations, several);
                measured.joint.get_or_init(|| pretty(&joint));
                joint.teeth[own].clone()
            }
        };
        let json = pretty(&document);
        measured.document.get_or_init(|| Kept { document, json })
    })?;
    stage.run(StageName::Show, || measured.set_view(View::of(preparation, scans)))?;
    let view = measured.view().map_err(refuse)?;
    stage.run(StageName::Move, || {
        measured.movements.get_or_init(|| movements(preparation, &view.frame, &document.document));
    })?;
    stage.run(StageName::Target, || {
        let aim = aim_of(exercise, asked.stage.as_deref(), preparation.tooth);
        let held = aim.and_then(|aim| hold(preparation, &aim)).map(Arc::new);
        if let Ok(held) = &held {
            measured.set_view(View::clone(&view).with_target(held));
        }
        measured.target.get_or_init(|| held);
    })
}

/// As the command line writes it.
fn pretty(document: &impl serde::Serialize) -> String {
    // Pretty-printing numbers and texts cannot fail.
    serde_json::to_string_pretty(document).unwrap_or_default() + "\n"
}

fn attempt_of<'a>(scans: &'a Scans, asked: &AttemptRequest) -> Attempt<'a> {
    Attempt {
        after: &scans.after,
        before: scans.before.as_deref(),
        opposing: scans.opposing.as_deref(),
        opposing_frame: match asked.opposing_frame {
            Some(FrameName::After) => OpposingFrame::After,
            Some(FrameName::Before) | None => OpposingFrame::Before,
        },
    }
}

/// The sentence of the command line: the file, the fault, and how well the scans align.
fn refusal(code: &str, after: &ScanFile, error: &str, summary: Option<&str>) -> Stop {
    // What does not align names its files itself.
    let file = if code == "align" { String::new() } else { format!("{}: ", after.file) };
    let summary = summary.map_or(String::new(), |summary| format!(" ({summary})"));
    Stop::Refused(ErrorBody { code: code.into(), message: format!("{file}{error}{summary}") })
}

struct Stages<'a> {
    watcher: &'a dyn Watcher,
}

impl Stages<'_> {
    fn run<T>(&self, stage: StageName, work: impl FnOnce() -> T) -> Result<T, Stop> {
        if self.watcher.is_cancelled() {
            return Err(Stop::Cancelled);
        }
        self.watcher.starts(stage);
        let done = work();
        self.watcher.ends(stage);
        Ok(done)
    }
}
