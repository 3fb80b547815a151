//! Which address leads where.

use axum::extract::DefaultBodyLimit;
use axum::routing::{get, post};
use axum::{Router, middleware};
use tower_http::catch_panic::CatchPanicLayer;

use crate::app::App;
use crate::assets::asset;
use crate::error::ApiError;
use crate::guard::guard;
use crate::handlers::{about, attempts, demo, exercises, grade, readings, remarks, scans, views, watched};

/// Everything that is answered.
pub fn router(app: App) -> Router {
    let upload = DefaultBodyLimit::max(app.0.config.upload_bytes);
    // What is no scan is small.
    let small = DefaultBodyLimit::max(256 << 10);
    let api = Router::new()
        .route("/about", get(about::about))
        .route("/teeth", get(about::teeth))
        .route("/openapi.json", get(about::openapi))
        .route("/exercises", get(exercises::list).post(exercises::add))
        .route("/exercises/{name}", get(exercises::one))
        .route("/scans/roles", post(scans::roles))
        .route("/scans/{id}", get(scans::one))
        .route("/scans/{id}/mesh.glb", get(scans::mesh))
        .route("/watched", get(watched::list))
        .route("/attempts", get(attempts::list).post(attempts::add))
        .route("/attempts/{id}", get(attempts::one))
        .route("/attempts/{id}/events", get(attempts::events))
        .route("/attempts/{id}/cancel", post(attempts::cancel))
        .route("/attempts/{id}/document", get(attempts::document))
        .route("/attempts/{id}/titles", get(readings::list))
        .route("/attempts/{id}/joint", get(attempts::joint))
        .route("/attempts/{id}/grade", get(grade::grade))
        .route("/attempts/{id}/scene", get(views::scene))
        .route("/attempts/{id}/value", get(views::value))
        .route("/attempts/{id}/section", post(views::section))
        .route("/attempts/{id}/gauge", post(views::gauge))
        .route("/attempts/{id}/ring", get(views::ring))
        .route("/attempts/{id}/movements", get(views::movements))
        .route("/attempts/{id}/remarks", get(remarks::list).post(remarks::add))
        .route(
            "/attempts/{id}/remarks/{remark}",
            axum::routing::patch(remarks::change).delete(remarks::remove),
        )
        .route("/attempts/{id}/{body}", get(views::body))
        .route("/demo", post(demo::demo))
        .layer(small)
        .route("/scans", post(scans::add).layer(upload))
        .fallback(async || ApiError::missing("address"));
    Router::new()
        .nest("/api/v1", api)
        .fallback(asset)
        .layer(CatchPanicLayer::custom(|_| {
            use axum::response::IntoResponse;
            ApiError::broken().into_response()
        }))
        .layer(middleware::from_fn(guard))
        .with_state(app)
}
