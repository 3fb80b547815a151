//! What belongs to a learner: attempts under the learner's code, and scans in them or sent by the learner.

use sqlx::FromRow;

use crate::attempts::{AttemptRow, COLUMNS};
use crate::sql::sql;
use crate::store::audit;
use crate::{Store, StoreError};

/// One line of the audit trail.
#[derive(Debug, Clone, PartialEq, Eq, FromRow)]
pub struct AuditRow {
    /// Its number; later ones are higher.
    pub number: i64,
    /// When.
    pub at: String,
    /// Code of the account; `bench` for the app without accounts, `command line` for commands.
    pub who: String,
    /// What was done.
    pub what: String,
    /// Id of what it was done to.
    pub subject: String,
}

impl Store {
    /// Whether an attempt carries the learner's code.
    ///
    /// # Errors
    /// The database fails.
    pub async fn is_own_attempt(&self, attempt: &str, learner: &str) -> Result<bool, StoreError> {
        let select = "SELECT EXISTS (SELECT 1 FROM attempts WHERE id = $1 AND learner = $2)";
        sql(select).bind(attempt).bind(learner).value(&self.pool).await
    }

    /// Whether a scan was sent by the learner or is part of an attempt that carries the learner's code.
    ///
    /// # Errors
    /// The database fails.
    pub async fn is_own_scan(&self, scan: &str, learner: &str) -> Result<bool, StoreError> {
        let select = "SELECT EXISTS (SELECT 1 FROM scan_senders WHERE scan = $1 AND learner = $2) \
                      OR EXISTS (SELECT 1 FROM attempts WHERE learner = $2 AND $1 IN (after, before, opposing))";
        sql(select).bind(scan).bind(learner).value(&self.pool).await
    }

    /// The latest attempts that carry the learner's code, newest first.
    ///
    /// # Errors
    /// The database fails.
    pub async fn attempts_of(&self, learner: &str, most: u32) -> Result<Vec<AttemptRow>, StoreError> {
        let select =
            format!("SELECT {COLUMNS} FROM attempts WHERE learner = $1 ORDER BY number DESC LIMIT $2");
        let query = sql(select).bind(learner).bind(i64::from(most));
        query.rows(&self.pool).await
    }

    /// Notes who sent a scan; a learner may see it from then on, under the name of the own file.
    ///
    /// # Errors
    /// The database fails, or there is no such scan.
    pub async fn note_sender(&self, scan: &str, learner: Option<&str>, file: &str) -> Result<(), StoreError> {
        let mut transaction = self.begin().await?;
        if let Some(learner) = learner {
            sql("INSERT INTO scan_senders (scan, learner, file) VALUES ($1, $2, $3) \
                 ON CONFLICT (scan, learner) DO UPDATE SET file = excluded.file")
            .bind(scan)
            .bind(learner)
            .bind(file)
            .run(&mut transaction)
            .await?;
        }
        audit(&mut transaction, self.who(), "scan sent", scan).await?;
        transaction.commit().await?;
        Ok(())
    }

    /// What the learner's own file of a scan was called, if the learner sent it.
    ///
    /// # Errors
    /// The database fails.
    pub async fn sent_as(&self, scan: &str, learner: &str) -> Result<Option<String>, StoreError> {
        let select = "SELECT file FROM scan_senders WHERE scan = $1 AND learner = $2";
        sql(select).bind(scan).bind(learner).value_if_any(&self.pool).await
    }

    /// The latest lines of the audit trail, newest first.
    ///
    /// # Errors
    /// The database fails.
    pub async fn audit(&self, most: u32) -> Result<Vec<AuditRow>, StoreError> {
        let select = "SELECT number, at, who, what, subject FROM audit ORDER BY number DESC LIMIT $1";
        sql(select).bind(i64::from(most)).rows(&self.pool).await
    }
}
