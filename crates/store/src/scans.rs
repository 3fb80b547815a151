//! Scans, by the hash of their bytes.

use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU64, Ordering};

use sqlx::{FromRow, types::Json};
use tokio::fs;
use tokio::io::AsyncWriteExt;

use crate::{Store, StoreError};

/// What is known of a kept scan.
#[derive(Debug, Clone, PartialEq, FromRow)]
pub struct ScanRow {
    /// SHA-256 of the bytes, hexadecimal.
    pub id: String,
    /// Name of the file as first given, without a folder.
    pub file: String,
    /// Length of the file.
    pub n_bytes: i64,
    /// Format, in words.
    pub format: String,
    /// After repair.
    pub n_triangles: i64,
    /// Sides of the box around it, mm.
    pub size_mm: Json<[f64; 3]>,
    /// What was found and repaired.
    pub findings: Json<Vec<String>>,
    /// When it came; given by the store.
    pub created: String,
    /// When its bytes were erased; given by the store.
    pub erased: Option<String>,
}

impl Store {
    /// Keeps a scan. The same bytes again are no new scan; the first name stays.
    ///
    /// # Errors
    /// The disk or the database fails.
    pub async fn keep_scan(&self, row: &ScanRow, bytes: &[u8]) -> Result<ScanRow, StoreError> {
        self.put_file(&row.id, bytes).await?;
        let insert = "INSERT INTO scans (id, file, n_bytes, format, n_triangles, size_mm, findings) \
                      VALUES (?, ?, ?, ?, ?, ?, ?) \
                      ON CONFLICT (id) DO UPDATE SET file = excluded.file, erased = NULL WHERE erased IS NOT NULL";
        let mut transaction = self.begin().await?;
        // Whoever removes files holds this same right to write: from here on it stays.
        self.put_file(&row.id, bytes).await?;
        sqlx::query(insert)
            .bind(&row.id)
            .bind(&row.file)
            .bind(row.n_bytes)
            .bind(&row.format)
            .bind(row.n_triangles)
            .bind(row.size_mm)
            .bind(&row.findings)
            .execute(&mut *transaction)
            .await?;
        sqlx::query("DELETE FROM doomed_files WHERE scan = ?")
            .bind(&row.id)
            .execute(&mut *transaction)
            .await?;
        transaction.commit().await?;
        Ok(self.scan(&row.id).await?.unwrap_or_else(|| row.clone()))
    }

    /// Brings the bytes of a scan into their place, unless they are there.
    async fn put_file(&self, id: &str, bytes: &[u8]) -> Result<(), StoreError> {
        let path = self.scan_path(id);
        if fs::metadata(&path).await.map(|found| found.len()).ok() != Some(bytes.len() as u64) {
            write_whole(&path, bytes).await?;
        }
        Ok(())
    }

    /// What is known of a scan.
    ///
    /// # Errors
    /// The database fails.
    pub async fn scan(&self, id: &str) -> Result<Option<ScanRow>, StoreError> {
        Ok(sqlx::query_as("SELECT * FROM scans WHERE id = ?").bind(id).fetch_optional(&self.pool).await?)
    }

    /// The bytes of a scan; none where they were erased.
    ///
    /// # Errors
    /// The disk or the database fails.
    pub async fn scan_bytes(&self, id: &str) -> Result<Option<Vec<u8>>, StoreError> {
        // Only ids that were given out lead to a file.
        let Some(row) = self.scan(id).await? else { return Ok(None) };
        if row.erased.is_some() {
            return Ok(None);
        }
        Ok(Some(fs::read(self.scan_path(&row.id)).await?))
    }

    pub(crate) fn scan_path(&self, id: &str) -> PathBuf {
        self.scans.join(format!("{id}.scan"))
    }
}

/// Counts the files that this program has begun to write.
static BEGUN: AtomicU64 = AtomicU64::new(0);

/// Writes beside, brings it onto the disk, then renames: a file is there whole or not at all.
async fn write_whole(path: &Path, bytes: &[u8]) -> Result<(), StoreError> {
    let number = BEGUN.fetch_add(1, Ordering::Relaxed);
    // Two programs may write the same scan at once.
    let part = path.with_extension(format!("{}-{number}.part", std::process::id()));
    let mut file = fs::File::create(&part).await?;
    file.write_all(bytes).await?;
    file.sync_all().await?;
    drop(file);
    fs::rename(&part, path).await?;
    sync_folder(path).await;
    Ok(())
}

/// Brings the new name onto the disk too. Where a system does not let a folder be opened, it does so by itself.
async fn sync_folder(path: &Path) {
    let Some(folder) = path.parent() else { return };
    if let Ok(folder) = fs::File::open(folder).await {
        let _ = folder.sync_all().await;
    }
}
