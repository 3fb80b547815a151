//! What `kerf class agree` says, for pages.

use std::collections::BTreeMap;

use axum::Json;
use axum::extract::{Path, State};
use axum::response::Response;
use kerfwright_batch::{kept_known, kept_ratings};
use kerfwright_class::{Rating, Refusal, Settings, criteria};
use kerfwright_overview::{AGREEMENT_CAUTION, Agreement, Known, plot, sheet};
use kerfwright_store::Chosen;
use serde::Deserialize;

use super::Asked;
use super::class::{csv, svg};
use crate::accounts::Person;
use crate::app::App;
use crate::error::ApiError;
use crate::wire::{AgreementAnswer, CriterionAgreement};

/// Places that are named where examiners differ most.
const PLACES: usize = 10;

/// Which criterion.
#[derive(Debug, Deserialize, utoipa::IntoParams)]
pub struct Of {
    /// The criterion; the first where nothing is said, in files all.
    criterion: Option<String>,
}

/// How far examiners agree with each other, with themselves and with what was measured. An examiner whose sheet is still open gets no answer: others' grades
/// would not leave the own ones alone.
#[utoipa::path(get, path = "/api/v1/class/agreement", params(Of),
    responses((status = 200, body = Object, description = "the statistics of `kerf class agree`, with drawings"),
              (status = 404, body = crate::wire::ErrorAnswer), (status = 409, body = crate::wire::ErrorAnswer)))]
pub async fn one(
    State(app): State<App>,
    person: Person,
    Asked(of): Asked<Of>,
) -> Result<Json<AgreementAnswer>, ApiError> {
    let ratings = ratings_for(&app, &person).await?;
    let known = criteria(&ratings);
    let wanted = match of.criterion.filter(|name| !name.is_empty()) {
        Some(name) if known.contains(&name) => Some(name),
        Some(_) => return Err(ApiError::missing("criterion among those that were rated")),
        None => known.first().cloned(),
    };
    let settings = Settings::default();
    let agreement = match wanted {
        Some(criterion) => agreements(&app, ratings, vec![criterion], settings).await?.pop(),
        None => None,
    };
    let numbers: BTreeMap<String, i64> = app
        .store()
        .class_attempts(&Chosen::default())
        .await?
        .into_iter()
        .map(|row| (row.id, row.number))
        .collect();
    Ok(Json(AgreementAnswer {
        criteria: known,
        confidence: settings.confidence,
        agreement: agreement.map(|agreement| answer(agreement, &numbers)),
        caution: AGREEMENT_CAUTION.into(),
    }))
}

/// The same as files, of all criteria or of one: `agreement.csv`, `agreement.svg` (of one).
#[utoipa::path(get, path = "/api/v1/class/agreement/{file}", params(("file" = String, Path), Of),
    responses((status = 200, content((String = "text/csv"), (String = "image/svg+xml"))),
              (status = 404, body = crate::wire::ErrorAnswer), (status = 409, body = crate::wire::ErrorAnswer)))]
pub async fn as_file(
    State(app): State<App>,
    person: Person,
    Path(wanted): Path<String>,
    Asked(of): Asked<Of>,
) -> Result<Response, ApiError> {
    let ratings = ratings_for(&app, &person).await?;
    let mut known = criteria(&ratings);
    if let Some(name) = of.criterion.filter(|name| !name.is_empty()) {
        known.retain(|criterion| *criterion == name);
    }
    if known.is_empty() {
        return Err(ApiError::missing("criterion among those that were rated"));
    }
    match &*wanted {
        "agreement.csv" => {
            let made = agreements(&app, ratings, known, Settings::default()).await?;
            Ok(csv(&wanted, sheet::agreements(&made)))
        }
        "agreement.svg" => {
            known.truncate(1);
            let name = format!("agreement-{}.svg", known[0]);
            let made = agreements(&app, ratings, known, Settings::default()).await?;
            Ok(svg(&name, made.first().map(plot::agreement).unwrap_or_default()))
        }
        _ => Err(ApiError::missing("file")),
    }
}

/// All ratings, for somebody who may see them now.
async fn ratings_for(app: &App, person: &Person) -> Result<Vec<Rating>, ApiError> {
    if let Some(code) = person.code()
        && app.store().has_open_sheet(code).await?
    {
        return Err(ApiError::not_ready(
            "your own sheet is still open: what others gave is shown once you have graded all of it",
        ));
    }
    Ok(kept_ratings(app.store()).await?)
}

/// On a thread of its own: intervals are resampled.
async fn agreements(
    app: &App,
    ratings: Vec<Rating>,
    of: Vec<String>,
    settings: Settings,
) -> Result<Vec<Agreement>, ApiError> {
    let known: Known = kept_known(app.store(), &ratings).await?;
    let made = tokio::task::spawn_blocking(move || {
        of.iter()
            .map(|criterion| Agreement::of(&ratings, &known, criterion, &settings))
            .collect::<Result<_, Refusal>>()
    });
    made.await?.map_err(|refusal| ApiError::not_ready(refusal.to_string()))
}

fn answer(agreement: Agreement, numbers: &BTreeMap<String, i64>) -> CriterionAgreement {
    let figures = agreement.figures();
    let far_apart = agreement
        .disagreements
        .given()
        .map_or(Vec::new(), |found| found.places.iter().take(PLACES).cloned().collect());
    let named =
        far_apart.iter().filter_map(|place| Some((place.attempt.clone(), *numbers.get(&place.attempt)?)));
    CriterionAgreement {
        numbers: named.collect(),
        far_apart,
        drawn: figures.iter().map(|figure| plot::interval(figure, &figures)).collect(),
        figures,
        criterion: agreement.overview.criterion,
        examiners: agreement.overview.examiners,
        n_attempts: agreement.overview.n_attempts,
        n_complete: agreement.overview.n_complete,
    }
}
