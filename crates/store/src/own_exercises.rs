//! Exercises of one's own, beside the shipped ones.

use sqlx::FromRow;

use crate::sql::sql;
use crate::store::audit;
use crate::{Store, StoreError};

/// A kept exercise.
#[derive(Debug, Clone, PartialEq, Eq, FromRow)]
pub struct OwnExerciseRow {
    /// By which it is called; it never means another text.
    pub name: String,
    /// Name of the file that it came as.
    pub file: String,
    /// The file.
    pub text: String,
}

impl Store {
    /// Keeps an exercise; the same again is no new one.
    ///
    /// # Errors
    /// The database fails.
    pub async fn keep_own_exercise(&self, row: &OwnExerciseRow) -> Result<(), StoreError> {
        let insert =
            "INSERT INTO own_exercises (name, file, text) VALUES ($1, $2, $3) ON CONFLICT (name) DO NOTHING";
        let mut transaction = self.begin().await?;
        sql(insert).bind(&row.name).bind(&row.file).bind(&row.text).run(&mut transaction).await?;
        audit(&mut transaction, self.who(), "exercise kept", &row.name).await?;
        transaction.commit().await?;
        Ok(())
    }

    /// One exercise.
    ///
    /// # Errors
    /// The database fails.
    pub async fn own_exercise(&self, name: &str) -> Result<Option<OwnExerciseRow>, StoreError> {
        let select = "SELECT name, file, text FROM own_exercises WHERE name = $1";
        sql(select).bind(name).row_if_any(&self.pool).await
    }

    /// All, the newest first.
    ///
    /// # Errors
    /// The database fails.
    pub async fn own_exercises(&self) -> Result<Vec<OwnExerciseRow>, StoreError> {
        let select = "SELECT name, file, text FROM own_exercises ORDER BY created DESC, name";
        sql(select).rows(&self.pool).await
    }
}
