//! Blind gradings: codes in a random order, some attempts twice, what was given hidden.

use std::collections::{BTreeMap, BTreeSet};

use axum::Json;
use axum::extract::{Path, State};
use axum::http::{HeaderMap, StatusCode};
use axum::response::{IntoResponse, Response};
use kerfwright_batch::{Graded, GradingFault, SetUp, gradable, graded, set_up};
use kerfwright_class::blind::Design;
use kerfwright_exchange::person_code;
use kerfwright_exercise::Exercise;
use kerfwright_overview::LEVELS;
use kerfwright_store::{Chosen, GradingRow, SheetPlace, SheetRow};
use kerfwright_view::ScreenFrame;
use kerfwright_view::view::scan_glb_in;

use super::Sent;
use super::grade::document_of;
use super::scans::{glb, is_known};
use crate::accounts::{Person, Right, Role};
use crate::app::App;
use crate::error::ApiError;
use crate::wire::{
    Created, GradeLevel, GradedCriterion, GradingAnswer, GradingRequest, MarksRequest, SheetAnswer,
    SheetCode, SheetSummary,
};

/// The gradings that one may see: all for who sets them up, else those in which one has a sheet, with the own sheet alone.
#[utoipa::path(get, path = "/api/v1/gradings", responses((status = 200, body = Vec<GradingAnswer>)))]
pub async fn list(State(app): State<App>, person: Person) -> Result<Json<Vec<GradingAnswer>>, ApiError> {
    let mut sheets: BTreeMap<String, Vec<SheetSummary>> = BTreeMap::new();
    for row in app.store().sheets().await? {
        if person.may(Right::Gradings) || is_own(&person, &row.examiner) {
            sheets.entry(row.grading.clone()).or_default().push(summary(row));
        }
    }
    let mut answers = Vec::new();
    for row in app.store().gradings().await? {
        let own = sheets.remove(&row.id).unwrap_or_default();
        if person.may(Right::Gradings) || !own.is_empty() {
            answers.push(answer(&app, row, own).await?);
        }
    }
    Ok(Json(answers))
}

/// Sets a grading up: draws the order and the codes of each examiner. What stands behind the codes is told to nobody.
#[utoipa::path(post, path = "/api/v1/gradings", request_body = GradingRequest,
    responses((status = 201, body = Created), (status = 404, body = crate::wire::ErrorAnswer),
              (status = 422, body = crate::wire::ErrorAnswer)))]
pub async fn add(
    State(app): State<App>,
    person: Person,
    Sent(request): Sent<GradingRequest>,
) -> Result<(StatusCode, Json<Created>), ApiError> {
    let title = request.title.trim();
    if !(1..=80).contains(&title.chars().count()) {
        return Err(ApiError::wrong("title", "a grading has a title of 1 to 80 characters; give it one"));
    }
    let exercise = app.exercise(&request.exercise).await?;
    let criteria = criteria_of(&exercise, &request.stage, &request.criteria)?;
    let examiners = examiners_of(&app, &request).await?;
    let is_calibration = request.attempts.is_some();
    let attempts = match request.attempts {
        Some(attempts) => attempts,
        None => {
            let chosen = of_stage(&request.exercise, &request.stage, &request.cohort, &request.session);
            let measured = gradable(app.store().class_attempts(&chosen).await?, request.latest_only);
            measured.into_iter().map(|row| row.id).collect()
        }
    };
    let wanted = SetUp {
        title: title.to_owned(),
        exercise: request.exercise,
        stage: request.stage,
        criteria,
        attempts,
        examiners,
        design: Design { n_repeats: request.n_repeats, least_gap: request.least_gap, seed: seed()? },
        is_calibration,
    };
    let id = set_up(&person.store(&app), wanted).await?;
    Ok((StatusCode::CREATED, Json(Created { id, others: Vec::new() })))
}

/// Removes a grading with its sheets; what was given stays among the ratings.
#[utoipa::path(delete, path = "/api/v1/gradings/{id}", params(("id" = String, Path)),
    responses((status = 204), (status = 404, body = crate::wire::ErrorAnswer)))]
pub async fn remove(
    State(app): State<App>,
    person: Person,
    Path(id): Path<String>,
) -> Result<StatusCode, ApiError> {
    if person.store(&app).remove_grading(&id).await? {
        Ok(StatusCode::NO_CONTENT)
    } else {
        Err(ApiError::missing("grading"))
    }
}

/// A sheet: the own one where there are accounts.
#[utoipa::path(get, path = "/api/v1/gradings/{id}/sheets/{examiner}",
    params(("id" = String, Path), ("examiner" = String, Path)),
    responses((status = 200, body = SheetAnswer), (status = 404, body = crate::wire::ErrorAnswer)))]
