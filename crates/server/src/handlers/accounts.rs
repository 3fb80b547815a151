//! Accounts, for the director.

use axum::Json;
use axum::extract::{Path, State};
use axum::http::StatusCode;
use kerfwright_store::AccountRow;

use super::Sent;
use crate::accounts::wire::{AccountAnswer, AccountRequest, AuditAnswer, PasswordRequest};
use crate::accounts::{Person, Role, add as make, remove as take_away, set_password};
use crate::app::App;
use crate::error::ApiError;

/// Most lines of the audit trail in an answer.
const MOST: u32 = 500;

/// All accounts, by role and code.
#[utoipa::path(get, path = "/api/v1/accounts", responses((status = 200, body = Vec<AccountAnswer>)))]
pub async fn list(State(app): State<App>) -> Result<Json<Vec<AccountAnswer>>, ApiError> {
    Ok(Json(app.store().accounts().await?.into_iter().filter_map(answer).collect()))
}

/// Makes an account.
#[utoipa::path(post, path = "/api/v1/accounts", request_body = AccountRequest,
    responses((status = 201, body = AccountAnswer), (status = 409, body = crate::wire::ErrorAnswer),
              (status = 422, body = crate::wire::ErrorAnswer)))]
pub async fn add(
    State(app): State<App>,
    person: Person,
    Sent(request): Sent<AccountRequest>,
) -> Result<(StatusCode, Json<AccountAnswer>), ApiError> {
    let AccountRequest { code, role, learner, password } = request;
    make(&person.store(&app), &code, role, learner.as_deref(), &password).await?;
    let made = app.store().account(&code).await?.and_then(|(row, _)| answer(row));
    Ok((StatusCode::CREATED, Json(made.ok_or_else(ApiError::broken)?)))
}

/// Removes an account; what a learner has done stays. One cannot remove oneself.
#[utoipa::path(delete, path = "/api/v1/accounts/{code}", params(("code" = String, Path)),
    responses((status = 204), (status = 404, body = crate::wire::ErrorAnswer), (status = 409, body = crate::wire::ErrorAnswer)))]
pub async fn remove(
    State(app): State<App>,
    person: Person,
    Path(code): Path<String>,
) -> Result<StatusCode, ApiError> {
    if person.code().is_some_and(|own| own.eq_ignore_ascii_case(&code)) {
        return Err(ApiError::not_ready(
            "an account does not remove itself; let another director do it, or use kerf account remove",
        ));
    }
    take_away(&person.store(&app), &code).await?;
    Ok(StatusCode::NO_CONTENT)
}

/// Gives an account another password and signs it out everywhere.
#[utoipa::path(post, path = "/api/v1/accounts/{code}/password", params(("code" = String, Path)), request_body = PasswordRequest,
    responses((status = 204), (status = 404, body = crate::wire::ErrorAnswer), (status = 422, body = crate::wire::ErrorAnswer)))]
pub async fn password(
    State(app): State<App>,
    person: Person,
    Path(code): Path<String>,
    Sent(request): Sent<PasswordRequest>,
) -> Result<StatusCode, ApiError> {
    set_password(&person.store(&app), &code, &request.password).await?;
    Ok(StatusCode::NO_CONTENT)
}

/// The latest lines of the audit trail, newest first.
#[utoipa::path(get, path = "/api/v1/audit", responses((status = 200, body = Vec<AuditAnswer>)))]
pub async fn audit(State(app): State<App>) -> Result<Json<Vec<AuditAnswer>>, ApiError> {
    let rows = app.store().audit(MOST).await?.into_iter();
    let answers = rows.map(|row| AuditAnswer {
        number: row.number,
        at: row.at,
        who: row.who,
        what: row.what,
        subject: row.subject,
    });
    Ok(Json(answers.collect()))
}

fn answer(row: AccountRow) -> Option<AccountAnswer> {
    let role = Role::from_id(&row.role)?;
    Some(AccountAnswer { code: row.code, role, learner: row.learner, created: row.created })
}
