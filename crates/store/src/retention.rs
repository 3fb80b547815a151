//! What is to be gone is gone: rows, the pages they stood on, and files.

use std::collections::BTreeSet;

use crate::sql::{Pool, Transaction, sql};
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
        let own = "SELECT learner FROM members AS own WHERE cohort = $1 AND NOT EXISTS \
                   (SELECT 1 FROM members WHERE learner = own.learner AND cohort <> own.cohort)";
        let own: Vec<String> = sql(own).bind(code).values(&mut transaction).await?;
        let held =
            "SELECT id FROM attempts WHERE session IN (SELECT code FROM lab_sessions WHERE cohort = $1)";
        let held: Vec<String> = sql(held).bind(code).values(&mut transaction).await?;
        remove_attempts(&mut transaction, &held, &mut removed).await?;
        for learner in own {
            remove_learner(&mut transaction, &learner, &mut removed).await?;
        }
        for delete in [
            "DELETE FROM audit WHERE subject IN (SELECT code FROM lab_sessions WHERE cohort = $1)",
            "DELETE FROM lab_sessions WHERE cohort = $1",
        ] {
            sql(delete).bind(code).run(&mut transaction).await?;
        }
        let gone = sql("DELETE FROM cohorts WHERE code = $1").bind(code).run(&mut transaction).await?;
        if gone == 0 {
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
        let erased = sql("DELETE FROM names WHERE $1 IS NULL OR learner = $2")
            .bind(learner)
            .bind(learner)
            .run(&mut transaction)
            .await?;
        audit(&mut transaction, who, "names erased", "").await?;
        self.finish(transaction, &mut Removed::default()).await?;
        Ok(erased as u32)
    }

    /// Erases the bytes and file names of scans that came before a day and that no attempt since that day uses. Readings and grades
    /// stay.
    ///
    /// # Errors
    /// The database or the disk fails; [`StoreError::StillRead`].
    pub async fn erase_scans_before(&self, day: &str, who: &str) -> Result<Removed, StoreError> {
        let mut transaction = self.begin().await?;
        let select = "SELECT id FROM scans WHERE erased IS NULL AND created < $1 AND NOT EXISTS \
                      (SELECT 1 FROM attempts WHERE attempts.created >= $2 AND scans.id IN (after, before, opposing))";
        let old: Vec<String> = sql(select).bind(day).bind(day).values(&mut transaction).await?;
        for id in &old {
            let erase = "UPDATE scans SET erased = utc_now(), file = '' WHERE id = $1";
            sql(erase).bind(id).run(&mut transaction).await?;
            sql("UPDATE scan_senders SET file = '' WHERE scan = $1").bind(id).run(&mut transaction).await?;
            doom(&mut transaction, id).await?;
        }
        audit(&mut transaction, who, "scans erased", "").await?;
        let mut removed = Removed { scans: old.len() as u32, ..Removed::default() };
        self.finish(transaction, &mut removed).await?;
        Ok(removed)
    }

    /// Ends a deletion: rows first, then files, then what the database keeps of old pages.
    pub(crate) async fn finish(
        &self,
        mut transaction: Transaction,
        removed: &mut Removed,
    ) -> Result<(), StoreError> {
        let unused = "SELECT id FROM scans WHERE id IN (SELECT scan FROM doomed_files) AND erased IS NULL AND NOT EXISTS \
                      (SELECT 1 FROM attempts WHERE scans.id IN (after, before, opposing))";
        let unused: Vec<String> = sql(unused).values(&mut transaction).await?;
        for id in &unused {
            sql("DELETE FROM scans WHERE id = $1").bind(id).run(&mut transaction).await?;
        }
        removed.scans += unused.len() as u32;
        transaction.commit().await?;
        self.remove_doomed().await?;
        self.forget_old_pages().await
    }

    /// Removes the files that nothing holds any more. Also at the start, for a deletion that was broken off.
    pub(crate) async fn remove_doomed(&self) -> Result<(), StoreError> {
        let none: i64 = sql("SELECT count(*) FROM doomed_files").value(&self.pool).await?;
        let mut are_left = none > 0;
        while are_left {
            are_left = self.remove_some_doomed().await?;
        }
        Ok(())
    }

    /// Removes as many files as others can wait for; whether more may be left.
    async fn remove_some_doomed(&self) -> Result<bool, StoreError> {
        // Nobody can begin to use a scan while this holds the right to write.
        let mut transaction = self.begin().await?;
        let select = "SELECT scan, scan IN (SELECT id FROM scans WHERE erased IS NULL) AS held FROM doomed_files \
                      ORDER BY scan LIMIT 100";
        let doomed: Vec<(String, bool)> = sql(select).rows(&mut transaction).await?;
        for (id, is_held) in &doomed {
            if !is_held {
                self.scans.remove(id).await?;
            }
            sql("DELETE FROM doomed_files WHERE scan = $1").bind(id).run(&mut transaction).await?;
        }
        transaction.commit().await?;
        Ok(!doomed.is_empty())
    }

    /// Rewrites SQLite's database without its free space and empties the log. PostgreSQL frees what was deleted; its own log and its
    /// backups are its keeper's.
    async fn forget_old_pages(&self) -> Result<(), StoreError> {
        sql("VACUUM").run(&self.pool).await?;
        let Pool::Sqlite(_) = &self.pool else { return Ok(()) };
        let checkpoint = sql("PRAGMA wal_checkpoint(TRUNCATE)");
        let (busy, _, _): (i64, i64, i64) = checkpoint.row(&self.pool).await?;
        if busy == 0 { Ok(()) } else { Err(StoreError::StillRead) }
    }
}

