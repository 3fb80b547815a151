//! What goes wrong, as an answer.

use axum::Json;
use axum::extract::rejection::{JsonRejection, QueryRejection};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use kerfwright_store::StoreError;

use crate::accounts::AccountError;
use crate::wire::{ErrorAnswer, ErrorBody};

/// A status, a word for programs, a sentence for people: the fault and the next step.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ApiError {
    /// HTTP status.
    pub status: StatusCode,
    /// For programs.
    pub code: &'static str,
    /// For people.
    pub message: String,
}

impl ApiError {
    /// Something that was sent is wrong.
    pub fn wrong(code: &'static str, message: impl Into<String>) -> Self {
        Self { status: StatusCode::UNPROCESSABLE_ENTITY, code, message: message.into() }
    }

    /// Something that is not there.
    pub fn missing(what: &str) -> Self {
        let message = format!("there is no such {what}; go back to the list and choose again");
        Self { status: StatusCode::NOT_FOUND, code: "missing", message }
    }

    /// Something that is not there yet, or will never be in this state.
    pub fn not_ready(message: impl Into<String>) -> Self {
        Self { status: StatusCode::CONFLICT, code: "not_ready", message: message.into() }
    }

    /// Something that was tried too often; when it may be tried again.
    pub fn too_often(wait: std::time::Duration) -> Self {
        let seconds = wait.as_secs() + 1;
        let message = format!("this was tried too often; wait {seconds} s, then try again");
        Self { status: StatusCode::TOO_MANY_REQUESTS, code: "too_often", message }
    }

    /// A fault of the program itself.
    pub fn broken() -> Self {
        let message = "the program failed here, not you; try again, and report it with what you did if it happens twice";
        Self { status: StatusCode::INTERNAL_SERVER_ERROR, code: "broken", message: message.into() }
    }
}

impl IntoResponse for ApiError {
    fn into_response(self) -> Response {
        let error = ErrorBody { code: self.code.into(), message: self.message };
        (self.status, Json(ErrorAnswer { error })).into_response()
    }
}

impl From<StoreError> for ApiError {
    fn from(error: StoreError) -> Self {
        Self { status: StatusCode::INTERNAL_SERVER_ERROR, code: "store", message: error.to_string() }
    }
}

impl From<AccountError> for ApiError {
    fn from(error: AccountError) -> Self {
        let message = error.to_string();
        match error {
            AccountError::Code(_) | AccountError::Password { .. } | AccountError::Learner => {
                Self::wrong("account", message)
            }
            AccountError::Taken { .. } => Self::not_ready(message),
            AccountError::Missing { .. } => Self::missing("account"),
            AccountError::Random => Self::broken(),
            AccountError::Store(error) => error.into(),
        }
    }
}

impl From<JsonRejection> for ApiError {
    fn from(rejection: JsonRejection) -> Self {
        Self { status: rejection.status(), code: "request", message: one_line(&rejection.body_text()) }
    }
}

impl From<QueryRejection> for ApiError {
    fn from(rejection: QueryRejection) -> Self {
        Self { status: rejection.status(), code: "request", message: one_line(&rejection.body_text()) }
    }
}

impl From<tokio::task::JoinError> for ApiError {
    fn from(_: tokio::task::JoinError) -> Self {
        Self::broken()
    }
}

fn one_line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}
