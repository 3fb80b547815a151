//! Attempts: begun, watched, stopped, read.

use std::convert::Infallible;

use axum::Json;
use axum::extract::{Path, State};
use axum::http::{StatusCode, header};
use axum::response::sse::{Event, KeepAlive, Sse};
use axum::response::{IntoResponse, Response};
use kerfwright_exchange::person_code;
use kerfwright_store::{AttemptRow, NewAttempt, State as Kept};

use super::Sent;
use crate::accounts::Person;
use crate::app::{App, request_of};
use crate::error::ApiError;
use crate::wire::{AttemptAnswer, AttemptEvent, AttemptRequest, AttemptState, Created, ErrorBody};
use crate::wishes::{each_tooth, requests_for, tooth_of};

/// Most attempts in a list.
const MOST: u32 = 500;

/// Begins to measure an attempt; where several teeth are named, one attempt a tooth.
#[utoipa::path(post, path = "/api/v1/attempts", request_body = AttemptRequest,
    responses((status = 201, body = Created), (status = 404, body = crate::wire::ErrorAnswer),
              (status = 422, body = crate::wire::ErrorAnswer)))]
pub async fn add(
    State(app): State<App>,
    person: Person,
    Sent(mut request): Sent<AttemptRequest>,
) -> Result<(StatusCode, Json<Created>), ApiError> {
    if let Some(own) = person.only_of() {
        if request.learner.as_deref().is_some_and(|learner| learner != own) {
            return Err(ApiError::wrong(
                "learner",
                "a learner measures own attempts alone; leave the code out",
            ));
        }
        request.learner = Some(own.to_owned());
    }
    let requests = each_tooth(request)?;
    for request in &requests {
        check(&app, &person, request).await?;
    }
    let mut ids = Vec::new();
    for request in requests {
        let new = NewAttempt {
            scans: (request.after.clone(), request.before.clone(), request.opposing.clone()),
            // Names and numbers can always be written.
            request: serde_json::to_string(&request).unwrap_or_default(),
            fdi: tooth_of(&request)?.tooth.fdi(),
            learner: request.learner.clone(),
            exercise: request.exercise.clone().map(|exercise| (exercise, request.stage.clone())),
        };
        let id = person.store(&app).add_attempt(&new).await?;
        app.start(&id, request);
        ids.push(id);
    }
    let others = ids.split_off(1);
    Ok((StatusCode::CREATED, Json(Created { id: ids.remove(0), others })))
}

/// The latest attempts that one may see, newest first.
#[utoipa::path(get, path = "/api/v1/attempts", responses((status = 200, body = Vec<AttemptAnswer>)))]
pub async fn list(State(app): State<App>, person: Person) -> Result<Json<Vec<AttemptAnswer>>, ApiError> {
    let rows = match person.only_of() {
        Some(learner) => app.store().attempts_of(learner, MOST).await?,
        None => app.store().attempts(MOST).await?,
    };
    rows.into_iter().map(|row| answer(&app, row)).collect::<Result<_, _>>().map(Json)
}

/// How far an attempt has come.
#[utoipa::path(get, path = "/api/v1/attempts/{id}", params(("id" = String, Path)),
    responses((status = 200, body = AttemptAnswer), (status = 404, body = crate::wire::ErrorAnswer)))]
pub async fn one(State(app): State<App>, Path(id): Path<String>) -> Result<Json<AttemptAnswer>, ApiError> {
    let row = app.store().attempt(&id).await?.ok_or_else(|| ApiError::missing("attempt"))?;
    answer(&app, row).map(Json)
}

/// What happens to an attempt, from its beginning on, as server-sent events. The last is `done`, `refused` or `cancelled`.
#[utoipa::path(get, path = "/api/v1/attempts/{id}/events", params(("id" = String, Path)),
    responses((status = 200, body = AttemptEvent, content_type = "text/event-stream"),
              (status = 404, body = crate::wire::ErrorAnswer)))]
pub async fn events(State(app): State<App>, Path(id): Path<String>) -> Result<Response, ApiError> {
    let row = app.store().attempt(&id).await?.ok_or_else(|| ApiError::missing("attempt"))?;
    let job = app.job(&id);
    let stream = async_stream::stream! {
        let Some(job) = job else {
            // It ended before the program was started.
            yield Ok::<_, Infallible>(event(&last_event(&row)));
            return;
        };
        let (mut count, mut told) = (job.subscribe(), 0);
        loop {
            for next in job.events(told) {
                told += 1;
                yield Ok(event(&next));
                if !matches!(next, AttemptEvent::Stage { .. }) {
                    return;
                }
            }
            if count.wait_for(|n_events| *n_events > told).await.is_err() {
                return;
            }
        }
    };
    Ok(Sse::new(stream).keep_alive(KeepAlive::default()).into_response())
}

/// Asks an attempt to stop; it does so after the stage at hand.
#[utoipa::path(post, path = "/api/v1/attempts/{id}/cancel", params(("id" = String, Path)),
    responses((status = 202), (status = 404, body = crate::wire::ErrorAnswer)))]
