//! What `kerf class report` says, for pages: the same numbers and the same drawings.

use axum::Json;
use axum::extract::{Path, State};
use axum::response::Response;
use kerfwright_batch::{Records, cohorts_of, kept_exercises, records};
use kerfwright_class::place::Fault;
use kerfwright_class::{Answer, Settings};
use kerfwright_overview::{Report, Wish, plot, report, sheet};
use kerfwright_store::Chosen;

use super::Asked;
use super::class::{Which, attempts_of, csv, file, svg};
use crate::accounts::Person;
use crate::app::App;
use crate::error::ApiError;
use crate::wire::{LearnerPage, LearnerStage, ReportAnswer};

/// How a class does, for each exercise and stage: readings against their bands, faults by place, criteria as items, groups compared.
#[utoipa::path(get, path = "/api/v1/class/report", params(Which),
    responses((status = 200, body = Vec<Object>, description = "each as `kerf class report --json` writes it, with its drawings")))]
pub async fn class(
    State(app): State<App>,
    Asked(which): Asked<Which>,
) -> Result<Json<Vec<ReportAnswer>>, ApiError> {
    let reports = reports(&app, which.chosen(), None).await?;
    let answer = |report: Report| ReportAnswer {
        drawn: report.criteria.iter().map(plot::distribution).collect(),
        drawn_places: plot::ring(&report.places, Fault::Under)
            .zip(plot::ring(&report.places, Fault::Over))
            .map(<[String; 2]>::from),
        report,
    };
    Ok(Json(reports.into_iter().map(answer).collect()))
}

/// The same as files, as `kerf class report` writes them: `report.csv`, `report.json`, and for one exercise and stage
/// `readings.svg` and `places.svg`.
#[utoipa::path(get, path = "/api/v1/class/report/{file}", params(("file" = String, Path), Which),
    responses((status = 200, content((String = "text/csv"), (String = "application/json"), (String = "image/svg+xml"))),
              (status = 404, body = crate::wire::ErrorAnswer)))]
pub async fn class_file(
    State(app): State<App>,
    Path(wanted): Path<String>,
    Asked(which): Asked<Which>,
) -> Result<Response, ApiError> {
    let reports = reports(&app, which.chosen(), None).await?;
    as_file(&reports, &wanted)
}

/// A learner over time: the readings of each attempt, what became better, what to practise next.
#[utoipa::path(get, path = "/api/v1/class/learners/{id}", params(("id" = String, Path)),
    responses((status = 200, body = Object, description = "each exercise and stage as `kerf class report --learner --json` has it, with drawings"),
              (status = 404, body = crate::wire::ErrorAnswer)))]
pub async fn learner(
    State(app): State<App>,
    person: Person,
    Path(code): Path<String>,
) -> Result<Json<LearnerPage>, ApiError> {
    person.own_learner(&code)?;
    if !app.store().learners().await?.iter().any(|row| row.code == code) && person.only_of().is_none() {
        return Err(ApiError::missing("learner"));
    }
    let chosen = Chosen { learner: Some(code.clone()), ..Chosen::default() };
    let attempts = attempts_of(&app, &chosen).await?;
    let reports = reports(&app, chosen, Some(code.clone())).await?;
    let cautions = reports.first().map_or(Vec::new(), |report| report.cautions.map(str::to_owned).to_vec());
    let stage = |report: Report| {
        let own = report.learner?;
        let drawn = match &own.courses {
            Answer::Given(courses) => {
                courses.iter().map(|course| plot::course(course, own.attempts.len())).collect()
            }
            Answer::Refused(_) => Vec::new(),
        };
        let ids =
            attempts.iter().filter(|attempt| own.attempts.iter().any(|entry| entry.0 == attempt.number));
        Some(LearnerStage {
            exercise: report.exercise,
            title: report.title,
            stage: report.stage,
            confidence: report.confidence,
            n_older_version: report.n_older_version,
            ids: ids.map(|attempt| (attempt.number, attempt.id.clone())).collect(),
            report: own,
            drawn,
        })
    };
    Ok(Json(LearnerPage {
        cohorts: cohorts_of(app.store()).await?.remove(&code).unwrap_or_default(),
        code,
        reports: reports.into_iter().filter_map(stage).collect(),
        attempts,
        cautions,
    }))
}

/// The same as files: `learner.csv` with every reading of every attempt, and for one exercise and stage `learner.svg`.
#[utoipa::path(get, path = "/api/v1/class/learners/{id}/{file}", params(("id" = String, Path), ("file" = String, Path), Which),
    responses((status = 200, content((String = "text/csv"), (String = "image/svg+xml"))),
              (status = 404, body = crate::wire::ErrorAnswer)))]
pub async fn learner_file(
    State(app): State<App>,
    person: Person,
    Path((code, wanted)): Path<(String, String)>,
    Asked(which): Asked<Which>,
) -> Result<Response, ApiError> {
    person.own_learner(&code)?;
    let chosen = Chosen { learner: Some(code.clone()), cohort: None, ..which.chosen() };
    match &*wanted {
        "learner.csv" | "learner.svg" => as_file(&reports(&app, chosen, Some(code)).await?, &wanted),
        _ => Err(ApiError::missing("file")),
    }
}

/// The reports on what fits, on a thread of their own: intervals are resampled.
async fn reports(app: &App, chosen: Chosen, learner: Option<String>) -> Result<Vec<Report>, ApiError> {
    let Records { entries, .. } = records(app.store(), &chosen).await?;
    let (exercises, versions) = kept_exercises(app.store()).await?;
    let made = tokio::task::spawn_blocking(move || {
        let settings = Settings::default();
        let wish = Wish {
            learner: learner.as_deref(),
            exercises: &exercises,
            versions: &versions,
            settings: &settings,
        };
        report(&entries, &wish)
    });
    Ok(made.await?)
}

fn as_file(reports: &[Report], wanted: &str) -> Result<Response, ApiError> {
    let nothing = || ApiError::missing("report: no graded attempt fits");
    let first = reports.first().ok_or_else(nothing)?;
    let name = format!("{}-{}-{wanted}", first.exercise, first.stage);
    let drawn = |drawn: Option<String>| drawn.map(|drawn| svg(&name, drawn)).ok_or_else(nothing);
    match wanted {
        "report.csv" => Ok(csv(wanted, sheet::csv(reports))),
        "report.json" => {
            // Numbers and texts can always be written.
            let json = serde_json::to_string_pretty(reports).unwrap_or_default() + "\n";
            Ok(file(wanted, "application/json", json.into_bytes()))
        }
        "learner.csv" => Ok(csv(wanted, sheet::courses(reports))),
        "readings.svg" => drawn(Some(plot::distributions(first))),
        "places.svg" => drawn(plot::places(first)),
        "learner.svg" => drawn(plot::courses(first)),
        _ => Err(ApiError::missing("file")),
    }
}
