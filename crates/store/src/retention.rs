//! What is to be gone is gone: rows, the pages they stood on, and files.

use std::collections::BTreeSet;

use sqlx::{Sqlite, Transaction};
use tokio::fs;

use crate::store::audit;
use crate::{Store, StoreError};

/// What a deletion took away.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Removed {
    /// Learners, with name, memberships and all that hangs on their attempts.
    pub learners: u32,
    /// Attempts, with documents, readings, grades, overrides, ratings, remarks.
    pub attempts: u32,
    /// Scans, with their files.
    pub scans: u32,
}

impl Store {
    /// Deletes a learner with everything that is kept of the learner. Scans that others use too, such as the uncut tooth, stay.
    ///
    /// Overwrites the pages of the database, empties its log and removes the files before it returns. What a file system or a
    /// disk keeps of removed files is beyond it.
    ///
    /// # Errors
    /// [`StoreError::Unknown`], or the database or the disk fails. [`StoreError::StillRead`] if another program holds old pages.
    pub async fn delete_learner(&self, code: &str, who: &str) -> Result<Removed, StoreError> {
        let mut transaction = self.begin().await?;
        let mut removed = Removed::default();
        remove_learner(&mut transaction, code, &mut removed).await?;
        if removed.learners == 0 {
            return Err(StoreError::Unknown { what: "learner", code: code.into() });
        }
        audit(&mut transaction, who, "learner deleted", "").await?;
        self.finish(transaction, &mut removed).await?;
        Ok(removed)
    }

    /// Deletes a cohort with its sessions and its learners. Of a learner who is in another cohort too, the attempts in this
    /// cohort's sessions go and the rest stays.
    ///
    /// # Errors
    /// As for [`delete_learner`](Self::delete_learner).
    pub async fn delete_cohort(&self, code: &str, who: &str) -> Result<Removed, StoreError> {
        let mut transaction = self.begin().await?;
        let mut removed = Removed::default();
        let own = "SELECT learner FROM members AS own WHERE cohort = ? AND NOT EXISTS \
                   (SELECT 1 FROM members WHERE learner = own.learner AND cohort <> own.cohort)";
        let own: Vec<String> = sqlx::query_scalar(own).bind(code).fetch_all(&mut *transaction).await?;
        let held =
            "SELECT id FROM attempts WHERE session IN (SELECT code FROM lab_sessions WHERE cohort = ?)";
        let held: Vec<String> = sqlx::query_scalar(held).bind(code).fetch_all(&mut *transaction).await?;
        remove_attempts(&mut transaction, &held, &mut removed).await?;
        for learner in own {
            remove_learner(&mut transaction, &learner, &mut removed).await?;
        }
        for delete in [
            "DELETE FROM audit WHERE subject IN (SELECT code FROM lab_sessions WHERE cohort = ?)",
            "DELETE FROM lab_sessions WHERE cohort = ?",
        ] {
            sqlx::query(delete).bind(code).execute(&mut *transaction).await?;
        }
        let gone =
            sqlx::query("DELETE FROM cohorts WHERE code = ?").bind(code).execute(&mut *transaction).await?;
        if gone.rows_affected() == 0 {
            return Err(StoreError::Unknown { what: "cohort", code: code.into() });
        }
        audit(&mut transaction, who, "cohort deleted", "").await?;
        self.finish(transaction, &mut removed).await?;
        Ok(removed)
    }

    /// Erases names and the ids of the roster's system, of one learner or of all. Codes and attempts stay.
    ///
    /// # Errors
    /// The database fails; [`StoreError::StillRead`].
    pub async fn erase_names(&self, learner: Option<&str>, who: &str) -> Result<u32, StoreError> {
        let mut transaction = self.begin().await?;
        let erased = sqlx::query("DELETE FROM names WHERE ? IS NULL OR learner = ?")
            .bind(learner)
            .bind(learner)
            .execute(&mut *transaction)
            .await?;
        audit(&mut transaction, who, "names erased", "").await?;
        self.finish(transaction, &mut Removed::default()).await?;
        Ok(erased.rows_affected() as u32)
    }

    /// Erases the bytes and file names of scans that came before a day and that no attempt since that day uses. Readings and grades
    /// stay.
    ///
    /// # Errors
    /// The database or the disk fails; [`StoreError::StillRead`].
    pub async fn erase_scans_before(&self, day: &str, who: &str) -> Result<Removed, StoreError> {
        let mut transaction = self.begin().await?;
        let select = "SELECT id FROM scans WHERE erased IS NULL AND created < ? AND NOT EXISTS \
                      (SELECT 1 FROM attempts WHERE attempts.created >= ? AND scans.id IN (after, before, opposing))";
        let old: Vec<String> =
            sqlx::query_scalar(select).bind(day).bind(day).fetch_all(&mut *transaction).await?;
        for id in &old {
            let erase =
                "UPDATE scans SET erased = strftime('%Y-%m-%dT%H:%M:%fZ', 'now'), file = '' WHERE id = ?";
            sqlx::query(erase).bind(id).execute(&mut *transaction).await?;
            sqlx::query("UPDATE scan_senders SET file = '' WHERE scan = ?")
                .bind(id)
                .execute(&mut *transaction)
                .await?;
            doom(&mut transaction, id).await?;
        }
        audit(&mut transaction, who, "scans erased", "").await?;
        let mut removed = Removed { scans: old.len() as u32, ..Removed::default() };
        self.finish(transaction, &mut removed).await?;
        Ok(removed)
    }