pub async fn cancel(State(app): State<App>, Path(id): Path<String>) -> Result<StatusCode, ApiError> {
    app.store().attempt(&id).await?.ok_or_else(|| ApiError::missing("attempt"))?;
    if let Some(job) = app.job(&id) {
        job.cancel();
    }
    Ok(StatusCode::ACCEPTED)
}

/// The measurement document, byte for byte as `kerf measure --json` writes it.
#[utoipa::path(get, path = "/api/v1/attempts/{id}/document", params(("id" = String, Path)),
    responses((status = 200, body = Object, description = "as docs/measurement.schema.json has it"),
              (status = 404, body = crate::wire::ErrorAnswer), (status = 409, body = crate::wire::ErrorAnswer)))]
pub async fn document(State(app): State<App>, Path(id): Path<String>) -> Result<Response, ApiError> {
    let json = match app.store().document(&id).await? {
        Some(json) => json,
        None => app.measured(&id).await?.document()?.json.clone(),
    };
    Ok(([(header::CONTENT_TYPE, "application/json")], json).into_response())
}

/// What all teeth that were named together have in common, with the document of each, byte for byte as `kerf measure --json` writes
/// it for several teeth.
#[utoipa::path(get, path = "/api/v1/attempts/{id}/joint", params(("id" = String, Path)),
    responses((status = 200, body = Object, description = "as docs/measurement.schema.json has it"),
              (status = 404, body = crate::wire::ErrorAnswer), (status = 409, body = crate::wire::ErrorAnswer)))]
pub async fn joint(State(app): State<App>, Path(id): Path<String>) -> Result<Response, ApiError> {
    let measured = app.measured(&id).await?;
    measured.document()?;
    let json =
        measured.joint().ok_or_else(|| ApiError::missing("joint document: one tooth was named alone"))?;
    Ok(([(header::CONTENT_TYPE, "application/json")], json.clone()).into_response())
}

async fn check(app: &App, person: &Person, request: &AttemptRequest) -> Result<(), ApiError> {
    requests_for(request)?;
    for id in [Some(&request.after), request.before.as_ref(), request.opposing.as_ref()].into_iter().flatten()
    {
        person.own_scan(app, id).await?;
        app.store().scan(id).await?.ok_or_else(|| ApiError::missing("scan"))?;
    }
    if let Some(name) = &request.exercise {
        let exercise = app.exercise(name).await?;
        if request.stage.is_some() && exercise.stage(request.stage.as_deref()).is_none() {
            return Err(ApiError::missing("stage"));
        }
    }
    if let Some(learner) = request.learner.as_deref().filter(|code| !code.trim().is_empty()) {
        person_code(learner).map_err(|error| ApiError::wrong("learner", error.to_string()))?;
    }
    if request.mesial_point.is_some_and(|point| point.iter().any(|value| !value.is_finite())) {
        return Err(ApiError::wrong("mesial_point", "the mesial point is no point; tap on the model again"));
    }
    Ok(())
}

fn answer(app: &App, row: AttemptRow) -> Result<AttemptAnswer, ApiError> {
    let request = request_of(&row)?;
    let state = state_of(&row);
    let stage = app.job(&row.id).and_then(|job| job.stage()).filter(|_| state == AttemptState::Running);
    Ok(AttemptAnswer {
        error: error_of(&row),
        id: row.id,
        state,
        stage,
        request,
        fdi: u8::try_from(row.fdi).unwrap_or(0),
        created: row.created,
    })
}

fn state_of(row: &AttemptRow) -> AttemptState {
    state_named(&row.state)
}

/// The state with a name in the database.
pub fn state_named(id: &str) -> AttemptState {
    match Kept::from_id(id) {
        Kept::Waiting => AttemptState::Waiting,
        Kept::Running => AttemptState::Running,
        Kept::Done => AttemptState::Done,
        Kept::Refused => AttemptState::Refused,
        Kept::Cancelled => AttemptState::Cancelled,
    }
}

fn error_of(row: &AttemptRow) -> Option<ErrorBody> {
    let (code, message) = (row.error_code.clone()?, row.error_text.clone()?);
    Some(ErrorBody { code, message })
}

fn last_event(row: &AttemptRow) -> AttemptEvent {
    match (state_of(row), error_of(row)) {
        (AttemptState::Done, _) => AttemptEvent::Done { elapsed_ms: 0.0 },
        (_, Some(error)) => AttemptEvent::Refused(error),
        _ => AttemptEvent::Cancelled,
    }
}

fn event(event: &AttemptEvent) -> Event {
    let name = match event {
        AttemptEvent::Stage { .. } => "stage",
        AttemptEvent::Done { .. } => "done",
        AttemptEvent::Refused(_) => "refused",
        AttemptEvent::Cancelled => "cancelled",
    };
    // Names and numbers can always be written.
    Event::default().event(name).data(serde_json::to_string(event).unwrap_or_default())
}
