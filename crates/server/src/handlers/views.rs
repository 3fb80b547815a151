//! What is shown of a measured attempt.

use std::sync::Arc;

use axum::Json;
use axum::extract::{Path, State};
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Response};
use kerfwright_view::gauge::{GaugeAnswer, GaugeFault, GaugeWish, gauge as push};
use kerfwright_view::movement::MovementAnswer;
use kerfwright_view::ring::{RingAnswer, ring as unroll};
use kerfwright_view::section::{Section, SectionWish, section as cut};
use kerfwright_view::spot::{Spot, spot};
use kerfwright_view::{View, Which};
use nalgebra::Point3;
use serde::Deserialize;

use super::scans::{glb, is_known};
use super::{Asked, Sent};
use crate::app::{App, key_of};
use crate::error::ApiError;
use crate::scene;
use crate::wire::Scene;

/// What the maps' limits are taken from.
#[derive(Debug, Deserialize, utoipa::IntoParams)]
pub struct Held {
    /// Name of an exercise; that of the attempt where nothing is said.
    exercise: Option<String>,
    /// Its stage; that of the attempt, else the last.
    stage: Option<String>,
}

/// A point.
#[derive(Debug, Deserialize, utoipa::IntoParams)]
pub struct At {
    /// Screen frame, mm.
    x: f64,
    /// Screen frame, mm.
    y: f64,
    /// Screen frame, mm.
    z: f64,
}

/// Bodies, maps with their colours, best views, directions, finish line.
#[utoipa::path(get, path = "/api/v1/attempts/{id}/scene", params(("id" = String, Path), Held),
    responses((status = 200, body = Scene), (status = 404, body = crate::wire::ErrorAnswer),
              (status = 409, body = crate::wire::ErrorAnswer)))]
pub async fn scene(
    State(app): State<App>,
    Path(id): Path<String>,
    Asked(held): Asked<Held>,
) -> Result<Json<Scene>, ApiError> {
    let measured = app.measured(&id).await?;
    let (_, request) = app.attempt(&id).await?;
    let of_attempt = held.exercise.is_none();
    let stage = held.stage.or(request.stage.filter(|_| of_attempt));
    let exercise = match held.exercise.or(request.exercise) {
        Some(name) => Some(app.exercise(&name).await?),
        None => None,
    };
    let stage = exercise.as_ref().and_then(|exercise| exercise.stage(stage.as_deref()));
    Ok(Json(scene::scene(&*measured.view()?, measured.target(), stage)))
}

/// A body as glTF binary: `after.glb` with its maps, `before.glb`, `opposing.glb`, `target.glb`.
#[utoipa::path(get, path = "/api/v1/attempts/{id}/{body}", params(("id" = String, Path), ("body" = String, Path)),
    responses((status = 200, content_type = "model/gltf-binary"), (status = 404, body = crate::wire::ErrorAnswer),
              (status = 409, body = crate::wire::ErrorAnswer)))]
pub async fn body(
    State(app): State<App>,
    Path((id, body)): Path<(String, String)>,
    headers: HeaderMap,
) -> Result<Response, ApiError> {
    let which = Which::ALL.into_iter().find(|which| body == format!("{}.glb", which.id()));
    let which = which.ok_or_else(|| ApiError::missing("address"))?;
    let view = app.measured(&id).await?.view()?;
    view.body(which).ok_or_else(|| ApiError::missing("body"))?;
    let (_, request) = app.attempt(&id).await?;
    let tag = format!("\"{}-{}-{}\"", key_of(&request), which.id(), view.maps.len());
    if is_known(&headers, &tag) {
        return Ok(StatusCode::NOT_MODIFIED.into_response());
    }
    let bytes = tokio::task::spawn_blocking(move || view.glb(which)).await?;
    Ok(glb(bytes.unwrap_or_default(), tag))
}

/// What is known at the closest point of the after scan.
#[utoipa::path(get, path = "/api/v1/attempts/{id}/value", params(("id" = String, Path), At),
    responses((status = 200, body = Spot), (status = 404, body = crate::wire::ErrorAnswer),
              (status = 409, body = crate::wire::ErrorAnswer), (status = 422, body = crate::wire::ErrorAnswer)))]
