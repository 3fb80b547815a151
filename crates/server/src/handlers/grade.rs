//! A measurement held against an exercise, with advice.

use axum::Json;
use axum::extract::{Path, State};
use kerfwright_advice::{Advice, Language, advise, kit_of_exercise};
use kerfwright_grade::Grade;
use kerfwright_measure::Document;
use kerfwright_measure::document::Place;
use kerfwright_view::ScreenFrame;
use kerfwright_view::view::coordinates;
use nalgebra::Point3;
use serde::{Deserialize, Serialize};

use super::Asked;
use crate::app::App;
use crate::error::ApiError;

/// What to hold it against.
#[derive(Debug, Deserialize, utoipa::IntoParams)]
pub struct Query {
    /// Name of an exercise; that of the attempt where nothing is said.
    exercise: Option<String>,
    /// The stage after which the scan was taken; that of the attempt, else the last.
    stage: Option<String>,
    /// `en` or `es`.
    language: Option<String>,
}

/// A grade with advice; every place in the screen frame.
#[derive(Debug, Serialize, ts_rs::TS)]
pub struct GradeAnswer {
    /// Decisions, findings, points.
    pub grade: Grade,
    /// What to do about it, most urgent first.
    pub advice: Vec<Advice>,
    /// Language of the advice.
    pub language: String,
    /// Whether this is the grade that is kept of the attempt, on which instructors decide.
    pub is_kept: bool,
}

/// Grades an attempt.
#[utoipa::path(get, path = "/api/v1/attempts/{id}/grade", params(("id" = String, Path), Query),
    responses((status = 200, body = Object, description = "grade, advice, language; places in the screen frame"),
              (status = 404, body = crate::wire::ErrorAnswer), (status = 409, body = crate::wire::ErrorAnswer),
              (status = 422, body = crate::wire::ErrorAnswer)))]
pub async fn grade(
    State(app): State<App>,
    Path(id): Path<String>,
    Asked(query): Asked<Query>,
) -> Result<Json<GradeAnswer>, ApiError> {
    let (_, request) = app.attempt(&id).await?;
    let of_attempt = query.exercise.is_none();
    let name = query.exercise.or(request.exercise).ok_or_else(|| {
        ApiError::wrong("exercise", "no exercise is given to hold the attempt against; choose one")
    })?;
    let stage = query.stage.or(request.stage.filter(|_| of_attempt));
    let exercise = app.exercise(&name).await?;
    let language = match query.language.as_deref() {
        None | Some("en") => Language::En,
        Some("es") => Language::Es,
        Some(_) => {
            return Err(ApiError::wrong("language", "advice is written in en and es; choose one of them"));
        }
    };
    let document = document_of(&app, &id).await?;
    let graded = tokio::task::spawn_blocking(move || {
        let grade = kerfwright_grade::grade(&document, &exercise, stage.as_deref())?;
        let kit = kit_of_exercise(&exercise);
        let advice = advise(&grade, Some(&document), kit.as_ref(), language);
        Ok((grade, advice, ScreenFrame::from_rows(&document.frame.tooth_from_after)))
    });
    let graded: Result<_, kerfwright_grade::GradeError> = graded.await?;
    let (mut grade, mut advice, frame) =
        graded.map_err(|error| ApiError::wrong("grade", error.to_string()))?;
    let is_kept = match app.kept_grade(&id).await? {
        Some((_, kept)) if kept.exercise.name == grade.exercise.name && kept.stage.id == grade.stage.id => {
            for entry in kept.overrides {
                // A decision on what this version no longer grades so is left out.
                grade = grade.clone().overridden(entry).unwrap_or(grade);
            }
            true
        }
        _ => false,
    };
    onto_screen(&mut grade, &mut advice, &frame);
    Ok(Json(GradeAnswer { grade, advice, language: language.code().into(), is_kept }))
}

/// The latest document of an attempt.
pub async fn document_of(app: &App, id: &str) -> Result<Document, ApiError> {
    let json = match app.store().document(id).await? {
        Some(json) => json,
        None => app.measured(id).await?.document()?.json.clone(),
    };
    serde_json::from_str(&json).map_err(|error| kerfwright_store::StoreError::Damaged(error).into())
}

fn onto_screen(grade: &mut Grade, advice: &mut [Advice], frame: &ScreenFrame) {
    let of_grade = grade.criteria.iter_mut().flat_map(|criterion| &mut criterion.items).flat_map(|item| {
        let finding = item.finding.as_mut().and_then(|finding| finding.place.as_mut());
        item.place.iter_mut().chain(finding)
    });
    let ahead = grade.lost_ahead.iter_mut().filter_map(|lost| lost.finding.place.as_mut());
    let of_advice = advice.iter_mut().filter_map(|advice| advice.place.as_mut());
    let places: Vec<&mut Place> = of_grade.chain(ahead).chain(of_advice).collect();
    for place in places {
        place.point = coordinates(&(frame.screen_from_after * Point3::from(place.point)));
    }
}
