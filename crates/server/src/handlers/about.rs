//! The program and the teeth.

use axum::Json;
use axum::extract::State;
use axum::http::header;
use axum::response::IntoResponse;
use kerfwright_tooth::{Kind, Tooth};

use crate::app::App;
use crate::wire::{About, ToothAnswer};

const CAUTIONS: [&str; 3] = [
    "Teaching and decision support, not a diagnosis: the licensed clinician and local rules decide.",
    "Each reading holds within its stated uncertainty, for what the scans show.",
    "Learners' and patients' data are private: nothing leaves this machine, and what you pass on is yours to guard.",
];

/// In place of the last, where other machines may ask.
const PRIVATE_ON_NETWORK: &str = "Learners' and patients' data are private: they go, encrypted, to those who are signed in and may see \
                                  them, and what you pass on is yours to guard.";

/// The program, its cautions and its limits.
#[utoipa::path(get, path = "/api/v1/about", responses((status = 200, body = About)))]
pub async fn about(State(app): State<App>) -> Json<About> {
    let private = if app.0.config.is_on_network() { PRIVATE_ON_NETWORK } else { CAUTIONS[2] };
    Json(About {
        name: "kerf".into(),
        version: env!("CARGO_PKG_VERSION").into(),
        cautions: [CAUTIONS[0], CAUTIONS[1], private].map(str::to_owned).to_vec(),
        upload_bytes: app.0.config.upload_bytes as u64,
        watches: app.0.config.watch.is_some(),
    })
}

/// The permanent teeth, in three numbering systems.
#[utoipa::path(get, path = "/api/v1/teeth", responses((status = 200, body = Vec<ToothAnswer>)))]
pub async fn teeth() -> Json<Vec<ToothAnswer>> {
    Json(Tooth::all().map(tooth).collect())
}

/// What this interface answers to, for programs.
pub async fn openapi() -> impl IntoResponse {
    ([(header::CONTENT_TYPE, "application/json")], crate::openapi())
}

fn tooth(tooth: Tooth) -> ToothAnswer {
    let kind = match tooth.kind() {
        Kind::Incisor => "incisor",
        Kind::Canine => "canine",
        Kind::Premolar => "premolar",
        Kind::Molar => "molar",
    };
    ToothAnswer {
        fdi: tooth.fdi(),
        universal: tooth.universal(),
        palmer: tooth.palmer(),
        name: tooth.name(),
        kind: kind.into(),
        arch: if tooth.is_upper() { "upper" } else { "lower" }.into(),
        side: if tooth.is_left() { "left" } else { "right" }.into(),
    }
}
