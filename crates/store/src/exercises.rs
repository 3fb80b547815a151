//! Exercises, each version by what it asks.

use sqlx::FromRow;

use crate::hash::sha256;
use crate::sql::sql;
use crate::{Store, StoreError};

/// One version of an exercise.
#[derive(Debug, Clone, PartialEq, Eq, FromRow)]
pub struct ExerciseRow {
    /// SHA-256 of the text.
    pub id: String,
    /// Its name.
    pub name: String,
    /// What people call it.
    pub title: String,
    /// Complete TOML, without inheritance.
    pub toml: String,
    /// When this version first came.
    pub created: String,
}

impl Store {
    /// Keeps an exercise and gives the id of this version. The same text again is no new version.
    ///
    /// # Errors
    /// The database fails.
    pub async fn keep_exercise(&self, name: &str, title: &str, toml: &str) -> Result<String, StoreError> {
        let id = sha256(toml.as_bytes());
        let insert = "INSERT INTO exercise_versions (id, name, title, toml) VALUES ($1, $2, $3, $4) ON CONFLICT DO NOTHING";
        sql(insert).bind(&id).bind(name).bind(title).bind(toml).run(&self.pool).await?;
        Ok(id)
    }

    /// One version.
    ///
    /// # Errors
    /// The database fails.
    pub async fn exercise(&self, id: &str) -> Result<Option<ExerciseRow>, StoreError> {
        let select = "SELECT * FROM exercise_versions WHERE id = $1";
        sql(select).bind(id).row_if_any(&self.pool).await
    }

    /// All versions, by name, the oldest first.
    ///
    /// # Errors
    /// The database fails.
    pub async fn exercises(&self) -> Result<Vec<ExerciseRow>, StoreError> {
        let select = "SELECT * FROM exercise_versions ORDER BY name, created, id";
        sql(select).rows(&self.pool).await
    }
}
