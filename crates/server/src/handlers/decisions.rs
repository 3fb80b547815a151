//! What instructors decide otherwise than was computed, and how an attempt stands with it.

use axum::extract::{Path, State};
use axum::http::StatusCode;
use kerfwright_batch::standing;
use kerfwright_exchange::person_code;
use kerfwright_grade::{Grade, Override};
use kerfwright_measure::Document;
use kerfwright_store::NewGrade;

use super::Sent;
use super::grade::document_of;
use crate::accounts::Person;
use crate::app::App;
use crate::error::ApiError;
use crate::wire::{AttemptRequest, DecisionRequest};

/// Keeps a decision beside the computed grade of an attempt, which stays as it is. It counts from then on, here and in every report.
#[utoipa::path(post, path = "/api/v1/attempts/{id}/decisions", params(("id" = String, Path)), request_body = DecisionRequest,
    responses((status = 204), (status = 404, body = crate::wire::ErrorAnswer), (status = 409, body = crate::wire::ErrorAnswer),
              (status = 422, body = crate::wire::ErrorAnswer)))]
pub async fn add(
    State(app): State<App>,
    person: Person,
    Path(id): Path<String>,
    Sent(request): Sent<DecisionRequest>,
) -> Result<StatusCode, ApiError> {
    let by = person.code().map_or_else(|| request.by.unwrap_or_default(), str::to_owned);
    let by = person_code(&by).map_err(|error| ApiError::wrong("decision", error.to_string()))?;
    let reason = request.reason.trim();
    if reason.chars().count() > 2000 {
        return Err(ApiError::wrong("decision", "a decision has a reason of at most 2000 characters"));
    }
    let (_, asked) = app.attempt(&id).await?;
    let document = document_of(&app, &id).await?;
    app.keep_grade(&id, &asked, document).await?;
    let (row, grade) = app.kept_grade(&id).await?.ok_or_else(|| {
        ApiError::wrong(
            "decision",
            "the attempt was measured for no exercise, so that there is no grade to decide on",
        )
    })?;
    let entry = Override { by: by.into(), reason: reason.into(), when: None, change: request.change };
    // Numbers and texts can always be written.
    let change = serde_json::to_string(&entry.change).unwrap_or_default();
    grade.overridden(entry).map_err(|error| ApiError::wrong("decision", error.to_string()))?;
    person.store(&app).add_override(&row, by, reason, &change).await?;
    Ok(StatusCode::NO_CONTENT)
}

impl App {
    /// Keeps the grade of a measured attempt for the exercise that it was measured for; without one, or where the reading of a stage
    /// is not there to grade, nothing.
    pub(crate) async fn keep_grade(
        &self,
        id: &str,
        asked: &AttemptRequest,
        document: Document,
    ) -> Result<(), ApiError> {
        let Some(exercise) = self.exercise_of(asked).await? else { return Ok(()) };
        let toml = kerfwright_exercise::to_toml(&exercise);
        let version = self.store().keep_exercise(&exercise.name, &exercise.title, &toml).await?;
        let stage = asked.stage.clone();
        let graded = tokio::task::spawn_blocking(move || {
            kerfwright_grade::grade(&document, &exercise, stage.as_deref())
        });
        let Ok(grade) = graded.await? else { return Ok(()) };
        let new = NewGrade {
            exercise_version: version,
            stage: grade.stage.id.clone(),
            version: grade.version.clone(),
            // Numbers and texts can always be written.
            grade: serde_json::to_string(&grade).unwrap_or_default(),
        };
        self.store().keep_grade(id, &new).await?;
        Ok(())
    }

    /// Id and standing of the latest kept grade of an attempt.
    pub(crate) async fn kept_grade(&self, id: &str) -> Result<Option<(String, Grade)>, ApiError> {
        let Some(row) = self.store().grades(id).await?.into_iter().next() else { return Ok(None) };
        let grade = standing(&row, &self.store().overrides(&row.id).await?)?;
        Ok(Some((row.id, grade)))
    }
}