pub async fn sheet(
    State(app): State<App>,
    person: Person,
    Path((id, examiner)): Path<(String, String)>,
) -> Result<Json<SheetAnswer>, ApiError> {
    let places = own_sheet(&app, &person, &id, &examiner).await?;
    let row = app.store().gradings().await?.into_iter().find(|row| row.id == id);
    let row = row.ok_or_else(|| ApiError::missing("grading"))?;
    let n_given = places.iter().filter(|place| place.is_given).count() as u32;
    let own = SheetSummary { examiner: examiner.clone(), n: places.len() as u32, n_given };
    let code = |place: SheetPlace| SheetCode { code: place.code, is_given: place.is_given };
    Ok(Json(SheetAnswer {
        grading: answer(&app, row, vec![own]).await?,
        examiner,
        codes: places.into_iter().map(code).collect(),
    }))
}

/// Grades a code. It is given once: nobody who grades blind looks back.
#[utoipa::path(post, path = "/api/v1/gradings/{id}/sheets/{examiner}/{code}",
    params(("id" = String, Path), ("examiner" = String, Path), ("code" = String, Path)), request_body = MarksRequest,
    responses((status = 204), (status = 404, body = crate::wire::ErrorAnswer), (status = 409, body = crate::wire::ErrorAnswer),
              (status = 422, body = crate::wire::ErrorAnswer)))]
pub async fn give(
    State(app): State<App>,
    person: Person,
    Path((id, examiner, code)): Path<(String, String, String)>,
    Sent(request): Sent<MarksRequest>,
) -> Result<StatusCode, ApiError> {
    let place = own_place(&app, &person, &id, &examiner, &code).await?;
    let row = app.store().gradings().await?.into_iter().find(|row| row.id == id);
    let row = row.ok_or_else(|| ApiError::missing("grading"))?;
    let wanted: BTreeSet<String> = graded(&row)?.into_iter().map(|one| one.id).collect();
    let given: BTreeSet<String> = request.marks.iter().map(|mark| mark.criterion.clone()).collect();
    if given != wanted || given.len() != request.marks.len() {
        return Err(ApiError::wrong("marks", "every criterion is graded once; give each of them a level"));
    }
    if request.marks.iter().any(|mark| LEVELS.iter().all(|level| level.0 != mark.value)) {
        return Err(ApiError::wrong(
            "marks",
            "a criterion gets one of the levels of this grading: 0, 1 or 2",
        ));
    }
    let marks: Vec<(String, f64)> =
        request.marks.into_iter().map(|mark| (mark.criterion, mark.value)).collect();
    if place.is_given || !app.store().give_marks(&id, &examiner, &code, &marks).await? {
        return Err(ApiError::not_ready(format!(
            "{code} is graded already, and is not graded again here; go on with the next code"
        )));
    }
    Ok(StatusCode::NO_CONTENT)
}

/// What is graded: the scan after cutting in the tooth's frame (x mesial, z occlusal), without readings and without a name.
#[utoipa::path(get, path = "/api/v1/gradings/{id}/sheets/{examiner}/{code}/mesh.glb",
    params(("id" = String, Path), ("examiner" = String, Path), ("code" = String, Path)),
    responses((status = 200, content_type = "model/gltf-binary"), (status = 404, body = crate::wire::ErrorAnswer)))]
pub async fn mesh(
    State(app): State<App>,
    person: Person,
    Path((id, examiner, code)): Path<(String, String, String)>,
    headers: HeaderMap,
) -> Result<Response, ApiError> {
    let place = own_place(&app, &person, &id, &examiner, &code).await?;
    // A tag by what is asked, not by what is behind it: the same scan must not be known again.
    let asked = format!("{id} {examiner} {code}");
    let tag = format!("\"{}\"", kerfwright_measure::attempt::sha256(asked.as_bytes()));
    if is_known(&headers, &tag) {
        return Ok(StatusCode::NOT_MODIFIED.into_response());
    }
    let (row, _) = app.attempt(&place.attempt).await?;
    let document = document_of(&app, &place.attempt).await?;
    let frame = ScreenFrame::from_rows(&document.frame.tooth_from_after);
    let scan = app.scan(&row.after).await?;
    let bytes = tokio::task::spawn_blocking(move || scan_glb_in(&scan, &frame)).await?;
    Ok(glb(bytes, tag))
}

