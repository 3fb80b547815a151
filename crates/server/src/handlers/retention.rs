//! What is to be gone.

use axum::Json;
use axum::extract::{Path, State};
use kerfwright_store::{Removed, StoreError};

use crate::accounts::Person;
use crate::app::App;
use crate::error::ApiError;
use crate::wire::RemovedAnswer;

/// Deletes a learner with all attempts, scans, grades, remarks, the name and the account. It cannot be brought back.
#[utoipa::path(delete, path = "/api/v1/class/learners/{id}", params(("id" = String, Path)),
    responses((status = 200, body = RemovedAnswer), (status = 404, body = crate::wire::ErrorAnswer)))]
pub async fn learner(
    State(app): State<App>,
    person: Person,
    Path(code): Path<String>,
) -> Result<Json<RemovedAnswer>, ApiError> {
    let removed = app.store().delete_learner(&code, person.code().unwrap_or("bench")).await;
    app.forget();
    answer(removed, "learner")
}

/// Deletes a cohort with its sessions and its learners; of learners who are in another cohort too, the attempts of these sessions.
#[utoipa::path(delete, path = "/api/v1/class/cohorts/{code}", params(("code" = String, Path)),
    responses((status = 200, body = RemovedAnswer), (status = 404, body = crate::wire::ErrorAnswer)))]
pub async fn cohort(
    State(app): State<App>,
    person: Person,
    Path(code): Path<String>,
) -> Result<Json<RemovedAnswer>, ApiError> {
    let removed = app.store().delete_cohort(&code, person.code().unwrap_or("bench")).await;
    app.forget();
    answer(removed, "cohort")
}

fn answer(removed: Result<Removed, StoreError>, what: &str) -> Result<Json<RemovedAnswer>, ApiError> {
    match removed {
        Ok(Removed { learners, attempts, scans }) => Ok(Json(RemovedAnswer { learners, attempts, scans })),
        Err(StoreError::Unknown { .. }) => Err(ApiError::missing(what)),
        Err(error) => Err(error.into()),
    }
}

impl App {
    /// Lets go of all that memory holds of scans and attempts: what was deleted must not be answered from there.
    fn forget(&self) {
        self.0.scans.clear();
        self.0.measured.clear();
        self.0
            .jobs
            .lock()
            .unwrap_or_else(std::sync::PoisonError::into_inner)
            .retain(|_, job| job.measured().is_some());
    }
}
