//! Exercises: the shipped ones, and those that were put beside them.

use axum::Json;
use axum::body::Bytes;
use axum::extract::rejection::BytesRejection;
use axum::extract::{Path, State};
use axum::http::StatusCode;
use kerfwright_exercise::{Exercise, Shelf, library, read};
use kerfwright_store::OwnExerciseRow;
use kerfwright_tooth::Tooth;
use serde::Deserialize;

use super::Asked;
use crate::accounts::Person;
use crate::app::App;
use crate::error::ApiError;
use crate::wire::{AttemptRequest, ExerciseSummary, StageSummary};

/// Length of the part of the content's hash that stands in an own exercise's name.
const HASH_LETTERS: usize = 10;

/// What comes with an exercise's text.
#[derive(Debug, Deserialize, utoipa::IntoParams)]
pub struct Upload {
    /// Name of the file.
    name: Option<String>,
}

/// Those that can be used: own ones first, then the shipped.
#[utoipa::path(get, path = "/api/v1/exercises", responses((status = 200, body = Vec<ExerciseSummary>)))]
pub async fn list(State(app): State<App>) -> Result<Json<Vec<ExerciseSummary>>, ApiError> {
    let own = app.store().own_exercises().await?;
    let own = own.iter().filter_map(|row| Some(summary(&parsed(row).ok()?, true)));
    let shipped = library::exercise_names().filter_map(library::exercise);
    Ok(Json(own.chain(shipped.map(|exercise| summary(&exercise, false))).collect()))
}

/// One with its stages, criteria, limits and their sources.
#[utoipa::path(get, path = "/api/v1/exercises/{name}", params(("name" = String, Path)),
    responses((status = 200, body = Object, description = "as docs/exercise.schema.json has it, all inheritance resolved"),
              (status = 404, body = crate::wire::ErrorAnswer)))]
pub async fn one(State(app): State<App>, Path(name): Path<String>) -> Result<Json<Exercise>, ApiError> {
    app.exercise(&name).await.map(Json)
}

/// Takes in an exercise of one's own: the text of an exercise file (TOML), which may inherit from shipped ones. It is called by its
/// name with a part of its hash, so that a changed file is another exercise and what was held against the first stays as it was.
#[utoipa::path(post, path = "/api/v1/exercises", params(Upload),
    request_body(content = String, content_type = "text/plain"),
    responses((status = 201, body = ExerciseSummary), (status = 422, body = crate::wire::ErrorAnswer)))]
pub async fn add(
    State(app): State<App>,
    person: Person,
    Asked(upload): Asked<Upload>,
    body: Result<Bytes, BytesRejection>,
) -> Result<(StatusCode, Json<ExerciseSummary>), ApiError> {
    let file = super::scans::file_name(upload.name.as_deref().unwrap_or("exercise"));
    let text = body.ok().and_then(|bytes| String::from_utf8(bytes.to_vec()).ok()).ok_or_else(|| {
        ApiError::wrong("exercise", format!("{file}: is no text in UTF-8, or broke off; save it as UTF-8"))
    })?;
    let read = read(&file, &text, &Shelf::library());
    let exercise =
        read.map_err(|faults| ApiError::wrong("exercise", faults.to_string().replace('\n', "; ")))?;
    let hash = kerfwright_measure::attempt::sha256(text.as_bytes());
    let name = format!("{}-{}", exercise.name, &hash[..HASH_LETTERS]);
    let row = OwnExerciseRow { name: name.clone(), file, text };
    person.store(&app).keep_own_exercise(&row).await?;
    Ok((StatusCode::CREATED, Json(summary(&Exercise { name, ..exercise }, true))))
}

impl App {
    /// An exercise by its name, shipped or own.
    pub(crate) async fn exercise(&self, name: &str) -> Result<Exercise, ApiError> {
        if let Some(exercise) = library::exercise(name) {
            return Ok(exercise);
        }
        let row = self.store().own_exercise(name).await?.ok_or_else(|| ApiError::missing("exercise"))?;
        parsed(&row)
    }

    /// The exercise of an attempt, if it has one.
    pub(crate) async fn exercise_of(&self, request: &AttemptRequest) -> Result<Option<Exercise>, ApiError> {
        match &request.exercise {
            Some(name) => self.exercise(name).await.map(Some),
            None => Ok(None),
        }
    }
}

fn parsed(row: &OwnExerciseRow) -> Result<Exercise, ApiError> {
    let read = read(&row.file, &row.text, &Shelf::library());
    let exercise = read.map_err(|faults| ApiError::wrong("exercise", faults.to_string()))?;
    Ok(Exercise { name: row.name.clone(), ..exercise })
}

fn summary(exercise: &Exercise, is_own: bool) -> ExerciseSummary {
    let stages = exercise.stages.iter();
    ExerciseSummary {
        name: exercise.name.clone(),
        title: exercise.title.clone(),
        summary: exercise.summary.clone(),
        teeth: exercise.teeth_text(),
        fdi: Tooth::all().filter(|tooth| exercise.is_for(*tooth)).map(Tooth::fdi).collect(),
        stages: stages
            .map(|stage| StageSummary { id: stage.id.clone(), title: stage.title.clone() })
            .collect(),
        is_own,
    }
}
