//! Attempts and their documents.

use sqlx::FromRow;

use crate::class::NEXT_NUMBER;
use crate::sql::{Transaction, sql};
use crate::store::audit;
use crate::{Store, StoreError};

/// How far an attempt has come.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum State {
    /// Not begun.
    Waiting,
    /// Being measured.
    Running,
    /// Measured.
    Done,
    /// Could not be measured.
    Refused,
    /// Stopped by the user.
    Cancelled,
}

/// An attempt to be kept.
#[derive(Debug, Clone, PartialEq)]
pub struct NewAttempt {
    /// Ids of the scans: after, before, opposing.
    pub scans: (String, Option<String>, Option<String>),
    /// All that was asked, as JSON.
    pub request: String,
    /// The tooth.
    pub fdi: u8,
    /// Code of the learner.
    pub learner: Option<String>,
    /// Exercise and stage.
    pub exercise: Option<(String, Option<String>)>,
}

/// A kept attempt.
#[derive(Debug, Clone, PartialEq, FromRow)]
pub struct AttemptRow {
    /// Its id.
    pub id: String,
    /// The scan after cutting.
    pub after: String,
    /// The scan before cutting.
    pub before: Option<String>,
    /// The opposing scan.
    pub opposing: Option<String>,
    /// All that was asked, as JSON.
    pub request: String,
    /// The tooth.
    pub fdi: i64,
    /// The state's name.
    pub state: String,
    /// Why it was refused: a word for programs.
    pub error_code: Option<String>,
    /// Why it was refused: a sentence for people.
    pub error_text: Option<String>,
    /// When it came.
    pub created: String,
}

impl State {
    /// The name in the database and in answers.
    pub fn id(self) -> &'static str {
        match self {
            Self::Waiting => "waiting",
            Self::Running => "running",
            Self::Done => "done",
            Self::Refused => "refused",
            Self::Cancelled => "cancelled",
        }
    }

    /// The state with a name.
    pub fn from_id(id: &str) -> Self {
        let all = [Self::Waiting, Self::Running, Self::Done, Self::Refused];
        all.into_iter().find(|state| state.id() == id).unwrap_or(Self::Cancelled)
    }
}

pub(crate) const COLUMNS: &str =
    "id, after, before, opposing, request, fdi, state, error_code, error_text, created";

impl Store {
    /// Keeps a new attempt and gives its id.
    ///
    /// # Errors
    /// The database fails, or a scan is not kept.
    pub async fn add_attempt(&self, new: &NewAttempt) -> Result<String, StoreError> {
        let (after, before, opposing) = &new.scans;
        let insert = format!(
            "INSERT INTO attempts (number, after, before, opposing, request, fdi, learner, exercise, stage) \
             VALUES ({NEXT_NUMBER}, $1, $2, $3, $4, $5, $6, $7, $8) RETURNING id"
        );
        let mut transaction = self.begin().await?;
        let id: String = sql(insert)
            .bind(after)
            .bind(before)
            .bind(opposing)
            .bind(&new.request)
            .bind(i64::from(new.fdi))
            .bind(&new.learner)
            .bind(new.exercise.as_ref().map(|exercise| &exercise.0))
            .bind(new.exercise.as_ref().and_then(|exercise| exercise.1.as_ref()))
            .value(&mut transaction)
            .await?;
        audit(&mut transaction, self.who(), "attempt added", &id).await?;
        transaction.commit().await?;
        Ok(id)
    }

    /// One attempt.
    ///
    /// # Errors
    /// The database fails.
    pub async fn attempt(&self, id: &str) -> Result<Option<AttemptRow>, StoreError> {
        let select = format!("SELECT {COLUMNS} FROM attempts WHERE id = $1");
        sql(select).bind(id).row_if_any(&self.pool).await
    }

    /// The latest attempts, newest first.
    ///
    /// # Errors
    /// The database fails.
    pub async fn attempts(&self, most: u32) -> Result<Vec<AttemptRow>, StoreError> {
        let select = format!("SELECT {COLUMNS} FROM attempts ORDER BY number DESC LIMIT $1");
        sql(select).bind(i64::from(most)).rows(&self.pool).await
    }

    /// Notes how far an attempt has come; for a refusal with code and sentence.
    ///
    /// # Errors
    /// The database fails.
    pub async fn set_state(
        &self,
        id: &str,
        state: State,
        refusal: Option<(&str, &str)>,
    ) -> Result<(), StoreError> {
        let update = "UPDATE attempts SET state = $1, error_code = $2, error_text = $3, finished = \
                      CASE WHEN $4 THEN utc_now() END WHERE id = $5";
        sql(update)
            .bind(state.id())
            .bind(refusal.map(|refusal| refusal.0))
            .bind(refusal.map(|refusal| refusal.1))
            .bind(!matches!(state, State::Waiting | State::Running))
            .bind(id)
            .run(&self.pool)
            .await?;
        Ok(())
    }

    /// Keeps a document; measuring again with the same version replaces it by the same bytes.
    ///
    /// # Errors
    /// The database fails.
    pub async fn keep_document(
        &self,
        attempt: &str,
        version: &str,
        layout: &str,
        document: &str,
    ) -> Result<(), StoreError> {
        let mut transaction = self.begin().await?;
        insert_document(&mut transaction, attempt, version, layout, document).await?;
        audit(&mut transaction, self.who(), "document kept", attempt).await?;
        transaction.commit().await?;
        Ok(())
    }

    /// The latest document of an attempt, as JSON.
    ///
    /// # Errors
    /// The database fails.
    pub async fn document(&self, attempt: &str) -> Result<Option<String>, StoreError> {
        let select =
            "SELECT document FROM documents WHERE attempt = $1 ORDER BY created DESC, version DESC LIMIT 1";
        sql(select).bind(attempt).value_if_any(&self.pool).await
    }

    /// Attempts that wait, oldest first.
    ///
    /// # Errors
    /// The database fails.
    pub async fn waiting(&self) -> Result<Vec<AttemptRow>, StoreError> {
        let select = format!("SELECT {COLUMNS} FROM attempts WHERE state = 'waiting' ORDER BY number");
        sql(select).rows(&self.pool).await
    }

    /// What was running when the program ended waits again. For the one program that works through what waits.
    ///
    /// # Errors
    /// The database fails.
    pub async fn requeue(&self) -> Result<(), StoreError> {
        sql("UPDATE attempts SET state = 'waiting' WHERE state = 'running'").run(&self.pool).await?;
        Ok(())
    }
}

/// Inserts a document in the place of the same version's; its readings follow.
pub(crate) async fn insert_document(
    transaction: &mut Transaction,
    attempt: &str,
    version: &str,
    layout: &str,
    document: &str,
) -> Result<(), StoreError> {
    let delete = "DELETE FROM documents WHERE attempt = $1 AND version = $2";
    sql(delete).bind(attempt).bind(version).run(&mut *transaction).await?;
    let insert = "INSERT INTO documents (attempt, version, layout, document) VALUES ($1, $2, $3, $4)";
    sql(insert).bind(attempt).bind(version).bind(layout).bind(document).run(&mut *transaction).await?;
    Ok(())
}
