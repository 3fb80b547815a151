//! An open store.

use std::path::Path;
use std::sync::Arc;
use std::time::Duration;

use sqlx::migrate::Migrator;
use sqlx::postgres::{PgConnectOptions, PgPoolOptions};
use sqlx::sqlite::{SqliteConnectOptions, SqliteJournalMode, SqlitePoolOptions, SqliteSynchronous};
use sqlx::{Connection, PgConnection, PgPool, SqlitePool};

use crate::StoreError;
use crate::place::{Database, Place};
use crate::scan_files::ScanFiles;
use crate::sql::{Pool, Transaction, sql};

/// How long a call waits while another program writes.
const PATIENCE: Duration = Duration::from_secs(30);
/// Connections of one program to the database.
const CONNECTIONS: u32 = 4;

// Numbers go in pairs: the same number in both folders leads to the same tables.
static SQLITE: Migrator = sqlx::migrate!("./migrations/sqlite");
static POSTGRES: Migrator = sqlx::migrate!("./migrations/postgres");

/// What is kept. Clones share it.
#[derive(Debug, Clone)]
pub struct Store {
    pub(crate) pool: Pool,
    pub(crate) scans: ScanFiles,
    who: Arc<str>,
}

impl Store {
    /// Opens the store of a folder; see [`open_at`](Self::open_at).
    ///
    /// # Errors
    /// [`StoreError`] says what is wrong with the folder.
    pub async fn open(folder: &Path) -> Result<Self, StoreError> {
        Self::open_at(&Place::folder(folder)).await
    }

    /// Opens a store, makes it where there is none, brings it up to date, and finishes deletions that the end of a program broke off.
    /// Several programs may hold the same store open.
    ///
    /// # Errors
    /// [`StoreError`] says what is wrong with the place.
    pub async fn open_at(place: &Place) -> Result<Self, StoreError> {
        let scans = ScanFiles::open(&place.scans).await?;
        let pool = match &place.database {
            Database::File(file) => Pool::Sqlite(sqlite(file).await.map_err(|error| error.at(place))?),
            Database::Postgres(options) => {
                Pool::Postgres(postgres(options).await.map_err(|error| error.at(place))?)
            }
        };
        let store = Self { pool, scans, who: "bench".into() };
        store.remove_doomed().await?;
        Ok(store)
    }

    /// The same store, in the hands of an account: the audit trail names its code from now on.
    pub fn acting_as(&self, who: &str) -> Self {
        Self { who: who.into(), ..self.clone() }
    }

    /// The connections to PostgreSQL, where that is what keeps the rows: a queue stands beside them.
    pub fn postgres(&self) -> Option<&PgPool> {
        match &self.pool {
            Pool::Sqlite(_) => None,
            Pool::Postgres(pool) => Some(pool),
        }
    }

    /// Who acts: the code of an account, or `bench` without accounts.
    pub fn who(&self) -> &str {
        &self.who
    }

    /// Waits for what is being written and closes the database.
    pub async fn close(&self) {
        self.pool.close().await;
    }

    /// Begins what is to happen whole or not at all.
    pub(crate) async fn begin(&self) -> Result<Transaction, StoreError> {
        self.pool.begin().await
    }
}

/// Notes who did what.
pub(crate) async fn audit(
    transaction: &mut Transaction,
    who: &str,
    what: &str,
    subject: &str,
) -> Result<(), StoreError> {
    let insert = "INSERT INTO audit (who, what, subject) VALUES ($1, $2, $3)";
    sql(insert).bind(who).bind(what).bind(subject).run(transaction).await?;
    Ok(())
}

/// What went wrong before the place was known.
enum Fault {
    Open(sqlx::Error),
    Migrate(sqlx::migrate::MigrateError),
}

impl Fault {
    fn at(self, place: &Place) -> StoreError {
        let shown = place.shown();
        match self {
            Self::Open(source) if place.is_postgres() => {
                StoreError::Connect { shown, why: source.to_string() }
            }
            Self::Open(cause) => StoreError::Open { file: shown.into(), cause },
            Self::Migrate(cause) => StoreError::Migrate { shown, cause },
        }
    }
}

async fn sqlite(file: &Path) -> Result<SqlitePool, Fault> {
    let options = SqliteConnectOptions::new()
        .filename(file)
        .create_if_missing(true)
        .foreign_keys(true)
        .journal_mode(SqliteJournalMode::Wal)
        .busy_timeout(PATIENCE)
        .pragma("secure_delete", "ON")
        .synchronous(SqliteSynchronous::Full);
    let pool = SqlitePoolOptions::new().max_connections(CONNECTIONS);
    let pool = pool.connect_with(options).await.map_err(Fault::Open)?;
    SQLITE.run(&pool).await.map_err(Fault::Migrate)?;
    Ok(pool)
}

async fn postgres(options: &PgConnectOptions) -> Result<PgPool, Fault> {
    // A program that was cut off in the middle of writing must not hold up the others.
    let options = options.clone().options([("idle_in_transaction_session_timeout", "2min")]);
    // A pool would go on trying for its patience, and then not say why.
    let first = PgConnection::connect_with(&options).await.map_err(Fault::Open)?;
    first.close().await.map_err(Fault::Open)?;
    let pool = PgPoolOptions::new().max_connections(CONNECTIONS).acquire_timeout(PATIENCE);
    let pool = pool.connect_with(options).await.map_err(Fault::Open)?;
    POSTGRES.run(&pool).await.map_err(Fault::Migrate)?;
    Ok(pool)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_databases_are_at_the_same_number() {
        let last = |migrations: &Migrator| migrations.iter().map(|migration| migration.version).max();
        assert_eq!(last(&SQLITE), last(&POSTGRES), "a migration is written for both");
    }
}
