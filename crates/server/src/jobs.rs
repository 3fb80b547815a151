//! Attempts being measured: a bounded number at once, each telling what it does, each stoppable.

use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Instant;

use kerfwright_measure::document::SCHEMA;
use kerfwright_store::State;
use tokio::sync::watch;

use crate::app::{App, key_of};
use crate::error::ApiError;
use crate::pipeline::{Measured, STAGES, Stop, Watcher, run};
use crate::wire::{AttemptEvent, AttemptRequest, ErrorBody, StageName, StageState};

/// An attempt being measured, or measured since the start.
#[derive(Debug)]
pub struct Job {
    started: Instant,
    cancelled: AtomicBool,
    events: Mutex<Vec<AttemptEvent>>,
    /// How many events there are.
    count: watch::Sender<usize>,
    measured: Mutex<Option<Arc<Measured>>>,
}

impl Job {
    fn new() -> Self {
        Self {
            started: Instant::now(),
            cancelled: AtomicBool::new(false),
            events: Mutex::default(),
            count: watch::Sender::new(0),
            measured: Mutex::default(),
        }
    }

    /// The events from the `from`-th on.
    pub fn events(&self, from: usize) -> Vec<AttemptEvent> {
        let events = self.events.lock().unwrap_or_else(PoisonError::into_inner);
        events.get(from..).unwrap_or_default().to_vec()
    }

    /// Tells when there are more events.
    pub fn subscribe(&self) -> watch::Receiver<usize> {
        self.count.subscribe()
    }

    /// The stage at hand.
    pub fn stage(&self) -> Option<StageName> {
        match self.events.lock().unwrap_or_else(PoisonError::into_inner).last() {
            Some(AttemptEvent::Stage { name, .. }) => Some(*name),
            _ => None,
        }
    }

    /// What is measured so far.
    pub fn measured(&self) -> Option<Arc<Measured>> {
        self.measured.lock().unwrap_or_else(PoisonError::into_inner).clone()
    }

    /// Asks it to stop after the stage at hand.
    pub fn cancel(&self) {
        self.cancelled.store(true, Ordering::Relaxed);
    }

    fn hold(&self, measured: &Arc<Measured>) {
        *self.measured.lock().unwrap_or_else(PoisonError::into_inner) = Some(measured.clone());
    }

    /// Lets go of what was measured: from now on the cache has it, as long as there is room.
    fn release(&self) {
        *self.measured.lock().unwrap_or_else(PoisonError::into_inner) = None;
    }

    fn elapsed_ms(&self) -> f64 {
        (self.started.elapsed().as_secs_f64() * 1e4).round() / 10.0
    }

    fn tell(&self, event: AttemptEvent) {
        let n_events = {
            let mut events = self.events.lock().unwrap_or_else(PoisonError::into_inner);
            events.push(event);
            events.len()
        };
        self.count.send_replace(n_events);
    }

    fn tell_stage(&self, name: StageName, state: StageState) {
        let place = STAGES.iter().position(|stage| *stage == name).unwrap_or(0);
        let done = place + usize::from(state == StageState::Done);
        let (of, elapsed_ms) = (STAGES.len(), self.elapsed_ms());
        self.tell(AttemptEvent::Stage { name, state, done, of, elapsed_ms });
    }
}

impl Watcher for Job {
    fn starts(&self, stage: StageName) {
        self.tell_stage(stage, StageState::Started);
    }

    fn ends(&self, stage: StageName) {
        self.tell_stage(stage, StageState::Done);
    }

    fn is_cancelled(&self) -> bool {
        self.cancelled.load(Ordering::Relaxed)
    }
}

/// Nobody watches.
struct Unwatched;

impl Watcher for Unwatched {
    fn starts(&self, _: StageName) {}
    fn ends(&self, _: StageName) {}
    fn is_cancelled(&self) -> bool {
        false
    }
}

impl App {
    /// Begins to measure a kept attempt; it waits for its turn.
    pub(crate) fn start(&self, id: &str, request: AttemptRequest) {
        let job = Arc::new(Job::new());
        self.0.jobs.lock().unwrap_or_else(PoisonError::into_inner).insert(id.to_owned(), job.clone());
        let (app, id) = (self.clone(), id.to_owned());
        tokio::spawn(async move {
            let ended = app.work(&id, &request, &job).await;
            app.settle(&id, &job, ended).await;
            job.release();
        });
    }

