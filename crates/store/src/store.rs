//! The folder and its database.

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

use sqlx::migrate::Migrator;
use sqlx::sqlite::{SqliteConnectOptions, SqliteJournalMode, SqlitePoolOptions, SqliteSynchronous};
use sqlx::{Sqlite, SqlitePool, Transaction};

use crate::StoreError;

/// How long a call waits while another program writes.
const PATIENCE: Duration = Duration::from_secs(30);

/// Name of the database in its folder.
pub(crate) const DATABASE: &str = "kerfwright.sqlite";
/// Name of the folder of scans.
pub(crate) const SCANS: &str = "scans";

static MIGRATIONS: Migrator = sqlx::migrate!("./migrations");

/// The store of one folder. Clones share it.
#[derive(Debug, Clone)]
pub struct Store {
    pub(crate) pool: SqlitePool,
    pub(crate) scans: PathBuf,
    who: Arc<str>,
}

impl Store {
    /// Opens the store of a folder, makes it where there is none, brings it up to date, and finishes deletions that the end of a
    /// program broke off. Several programs may hold the same folder open.
    ///
    /// # Errors
    /// [`StoreError`] says what is wrong with the folder.
    pub async fn open(folder: &Path) -> Result<Self, StoreError> {
        let scans = folder.join(SCANS);
        tokio::fs::create_dir_all(&scans)
            .await
            .map_err(|source| StoreError::Folder { folder: folder.into(), source })?;
        let file = folder.join(DATABASE);
        let options = SqliteConnectOptions::new()
            .filename(&file)
            .create_if_missing(true)
            .foreign_keys(true)
            .journal_mode(SqliteJournalMode::Wal)
            .busy_timeout(PATIENCE)
            .pragma("secure_delete", "ON")
            .synchronous(SqliteSynchronous::Full);
        let pool = SqlitePoolOptions::new()
            .max_connections(4)
            .connect_with(options)
            .await
            .map_err(|source| StoreError::Open { file: file.clone(), source })?;
        MIGRATIONS.run(&pool).await.map_err(|source| StoreError::Migrate { file, source })?;
        let store = Self { pool, scans, who: "bench".into() };
        store.remove_doomed().await?;
        Ok(store)
    }

    /// The same store, in the hands of an account: the audit trail names its code from now on.
    pub fn acting_as(&self, who: &str) -> Self {
        Self { who: who.into(), ..self.clone() }
    }

    /// Who acts: the code of an account, or `bench` without accounts.
    pub(crate) fn who(&self) -> &str {
        &self.who
    }

    /// Waits for what is being written and closes the database.
    pub async fn close(&self) {
        self.pool.close().await;
    }

    /// Begins what is to happen whole or not at all; takes the right to write at once, so that it need not be begun again.
    pub(crate) async fn begin(&self) -> Result<Transaction<'static, Sqlite>, StoreError> {
        Ok(self.pool.begin_with("BEGIN IMMEDIATE").await?)
    }
}

/// Notes who did what.
pub(crate) async fn audit(
    transaction: &mut Transaction<'static, Sqlite>,
    who: &str,
    what: &str,
    subject: &str,
) -> Result<(), StoreError> {
    sqlx::query("INSERT INTO audit (who, what, subject) VALUES (?, ?, ?)")
        .bind(who)
        .bind(what)
        .bind(subject)
        .execute(&mut **transaction)
        .await?;
    Ok(())
}
