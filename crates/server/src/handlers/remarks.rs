//! Remarks pinned to a spot.

use axum::Json;
use axum::extract::{Path, State};
use axum::http::StatusCode;
use kerfwright_exchange::person_code;
use kerfwright_store::{NewRemark, RemarkRow};
use kerfwright_view::ScreenFrame;
use kerfwright_view::view::coordinates;
use nalgebra::Point3;

use super::Sent;
use crate::accounts::Person;
use crate::app::App;
use crate::error::ApiError;
use crate::handlers::grade::document_of;
use crate::wire::{RemarkAnswer, RemarkChange, RemarkRequest};

/// The remarks on an attempt, oldest first.
#[utoipa::path(get, path = "/api/v1/attempts/{id}/remarks", params(("id" = String, Path)),
    responses((status = 200, body = Vec<RemarkAnswer>), (status = 404, body = crate::wire::ErrorAnswer)))]
pub async fn list(
    State(app): State<App>,
    Path(id): Path<String>,
) -> Result<Json<Vec<RemarkAnswer>>, ApiError> {
    let frame = frame_of(&app, &id).await?;
    let rows = app.store().remarks(&id).await?;
    Ok(Json(rows.into_iter().map(|row| answer(row, &frame)).collect()))
}

/// Pins a remark. With accounts it is the account that remarks, whatever `by` says.
#[utoipa::path(post, path = "/api/v1/attempts/{id}/remarks", params(("id" = String, Path)),
    request_body = RemarkRequest,
    responses((status = 201, body = RemarkAnswer), (status = 404, body = crate::wire::ErrorAnswer),
              (status = 422, body = crate::wire::ErrorAnswer)))]
pub async fn add(
    State(app): State<App>,
    person: Person,
    Path(id): Path<String>,
    Sent(request): Sent<RemarkRequest>,
) -> Result<(StatusCode, Json<RemarkAnswer>), ApiError> {
    let frame = frame_of(&app, &id).await?;
    check_text(&request.text)?;
    let by = match person.code() {
        Some(code) => code,
        None => person_code(&request.by).map_err(|error| ApiError::wrong("by", error.to_string()))?,
    };
    if request.at.iter().any(|value| !value.is_finite() || value.abs() > 500.0) {
        return Err(ApiError::wrong("at", "the remark has no place on the tooth; tap on the model again"));
    }
    let at = frame.screen_from_after.inverse() * Point3::from(request.at);
    let new = NewRemark { at: at.into(), text: request.text.trim().into(), author: by.to_owned() };
    let row = person.store(&app).add_remark(&id, &new).await?;
    Ok((StatusCode::CREATED, Json(answer(row, &frame))))
}

/// Rewords a remark, settles it, opens it again, or brings a removed one back.
#[utoipa::path(patch, path = "/api/v1/attempts/{id}/remarks/{remark}",
    params(("id" = String, Path), ("remark" = String, Path)), request_body = RemarkChange,
    responses((status = 200, body = RemarkAnswer), (status = 404, body = crate::wire::ErrorAnswer),
              (status = 422, body = crate::wire::ErrorAnswer)))]
pub async fn change(
    State(app): State<App>,
    person: Person,
    Path((id, remark)): Path<(String, String)>,
    Sent(change): Sent<RemarkChange>,
) -> Result<Json<RemarkAnswer>, ApiError> {
    let frame = frame_of(&app, &id).await?;
    let mut row = None;
    if let Some(text) = &change.text {
        check_text(text)?;
        row = app.store().set_remark_text(&id, &remark, text.trim()).await?;
    }
    if let Some(resolved) = change.resolved {
        row = person.store(&app).set_remark_resolved(&id, &remark, resolved).await?;
    }
    if let Some(removed) = change.removed {
        row = person.store(&app).set_remark_removed(&id, &remark, removed).await?;
    }
    row.map(|row| Json(answer(row, &frame))).ok_or_else(|| ApiError::missing("remark"))
}

/// Removes a remark; a change with `removed: false` brings it back.
#[utoipa::path(delete, path = "/api/v1/attempts/{id}/remarks/{remark}",
    params(("id" = String, Path), ("remark" = String, Path)),
    responses((status = 200, body = RemarkAnswer), (status = 404, body = crate::wire::ErrorAnswer)))]
pub async fn remove(
    State(app): State<App>,
    person: Person,
    Path((id, remark)): Path<(String, String)>,
) -> Result<Json<RemarkAnswer>, ApiError> {
    let frame = frame_of(&app, &id).await?;
    let row = person.store(&app).set_remark_removed(&id, &remark, true).await?;
    row.map(|row| Json(answer(row, &frame))).ok_or_else(|| ApiError::missing("remark"))
}

fn is_within(text: &str, most: usize) -> bool {
    (1..=most).contains(&text.trim().chars().count())
}

fn check_text(text: &str) -> Result<(), ApiError> {
    if is_within(text, 2000) {
        Ok(())
    } else {
        Err(ApiError::wrong("text", "a remark has 1 to 2000 characters"))
    }
}

/// Remarks are kept in the after scan's frame, which no later version of the program moves.
async fn frame_of(app: &App, id: &str) -> Result<ScreenFrame, ApiError> {
    app.attempt(id).await?;
    let document = document_of(app, id).await?;
    Ok(ScreenFrame::from_rows(&document.frame.tooth_from_after))
}

fn answer(row: RemarkRow, frame: &ScreenFrame) -> RemarkAnswer {
    RemarkAnswer {
        at: coordinates(&(frame.screen_from_after * Point3::new(row.x_mm, row.y_mm, row.z_mm))),
        id: row.id,
        text: row.text,
        by: row.author,
        created: row.created,
        resolved: row.resolved.is_some(),
        removed: row.removed.is_some(),
    }
}
