//! Backup and restore, each with a check.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use sqlx::sqlite::{SqliteConnectOptions, SqlitePoolOptions};
use tokio::fs;

use crate::hash::sha256;
use crate::place::{DATABASE, SCANS};
use crate::scan_files::name;
use crate::sql::{Pool, sql};
use crate::{Store, StoreError};

/// Name of the list of hashes, in the layout that `sha256sum --check` reads.
const SUMS: &str = "SHA256SUMS";

/// What a check went through.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Checked {
    /// Scans whose bytes have their hash.
    pub scans: u32,
    /// Attempts.
    pub attempts: u32,
}

impl Store {
    /// Writes a copy of everything into a new folder, checks it, and only then gives it its name. Others may go on writing meanwhile:
    /// the copy holds what was acknowledged when it began.
    ///
    /// # Errors
    /// The folder exists, the disk fails, or something kept is damaged; then no folder of that name is there.
    pub async fn backup(&self, to: &Path) -> Result<Checked, StoreError> {
        let Pool::Sqlite(pool) = &self.pool else { return Err(StoreError::NoFolder) };
        let part = beside(to).await?;
        fs::create_dir_all(part.join(SCANS)).await?;
        let database = part.join(DATABASE);
        sqlx::query("VACUUM INTO ?").bind(database.to_string_lossy().into_owned()).execute(pool).await?;
        let mut sums = vec![(DATABASE.to_owned(), sha256(&fs::read(&database).await?))];
        for id in kept_scans(&database).await? {
            let bytes = self.scans.read(&id).await?;
            let name = format!("{SCANS}/{}", name(&id));
            fs::write(part.join(&name), &bytes).await?;
            sums.push((name, id));
        }
        let text: String = sums.iter().map(|(name, hash)| format!("{hash}  {name}\n")).collect();
        fs::write(part.join(SUMS), text).await?;
        let checked = check_backup(&part).await?;
        sync_all(&part).await?;
        fs::rename(&part, to).await?;
        Ok(checked)
    }

    /// Checks a backup, copies it into a new folder, and brings it up to date.
    ///
    /// # Errors
    /// The backup is damaged or incomplete, or the folder exists and is not empty; then nothing is restored.
    pub async fn restore(backup: &Path, folder: &Path) -> Result<Checked, StoreError> {
        let checked = check_backup(backup).await?;
        let part = beside(folder).await?;
        fs::create_dir_all(part.join(SCANS)).await?;
        for name in read_sums(backup).await?.keys() {
            fs::copy(backup.join(name), part.join(name)).await?;
        }
        sync_all(&part).await?;
        // An empty folder may stand in the way.
        let _ = fs::remove_dir(folder).await;
        fs::rename(&part, folder).await?;
        Self::open(folder).await?.close().await;
        Ok(checked)
    }

    /// Checks everything that is kept: the database's structure, its references, and the bytes of every scan.
    ///
    /// # Errors
    /// [`StoreError::Unsound`] names the first fault.
    pub async fn check(&self) -> Result<Checked, StoreError> {
        // PostgreSQL holds to its references by itself.
        if let Pool::Sqlite(pool) = &self.pool {
            check_database(pool, "the database").await?;
        }
        let select = "SELECT id FROM scans WHERE erased IS NULL ORDER BY id";
        let scans: Vec<String> = sql(select).values(&self.pool).await?;
        for id in &scans {
            let found = self.scans.read(id).await.map(|bytes| sha256(&bytes)).ok();
            if found.as_ref() != Some(id) {
                return Err(StoreError::Unsound {
                    what: format!("scan {id}"),
                    why: "is missing or changed".into(),
                });
            }
        }
        let attempts: i64 = sql("SELECT count(*) FROM attempts").value(&self.pool).await?;
        Ok(Checked { scans: scans.len() as u32, attempts: attempts as u32 })
    }
}

