//! A place with nothing in it for each story.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU32, Ordering};

use kerfwright_store::{Place, Store};
use sqlx::{AssertSqlSafe, Connection, Executor, PgConnection, SqliteConnection};
use tempfile::TempDir;

use crate::bucket::bucket;

/// Where a store can be.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Backend {
    Folder,
    Bucket,
    Postgres,
}

/// A place with nothing in it.
pub struct Bench {
    backend: Backend,
    folder: TempDir,
    /// Names the database and the part of the bucket.
    name: String,
}

/// Tells a story on a place, unless that is PostgreSQL and there is none.
pub async fn on(backend: Backend, story: impl AsyncFnOnce(&Bench)) {
    if backend == Backend::Postgres && server().is_none() {
        let is_ci = std::env::var_os("CI").is_some();
        assert!(!is_ci, "KERF_TEST_POSTGRES names no server, and continuous integration leaves nothing out");
        return;
    }
    let bench = Bench::new(backend).await;
    story(&bench).await;
    bench.end().await;
}

/// Address of a PostgreSQL server in which databases can be made, without the name of one.
fn server() -> Option<String> {
    std::env::var("KERF_TEST_POSTGRES").ok().filter(|address| !address.is_empty())
}

async fn on_server(statement: &str) {
    let mut connection = PgConnection::connect(&format!("{}/postgres", server().unwrap())).await.unwrap();
    connection.execute(AssertSqlSafe(statement.to_owned())).await.unwrap();
}

impl Bench {
    /// A new place.
    pub async fn new(backend: Backend) -> Self {
        static COUNT: AtomicU32 = AtomicU32::new(0);
        let name = format!("kerf_{}_{}", std::process::id(), COUNT.fetch_add(1, Ordering::Relaxed));
        if backend == Backend::Postgres {
            on_server(&format!("CREATE DATABASE {name}")).await;
        }
        Self { backend, folder: tempfile::tempdir().unwrap(), name }
    }

    /// What kind of place this is.
    pub fn backend(&self) -> Backend {
        self.backend
    }

    /// Clears up where the place is more than a folder.
    pub async fn end(&self) {
        if self.backend == Backend::Postgres {
            on_server(&format!("DROP DATABASE {} WITH (FORCE)", self.name)).await;
        }
    }

    /// The tables of the database, but for those of the library that lays them down.
    pub async fn tables(&self) -> BTreeSet<String> {
        let tables: Vec<String> = if self.backend == Backend::Postgres {
            let select = "SELECT tablename::text FROM pg_tables WHERE schemaname = 'public'";
            let mut connection = PgConnection::connect(&self.database()).await.unwrap();
            sqlx::query_scalar(select).fetch_all(&mut connection).await.unwrap()
        } else {
            let file = format!("sqlite://{}", self.folder.path().join("kerfwright.sqlite").display());
            let select = "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%'";
            let mut connection = SqliteConnection::connect(&file).await.unwrap();
            sqlx::query_scalar(select).fetch_all(&mut connection).await.unwrap()
        };
        tables.into_iter().filter(|table| !table.starts_with("_sqlx")).collect()
    }

    /// Opens the store of this place.
    pub async fn open(&self) -> Store {
        let database = (self.backend == Backend::Postgres).then(|| self.database());
        let scans = (self.backend != Backend::Folder).then(|| format!("s3://scans/{}", self.name));
        let place =
            Place::read(self.folder.path(), database.as_deref(), scans.as_deref(), bucket().settings());
        Store::open_at(&place.unwrap()).await.unwrap()
    }

    /// Does something behind the store's back.
    pub async fn meddle(&self, statement: &str) {
        let statement = AssertSqlSafe(statement.to_owned());
        if self.backend == Backend::Postgres {
            PgConnection::connect(&self.database()).await.unwrap().execute(statement).await.unwrap();
        } else {
            let file = format!("sqlite://{}", self.folder.path().join("kerfwright.sqlite").display());
            SqliteConnection::connect(&file).await.unwrap().execute(statement).await.unwrap();
        }
    }

    /// The folder in which the scans' files end up.
    pub fn scans(&self) -> PathBuf {
        match self.backend {
            Backend::Folder => self.folder.path().join("scans"),
            _ => bucket().root.path().join("scans").join(&self.name),
        }
    }

    /// Where some bytes are still kept: files, and rows of PostgreSQL.
    pub async fn traces(&self, text: &str) -> Vec<String> {
        let mut found = files_with(self.folder.path(), text.as_bytes());
        if self.backend != Backend::Folder {
            found.extend(files_with(&self.scans(), text.as_bytes()));
        }
        if self.backend == Backend::Postgres {
            found.extend(self.rows_with(text).await);
        }
        found
    }

    async fn rows_with(&self, text: &str) -> Vec<String> {
        let mut connection = PgConnection::connect(&self.database()).await.unwrap();
        let tables = "SELECT tablename::text FROM pg_tables WHERE schemaname = 'public'";
        let tables: Vec<String> = sqlx::query_scalar(tables).fetch_all(&mut connection).await.unwrap();
        let mut found = Vec::new();
        for table in tables {
            let count = format!("SELECT count(*) FROM {table} WHERE position($1 IN {table}::text) > 0");
            let count = sqlx::query_scalar(AssertSqlSafe(count)).bind(text);
            let count: i64 = count.fetch_one(&mut connection).await.unwrap();
            found.extend((count > 0).then_some(table));
        }
        found
    }

    fn database(&self) -> String {
        format!("{}/{}", server().unwrap(), self.name)
    }
}

/// Names of the files under a folder that hold some bytes.
fn files_with(folder: &Path, bytes: &[u8]) -> Vec<String> {
    let Ok(entries) = fs::read_dir(folder) else { return Vec::new() };
    let mut found = Vec::new();
    for path in entries.map(|entry| entry.unwrap().path()) {
        if path.is_dir() {
            found.extend(files_with(&path, bytes));
        } else if fs::read(&path).unwrap().windows(bytes.len()).any(|window| window == bytes) {
            found.push(path.file_name().unwrap().to_string_lossy().into_owned());
        }
    }
    found
}