async fn remove_learner(
    transaction: &mut Transaction,
    code: &str,
    removed: &mut Removed,
) -> Result<(), StoreError> {
    let select = "SELECT id FROM attempts WHERE learner = $1";
    let attempts: Vec<String> = sql(select).bind(code).values(&mut *transaction).await?;
    remove_attempts(transaction, &attempts, removed).await?;
    let gone = sql("DELETE FROM learners WHERE code = $1").bind(code).run(&mut *transaction).await?;
    removed.learners += gone as u32;
    for forget in [
        "DELETE FROM accounts WHERE learner = $1",
        "DELETE FROM scan_senders WHERE learner = $1",
        // What is being measured is not kept.
        "DELETE FROM reserved_numbers WHERE learner = $1",
        "UPDATE remarks SET author = 'deleted' WHERE author = $1",
        "UPDATE audit SET who = 'deleted' WHERE who = $1",
        "UPDATE audit SET subject = '' WHERE subject = $1",
        // The name of a file that others use too may hold the code.
        "UPDATE scans SET file = substr(id, 1, 12) WHERE replace(file, $1, '') <> file",
    ] {
        sql(forget).bind(code).run(&mut *transaction).await?;
    }
    Ok(())
}

async fn remove_attempts(
    transaction: &mut Transaction,
    attempts: &[String],
    removed: &mut Removed,
) -> Result<(), StoreError> {
    for id in attempts {
        let scans: Vec<(String, Option<String>, Option<String>)> =
            sql("SELECT after, before, opposing FROM attempts WHERE id = $1")
                .bind(id)
                .rows(&mut *transaction)
                .await?;
        for delete in [
            "DELETE FROM audit WHERE subject IN (SELECT id FROM remarks WHERE attempt = $1 UNION \
             SELECT id FROM grades WHERE attempt = $1 UNION SELECT $1)",
            "DELETE FROM remarks WHERE attempt = $1",
            "DELETE FROM ratings WHERE attempt = $1",
            "DELETE FROM grades WHERE attempt = $1",
            "DELETE FROM documents WHERE attempt = $1",
            "DELETE FROM attempts WHERE id = $1",
        ] {
            sql(delete).bind(id).run(&mut *transaction).await?;
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
pub(crate) async fn doom(transaction: &mut Transaction, scan: &str) -> Result<(), StoreError> {
    let insert = "INSERT INTO doomed_files (scan) VALUES ($1) ON CONFLICT DO NOTHING";
    sql(insert).bind(scan).run(&mut *transaction).await?;
    Ok(())
}
