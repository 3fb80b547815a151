//! A class as a whole: attempts kept in one piece, and asked for by who, what and when.

use sqlx::FromRow;

use crate::attempts::insert_document;
use crate::grades::insert_grade;
use crate::retention::{Removed, doom};
use crate::sql::{Query, Transaction, sql};
use crate::store::audit;
use crate::{GradeRow, NewGrade, Store, StoreError};

/// An attempt that was measured, or could not be, to be kept in one piece.
#[derive(Debug, Clone, PartialEq)]
pub struct NewMeasured {
    /// Hash of all that makes the attempt what it is.
    pub identity: String,
    /// Ids of the scans: after, before, opposing. They are kept already.
    pub scans: (String, Option<String>, Option<String>),
    /// All that was asked, as JSON.
    pub request: String,
    /// The tooth.
    pub fdi: u8,
    /// Code of the learner.
    pub learner: Option<String>,
    /// Code of the session.
    pub session: Option<String>,
    /// Exercise by name.
    pub exercise: Option<String>,
    /// Its version.
    pub exercise_version: Option<String>,
    /// The stage.
    pub stage: Option<String>,
    /// The day of cutting, ISO 8601.
    pub taken: Option<String>,
    /// Version of the program.
    pub version: String,
    /// What came of it.
    pub outcome: Measured,
}

/// What came of measuring.
#[derive(Debug, Clone, PartialEq)]
pub enum Measured {
    /// A document, and a grade where an exercise was given.
    Done {
        /// The document's schema.
        layout: String,
        /// The document, JSON.
        document: String,
        /// The grade.
        grade: Option<NewGrade>,
    },
    /// Why it could not be measured: a word for programs, a sentence for people.
    Refused {
        /// The word.
        code: String,
        /// The sentence.
        text: String,
    },
}

/// An attempt that needs no measuring again.
#[derive(Debug, Clone, PartialEq, Eq, FromRow)]
pub struct Settled {
    /// Its id.
    pub id: String,
    /// Version of the exercise that it was held against.
    pub exercise_version: Option<String>,
    /// Why it was refused.
    pub error_text: Option<String>,
}

/// Which attempts are asked for; all where nothing is said.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Chosen {
    /// Of this learner.
    pub learner: Option<String>,
    /// Of learners of this cohort.
    pub cohort: Option<String>,
    /// Of this session.
    pub session: Option<String>,
    /// For this exercise, by name.
    pub exercise: Option<String>,
    /// After this stage.
    pub stage: Option<String>,
}

/// One attempt of a class.
#[derive(Debug, Clone, PartialEq, FromRow)]
pub struct ClassAttempt {
    /// Its id.
    pub id: String,
    /// Order of coming.
    pub number: i64,
    /// Code of the learner.
    pub learner: Option<String>,
    /// Code of the session.
    pub session: Option<String>,
    /// Code of the session's instructor.
    pub instructor: Option<String>,
    /// Name of the exercise.
    pub exercise: Option<String>,
    /// Its version.
    pub exercise_version: Option<String>,
    /// The stage.
    pub stage: Option<String>,
    /// The tooth.
    pub fdi: i64,
    /// The day of cutting where it is known, else of coming.
    pub taken: String,
    /// The state's name.
    pub state: String,
    /// Why it was refused.
    pub error_text: Option<String>,
    /// Version of the latest document.
    pub version: Option<String>,
}

/// One reading of one attempt.
#[derive(Debug, Clone, PartialEq, FromRow)]
pub struct ReadingRow {
    /// Id of the attempt.
    pub attempt: String,
    /// Version of the program.
    pub version: String,
    /// The reading's id.
    pub reading: String,
    /// Empty for the reading itself, else the name of a further number of it.
    pub part: String,
    /// The value, if it is a number.
    pub value: Option<f64>,
    /// The value, if it is a word.
    pub word: Option<String>,
    /// Its unit.
    pub unit: String,
    /// Expanded uncertainty, k = 2, in the same unit.
    pub u95: Option<f64>,
    /// Where on the tooth.
    pub aspect: Option<String>,
    /// Where round the tooth.
    pub angle_deg: Option<f64>,
    /// Why it could not be read.
    pub refused: Option<String>,
}