    /// Ends a deletion: rows first, then files, then what the database keeps of old pages.
    async fn finish(
        &self,
        mut transaction: Transaction<'static, Sqlite>,
        removed: &mut Removed,
    ) -> Result<(), StoreError> {
        let unused = "SELECT id FROM scans WHERE id IN (SELECT scan FROM doomed_files) AND erased IS NULL AND NOT EXISTS \
                      (SELECT 1 FROM attempts WHERE scans.id IN (after, before, opposing))";
        let unused: Vec<String> = sqlx::query_scalar(unused).fetch_all(&mut *transaction).await?;
        for id in &unused {
            sqlx::query("DELETE FROM scans WHERE id = ?").bind(id).execute(&mut *transaction).await?;
        }
        removed.scans += unused.len() as u32;
        transaction.commit().await?;
        self.remove_doomed().await?;
        self.forget_old_pages().await
    }

    /// Removes the files that nothing holds any more. Also at the start, for a deletion that was broken off.
    pub(crate) async fn remove_doomed(&self) -> Result<(), StoreError> {
        let none: i64 = sqlx::query_scalar("SELECT count(*) FROM doomed_files").fetch_one(&self.pool).await?;
        if none == 0 {
            return Ok(());
        }
        // Nobody can begin to use a scan while this holds the right to write.
        let mut transaction = self.begin().await?;
        let select =
            "SELECT scan FROM doomed_files WHERE scan NOT IN (SELECT id FROM scans WHERE erased IS NULL)";
        let doomed: Vec<String> = sqlx::query_scalar(select).fetch_all(&mut *transaction).await?;
        for id in doomed {
            match fs::remove_file(self.scan_path(&id)).await {
                Err(error) if error.kind() != std::io::ErrorKind::NotFound => return Err(error.into()),
                _ => {}
            }
        }
        sqlx::query("DELETE FROM doomed_files").execute(&mut *transaction).await?;
        transaction.commit().await.map_err(StoreError::from)
    }

    /// Rewrites the database without its free space and empties the log.
    async fn forget_old_pages(&self) -> Result<(), StoreError> {
        sqlx::query("VACUUM").execute(&self.pool).await?;
        let (busy, _, _): (i64, i64, i64) =
            sqlx::query_as("PRAGMA wal_checkpoint(TRUNCATE)").fetch_one(&self.pool).await?;
        if busy == 0 { Ok(()) } else { Err(StoreError::StillRead) }
    }
}

async fn remove_learner(
    transaction: &mut Transaction<'static, Sqlite>,
    code: &str,
    removed: &mut Removed,
) -> Result<(), StoreError> {
    let select = "SELECT id FROM attempts WHERE learner = ?";
    let attempts: Vec<String> = sqlx::query_scalar(select).bind(code).fetch_all(&mut **transaction).await?;
    remove_attempts(transaction, &attempts, removed).await?;
    let gone =
        sqlx::query("DELETE FROM learners WHERE code = ?").bind(code).execute(&mut **transaction).await?;
    removed.learners += gone.rows_affected() as u32;
    for forget in [
        "DELETE FROM accounts WHERE learner = ?",
        "DELETE FROM scan_senders WHERE learner = ?",
        "UPDATE remarks SET author = 'deleted' WHERE author = ?",
        "UPDATE audit SET who = 'deleted' WHERE who = ?",
        "UPDATE audit SET subject = '' WHERE subject = ?",
        // The name of a file that others use too may hold the code.
        "UPDATE scans SET file = substr(id, 1, 12) WHERE instr(file, ?) > 0",
    ] {
        sqlx::query(forget).bind(code).execute(&mut **transaction).await?;
    }
    Ok(())
}

async fn remove_attempts(
    transaction: &mut Transaction<'static, Sqlite>,
    attempts: &[String],
    removed: &mut Removed,
) -> Result<(), StoreError> {
    for id in attempts {
        let scans: Vec<(String, Option<String>, Option<String>)> =
            sqlx::query_as("SELECT after, before, opposing FROM attempts WHERE id = ?")
                .bind(id)
                .fetch_all(&mut **transaction)
                .await?;
        for delete in [
            "DELETE FROM audit WHERE subject IN (SELECT id FROM remarks WHERE attempt = ?1 UNION \
             SELECT id FROM grades WHERE attempt = ?1 UNION SELECT ?1)",
            "DELETE FROM remarks WHERE attempt = ?",
            "DELETE FROM ratings WHERE attempt = ?",
            "DELETE FROM grades WHERE attempt = ?",
            "DELETE FROM documents WHERE attempt = ?",
            "DELETE FROM attempts WHERE id = ?",
        ] {
            sqlx::query(delete).bind(id).execute(&mut **transaction).await?;
        }
        let held = scans.into_iter().flat_map(|(after, before, opposing)| [Some(after), before, opposing]);
        for scan in held.flatten().collect::<BTreeSet<String>>() {
            doom(transaction, &scan).await?;
        }
        removed.attempts += 1;
    }
    Ok(())
}

/// Notes that the file of a scan goes unless something still holds it.
async fn doom(transaction: &mut Transaction<'static, Sqlite>, scan: &str) -> Result<(), StoreError> {
    let insert = "INSERT INTO doomed_files (scan) VALUES (?) ON CONFLICT DO NOTHING";
    sqlx::query(insert).bind(scan).execute(&mut **transaction).await?;
    Ok(())
}
