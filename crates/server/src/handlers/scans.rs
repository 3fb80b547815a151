//! Scans: taken in, told apart, shown.

use std::sync::Arc;
use std::time::{Duration, Instant};

use axum::Json;
use axum::body::{Body, Bytes, HttpBody};
use axum::extract::{Path, State};
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::{IntoResponse, Response};
use kerfwright_batch::scan_row;
use kerfwright_measure::ScanFile;
use kerfwright_mesh::Extent;
use kerfwright_store::ScanRow;
use kerfwright_view::guess_roles;
use kerfwright_view::view::scan_glb;
use serde::Deserialize;
use tokio::sync::SemaphorePermit;

use super::{Asked, Sent};
use crate::accounts::{Person, Running};
use crate::app::App;
use crate::error::ApiError;
use crate::receive::receive;
use crate::wire::{ExtentName, RoleAnswer, RolesRequest, ScanAnswer};

/// What comes with a scan's bytes.
#[derive(Debug, Deserialize, utoipa::IntoParams)]
pub struct Upload {
    /// Name of the file.
    name: Option<String>,
    /// How much of the mouth it shows, where the user says so; else an arch or a part of one.
    extent: Option<ExtentName>,
}

/// Takes in a scan: STL, PLY or OBJ, gzip-compressed or not, in millimetres. The same bytes again are the same scan.
#[utoipa::path(post, path = "/api/v1/scans", params(Upload),
    request_body(content = Vec<u8>, content_type = "application/octet-stream"),
    responses((status = 201, body = ScanAnswer), (status = 413, body = crate::wire::ErrorAnswer),
              (status = 422, body = crate::wire::ErrorAnswer)))]
pub async fn add(
    State(app): State<App>,
    person: Person,
    Asked(upload): Asked<Upload>,
    body: Body,
) -> Result<(StatusCode, Json<ScanAnswer>), ApiError> {
    let name = file_name(upload.name.as_deref().unwrap_or_default());
    let most = app.0.config.upload_bytes;
    let _running = begin(&app, &person)?;
    let _room = room(&app, body.size_hint().upper(), most).await?;
    let bytes = receive(body, most).await.map_err(|fault| fault.told(&name, most))?;
    let answer = take_in(&app, name.clone(), bytes, upload.extent).await?;
    person.store(&app).note_sender(&answer.id, person.only_of(), &name).await?;
    Ok((StatusCode::CREATED, Json(answer)))
}

/// Whether this person may send one more: not too many at once, and not too often.
fn begin(app: &App, person: &Person) -> Result<Option<Running>, ApiError> {
    let Some(code) = person.code() else { return Ok(None) };
    app.0.limits.uploads.take(code, Instant::now()).map_err(ApiError::too_often)?;
    let running = app.0.limits.uploading.begin(code);
    running.map(Some).ok_or_else(|| ApiError::too_often(Duration::from_secs(5)))
}

/// Room in memory for a body; it waits a while until there is some.
async fn room(app: &App, said: Option<u64>, most: usize) -> Result<SemaphorePermit<'_>, ApiError> {
    const WAIT: Duration = Duration::from_secs(30);
    let n_bytes = said.map_or(most, |said| usize::try_from(said).unwrap_or(most).min(most));
    let n_kb = u32::try_from(n_bytes.div_ceil(1024)).unwrap_or(u32::MAX);
    let permit = tokio::time::timeout(WAIT, app.0.limits.upload_room_kb.acquire_many(n_kb)).await;
    permit.map_err(|_| ApiError::too_often(WAIT))?.map_err(|_| ApiError::broken())
}

/// What is known of a scan.
#[utoipa::path(get, path = "/api/v1/scans/{id}", params(("id" = String, Path)),
    responses((status = 200, body = ScanAnswer), (status = 404, body = crate::wire::ErrorAnswer)))]
pub async fn one(
    State(app): State<App>,
    person: Person,
    Path(id): Path<String>,
) -> Result<Json<ScanAnswer>, ApiError> {
    let mut row = app.store().scan(&id).await?.ok_or_else(|| ApiError::missing("scan"))?;
    if let Some(learner) = person.only_of() {
        // The same bytes may first have come from somebody else, under another name.
        row.file = app.store().sent_as(&id, learner).await?.unwrap_or(row.file);
    }
    Ok(Json(answer(row)))
}

/// A scan in its own frame, for a first picture.
#[utoipa::path(get, path = "/api/v1/scans/{id}/mesh.glb", params(("id" = String, Path)),
    responses((status = 200, content_type = "model/gltf-binary"), (status = 404, body = crate::wire::ErrorAnswer)))]
