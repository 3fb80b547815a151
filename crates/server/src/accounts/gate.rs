//! The one place where permissions are checked.

use axum::extract::rejection::RawPathParamsRejection;
use axum::extract::{MatchedPath, RawPathParams, Request, State};
use axum::http::header::{ALLOW, HeaderName, ORIGIN};
use axum::http::{HeaderMap, StatusCode};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};

use super::permissions::{Subject, methods_of, rule_for};
use super::person::Person;
use crate::app::App;
use crate::error::ApiError;

/// A header that our pages send with every question. A form of another page cannot, and a script of another page would have to ask
/// first, which is never granted.
const OWN_PAGE: HeaderName = HeaderName::from_static("x-kerfwright");

/// Lets through what the table allows to whoever asks.
pub async fn gate(
    State(app): State<App>,
    matched: MatchedPath,
    params: Result<RawPathParams, RawPathParamsRejection>,
    mut request: Request,
    next: Next,
) -> Result<Response, ApiError> {
    let rule = rule_for(request.method(), matched.as_str());
    let Some(rule) = rule else { return Ok(unlisted(matched.as_str())) };
    let person = app.person(request.headers()).await?;
    if !person.may(rule.right) {
        return Err(refusal(&person));
    }
    if person != Person::Bench && !request.method().is_safe() {
        from_own_page(request.headers())?;
    }
    // A learner's own are looked for under the id that the handler will get.
    let params = params.map_err(|_| ApiError::missing("address"))?;
    let id = params.iter().find(|(name, _)| *name == "id").map_or("", |(_, id)| id);
    match rule.subject {
        Subject::Nothing => {}
        Subject::Attempt => person.own_attempt(&app, id).await?,
        Subject::Scan => person.own_scan(&app, id).await?,
        Subject::Learner => person.own_learner(id)?,
    }
    request.extensions_mut().insert(person);
    Ok(next.run(request).await)
}

/// Beside `SameSite`, which keeps the cookie from other sites' requests: the origin, which the guard has compared with the host, must
/// be there, and so must the header.
fn from_own_page(headers: &HeaderMap) -> Result<(), ApiError> {
    if headers.contains_key(ORIGIN) && headers.contains_key(OWN_PAGE) {
        return Ok(());
    }
    let message = "this did not come from a page of the app; open the app itself and do it there (programs send Origin and X-Kerfwright: 1)";
    Err(ApiError { status: StatusCode::FORBIDDEN, code: "origin", message: message.into() })
}

fn refusal(person: &Person) -> ApiError {
    let (status, code, message) = match person {
        Person::Stranger => {
            (StatusCode::UNAUTHORIZED, "sign_in", "nobody is signed in here, or the time is over; sign in")
        }
        Person::Bench => (
            StatusCode::FORBIDDEN,
            "role",
            "there are no accounts yet; make the first with kerf account add CODE --role director",
        ),
        Person::Account { .. } => {
            (StatusCode::FORBIDDEN, "role", "this account may not do this; ask an instructor or the director")
        }
    };
    ApiError { status, code, message: message.into() }
}

/// The answer to what is in no line of the table: another method of a listed address, or an address that was forgotten.
fn unlisted(matched: &str) -> Response {
    let methods = methods_of(matched);
    if methods.is_empty() {
        let message =
            "this address is in no table of permissions, which is a fault of the program; report it";
        return ApiError { status: StatusCode::FORBIDDEN, code: "unlisted", message: message.into() }
            .into_response();
    }
    let message = format!(
        "this address is asked by {methods} alone; look at the description under /api/v1/openapi.json"
    );
    let error = ApiError { status: StatusCode::METHOD_NOT_ALLOWED, code: "method", message };
    ([(ALLOW, methods)], error).into_response()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::config::Config;
    use axum::body::Body;
    use axum::routing::get;
    use axum::{Router, middleware};
    use tower::ServiceExt;

    #[tokio::test]
    async fn a_route_that_is_in_no_table_is_refused() {
        let folder = tempfile::tempdir().unwrap();
        let app = App::open(Config::new(folder.path())).await.unwrap();
        let answer = async || "out";
        let api = Router::new()
            .route("/attempts", get(answer).put(answer))
            .route("/forgotten", get(answer))
            .route_layer(middleware::from_fn_with_state(app, gate));
        let router = Router::new().nest("/api/v1", api);
        for (method, path, expected) in [
            ("GET", "/api/v1/attempts", StatusCode::OK),
            ("PUT", "/api/v1/attempts", StatusCode::METHOD_NOT_ALLOWED),
            ("GET", "/api/v1/forgotten", StatusCode::FORBIDDEN),
        ] {
            let request = Request::builder().method(method).uri(path).body(Body::empty()).unwrap();
            assert_eq!(router.clone().oneshot(request).await.unwrap().status(), expected, "{method} {path}");
        }
    }
}
