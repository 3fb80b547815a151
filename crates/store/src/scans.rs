//! Scans, by the hash of their bytes.

use sqlx::{FromRow, types::Json};

use crate::sql::sql;
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
        self.scans.put(&row.id, bytes).await?;
        let insert = "INSERT INTO scans (id, file, n_bytes, format, n_triangles, size_mm, findings) \
                      VALUES ($1, $2, $3, $4, $5, $6, $7) \
                      ON CONFLICT (id) DO UPDATE SET file = excluded.file, erased = NULL WHERE scans.erased IS NOT NULL";
        let mut transaction = self.begin().await?;
        // Whoever removes files holds this same right to write: from here on it stays.
        self.scans.put(&row.id, bytes).await?;
        sql(insert)
            .bind(&row.id)
            .bind(&row.file)
            .bind(row.n_bytes)
            .bind(&row.format)
            .bind(row.n_triangles)
            .bind(&row.size_mm)
            .bind(&row.findings)
            .run(&mut transaction)
            .await?;
        sql("DELETE FROM doomed_files WHERE scan = $1").bind(&row.id).run(&mut transaction).await?;
        transaction.commit().await?;
        Ok(self.scan(&row.id).await?.unwrap_or_else(|| row.clone()))
    }

    /// What is known of a scan.
    ///
    /// # Errors
    /// The database fails.
    pub async fn scan(&self, id: &str) -> Result<Option<ScanRow>, StoreError> {
        sql("SELECT * FROM scans WHERE id = $1").bind(id).row_if_any(&self.pool).await
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
        Ok(Some(self.scans.read(&row.id).await?))
    }
}