pub async fn mesh(
    State(app): State<App>,
    Path(id): Path<String>,
    headers: HeaderMap,
) -> Result<Response, ApiError> {
    let scan = app.scan(&id).await?;
    let tag = format!("\"{}\"", scan.sha256);
    if is_known(&headers, &tag) {
        return Ok(StatusCode::NOT_MODIFIED.into_response());
    }
    let bytes = tokio::task::spawn_blocking(move || scan_glb(&scan)).await?;
    Ok(glb(bytes, tag))
}

/// Guesses which scan is after, before and opposing, and says why.
#[utoipa::path(post, path = "/api/v1/scans/roles", request_body = RolesRequest,
    responses((status = 200, body = Vec<RoleAnswer>), (status = 404, body = crate::wire::ErrorAnswer), (status = 422, body = crate::wire::ErrorAnswer)))]
pub async fn roles(
    State(app): State<App>,
    person: Person,
    Sent(request): Sent<RolesRequest>,
) -> Result<Json<Vec<RoleAnswer>>, ApiError> {
    if !(1..=3).contains(&request.scans.len()) {
        return Err(ApiError::wrong("scans", "one to three scans make an attempt: after, before, opposing"));
    }
    let mut scans: Vec<Arc<ScanFile>> = Vec::new();
    for id in &request.scans {
        person.own_scan(&app, id).await?;
        scans.push(app.scan(id).await?);
    }
    let permit = app.0.slots.clone().acquire_owned().await.map_err(|_| ApiError::broken())?;
    let guesses = tokio::task::spawn_blocking(move || {
        let _permit = permit;
        guess_roles(&scans.iter().map(Arc::as_ref).collect::<Vec<_>>())
    });
    let answers = request.scans.into_iter().zip(guesses.await?).map(|(scan, guess)| RoleAnswer {
        scan,
        role: guess.role,
        certain: guess.certain,
        because: guess.because,
    });
    Ok(Json(answers.collect()))
}

/// Reads and keeps a scan.
pub async fn take_in(
    app: &App,
    name: String,
    bytes: Bytes,
    extent: Option<ExtentName>,
) -> Result<ScanAnswer, ApiError> {
    let stated = extent.map(Extent::from);
    let (own_name, own_bytes) = (name.clone(), bytes.clone());
    let read = tokio::task::spawn_blocking(move || read_or_say(&own_name, &own_bytes, stated));
    let scan = Arc::new(read.await??);
    let row = scan_row(&scan, bytes.len());
    let kept = app.store().keep_scan(&row, &bytes).await?;
    app.put_scan(&scan, stated);
    Ok(ScanAnswer { name, ..answer(kept) })
}

/// A scan, or its fault; where it would do as a die, that is said in words for people who see no command line.
fn read_or_say(name: &str, bytes: &[u8], stated: Option<Extent>) -> Result<ScanFile, ApiError> {
    let fault = match ScanFile::read_as(name, bytes, stated) {
        Ok(scan) => return Ok(scan),
        Err(error) => error.to_string(),
    };
    let may_be_die = stated.is_none() && ScanFile::read_as(name, bytes, Some(Extent::Die)).is_ok();
    let code = if may_be_die { "maybe_die" } else { "scan" };
    let told = fault
        .replace("say --extent die for the one", "say that it is a die")
        .replace("leave out --extent die", "do not call it a die");
    Err(ApiError::wrong(code, told))
}

/// Whether the browser has this already.
pub fn is_known(headers: &HeaderMap, tag: &str) -> bool {
    headers.get(header::IF_NONE_MATCH).is_some_and(|known| known.as_bytes() == tag.as_bytes())
}

/// A mesh as an answer; the browser asks each time whether it is still the same.
pub fn glb(bytes: Vec<u8>, tag: String) -> Response {
    let headers = [
        (header::CONTENT_TYPE, "model/gltf-binary".to_owned()),
        (header::CACHE_CONTROL, "no-cache".to_owned()),
        (header::ETAG, tag),
    ];
    (headers, bytes).into_response()
}

fn answer(row: ScanRow) -> ScanAnswer {
    ScanAnswer {
        id: row.id,
        name: row.file,
        bytes: row.n_bytes as u64,
        format: row.format,
        triangles: row.n_triangles as u64,
        size_mm: row.size_mm.0,
        warnings: row.findings.0,
    }
}

/// A name without folders and control characters, of a length that can be shown. It is never used as a path.
pub fn file_name(given: &str) -> String {
    let last = given.rsplit(['/', '\\']).next().unwrap_or_default();
    let name: String = last.chars().filter(|letter| !letter.is_control()).take(120).collect();
    if name.trim().is_empty() { "scan".into() } else { name.trim().into() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_lose_their_folders() {
        assert_eq!(file_name("../../etc/after.stl"), "after.stl");
        assert_eq!(file_name("C:\\scans\\after.stl"), "after.stl");
        assert_eq!(file_name("a\u{0}\nb.stl"), "ab.stl");
        assert_eq!(file_name("  "), "scan");
        assert_eq!(file_name(&"x".repeat(500)).len(), 120);
    }
}