pub async fn value(
    State(app): State<App>,
    Path(id): Path<String>,
    Asked(at): Asked<At>,
) -> Result<Json<Spot>, ApiError> {
    let view = app.measured(&id).await?.view()?;
    if ![at.x, at.y, at.z].iter().all(|value| value.is_finite()) {
        return Err(ApiError::wrong("point", "this is no point; tap on the model"));
    }
    let found = spot(&view, &Point3::new(at.x, at.y, at.z));
    found.map(Json).ok_or_else(|| ApiError::missing("surface near this point"))
}

/// A plane through all bodies.
#[utoipa::path(post, path = "/api/v1/attempts/{id}/section", params(("id" = String, Path)), request_body = SectionWish,
    responses((status = 200, body = Section), (status = 404, body = crate::wire::ErrorAnswer),
              (status = 409, body = crate::wire::ErrorAnswer), (status = 422, body = crate::wire::ErrorAnswer)))]
pub async fn section(
    State(app): State<App>,
    Path(id): Path<String>,
    Sent(wish): Sent<SectionWish>,
) -> Result<Json<Section>, ApiError> {
    let found = compute(&app, &id, move |view| cut(view, &wish)).await?;
    found
        .map(Json)
        .ok_or_else(|| ApiError::wrong("plane", "this is no plane; give a point and a normal that is not 0"))
}

/// A round bar, pushed until it no longer fits.
#[utoipa::path(post, path = "/api/v1/attempts/{id}/gauge", params(("id" = String, Path)), request_body = GaugeWish,
    responses((status = 200, body = GaugeAnswer), (status = 404, body = crate::wire::ErrorAnswer),
              (status = 409, body = crate::wire::ErrorAnswer), (status = 422, body = crate::wire::ErrorAnswer)))]
pub async fn gauge(
    State(app): State<App>,
    Path(id): Path<String>,
    Sent(wish): Sent<GaugeWish>,
) -> Result<Json<GaugeAnswer>, ApiError> {
    compute(&app, &id, move |view| push(view, &wish)).await?.map(Json).map_err(|fault| match fault {
        GaugeFault::Wish => ApiError::wrong(
            "gauge",
            "the gauge cannot be pushed like this; give a point, a direction across the gap, a width from 0.1 to 6 mm and a \
             length up to 40 mm",
        ),
        GaugeFault::NoOpposing => {
            ApiError::wrong("gauge", "there is no opposing scan to push the gauge under; give it too, or push it beside a neighbour")
        }
    })
}

/// The finish line, unrolled.
#[utoipa::path(get, path = "/api/v1/attempts/{id}/ring", params(("id" = String, Path)),
    responses((status = 200, body = RingAnswer), (status = 404, body = crate::wire::ErrorAnswer),
              (status = 409, body = crate::wire::ErrorAnswer)))]
pub async fn ring(State(app): State<App>, Path(id): Path<String>) -> Result<Json<RingAnswer>, ApiError> {
    let measured = app.measured(&id).await?;
    Ok(Json(unroll(&*measured.view()?, &measured.document()?.document)))
}

/// How the jaw moves.
#[utoipa::path(get, path = "/api/v1/attempts/{id}/movements", params(("id" = String, Path)),
    responses((status = 200, body = Vec<MovementAnswer>), (status = 404, body = crate::wire::ErrorAnswer),
              (status = 409, body = crate::wire::ErrorAnswer)))]
pub async fn movements(
    State(app): State<App>,
    Path(id): Path<String>,
) -> Result<Json<Vec<MovementAnswer>>, ApiError> {
    Ok(Json(app.measured(&id).await?.movements()?.clone()))
}

/// Asks the core something about a view, off the threads that answer others.
async fn compute<T: Send + 'static>(
    app: &App,
    id: &str,
    question: impl FnOnce(&View) -> T + Send + 'static,
) -> Result<T, ApiError> {
    let view: Arc<View> = app.measured(id).await?.view()?;
    Ok(tokio::task::spawn_blocking(move || question(&view)).await?)
}
