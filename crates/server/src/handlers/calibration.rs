//! Calibrations: blind gradings of attempts whose readings are known, and how examiners did.

use std::collections::BTreeSet;

use axum::Json;
use axum::extract::{Path, State};
use axum::response::Response;
use kerfwright_batch::{GradingFault, calibrated, pool};
use kerfwright_class::Settings;
use kerfwright_overview::{Calibration, sheet as tables};
use kerfwright_store::{Chosen, ClassAttempt};

use super::Sent;
use super::class::csv;
use super::gradings::{criteria_of, levels, of_stage, own_sheet, seed};
use crate::accounts::{Person, Right};
use crate::app::App;
use crate::error::ApiError;
use crate::wire::{CalibrationAnswer, GradedCriterion, ProposalAnswer, ProposalRequest, ProposedAttempt};

/// The attempts whose readings are known for some of the criteria, and which of them are proposed for a calibration: spread over all levels of
/// all criteria. Nothing is kept.
#[utoipa::path(post, path = "/api/v1/gradings/proposal", request_body = ProposalRequest,
    responses((status = 200, body = ProposalAnswer), (status = 404, body = crate::wire::ErrorAnswer),
              (status = 422, body = crate::wire::ErrorAnswer)))]
pub async fn propose(
    State(app): State<App>,
    Sent(request): Sent<ProposalRequest>,
) -> Result<Json<ProposalAnswer>, ApiError> {
    let exercise = app.exercise(&request.exercise).await?;
    let criteria = criteria_of(&exercise, &request.stage, &request.criteria)?;
    let ids: Vec<String> = criteria.iter().map(|one| one.id.clone()).collect();
    let chosen = of_stage(&request.exercise, &request.stage, &request.cohort, &request.session);
    let pool = pool(app.store(), &chosen, &ids, request.latest_only).await?;
    let n = request.n.min(pool.attempts.len() as u32);
    let proposed = pool.propose(n, seed()?).map_err(GradingFault::from)?;
    let attempt = |row: &ClassAttempt| ProposedAttempt {
        is_proposed: proposed.contains(&row.id),
        levels: pool.levels(&row.id),
        id: row.id.clone(),
        number: row.number,
        learner: row.learner.clone(),
        taken: row.taken.clone(),
    };
    Ok(Json(ProposalAnswer {
        attempts: pool.attempts.iter().map(attempt).collect(),
        criteria: criteria.into_iter().map(GradedCriterion::from).collect(),
        levels: levels(),
    }))
}

/// How an examiner did in a calibration, once all of the sheet is graded: where he differed from what was measured, whether he is severe or
/// lenient, what he gave the second time. For the examiner, and for who sets gradings up.
#[utoipa::path(get, path = "/api/v1/gradings/{id}/sheets/{examiner}/calibration",
    params(("id" = String, Path), ("examiner" = String, Path)),
    responses((status = 200, body = Object, description = "what `kerf class calibrate results --json` writes of this examiner"),
              (status = 404, body = crate::wire::ErrorAnswer), (status = 409, body = crate::wire::ErrorAnswer)))]
pub async fn result(
    State(app): State<App>,
    person: Person,
    Path((id, examiner)): Path<(String, String)>,
) -> Result<Json<CalibrationAnswer>, ApiError> {
    let calibration = calibration_of(&app, &person, &id, &examiner).await?;
    let named: BTreeSet<&str> = calibration
        .criteria
        .iter()
        .flat_map(|criterion| &criterion.codes)
        .filter_map(|code| code.attempt.as_deref())
        .collect();
    let attempts = app.store().class_attempts(&Chosen::default()).await?;
    let numbers = attempts.iter().filter(|row| named.contains(row.id.as_str()));
    Ok(Json(CalibrationAnswer {
        numbers: numbers.map(|row| (row.id.clone(), row.number)).collect(),
        calibration,
        levels: levels(),
    }))
}

/// The same as a table, a line a code and criterion.
#[utoipa::path(get, path = "/api/v1/gradings/{id}/sheets/{examiner}/calibration.csv",
    params(("id" = String, Path), ("examiner" = String, Path)),
    responses((status = 200, content_type = "text/csv"), (status = 404, body = crate::wire::ErrorAnswer),
              (status = 409, body = crate::wire::ErrorAnswer)))]
pub async fn result_csv(
    State(app): State<App>,
    person: Person,
    Path((id, examiner)): Path<(String, String)>,
) -> Result<Response, ApiError> {
    let calibration = calibration_of(&app, &person, &id, &examiner).await?;
    let table = tables::calibrations(std::slice::from_ref(&calibration));
    Ok(csv("calibration.csv", table))
}

async fn calibration_of(
    app: &App,
    person: &Person,
    id: &str,
    examiner: &str,
) -> Result<Calibration, ApiError> {
    if !person.may(Right::Gradings) {
        own_sheet(app, person, id, examiner).await?;
    }
    let row = app.store().gradings().await?.into_iter().find(|row| row.id == id && row.is_calibration);
    let row = row.ok_or_else(|| ApiError::missing("calibration"))?;
    calibrated(app.store(), &row, examiner, &Settings::default()).await?.ok_or_else(|| {
        ApiError::not_ready("this sheet is still open: what came of it is shown once all of it is graded")
    })
}
