//! Grades with the decisions that stand beside them, and what examiners gave.

use sqlx::FromRow;

use crate::sql::{Transaction, sql};
use crate::store::audit;
use crate::{Store, StoreError};

/// A computed grade to be kept.
#[derive(Debug, Clone, PartialEq)]
pub struct NewGrade {
    /// Version of the exercise, by its id.
    pub exercise_version: String,
    /// The stage.
    pub stage: String,
    /// Version of the program.
    pub version: String,
    /// The grade as computed, JSON.
    pub grade: String,
}

/// A kept grade.
#[derive(Debug, Clone, PartialEq, FromRow)]
pub struct GradeRow {
    /// Its id.
    pub id: String,
    /// The attempt.
    pub attempt: String,
    /// Version of the exercise.
    pub exercise_version: String,
    /// The stage.
    pub stage: String,
    /// Version of the program.
    pub version: String,
    /// The grade as computed, JSON; overrides are not in it.
    pub grade: String,
    /// When it was computed.
    pub created: String,
}

/// An instructor's decision.
#[derive(Debug, Clone, PartialEq, FromRow)]
pub struct OverrideRow {
    /// The grade that it changes.
    pub grade: String,
    /// Code of who decided.
    pub by: String,
    /// Why.
    pub reason: String,
    /// What changes, JSON.
    pub change: String,
    /// When.
    pub created: String,
}

/// One value that an examiner gave.
#[derive(Debug, Clone, PartialEq, FromRow)]
pub struct RatingRow {
    /// Code of the examiner.
    pub examiner: String,
    /// Id of the attempt.
    pub attempt: String,
    /// The criterion.
    pub criterion: String,
    /// 1 the first time, 2 the second.
    pub occasion: i64,
    /// The value.
    pub value: f64,
}

impl Store {
    /// Keeps a computed grade; computing it again with the same version changes nothing, and overrides stay.
    ///
    /// # Errors
    /// The database fails, or attempt or exercise are not kept.
    pub async fn keep_grade(&self, attempt: &str, new: &NewGrade) -> Result<String, StoreError> {
        let mut transaction = self.begin().await?;
        let id = insert_grade(&mut transaction, attempt, new).await?;
        sql("UPDATE attempts SET exercise_version = $1 WHERE id = $2")
            .bind(&new.exercise_version)
            .bind(attempt)
            .run(&mut transaction)
            .await?;
        audit(&mut transaction, self.who(), "grade kept", &id).await?;
        transaction.commit().await?;
        Ok(id)
    }

    /// All grades of an attempt, the latest first.
    ///
    /// # Errors
    /// The database fails.
    pub async fn grades(&self, attempt: &str) -> Result<Vec<GradeRow>, StoreError> {
        let select = "SELECT * FROM grades WHERE attempt = $1 ORDER BY created DESC, version DESC";
        sql(select).bind(attempt).rows(&self.pool).await
    }

    /// Keeps an instructor's decision beside the grade; the computed one stays as it is.
    ///
    /// # Errors
    /// The database fails, the grade is not kept, or who or why is empty.
    pub async fn add_override(
        &self,
        grade: &str,
        by: &str,
        reason: &str,
        change: &str,
    ) -> Result<(), StoreError> {
        let mut transaction = self.begin().await?;
        insert_override(&mut transaction, grade, by, reason, change).await?;
        audit(&mut transaction, by, "grade overridden", grade).await?;
        transaction.commit().await?;
        Ok(())
    }

    /// The decisions on a grade, in the order in which they were made.
    ///
    /// # Errors
    /// The database fails.
    pub async fn overrides(&self, grade: &str) -> Result<Vec<OverrideRow>, StoreError> {
        let select =
            "SELECT grade, by, reason, change, created FROM overrides WHERE grade = $1 ORDER BY number";
        sql(select).bind(grade).rows(&self.pool).await
    }

    /// The decisions on all grades, in the order in which they were made.
    ///
    /// # Errors
    /// The database fails.
    pub async fn all_overrides(&self) -> Result<Vec<OverrideRow>, StoreError> {
        let select = "SELECT grade, by, reason, change, created FROM overrides ORDER BY number";
        sql(select).rows(&self.pool).await
    }

    /// Keeps what examiners gave, all or nothing; the same examiner, attempt, criterion and occasion again takes the new value.
    ///
    /// # Errors
    /// The database fails, or an attempt is not kept.
    pub async fn keep_ratings(&self, ratings: &[RatingRow], who: &str) -> Result<(), StoreError> {
        let insert = "INSERT INTO ratings (examiner, attempt, criterion, occasion, value) VALUES ($1, $2, $3, $4, $5) \
                      ON CONFLICT (examiner, attempt, criterion, occasion) DO UPDATE SET value = excluded.value";
        let mut transaction = self.begin().await?;
        for rating in ratings {
            sql(insert)
                .bind(&rating.examiner)
                .bind(&rating.attempt)
                .bind(&rating.criterion)
                .bind(rating.occasion)
                .bind(rating.value)
                .run(&mut transaction)
                .await?;
        }
        audit(&mut transaction, who, "ratings kept", "").await?;
        transaction.commit().await?;
        Ok(())
    }

    /// All that examiners gave, in a fixed order.
    ///
    /// # Errors
    /// The database fails.
    pub async fn ratings(&self) -> Result<Vec<RatingRow>, StoreError> {
        let select = "SELECT examiner, attempt, criterion, occasion, value FROM ratings \
                      ORDER BY criterion, attempt, examiner, occasion";
        sql(select).rows(&self.pool).await
    }
}

/// Inserts a grade, or finds the same one.
pub(crate) async fn insert_grade(
    transaction: &mut Transaction,
    attempt: &str,
    new: &NewGrade,
) -> Result<String, StoreError> {
    let insert = "INSERT INTO grades (attempt, exercise_version, stage, version, grade) VALUES ($1, $2, $3, $4, $5) \
                  ON CONFLICT (attempt, exercise_version, stage, version) DO UPDATE SET grade = excluded.grade \
                  RETURNING id";
    sql(insert)
        .bind(attempt)
        .bind(&new.exercise_version)
        .bind(&new.stage)
        .bind(&new.version)
        .bind(&new.grade)
        .value(&mut *transaction)
        .await
}

pub(crate) async fn insert_override(
    transaction: &mut Transaction,
    grade: &str,
    by: &str,
    reason: &str,
    change: &str,
) -> Result<(), StoreError> {
    sql("INSERT INTO overrides (grade, by, reason, change) VALUES ($1, $2, $3, $4)")
        .bind(grade)
        .bind(by)
        .bind(reason)
        .bind(change)
        .run(&mut *transaction)
        .await?;
    Ok(())
}
