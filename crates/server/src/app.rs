//! What the handlers share.

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, PoisonError};

use kerfwright_measure::ScanFile;
use kerfwright_mesh::Extent;
use kerfwright_store::{AttemptRow, State, Store};
use kerfwright_view::Scans;
use tokio::sync::Semaphore;

use crate::accounts::Limits;
use crate::cache::Cache;
use crate::config::Config;
use crate::error::ApiError;
use crate::jobs::Job;
use crate::pipeline::Measured;
use crate::wire::{AttemptRequest, DemoAnswer, WatchedAnswer};

/// The app: store, jobs, and what is kept in memory. Clones share it.
#[derive(Debug, Clone)]
pub struct App(pub(crate) Arc<Inner>);

#[derive(Debug)]
pub(crate) struct Inner {
    pub config: Config,
    pub store: Store,
    /// Scans that were read and indexed, by id.
    pub scans: Cache<ScanFile>,
    /// Measured attempts, by what was asked of which bytes.
    pub measured: Cache<Measured>,
    /// Jobs that are not finished, and those that finished since the start.
    pub jobs: Mutex<BTreeMap<String, Arc<Job>>>,
    /// The demo's scans, once they were made.
    pub demo: tokio::sync::OnceCell<DemoAnswer>,
    /// What came from the watched folder since the start, oldest first.
    pub watched: Mutex<Vec<WatchedAnswer>>,
    /// As many jobs run at once as there are permits.
    pub slots: Arc<Semaphore>,
    /// How often things may be tried.
    pub limits: Limits,
}

impl App {
    /// Opens the store and takes up what was left waiting.
    ///
    /// # Errors
    /// The data folder cannot be used.
    pub async fn open(config: Config) -> Result<Self, kerfwright_store::StoreError> {
        let store = Store::open(&config.data).await?;
        Self::over(config, store).await
    }

    /// Over a store that is open already.
    pub(crate) async fn over(config: Config, store: Store) -> Result<Self, kerfwright_store::StoreError> {
        store.requeue().await?;
        let app = Self(Arc::new(Inner {
            scans: Cache::new(config.cache_bytes / 2),
            measured: Cache::new(config.cache_bytes / 2),
            jobs: Mutex::default(),
            demo: tokio::sync::OnceCell::new(),
            watched: Mutex::default(),
            slots: Arc::new(Semaphore::new(config.jobs.max(1))),
            limits: Limits::new(config.upload_bytes),
            config,
            store,
        }));
        if let Some(folder) = app.0.config.watch.clone() {
            tokio::spawn(crate::watch::watch(app.clone(), folder));
        }
        for row in app.0.store.waiting().await? {
            if let Ok(request) = request_of(&row) {
                app.start(&row.id, request);
            }
        }
        Ok(app)
    }

    pub(crate) fn store(&self) -> &Store {
        &self.0.store
    }

    /// A scan, read and indexed, as what it was taken in for.
    pub(crate) async fn scan(&self, id: &str) -> Result<Arc<ScanFile>, ApiError> {
        self.scan_as(id, None).await
    }

    /// The same for a scan of which the user says how much it shows.
    async fn scan_as(&self, id: &str, stated: Option<Extent>) -> Result<Arc<ScanFile>, ApiError> {
        if let Some(scan) = self.0.scans.get(&scan_key(id, stated)) {
            return Ok(scan);
        }
        let row = self.store().scan(id).await?.ok_or_else(|| ApiError::missing("scan"))?;
        let bytes = self.store().scan_bytes(id).await?.ok_or_else(|| ApiError::missing("scan"))?;
        let read = tokio::task::spawn_blocking(move || {
            let read = ScanFile::read_as(&row.file, &bytes, stated);
            // What can only be a die was taken in as one.
            let as_die = |fault| ScanFile::read_as(&row.file, &bytes, Some(Extent::Die)).map_err(|_| fault);
            if stated.is_none() { read.or_else(as_die) } else { read }
        });
        let scan = Arc::new(read.await?.map_err(|error| ApiError::wrong("scan", error.to_string()))?);
        self.put_scan(&scan, stated);
        Ok(scan)
    }

