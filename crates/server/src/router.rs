//! Which address leads where.

use axum::routing::{delete, get, post};
use axum::{Router, middleware};
use tower_http::catch_panic::CatchPanicLayer;

use crate::accounts::gate;
use crate::app::App;
use crate::assets::asset;
use crate::error::ApiError;
use crate::guard::{Own, guard};
use crate::handlers::{
    about, accounts, agreement, attempts, calibration, class, decisions, demo, exercises, grade, gradings,
    readings, remarks, report, retention, roster, scans, session, views, watched,
};
use crate::receive::small;

/// Everything that is answered.
pub fn router(app: App) -> Router {
    let own = Own::new(&app.0.config);
    let api = Router::new()
        .route("/about", get(about::about))
        .route("/teeth", get(about::teeth))
        .route("/openapi.json", get(about::openapi))
        .route("/exercises", get(exercises::list).post(exercises::add))
        .route("/exercises/{name}", get(exercises::one))
        .route("/session", get(session::one).post(session::begin).delete(session::end))
        .route("/session/password", post(session::password))
        .route("/accounts", get(accounts::list).post(accounts::add))
        .route("/accounts/{code}", delete(accounts::remove))
        .route("/accounts/{code}/password", post(accounts::password))
        .route("/audit", get(accounts::audit))
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
        .route("/attempts/{id}/decisions", post(decisions::add))
        .route("/class", get(class::roster))
        .route("/class/attempts", get(class::attempts))
        .route("/class/tables/{table}", get(class::table))
        .route("/class/report", get(report::class))
        .route("/class/report/{file}", get(report::class_file))
        .route("/class/learners/{id}", get(report::learner).delete(retention::learner))
        .route("/class/learners/{id}/{file}", get(report::learner_file))
        .route("/class/cohorts/{code}", delete(retention::cohort))
        .route("/class/agreement", get(agreement::one))
        .route("/class/agreement/{file}", get(agreement::as_file))
        .route("/gradings", get(gradings::list).post(gradings::add))
        .route("/gradings/proposal", post(calibration::propose))
        .route("/gradings/{id}", delete(gradings::remove))
        .route("/gradings/{id}/sheets/{examiner}", get(gradings::sheet))
        .route("/gradings/{id}/sheets/{examiner}/calibration", get(calibration::result))
        .route("/gradings/{id}/sheets/{examiner}/calibration.csv", get(calibration::result_csv))
        .route("/gradings/{id}/sheets/{examiner}/{code}", post(gradings::give))
        .route("/gradings/{id}/sheets/{examiner}/{code}/mesh.glb", get(gradings::mesh))
        .route("/demo", post(demo::demo))
        // What is no scan is small.
        .route_layer(middleware::from_fn(small))
        .route("/scans", post(scans::add))
        .route("/class/roster", post(roster::take))
        // Outermost: nothing is read, and nothing is done, for those who may not.
        .route_layer(middleware::from_fn_with_state(app.clone(), gate))
        .fallback(async || ApiError::missing("address"));
    Router::new()
        .nest("/api/v1", api)
        .fallback(asset)
        .layer(CatchPanicLayer::custom(|_| {
            use axum::response::IntoResponse;
            ApiError::broken().into_response()
        }))
        .layer(middleware::from_fn_with_state(own, guard))
        .with_state(app)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::accounts::{PREFIX, RULES};
    use crate::config::Config;
    use axum::body::Body;
    use axum::http::{Request, StatusCode};
    use http_body_util::BodyExt;
    use std::collections::BTreeSet;
    use tower::ServiceExt;

    /// The table of permissions, the description and the routes name the same; only the description itself is not described.
    #[test]
    fn the_table_of_permissions_holds_what_is_described() {
        let description: serde_json::Value = serde_json::from_str(&crate::openapi()).unwrap();
        let paths = description["paths"].as_object().unwrap();
        let described: BTreeSet<(String, String)> = paths
            .iter()
            .flat_map(|(path, methods)| {
                methods.as_object().unwrap().keys().map(|method| (method.to_uppercase(), path.clone()))
            })
            .collect();
        let mut listed: BTreeSet<(String, String)> =
            RULES.iter().map(|rule| (rule.method.into(), format!("{PREFIX}{}", rule.path))).collect();
        assert!(listed.remove(&("GET".into(), format!("{PREFIX}/openapi.json"))));
        assert_eq!(listed, described);
    }

    #[tokio::test]
    async fn every_line_of_the_table_leads_to_a_route() {
        let folder = tempfile::tempdir().unwrap();
        let router = router(App::open(Config::new(folder.path())).await.unwrap());
        for rule in RULES {
            let path = format!("{PREFIX}{}", rule.path.replace(['{', '}'], "x"));
            let request = Request::builder().method(rule.method).uri(&path).header("host", "localhost");
            let answer = router.clone().oneshot(request.body(Body::empty()).unwrap()).await.unwrap();
            let status = answer.status();
            let text =
                String::from_utf8_lossy(&answer.into_body().collect().await.unwrap().to_bytes()).into_owned();
            assert_ne!(status, StatusCode::METHOD_NOT_ALLOWED, "{rule:?}");
            assert!(!text.contains("unlisted"), "{rule:?}: {text}");
            // A body's name is a part of the address too, and `x` is none.
            assert!(!text.contains("no such address") || rule.path.ends_with("{body}"), "{rule:?}: {text}");
        }
    }
}
