//! A roster is taken in, after it was shown what it brings.

use axum::Json;
use axum::body::Body;
use axum::extract::State;
use axum::http::StatusCode;
use kerfwright_exchange::roster::read_roster;
use kerfwright_store::RosterOptions;
use serde::Deserialize;

use super::Asked;
use super::scans::file_name;
use crate::accounts::Person;
use crate::app::App;
use crate::error::ApiError;
use crate::receive::{Fault, receive};
use crate::wire::{Leaving, RosterAnswer};

/// Largest file.
const MOST_BYTES: usize = 8 << 20;
/// Longest beginning of a code.
const MOST_PREFIX: usize = 20;

/// What comes with a roster's bytes.
#[derive(Debug, Deserialize, utoipa::IntoParams)]
pub struct Upload {
    /// Name of the file.
    name: Option<String>,
    /// What codes begin with where the roster gives none; `L` where nothing is said.
    prefix: Option<String>,
    /// Keep names too.
    #[serde(default)]
    names: bool,
    /// Take it in; else it is only said what it would bring.
    #[serde(default)]
    keep: bool,
}

/// Takes a roster in, whole or not at all, as `kerf class import` does: OneRoster CSV files as a ZIP file, or a table with the columns learner and,
/// if wanted, cohort, title, name. Without `keep` it is only said what it would bring.
#[utoipa::path(post, path = "/api/v1/class/roster", params(Upload),
    request_body(content = Vec<u8>, content_type = "application/octet-stream"),
    responses((status = 200, body = RosterAnswer), (status = 413, body = crate::wire::ErrorAnswer),
              (status = 422, body = crate::wire::ErrorAnswer)))]
pub async fn take(
    State(app): State<App>,
    person: Person,
    Asked(upload): Asked<Upload>,
    body: Body,
) -> Result<Json<RosterAnswer>, ApiError> {
    let name = file_name(upload.name.as_deref().unwrap_or("roster"));
    let prefix = upload.prefix.as_deref().map(str::trim).filter(|prefix| !prefix.is_empty()).unwrap_or("L");
    if prefix.chars().count() > MOST_PREFIX || prefix.chars().any(char::is_control) {
        return Err(ApiError::wrong("prefix", "codes begin with at most 20 plain letters; give fewer"));
    }
    let bytes = receive(body, MOST_BYTES).await.map_err(|fault| match fault {
        Fault::TooLarge => ApiError {
            status: StatusCode::PAYLOAD_TOO_LARGE,
            code: "too_large",
            message: format!("{name}: is larger than any roster that is taken here (8 MB); look whether it is the right file"),
        },
        other => other.told(&name, MOST_BYTES),
    })?;
    let read = tokio::task::spawn_blocking(move || read_roster(&name, &bytes));
    let roster = read
        .await?
        .map_err(|faults| ApiError::wrong("roster", faults.to_string().replace("\n      ", "; ")))?;
    let store = person.store(&app);
    let options = RosterOptions { who: store.who(), prefix, with_names: upload.names };
    let count = if upload.keep {
        store.take_roster(&roster, &options).await?
    } else {
        store.try_roster(&roster, &options).await?
    };
    let leaving = |(cohort, learner)| Leaving { cohort, learner };
    Ok(Json(RosterAnswer {
        sentence: count.to_string(),
        n_named: roster.learners.iter().filter(|learner| learner.name.is_some()).count() as u32,
        new_learners: count.new_codes,
        leaving: count.leaving.into_iter().map(leaving).collect(),
    }))
}
