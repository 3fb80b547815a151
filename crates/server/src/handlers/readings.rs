//! What the readings are called: the same names and order as in the report.

use axum::Json;
use axum::extract::{Path, State};
use kerfwright_measure::{Abutments, JointDocument};
use kerfwright_report::titles;

use crate::app::App;
use crate::error::ApiError;
use crate::handlers::grade::document_of;
use crate::wire::{ReadingGroup, ReadingTitle};

/// Names of all readings of an attempt, taken or refused, in groups.
#[utoipa::path(get, path = "/api/v1/attempts/{id}/titles", params(("id" = String, Path)),
    responses((status = 200, body = Vec<ReadingGroup>), (status = 404, body = crate::wire::ErrorAnswer),
              (status = 409, body = crate::wire::ErrorAnswer)))]
pub async fn list(
    State(app): State<App>,
    Path(id): Path<String>,
) -> Result<Json<Vec<ReadingGroup>>, ApiError> {
    let (_, request) = app.attempt(&id).await?;
    let document = document_of(&app, &id).await?;
    let joint = if request.together.is_some() { app.measured(&id).await?.joint().cloned() } else { None };
    let joint = joint.and_then(|json| serde_json::from_str::<JointDocument>(&json).ok());
    let common = joint.map_or_else(Abutments::default, |joint| joint.abutments);
    let own = document.readings.keys().chain(document.refused.keys());
    let ids = own.chain(common.readings.keys()).chain(common.refused.keys()).map(String::as_str);
    Ok(Json(titles::grouped(ids).into_iter().map(group).collect()))
}

fn group((first, ids): (&str, Vec<&str>)) -> ReadingGroup {
    let (heading, about) = titles::group(first);
    let title = |id: &str| ReadingTitle { id: id.into(), title: titles::title(id) };
    ReadingGroup {
        id: first.into(),
        heading,
        about: about.into(),
        readings: ids.into_iter().map(title).collect(),
    }
}
