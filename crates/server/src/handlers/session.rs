//! Signing in and out, and the own password.

use std::net::SocketAddr;

use axum::extract::{ConnectInfo, Request, State};
use axum::http::header::SET_COOKIE;
use axum::http::{HeaderMap, HeaderValue, StatusCode};
use axum::{Extension, Json};

use super::Sent;
use crate::accounts::wire::{OwnPasswordRequest, SessionAnswer, SignInRequest};
use crate::accounts::{Person, clear_cookie, set_password, sign_in, token_of};
use crate::app::App;
use crate::error::ApiError;

type WithCookie<T> = (StatusCode, [(axum::http::HeaderName, HeaderValue); 1], T);
/// Where a request came from; unknown where there is no network.
pub type From = Option<Extension<ConnectInfo<SocketAddr>>>;

/// Whether one has to sign in, who one is, and what one may do.
#[utoipa::path(get, path = "/api/v1/session", responses((status = 200, body = SessionAnswer)))]
pub async fn one(person: Person) -> Json<SessionAnswer> {
    Json(SessionAnswer::of(&person))
}

/// Signs in; the answer sets a cookie that scripts cannot read.
#[utoipa::path(post, path = "/api/v1/session", request_body = SignInRequest,
    responses((status = 200, body = SessionAnswer), (status = 401, body = crate::wire::ErrorAnswer),
              (status = 409, body = crate::wire::ErrorAnswer), (status = 429, body = crate::wire::ErrorAnswer)))]
pub async fn begin(
    State(app): State<App>,
    from: From,
    headers: HeaderMap,
    Sent(request): Sent<SignInRequest>,
) -> Result<WithCookie<Json<SessionAnswer>>, ApiError> {
    if !app.has_accounts().await? {
        return Err(ApiError::not_ready(
            "there are no accounts here: the app is open to this machine without signing in",
        ));
    }
    let (person, cookie) = sign_in(&app, &request, from.map(|from| from.0.0.ip())).await?;
    if let Some(token) = token_of(&app, &headers) {
        app.sign_out(token).await?;
    }
    Ok((StatusCode::OK, [(SET_COOKIE, cookie)], Json(SessionAnswer::of(&person))))
}

/// Signs out.
#[utoipa::path(delete, path = "/api/v1/session", responses((status = 204)))]
pub async fn end(State(app): State<App>, request: Request) -> Result<WithCookie<()>, ApiError> {
    if let Some(token) = token_of(&app, request.headers()) {
        app.sign_out(token).await?;
    }
    Ok((StatusCode::NO_CONTENT, [(SET_COOKIE, clear_cookie(&app)?)], ()))
}

/// Changes the own password and signs every browser out but this one, which gets a new cookie.
#[utoipa::path(post, path = "/api/v1/session/password", request_body = OwnPasswordRequest,
    responses((status = 200, body = SessionAnswer), (status = 422, body = crate::wire::ErrorAnswer),
              (status = 429, body = crate::wire::ErrorAnswer)))]
pub async fn password(
    State(app): State<App>,
    from: From,
    person: Person,
    Sent(request): Sent<OwnPasswordRequest>,
) -> Result<WithCookie<Json<SessionAnswer>>, ApiError> {
    let code = person.code().unwrap_or_default().to_owned();
    let from = from.map(|from| from.0.0.ip());
    let old = SignInRequest { code: code.clone(), password: request.old };
    let (_, cookie) = sign_in(&app, &old, from).await.map_err(|error| match error.status {
        StatusCode::UNAUTHORIZED => {
            ApiError::wrong("password", "the password so far is wrong; type it again")
        }
        _ => error,
    })?;
    drop(cookie);
    set_password(&person.store(&app), &code, &request.new).await?;
    let new = SignInRequest { code, password: request.new };
    let (person, cookie) = sign_in(&app, &new, from).await?;
    Ok((StatusCode::OK, [(SET_COOKIE, cookie)], Json(SessionAnswer::of(&person))))
}