/// The number of the next attempt: after all that are kept and all that are reserved.
pub(crate) const NEXT_NUMBER: &str = "(SELECT coalesce(max(number), 0) + 1 FROM (SELECT max(number) AS number FROM attempts \
                                      UNION ALL SELECT max(number) FROM reserved_numbers) AS taken)";

/// The latest document of an attempt.
const LATEST: &str =
    "(SELECT version FROM documents WHERE attempt = attempts.id ORDER BY created DESC, version DESC LIMIT 1)";

impl Store {
    /// Keeps an attempt with all that came of it, whole or not at all, and gives its id. An attempt of the same identity is the same
    /// attempt: it gets the new document.
    ///
    /// # Errors
    /// The database fails, or a scan, session or exercise is not kept.
    pub async fn keep_measured(&self, new: &NewMeasured) -> Result<String, StoreError> {
        let mut transaction = self.begin().await?;
        let id = insert_measured(&mut transaction, new).await?;
        audit(&mut transaction, "class", "attempt kept", &id).await?;
        transaction.commit().await?;
        Ok(id)
    }

    /// Reserves numbers for attempts that are to be measured, by identity and learner, in this order, so that numbers do not depend on what is
    /// done first. An attempt that is kept, or has its number reserved, keeps that.
    ///
    /// # Errors
    /// The database fails.
    pub async fn reserve_numbers(&self, awaited: &[(String, Option<String>)]) -> Result<(), StoreError> {
        let insert = format!(
            "INSERT INTO reserved_numbers (identity, learner, number) SELECT $1, $2, {NEXT_NUMBER} \
             WHERE NOT EXISTS (SELECT 1 FROM attempts WHERE identity = $1) ON CONFLICT (identity) DO NOTHING"
        );
        let mut transaction = self.begin().await?;
        for (identity, learner) in awaited {
            sql(insert.as_str()).bind(identity).bind(learner).run(&mut transaction).await?;
        }
        transaction.commit().await
    }

    /// Keeps an attempt that has its number reserved, or was kept before; `None` if neither is there any more, since its learner was deleted
    /// while it was measured. Then its scan goes too, unless others use it.
    ///
    /// # Errors
    /// As for [`keep_measured`](Self::keep_measured).
    pub async fn keep_awaited(&self, new: &NewMeasured) -> Result<Option<String>, StoreError> {
        let mut transaction = self.begin().await?;
        let awaited = "SELECT count(*) FROM (SELECT identity FROM reserved_numbers WHERE identity = $1 \
                       UNION ALL SELECT identity FROM attempts WHERE identity = $1) AS found";
        let n: i64 = sql(awaited).bind(&new.identity).value(&mut transaction).await?;
        if n == 0 {
            doom(&mut transaction, &new.scans.0).await?;
            self.finish(transaction, &mut Removed::default()).await?;
            return Ok(None);
        }
        let id = insert_measured(&mut transaction, new).await?;
        audit(&mut transaction, "class", "attempt kept", &id).await?;
        transaction.commit().await?;
        Ok(Some(id))
    }

    /// The attempt of an identity, if this version of the program measured or refused it.
    ///
    /// # Errors
    /// The database fails.
    pub async fn settled(&self, identity: &str, version: &str) -> Result<Option<Settled>, StoreError> {
        let select =
            "SELECT id, exercise_version, error_text FROM attempts WHERE identity = $1 AND settled_by = $2";
        sql(select).bind(identity).bind(version).row_if_any(&self.pool).await
    }

    /// The attempts of a class, by day and order of coming.
    ///
    /// # Errors
    /// The database fails.
    pub async fn class_attempts(&self, chosen: &Chosen) -> Result<Vec<ClassAttempt>, StoreError> {
        let query = sql(format!(
            "SELECT attempts.id, number, learner, session, instructor, exercise, exercise_version, stage, fdi, \
             coalesce(taken, held, substr(attempts.created, 1, 10)) AS taken, state, error_text, {LATEST} AS version \
             FROM attempts LEFT JOIN lab_sessions ON lab_sessions.code = session WHERE "
        ));
        // Attempts of one run come in whatever order they were done.
        let order =
            " ORDER BY coalesce(taken, held, substr(attempts.created, 1, 10)), learner NULLS FIRST, number";
        chosen.condition(query).push(order).rows(&self.pool).await
    }