    pub(crate) fn put_scan(&self, scan: &Arc<ScanFile>, stated: Option<Extent>) {
        // Mesh, tree, neighbours and normals of one triangle.
        const BYTES_A_TRIANGLE: usize = 260;
        let n_bytes = BYTES_A_TRIANGLE * scan.surface.mesh.triangles.len();
        self.0.scans.put(scan_key(&scan.sha256, stated), scan.clone(), n_bytes);
    }

    /// The scans of an attempt.
    pub(crate) async fn scans_of(&self, request: &AttemptRequest) -> Result<Scans, ApiError> {
        let after = self.scan_as(&request.after, request.extent.map(Extent::from)).await?;
        let before = match &request.before {
            Some(id) => Some(self.scan(id).await?),
            None => None,
        };
        let opposing = match &request.opposing {
            Some(id) => Some(self.scan(id).await?),
            None => None,
        };
        Ok(Scans { after, before, opposing })
    }

    /// A kept attempt with all that was asked.
    pub(crate) async fn attempt(&self, id: &str) -> Result<(AttemptRow, AttemptRequest), ApiError> {
        let row = self.store().attempt(id).await?.ok_or_else(|| ApiError::missing("attempt"))?;
        let request = request_of(&row)?;
        Ok((row, request))
    }

    pub(crate) fn job(&self, id: &str) -> Option<Arc<Job>> {
        self.0.jobs.lock().unwrap_or_else(PoisonError::into_inner).get(id).cloned()
    }

    /// What was measured of an attempt, as far as it has come; measured again where memory has let it go.
    pub(crate) async fn measured(&self, id: &str) -> Result<Arc<Measured>, ApiError> {
        let (row, request) = self.attempt(id).await?;
        match State::from_id(&row.state) {
            State::Refused => {
                return Err(ApiError::not_ready(row.error_text.unwrap_or_default()));
            }
            State::Cancelled => {
                return Err(ApiError::not_ready("this attempt was stopped; measure it again"));
            }
            State::Waiting | State::Running => {
                let running = self.job(id).and_then(|job| job.measured());
                return running.ok_or_else(|| ApiError::not_ready("this attempt is still being measured"));
            }
            State::Done => {}
        }
        if let Some(measured) = self.0.measured.get(&key_of(&request)) {
            return Ok(measured);
        }
        self.measure_again(&request).await
    }
}

/// A scan that is called a die is another reading of its bytes.
fn scan_key(id: &str, stated: Option<Extent>) -> String {
    stated.map_or_else(|| id.to_owned(), |extent| format!("{id} {extent}"))
}

/// All that was asked of a kept attempt.
pub(crate) fn request_of(row: &AttemptRow) -> Result<AttemptRequest, ApiError> {
    serde_json::from_str(&row.request).map_err(|error| {
        let message = format!("this attempt cannot be read any more ({error}); measure it again");
        ApiError { status: axum::http::StatusCode::INTERNAL_SERVER_ERROR, code: "store", message }
    })
}

/// What the result depends on: the bytes of the scans and what was asked, the target's exercise and stage among it, not who asked.
pub(crate) fn key_of(request: &AttemptRequest) -> String {
    let asked = AttemptRequest { learner: None, ..request.clone() };
    kerfwright_measure::attempt::sha256(&serde_json::to_vec(&asked).unwrap_or_default())
}

#[cfg(test)]
mod tests {
    use super::*;
    use kerfwright_batch::Asked;

    #[test]
    fn what_a_class_run_keeps_can_be_opened_here() {
        let asked = Asked {
            after: "a".into(),
            before: Some("b".into()),
            opposing: Some("c".into()),
            tooth: "26".into(),
            mesial_point: Some([1.0, 2.0, 3.0]),
            exercise: Some("cast-crown-molar".into()),
            stage: Some("final".into()),
            learner: Some("QS-07".into()),
        };
        let request: AttemptRequest = serde_json::from_str(&asked.to_json()).unwrap();
        assert_eq!((request.after.as_str(), request.before.as_deref()), ("a", Some("b")));
        assert_eq!((request.stage.as_deref(), request.learner.as_deref()), (Some("final"), Some("QS-07")));
        assert!(crate::wishes::requests_for(&request).is_ok());
    }
}
