//! Who is answered: a browser that asks under a name of this app and shows our own page.

use std::sync::Arc;

use axum::extract::{Request, State};
use axum::http::header::{HOST, HeaderName, ORIGIN};
use axum::http::{HeaderMap, HeaderValue, Method, StatusCode, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};

use crate::config::{Config, in_address};
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

/// The names of this app, and how it is spoken to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Own {
    names: Arc<[String]>,
    scheme: &'static str,
}

impl Own {
    /// As the settings have it.
    pub fn new(config: &Config) -> Self {
        let names = config.all_names().iter().map(|name| in_address(name).to_lowercase()).collect();
        Self { names, scheme: if config.tls.is_some() { "https" } else { "http" } }
    }

    /// Whether a `Host` names this app, with or without a port.
    fn is_own(&self, host: &str) -> bool {
        let name = match host.rsplit_once(':') {
            Some((name, port)) if port.bytes().all(|byte| byte.is_ascii_digit()) => name,
            _ => host,
        };
        self.names.iter().any(|own| own.eq_ignore_ascii_case(name))
    }
}

/// Refuses foreign host names (a name that was made to point here, DNS rebinding) and writes from foreign pages; adds the headers
/// that keep the page to itself.
pub async fn guard(State(own): State<Own>, request: Request, next: Next) -> Response {
    let mut response = match check(&own, request.method(), request.headers()) {
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

fn check(own: &Own, method: &Method, headers: &HeaderMap) -> Result<(), ApiError> {
    let text = |name: HeaderName| headers.get(name).and_then(|value| value.to_str().ok());
    let host = text(HOST).unwrap_or_default();
    if !own.is_own(host) {
        let message = format!(
            "this app answers to {} alone; open it under the address that kerf serve printed, or start it with --name",
            own.names.join(", ")
        );
        return Err(ApiError { status: StatusCode::FORBIDDEN, code: "host", message });
    }
    if method.is_safe() {
        return Ok(());
    }
    let foreign_origin = text(ORIGIN).is_some_and(|origin| origin != format!("{}://{host}", own.scheme));
    let site = text(HeaderName::from_static("sec-fetch-site"));
    if foreign_origin || site.is_some_and(|site| site != "same-origin" && site != "none") {
        let message = "another page tried to change something here; open the app itself and do it there";
        return Err(ApiError { status: StatusCode::FORBIDDEN, code: "origin", message: message.into() });
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_names_of_this_machine_are_own() {
        let own_names = Own::new(&Config::new("data"));
        for own in ["127.0.0.1", "127.0.0.1:4177", "localhost:80", "[::1]:4177", "[::1]"] {
            assert!(own_names.is_own(own), "{own}");
        }
        for foreign in
            ["", "example.test", "127.0.0.1.example.test:4177", "localhost.example.test", "10.0.0.1"]
        {
            assert!(!own_names.is_own(foreign), "{foreign}");
        }
    }

    #[test]
    fn on_a_network_the_given_names_are_own_too() {
        let address = "2001:db8::7".parse().unwrap();
        let config = Config { address, names: vec!["Lab.example".into()], ..Config::new("data") };
        let own_names = Own::new(&config);
        for own in ["lab.example:4177", "LAB.EXAMPLE", "[2001:db8::7]:4177", "localhost:4177"] {
            assert!(own_names.is_own(own), "{own}");
        }
        for foreign in ["lab.example.test", "[2001:db8::8]", "x.lab.example"] {
            assert!(!own_names.is_own(foreign), "{foreign}");
        }
    }
}