    /// The readings of the latest document of each attempt of a class: those of one id, or all; the reading itself, or one part of
    /// it, or all.
    ///
    /// # Errors
    /// The database fails.
    pub async fn class_readings(
        &self,
        chosen: &Chosen,
        reading: Option<(&str, &str)>,
    ) -> Result<Vec<ReadingRow>, StoreError> {
        let mut query = chosen.condition(sql(format!(
            "SELECT readings.* FROM attempts JOIN readings ON readings.attempt = attempts.id \
             AND readings.version = {LATEST} WHERE "
        )));
        if let Some((reading, part)) = reading {
            query = query.push(" AND reading = ").push_bind(reading).push(" AND part = ").push_bind(part);
        }
        query.push(" ORDER BY number, reading, part").rows(&self.pool).await
    }

    /// The latest grade of each attempt of a class.
    ///
    /// # Errors
    /// The database fails.
    pub async fn class_grades(&self, chosen: &Chosen) -> Result<Vec<GradeRow>, StoreError> {
        let query = sql(
            "SELECT grades.* FROM attempts JOIN grades ON grades.id = (SELECT id FROM grades WHERE attempt = attempts.id \
             ORDER BY created DESC, version DESC LIMIT 1) WHERE ",
        );
        chosen.condition(query).push(" ORDER BY learner NULLS FIRST, number").rows(&self.pool).await
    }
}

impl Chosen {
    fn condition(&self, query: Query) -> Query {
        let mut query = query.push("true");
        for (column, wanted) in [
            (" AND attempts.learner = ", &self.learner),
            (" AND attempts.session = ", &self.session),
            (" AND attempts.exercise = ", &self.exercise),
            (" AND attempts.stage = ", &self.stage),
        ] {
            if let Some(wanted) = wanted {
                query = query.push(column).push_bind(wanted);
            }
        }
        if let Some(cohort) = &self.cohort {
            query = query.push(" AND attempts.learner IN (SELECT learner FROM members WHERE cohort = ");
            query = query.push_bind(cohort).push(")");
        }
        query
    }
}

/// Inserts an attempt with all that came of it, or brings the same one up to date.
pub(crate) async fn insert_measured(
    transaction: &mut Transaction,
    new: &NewMeasured,
) -> Result<String, StoreError> {
    let (after, before, opposing) = &new.scans;
    let insert = format!(
        "INSERT INTO attempts (number, identity, after, before, opposing, request, fdi, learner, session, \
         exercise, exercise_version, stage, taken) VALUES (\
         coalesce((SELECT number FROM reserved_numbers WHERE identity = $1), {NEXT_NUMBER}), \
         $1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12) \
         ON CONFLICT (identity) DO UPDATE SET session = coalesce(excluded.session, attempts.session), \
         exercise_version = excluded.exercise_version, taken = coalesce(excluded.taken, attempts.taken) \
         RETURNING id"
    );
    let id: String = sql(insert)
        .bind(&new.identity)
        .bind(after)
        .bind(before)
        .bind(opposing)
        .bind(&new.request)
        .bind(i64::from(new.fdi))
        .bind(&new.learner)
        .bind(&new.session)
        .bind(&new.exercise)
        .bind(&new.exercise_version)
        .bind(&new.stage)
        .bind(&new.taken)
        .value(&mut *transaction)
        .await?;
    let delete = "DELETE FROM reserved_numbers WHERE identity = $1";
    sql(delete).bind(&new.identity).run(&mut *transaction).await?;
    let refusal = match &new.outcome {
        Measured::Done { layout, document, grade } => {
            insert_document(&mut *transaction, &id, &new.version, layout, document).await?;
            if let Some(grade) = grade {
                insert_grade(transaction, &id, grade).await?;
            }
            None
        }
        Measured::Refused { code, text } => Some((code, text)),
    };
    let update = "UPDATE attempts SET state = $1, error_code = $2, error_text = $3, settled_by = $4, \
                  finished = utc_now() WHERE id = $5";
    sql(update)
        .bind(if refusal.is_none() { "done" } else { "refused" })
        .bind(refusal.map(|refusal| refusal.0))
        .bind(refusal.map(|refusal| refusal.1))
        .bind(&new.version)
        .bind(&id)
        .run(&mut *transaction)
        .await?;
    Ok(id)
}