/// The criteria that were named, of the stage that was named.
pub(super) fn criteria_of(
    exercise: &Exercise,
    stage: &str,
    named: &[String],
) -> Result<Vec<Graded>, ApiError> {
    let stage = exercise.stage(Some(stage)).ok_or_else(|| ApiError::missing("stage"))?;
    let mut criteria: Vec<Graded> = Vec::new();
    for id in named {
        let known = stage.criteria.iter().find(|criterion| criterion.id == *id);
        let known = known.ok_or_else(|| ApiError::missing("criterion in this stage"))?;
        if criteria.iter().all(|criterion| criterion.id != known.id) {
            criteria.push(Graded { id: known.id.clone(), title: known.title.clone() });
        }
    }
    if criteria.is_empty() {
        return Err(ApiError::wrong("criteria", "nothing would be graded: choose at least one criterion"));
    }
    Ok(criteria)
}

/// The codes of the examiners: of accounts that may grade, where there are accounts.
async fn examiners_of(app: &App, request: &GradingRequest) -> Result<Vec<String>, ApiError> {
    let accounts = app.store().accounts().await?;
    let mut examiners = Vec::new();
    for given in request.examiners.iter().map(|code| code.trim()).filter(|code| !code.is_empty()) {
        person_code(given).map_err(|error| ApiError::wrong("examiners", error.to_string()))?;
        let account = accounts.iter().find(|row| row.code.eq_ignore_ascii_case(given));
        let may_grade =
            account.is_some_and(|row| Role::from_id(&row.role).is_some_and(|role| role != Role::Learner));
        if !accounts.is_empty() && !may_grade {
            let message = format!(
                "{given}: no account of an instructor or director has this code; look at the accounts"
            );
            return Err(ApiError::wrong("examiners", message));
        }
        examiners.push(account.map_or_else(|| given.to_owned(), |row| row.code.clone()));
    }
    if examiners.is_empty() {
        return Err(ApiError::wrong("examiners", "nobody would grade: name at least one examiner by code"));
    }
    Ok(examiners)
}

/// The attempts of a stage.
pub(super) fn of_stage(
    exercise: &str,
    stage: &str,
    cohort: &Option<String>,
    session: &Option<String>,
) -> Chosen {
    Chosen {
        learner: None,
        cohort: cohort.clone(),
        session: session.clone(),
        exercise: Some(exercise.to_owned()),
        stage: Some(stage.to_owned()),
    }
}

pub(super) fn seed() -> Result<u64, ApiError> {
    getrandom::u64().map_err(|_| ApiError::broken())
}

/// The sheet of an examiner; of nobody else, where there are accounts.
pub(super) async fn own_sheet(
    app: &App,
    person: &Person,
    id: &str,
    examiner: &str,
) -> Result<Vec<SheetPlace>, ApiError> {
    let missing = || ApiError::missing("sheet of yours");
    if *person != Person::Bench && !is_own(person, examiner) {
        return Err(missing());
    }
    let places = app.store().sheet(id, examiner).await?;
    if places.is_empty() { Err(missing()) } else { Ok(places) }
}

async fn own_place(
    app: &App,
    person: &Person,
    id: &str,
    examiner: &str,
    code: &str,
) -> Result<SheetPlace, ApiError> {
    let places = own_sheet(app, person, id, examiner).await?;
    places.into_iter().find(|place| place.code == code).ok_or_else(|| ApiError::missing("code on this sheet"))
}

fn is_own(person: &Person, examiner: &str) -> bool {
    person.code().is_some_and(|code| code.eq_ignore_ascii_case(examiner))
}

fn summary(row: SheetRow) -> SheetSummary {
    SheetSummary { examiner: row.examiner, n: row.n as u32, n_given: row.n_given as u32 }
}

pub(super) fn levels() -> Vec<GradeLevel> {
    LEVELS.iter().map(|(value, word)| GradeLevel { value: *value, word: (*word).into() }).collect()
}

async fn answer(app: &App, row: GradingRow, sheets: Vec<SheetSummary>) -> Result<GradingAnswer, ApiError> {
    let title =
        app.exercise(&row.exercise).await.map_or_else(|_| row.exercise.clone(), |exercise| exercise.title);
    Ok(GradingAnswer {
        criteria: graded(&row)?.into_iter().map(GradedCriterion::from).collect(),
        id: row.id,
        title: row.title,
        exercise: title,
        stage: row.stage,
        is_calibration: row.is_calibration,
        levels: levels(),
        created: row.created,
        sheets,
    })
}

impl From<Graded> for GradedCriterion {
    fn from(one: Graded) -> Self {
        Self { id: one.id, title: one.title }
    }
}

impl From<GradingFault> for ApiError {
    fn from(fault: GradingFault) -> Self {
        match fault {
            GradingFault::Record(fault) => fault.into(),
            refused => Self::wrong("grading", format!("this cannot be set up: {refused}")),
        }
    }
}