    async fn work(&self, id: &str, request: &AttemptRequest, job: &Arc<Job>) -> Result<(), Stop> {
        let refuse =
            |error: ApiError| Stop::Refused(ErrorBody { code: error.code.into(), message: error.message });
        let permit = self.0.slots.clone().acquire_owned().await.map_err(|_| Stop::Cancelled)?;
        if job.is_cancelled() {
            return Err(Stop::Cancelled);
        }
        self.store().set_state(id, State::Running, None).await.map_err(|error| refuse(error.into()))?;
        if let Some(known) = self.0.measured.get(&key_of(request)) {
            job.hold(&known);
            STAGES.iter().for_each(|&stage| job.ends(stage));
            return self.keep(id, request, &known).await.map_err(refuse);
        }
        job.starts(StageName::Read);
        let scans = self.scans_of(request).await.map_err(refuse)?;
        job.ends(StageName::Read);
        let exercise = self.exercise_of(request).await.map_err(refuse)?;
        let measured = Arc::new(Measured::default());
        job.hold(&measured);
        let (asked, own_job, own) = (request.clone(), job.clone(), measured.clone());
        let ended = tokio::task::spawn_blocking(move || {
            let _permit = permit;
            run(&scans, &asked, exercise.as_ref(), &own, own_job.as_ref())
        });
        ended.await.map_err(|_| refuse(ApiError::broken()))??;
        self.keep(id, request, &measured).await.map_err(refuse)?;
        self.0.measured.put(key_of(request), measured.clone(), measured.n_bytes());
        Ok(())
    }

    async fn keep(&self, id: &str, request: &AttemptRequest, measured: &Measured) -> Result<(), ApiError> {
        let kept = measured.document()?;
        self.store().keep_document(id, &kept.document.tool.version, SCHEMA, &kept.json).await?;
        self.keep_grade(id, request, kept.document.clone()).await
    }

    /// Writes the end down before it is told.
    async fn settle(&self, id: &str, job: &Job, ended: Result<(), Stop>) {
        let (state, refusal, event) = match ended {
            Ok(()) => (State::Done, None, AttemptEvent::Done { elapsed_ms: job.elapsed_ms() }),
            Err(Stop::Cancelled) => (State::Cancelled, None, AttemptEvent::Cancelled),
            Err(Stop::Refused(body)) => (State::Refused, Some(body.clone()), AttemptEvent::Refused(body)),
        };
        let words = refusal.as_ref().map(|body| (body.code.as_str(), body.message.as_str()));
        let event = match self.store().set_state(id, state, words).await {
            Ok(()) => event,
            Err(error) => {
                AttemptEvent::Refused(ErrorBody { code: "store".into(), message: error.to_string() })
            }
        };
        job.tell(event);
    }

    /// Measures what memory has let go of; the document is the same, byte for byte.
    pub(crate) async fn measure_again(&self, request: &AttemptRequest) -> Result<Arc<Measured>, ApiError> {
        let permit = self.0.slots.clone().acquire_owned().await.map_err(|_| ApiError::broken())?;
        // Another request may have waited for the same.
        if let Some(measured) = self.0.measured.get(&key_of(request)) {
            return Ok(measured);
        }
        let scans = self.scans_of(request).await?;
        let exercise = self.exercise_of(request).await?;
        let measured = Arc::new(Measured::default());
        let (asked, own) = (request.clone(), measured.clone());
        let ended = tokio::task::spawn_blocking(move || {
            let _permit = permit;
            run(&scans, &asked, exercise.as_ref(), &own, &Unwatched)
        });
        match ended.await? {
            Ok(()) => {
                self.0.measured.put(key_of(request), measured.clone(), measured.n_bytes());
                Ok(measured)
            }
            Err(Stop::Refused(body)) => Err(ApiError::not_ready(body.message)),
            Err(Stop::Cancelled) => Err(ApiError::broken()),
        }
    }
}
