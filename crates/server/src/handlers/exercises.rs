//! The shipped exercises.

use axum::Json;
use axum::extract::Path;
use kerfwright_exercise::{Exercise, library};
use kerfwright_tooth::Tooth;

use crate::error::ApiError;
use crate::wire::{ExerciseSummary, StageSummary};

/// Those that can be used.
#[utoipa::path(get, path = "/api/v1/exercises", responses((status = 200, body = Vec<ExerciseSummary>)))]
pub async fn list() -> Json<Vec<ExerciseSummary>> {
    let exercises = library::exercise_names().filter_map(library::exercise);
    Json(exercises.map(|exercise| entry(&exercise)).collect())
}

/// One with its stages, criteria, limits and their sources.
#[utoipa::path(get, path = "/api/v1/exercises/{name}", params(("name" = String, Path)),
    responses((status = 200, body = Object, description = "as docs/exercise.schema.json has it, all inheritance resolved"),
              (status = 404, body = crate::wire::ErrorAnswer)))]
pub async fn one(Path(name): Path<String>) -> Result<Json<Exercise>, ApiError> {
    shipped(&name).map(Json)
}

/// A shipped exercise by its name.
pub fn shipped(name: &str) -> Result<Exercise, ApiError> {
    library::exercise(name).ok_or_else(|| ApiError::missing("exercise"))
}

fn entry(exercise: &Exercise) -> ExerciseSummary {
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
    }
}
