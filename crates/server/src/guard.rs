//! Who is answered: a browser on this machine, showing our own page.

use axum::extract::Request;
use axum::http::header::{HOST, HeaderName, ORIGIN};
use axum::http::{HeaderMap, HeaderValue, Method, StatusCode, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};

use crate::error::ApiError;

/// The page loads from here alone, runs no inline script, and is shown in no frame.
const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; font-src 'self'; \
                      connect-src 'self'; worker-src 'self' blob:; manifest-src 'self'; base-uri 'none'; form-action 'none'; \
                      frame-ancestors 'none'";

const HEADERS: [(HeaderName, &str); 6] = [
    (header::CONTENT_SECURITY_POLICY, POLICY),
    (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
    (header::REFERRER_POLICY, "no-referrer"),
    (HeaderName::from_static("cross-origin-opener-policy"), "same-origin"),
    (HeaderName::from_static("cross-origin-resource-policy"), "same-origin"),
    (HeaderName::from_static("permissions-policy"), "camera=(), microphone=(), geolocation=()"),
];

/// Refuses foreign host names (a name that was made to point here, DNS rebinding) and writes from foreign pages; adds the headers
/// that keep the page to itself.
pub async fn guard(request: Request, next: Next) -> Response {
    let mut response = match check(request.method(), request.headers()) {
        Ok(()) => next.run(request).await,
        Err(error) => error.into_response(),
    };
    let headers = response.headers_mut();
    for (name, value) in HEADERS {
        headers.insert(name, HeaderValue::from_static(value));
    }
    headers.entry(header::CACHE_CONTROL).or_insert(HeaderValue::from_static("no-store"));
    response
}

fn check(method: &Method, headers: &HeaderMap) -> Result<(), ApiError> {
    let text = |name: HeaderName| headers.get(name).and_then(|value| value.to_str().ok());
    let host = text(HOST).unwrap_or_default();
    if !is_own(host) {
        let message = "this app answers to 127.0.0.1 and localhost alone; open it under the address that kerf serve printed";
        return Err(ApiError { status: StatusCode::FORBIDDEN, code: "host", message: message.into() });
    }
    if method.is_safe() {
        return Ok(());
    }
    let foreign_origin = text(ORIGIN).is_some_and(|origin| origin != format!("http://{host}"));
    let site = text(HeaderName::from_static("sec-fetch-site"));
    if foreign_origin || site.is_some_and(|site| site != "same-origin" && site != "none") {
        let message = "another page tried to change something here; open the app itself and do it there";
        return Err(ApiError { status: StatusCode::FORBIDDEN, code: "origin", message: message.into() });
    }
    Ok(())
}

/// Whether a `Host` names this machine, with or without a port.
fn is_own(host: &str) -> bool {
    let name = match host.rsplit_once(':') {
        Some((name, port)) if port.bytes().all(|byte| byte.is_ascii_digit()) => name,
        _ => host,
    };
    matches!(name, "127.0.0.1" | "localhost" | "[::1]")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_names_of_this_machine_are_own() {
        for own in ["127.0.0.1", "127.0.0.1:4177", "localhost:80", "[::1]:4177", "[::1]"] {
            assert!(is_own(own), "{own}");
        }
        for foreign in
            ["", "example.test", "127.0.0.1.example.test:4177", "localhost.example.test", "10.0.0.1"]
        {
            assert!(!is_own(foreign), "{foreign}");
        }
    }
}
