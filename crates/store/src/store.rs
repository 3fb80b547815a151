//! The folder and its database.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use sqlx::migrate::Migrator;
use sqlx::sqlite::{SqliteConnectOptions, SqliteJournalMode, SqlitePoolOptions, SqliteSynchronous};
use sqlx::{Sqlite, SqlitePool, Transaction};

use crate::StoreError;

static MIGRATIONS: Migrator = sqlx::migrate!("./migrations");

/// The store of one folder. Clones share it.
#[derive(Debug, Clone)]
pub struct Store {
    pub(crate) pool: SqlitePool,
    pub(crate) scans: PathBuf,
    who: Arc<str>,
}

impl Store {
    /// Opens the store of a folder, makes it where there is none, and brings it up to date. Attempts that were not finished when
    /// the program last ended are put back to waiting.
    ///
    /// # Errors
    /// [`StoreError`] says what is wrong with the folder.
    pub async fn open(folder: &Path) -> Result<Self, StoreError> {
        let store = Self::open_beside(folder).await?;
        store.requeue().await?;
        Ok(store)
    }

    /// As [`Store::open`], beside a program that may be measuring: attempts are left as they are.
    ///
    /// # Errors
    /// [`StoreError`] says what is wrong with the folder.
    pub async fn open_beside(folder: &Path) -> Result<Self, StoreError> {
        let scans = folder.join("scans");
        tokio::fs::create_dir_all(&scans)
            .await
            .map_err(|source| StoreError::Folder { folder: folder.into(), source })?;
        let file = folder.join("kerfwright.sqlite");
        let options = SqliteConnectOptions::new()
            .filename(&file)
            .create_if_missing(true)
            .foreign_keys(true)
            .journal_mode(SqliteJournalMode::Wal)
            .synchronous(SqliteSynchronous::Full);
        let pool = SqlitePoolOptions::new()
            .max_connections(4)
            .connect_with(options)
            .await
            .map_err(|source| StoreError::Open { file: file.clone(), source })?;
        MIGRATIONS.run(&pool).await.map_err(|source| StoreError::Migrate { file, source })?;
        Ok(Self { pool, scans, who: "bench".into() })
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
