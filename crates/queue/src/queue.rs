//! What waits.

use std::time::SystemTime;

use graphile_worker::worker_utils::types::RescheduleJobOptions;
use graphile_worker::{JobKeyMode, JobSpec, WorkerUtils};
use kerfwright_store::Store;
use sqlx::{FromRow, PgPool};

use crate::waiting::{BETWEEN, Waiting};

/// How often an attempt is tried before it is left alone. After the first failures the queue waits 3, 7, 20, 55 … seconds (a power of
/// e), so that all tries span about half an hour.
pub const TRIES: i16 = 8;

/// The schema of the library's tables.
pub(crate) const SCHEMA: &str = "kerfwright_queue";

/// Why the queue did not do what was asked.
#[derive(Debug, thiserror::Error)]
pub enum QueueError {
    /// There is none beside SQLite.
    #[error(
        "a queue needs PostgreSQL; name one with --store postgres://…, or measure here with kerf class run"
    )]
    NoPostgres,
    /// The library or the database failed.
    #[error("the queue does not answer ({0}); check that PostgreSQL runs")]
    Library(String),
    /// The store failed.
    #[error(transparent)]
    Store(#[from] kerfwright_store::StoreError),
}

impl From<sqlx::Error> for QueueError {
    fn from(error: sqlx::Error) -> Self {
        Self::Library(error.to_string())
    }
}

/// The queue beside a store.
#[derive(Clone)]
pub struct Queue {
    utils: WorkerUtils,
    pool: PgPool,
}

/// How many attempts are where.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, FromRow)]
pub struct Count {
    /// Not tried yet.
    pub waiting: i64,
    /// With a worker.
    pub running: i64,
    /// Failed and to be tried again.
    pub again: i64,
    /// Failed too often.
    pub dead: i64,
}

/// An attempt that failed too often.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Dead {
    /// Its number in the queue.
    pub id: i64,
    /// Code of the learner; may be empty.
    pub learner: String,
    /// Name of the scan's file.
    pub file: String,
    /// How often it was tried.
    pub tries: i64,
    /// Why the last try failed.
    pub why: String,
}

impl Queue {
    /// Opens the queue beside a store, and lays it down where there is none.
    ///
    /// # Errors
    /// [`QueueError::NoPostgres`], or the database fails.
    pub async fn open(store: &Store) -> Result<Self, QueueError> {
        let pool = store.postgres().ok_or(QueueError::NoPostgres)?.clone();
        let utils = WorkerUtils::new(pool.clone(), SCHEMA);
        utils.migrate().await.map_err(|error| QueueError::Library(error.to_string()))?;
        Ok(Self { utils, pool })
    }

    /// Puts attempts into the queue, all or none. One that waits already waits once; one that failed is tried anew.
    ///
    /// # Errors
    /// The database fails.
    pub async fn add(&self, attempts: &[Waiting]) -> Result<(), QueueError> {
        let spec = |attempt: &Waiting| {
            let spec = JobSpec::builder().max_attempts(TRIES).job_key(attempt.key());
            spec.job_key_mode(JobKeyMode::Replace).build()
        };
        let specs: Vec<JobSpec> = attempts.iter().map(spec).collect();
        let jobs: Vec<(Waiting, &JobSpec)> = attempts.iter().cloned().zip(&specs).collect();
        self.utils.add_jobs(&jobs).await.map_err(library)?;
        Ok(())
    }

    /// How many attempts are where.
    ///
    /// # Errors
    /// The database fails.
    pub async fn count(&self) -> Result<Count, QueueError> {
        let select = "SELECT count(*) FILTER (WHERE locked_at IS NULL AND attempts = 0) AS waiting, \
                      count(*) FILTER (WHERE locked_at IS NOT NULL) AS running, \
                      count(*) FILTER (WHERE locked_at IS NULL AND attempts BETWEEN 1 AND max_attempts - 1) AS again, \
                      count(*) FILTER (WHERE locked_at IS NULL AND attempts >= max_attempts) AS dead \
                      FROM kerfwright_queue.jobs";
        Ok(sqlx::query_as(select).fetch_one(&self.pool).await?)
    }

    /// The attempts that failed too often, in the order in which they came.
    ///
    /// # Errors
    /// The database fails.
    pub async fn dead(&self) -> Result<Vec<Dead>, QueueError> {
        let select = "SELECT id, key, attempts::bigint, last_error FROM kerfwright_queue.jobs \
                      WHERE locked_at IS NULL AND attempts >= max_attempts ORDER BY id";
        let rows: Vec<(i64, Option<String>, i64, Option<String>)> =
            sqlx::query_as(select).fetch_all(&self.pool).await?;
        let dead = |(id, key, tries, why): (i64, Option<String>, i64, Option<String>)| {
            let key = key.unwrap_or_default();
            let mut parts = key.split(BETWEEN).map(str::to_owned);
            let mut part = || parts.next().unwrap_or_default();
            Dead { id, learner: part(), file: part(), tries, why: plain(&why.unwrap_or_default()) }
        };
        Ok(rows.into_iter().map(dead).collect())
    }

    /// Lets the attempts that failed too often be tried anew; how many they are.
    ///
    /// # Errors
    /// The database fails.
    pub async fn try_again(&self) -> Result<usize, QueueError> {
        let ids: Vec<i64> = self.dead().await?.into_iter().map(|dead| dead.id).collect();
        let anew = RescheduleJobOptions {
            attempts: Some(0),
            run_at: Some(SystemTime::now().into()),
            ..Default::default()
        };
        Ok(self.utils.reschedule_jobs(&ids, anew).await.map_err(library)?.len())
    }

    /// Takes what waits of a learner off the queue, since the learner is to be gone; how many attempts they are.
    ///
    /// # Errors
    /// The database fails.
    pub async fn forget(&self, learner: &str) -> Result<usize, QueueError> {
        let select = "SELECT key FROM kerfwright_queue.jobs WHERE split_part(key, E'\\t', 1) = $1";
        let keys: Vec<String> = sqlx::query_scalar(select).bind(learner).fetch_all(&self.pool).await?;
        for key in &keys {
            self.utils.remove_job(key).await.map_err(library)?;
        }
        Ok(keys.len())
    }
}

pub(crate) fn library(error: impl std::fmt::Display) -> QueueError {
    QueueError::Library(error.to_string())
}

/// The reason without what the library puts round it.
fn plain(why: &str) -> String {
    let own = why.strip_prefix("TaskError(\"").and_then(|rest| rest.strip_suffix("\")"));
    own.map_or_else(|| why.to_owned(), |own| own.replace("\\\"", "\"").replace("\\\\", "\\"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_reason_is_given_as_it_was_said() {
        assert_eq!(plain(r#"TaskError("no \"x\" in C:\\scans")"#), r#"no "x" in C:\scans"#);
        assert_eq!(plain("WorkerCrashed"), "WorkerCrashed");
    }
}
