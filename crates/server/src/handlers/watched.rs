//! What came from the watched folder.

use std::sync::PoisonError;

use axum::Json;
use axum::extract::State;
use serde::Deserialize;

use super::Asked;
use crate::app::App;
use crate::error::ApiError;
use crate::wire::WatchedAnswer;

/// What is known already.
#[derive(Debug, Deserialize, utoipa::IntoParams)]
pub struct Query {
    /// Only what came after this number; all where nothing is said.
    after: Option<usize>,
}

/// The files that came since the start, oldest first.
#[utoipa::path(get, path = "/api/v1/watched", params(Query), responses((status = 200, body = Vec<WatchedAnswer>)))]
pub async fn list(
    State(app): State<App>,
    Asked(query): Asked<Query>,
) -> Result<Json<Vec<WatchedAnswer>>, ApiError> {
    let watched = app.0.watched.lock().unwrap_or_else(PoisonError::into_inner);
    Ok(Json(watched.iter().skip(query.after.unwrap_or(0)).cloned().collect()))
}