/// Checks a backup: every file against its hash, no file too few, the database's structure and references.
///
/// # Errors
/// [`StoreError::Unsound`] names the first fault.
pub async fn check_backup(backup: &Path) -> Result<Checked, StoreError> {
    let sums = read_sums(backup).await?;
    for (name, hash) in &sums {
        let found = fs::read(backup.join(name)).await.map(|bytes| sha256(&bytes)).ok();
        if found.as_ref() != Some(hash) {
            return Err(StoreError::Unsound { what: name.clone(), why: "is missing or changed".into() });
        }
    }
    let database = backup.join(DATABASE);
    for id in kept_scans(&database).await? {
        if sums.get(&format!("{SCANS}/{id}.scan")) != Some(&id) {
            return Err(StoreError::Unsound {
                what: format!("scan {id}"),
                why: "is not in the backup".into(),
            });
        }
    }
    let pool = read_only(&database).await?;
    check_database(&pool, DATABASE).await?;
    let attempts: i64 = sqlx::query_scalar("SELECT count(*) FROM attempts").fetch_one(&pool).await?;
    pool.close().await;
    Ok(Checked { scans: sums.len() as u32 - 1, attempts: attempts as u32 })
}

async fn check_database(pool: &sqlx::SqlitePool, what: &str) -> Result<(), StoreError> {
    let unsound = |why: String| StoreError::Unsound { what: what.into(), why };
    let told: Vec<String> = sqlx::query_scalar("PRAGMA integrity_check").fetch_all(pool).await?;
    if told != ["ok"] {
        return Err(unsound(told.join("; ")));
    }
    match sqlx::query("PRAGMA foreign_key_check").fetch_all(pool).await?.len() {
        0 => Ok(()),
        n => Err(unsound(format!("{n} entries refer to nothing"))),
    }
}

/// Files and their hashes as the list has them. Only plain names inside the folder.
async fn read_sums(backup: &Path) -> Result<BTreeMap<String, String>, StoreError> {
    let unsound =
        |why: &str| StoreError::Unsound { what: format!("{}", backup.join(SUMS).display()), why: why.into() };
    let text = fs::read_to_string(backup.join(SUMS)).await.map_err(|_| unsound("cannot be read"))?;
    let sums: Option<BTreeMap<String, String>> = text
        .lines()
        .map(|line| {
            let (hash, name) = line.split_once("  ")?;
            let is_scan = name.strip_prefix("scans/").is_some_and(|scan| scan == format!("{hash}.scan"));
            (name == DATABASE || is_scan).then(|| (name.to_owned(), hash.to_owned()))
        })
        .collect();
    let sums = sums.ok_or_else(|| unsound("has a line that is no hash and name of a kept file"))?;
    if sums.contains_key(DATABASE) { Ok(sums) } else { Err(unsound("does not name the database")) }
}

async fn kept_scans(database: &Path) -> Result<Vec<String>, StoreError> {
    let pool = read_only(database).await?;
    // Before the second migration nothing could be erased.
    let columns: Vec<String> =
        sqlx::query_scalar("SELECT name FROM pragma_table_info('scans')").fetch_all(&pool).await?;
    let select = match columns.iter().any(|name| name == "erased") {
        true => "SELECT id FROM scans WHERE erased IS NULL ORDER BY id",
        false => "SELECT id FROM scans ORDER BY id",
    };
    let scans = sqlx::query_scalar(select).fetch_all(&pool).await?;
    pool.close().await;
    Ok(scans)
}

/// A database that is only looked at: no log or lock is left beside it.
async fn read_only(database: &Path) -> Result<sqlx::SqlitePool, StoreError> {
    let options = SqliteConnectOptions::new().filename(database).read_only(true).immutable(true);
    SqlitePoolOptions::new()
        .max_connections(1)
        .connect_with(options)
        .await
        .map_err(|cause| StoreError::Open { file: database.into(), cause })
}

/// A fresh name beside a folder that is to come.
async fn beside(folder: &Path) -> Result<PathBuf, StoreError> {
    let is_free = match fs::read_dir(folder).await {
        Ok(mut entries) => matches!(entries.next_entry().await, Ok(None)),
        Err(error) => error.kind() == std::io::ErrorKind::NotFound,
    };
    if !is_free {
        return Err(StoreError::Taken { folder: folder.into() });
    }
    let mut name = folder.as_os_str().to_owned();
    name.push(".part");
    let part = PathBuf::from(name);
    if fs::metadata(&part).await.is_ok() {
        fs::remove_dir_all(&part).await?;
    }
    Ok(part)
}

/// Brings every file of a folder onto the disk.
async fn sync_all(folder: &Path) -> Result<(), StoreError> {
    for folder in [folder.to_owned(), folder.join(SCANS)] {
        let mut entries = fs::read_dir(&folder).await?;
        while let Some(entry) = entries.next_entry().await? {
            if entry.metadata().await?.is_file() {
                fs::File::options().write(true).open(entry.path()).await?.sync_all().await?;
            }
        }
    }
    Ok(())
}
