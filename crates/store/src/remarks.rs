//! Remarks pinned to a spot of an attempt.

use sqlx::FromRow;

use crate::sql::{Transaction, sql};
use crate::store::audit;
use crate::{Store, StoreError};

/// A remark to be kept.
#[derive(Debug, Clone, PartialEq)]
pub struct NewRemark {
    /// Frame of the after scan, mm.
    pub at: [f64; 3],
    /// What is said.
    pub text: String,
    /// Code of who says it.
    pub author: String,
}

/// A kept remark.
#[derive(Debug, Clone, PartialEq, FromRow)]
pub struct RemarkRow {
    /// Its id.
    pub id: String,
    /// Frame of the after scan.
    pub x_mm: f64,
    /// See `x_mm`.
    pub y_mm: f64,
    /// See `x_mm`.
    pub z_mm: f64,
    /// What is said.
    pub text: String,
    /// Code of who says it.
    pub author: String,
    /// When it came.
    pub created: String,
    /// When it was settled.
    pub resolved: Option<String>,
    /// When it was removed.
    pub removed: Option<String>,
}

const COLUMNS: &str = "id, x_mm, y_mm, z_mm, text, author, created, resolved, removed";
const NOW: &str = "utc_now()";

impl Store {
    /// Keeps a remark.
    ///
    /// # Errors
    /// The database fails.
    pub async fn add_remark(&self, attempt: &str, new: &NewRemark) -> Result<RemarkRow, StoreError> {
        let mut transaction = self.begin().await?;
        let row = insert_remark(&mut transaction, attempt, new).await?;
        audit(&mut transaction, self.who(), "remark added", &row.id).await?;
        transaction.commit().await?;
        Ok(row)
    }

    /// The remarks on an attempt that are not removed, oldest first.
    ///
    /// # Errors
    /// The database fails.
    pub async fn remarks(&self, attempt: &str) -> Result<Vec<RemarkRow>, StoreError> {
        let select =
            format!("SELECT {COLUMNS} FROM remarks WHERE attempt = $1 AND removed IS NULL ORDER BY number");
        sql(select).bind(attempt).rows(&self.pool).await
    }

    /// Removes a remark, or brings it back; `None` if the attempt has no such remark.
    ///
    /// # Errors
    /// The database fails.
    pub async fn set_remark_removed(
        &self,
        attempt: &str,
        id: &str,
        removed: bool,
    ) -> Result<Option<RemarkRow>, StoreError> {
        self.mark(attempt, id, "removed", removed).await
    }

    /// Settles a remark, or opens it again; `None` if the attempt has no such remark.
    ///
    /// # Errors
    /// The database fails.
    pub async fn set_remark_resolved(
        &self,
        attempt: &str,
        id: &str,
        resolved: bool,
    ) -> Result<Option<RemarkRow>, StoreError> {
        self.mark(attempt, id, "resolved", resolved).await
    }

    /// Says something else in a remark; `None` if the attempt has no such remark.
    ///
    /// # Errors
    /// The database fails.
    pub async fn set_remark_text(
        &self,
        attempt: &str,
        id: &str,
        text: &str,
    ) -> Result<Option<RemarkRow>, StoreError> {
        let update =
            format!("UPDATE remarks SET text = $1 WHERE attempt = $2 AND id = $3 RETURNING {COLUMNS}");
        let mut transaction = self.begin().await?;
        let row: Option<RemarkRow> =
            sql(update).bind(text).bind(attempt).bind(id).row_if_any(&mut transaction).await?;
        if row.is_some() {
            audit(&mut transaction, "bench", "remark reworded", id).await?;
        }
        transaction.commit().await?;
        Ok(row)
    }

    async fn mark(
        &self,
        attempt: &str,
        id: &str,
        column: &'static str,
        on: bool,
    ) -> Result<Option<RemarkRow>, StoreError> {
        let update = format!(
            "UPDATE remarks SET {column} = CASE WHEN $1 THEN coalesce({column}, {NOW}) END \
             WHERE attempt = $2 AND id = $3 RETURNING {COLUMNS}"
        );
        let mut transaction = self.begin().await?;
        let row: Option<RemarkRow> =
            sql(update).bind(on).bind(attempt).bind(id).row_if_any(&mut transaction).await?;
        if let Some(row) = &row {
            let what = format!("remark {}{column}", if on { "" } else { "no longer " });
            audit(&mut transaction, self.who(), &what, &row.id).await?;
        }
        transaction.commit().await?;
        Ok(row)
    }
}

pub(crate) async fn insert_remark(
    transaction: &mut Transaction,
    attempt: &str,
    new: &NewRemark,
) -> Result<RemarkRow, StoreError> {
    let insert = format!(
        "INSERT INTO remarks (number, attempt, x_mm, y_mm, z_mm, text, author) \
         SELECT coalesce(max(number), 0) + 1, $1, $2, $3, $4, $5, $6 FROM remarks RETURNING {COLUMNS}"
    );
    let [x, y, z] = new.at;
    sql(insert)
        .bind(attempt)
        .bind(x)
        .bind(y)
        .bind(z)
        .bind(&new.text)
        .bind(&new.author)
        .row(&mut *transaction)
        .await
}
