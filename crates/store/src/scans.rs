//! Scans, by the hash of their bytes.

use std::path::PathBuf;

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
}

impl Store {
    /// Keeps a scan. The same bytes again are no new scan; the first name stays.
    ///
    /// # Errors
    /// The disk or the database fails.
    pub async fn keep_scan(&self, row: &ScanRow, bytes: &[u8]) -> Result<ScanRow, StoreError> {
        let path = self.scan_path(&row.id);
        if fs::metadata(&path).await.map(|found| found.len()).ok() != Some(bytes.len() as u64) {
            write_whole(&path, bytes).await?;
        }
        let insert = "INSERT INTO scans (id, file, n_bytes, format, n_triangles, size_mm, findings) \
                      VALUES (?, ?, ?, ?, ?, ?, ?) ON CONFLICT (id) DO NOTHING";
        sqlx::query(insert)
            .bind(&row.id)
            .bind(&row.file)
            .bind(row.n_bytes)
            .bind(&row.format)
            .bind(row.n_triangles)
            .bind(row.size_mm)
            .bind(&row.findings)
            .execute(&self.pool)
            .await?;
        Ok(self.scan(&row.id).await?.unwrap_or_else(|| row.clone()))
    }

    /// What is known of a scan.
    ///
    /// # Errors
    /// The database fails.
    pub async fn scan(&self, id: &str) -> Result<Option<ScanRow>, StoreError> {
        Ok(sqlx::query_as("SELECT * FROM scans WHERE id = ?").bind(id).fetch_optional(&self.pool).await?)
    }

    /// The bytes of a scan.
    ///
    /// # Errors
    /// The disk or the database fails.
    pub async fn scan_bytes(&self, id: &str) -> Result<Option<Vec<u8>>, StoreError> {
        // Only ids that were given out lead to a file.
        let Some(row) = self.scan(id).await? else { return Ok(None) };
        Ok(Some(fs::read(self.scan_path(&row.id)).await?))
    }

    fn scan_path(&self, id: &str) -> PathBuf {
        self.scans.join(format!("{id}.scan"))
    }
}

/// Writes beside, brings it onto the disk, then renames: a file is there whole or not at all.
async fn write_whole(path: &std::path::Path, bytes: &[u8]) -> Result<(), StoreError> {
    let part = path.with_extension("part");
    let mut file = fs::File::create(&part).await?;
    file.write_all(bytes).await?;
    file.sync_all().await?;
    drop(file);
    fs::rename(&part, path).await?;
    Ok(())
}
