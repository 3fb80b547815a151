//! The browser part, embedded.

use axum::http::{StatusCode, Uri, header};
use axum::response::{Html, IntoResponse, Response};
use rust_embed::RustEmbed;

/// What `npm run build` left in `web/dist`; without it the program is built all the same.
#[derive(RustEmbed)]
#[folder = "../../web/dist"]
#[allow_missing = true]
struct Dist;

const MISSING: &str = "<!doctype html><html lang=\"en\"><meta charset=\"utf-8\"><title>Kerfwright</title>\
    <h1>The browser part is not built in</h1>\
    <p>The server runs, and its interface answers under <a href=\"/api/v1/about\">/api/v1/about</a>.</p>\
    <p>To build the pages, with Node 20 or later: <code>npm --prefix web ci</code>, \
    <code>npm --prefix web run build</code>, then build kerf again.</p></html>";

/// A file of the browser part; every other address shows its first page, which reads the address.
pub async fn asset(uri: Uri) -> Response {
    let path = uri.path().trim_start_matches('/');
    let is_file = path.rsplit('/').next().is_some_and(|name| name.contains('.'));
    let (name, file) = match Dist::get(path) {
        Some(file) => (path, file),
        None if is_file || path.starts_with("api/") => return StatusCode::NOT_FOUND.into_response(),
        None => match Dist::get("index.html") {
            Some(file) => ("index.html", file),
            None => return Html(MISSING).into_response(),
        },
    };
    // Vite puts a hash of the content into the names under assets/.
    let cache = if name.starts_with("assets/") { "public, max-age=31536000, immutable" } else { "no-cache" };
    let kind = file.metadata.mimetype().to_owned();
    ([(header::CONTENT_TYPE, kind), (header::CACHE_CONTROL, cache.to_owned())], file.data).into_response()
}
