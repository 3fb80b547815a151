//! The class: roster, attempts, tables.

use std::collections::{BTreeMap, BTreeSet};

use axum::Json;
use axum::extract::{Path, State};
use axum::http::header;
use axum::response::{IntoResponse, Response};
use kerfwright_batch::{
    RecordFault, cohorts_of, decisions, grades_table, kept_exercises, readings_table, standing,
};
use kerfwright_store::{Chosen, ClassAttempt};
use serde::Deserialize;

use super::Asked;
use super::attempts::state_named;
use crate::accounts::Person;
use crate::app::App;
use crate::error::ApiError;
use crate::wire::{
    ClassAnswer, ClassAttemptAnswer, ClassExercise, CohortAnswer, GradeSummary, LearnerAnswer,
    SessionSummary, StageSummary,
};

/// Whose and which; all where nothing is said.
#[derive(Debug, Clone, Default, Deserialize, utoipa::IntoParams)]
pub struct Which {
    /// Of this learner.
    learner: Option<String>,
    /// Of learners of this cohort.
    cohort: Option<String>,
    /// Of this session.
    session: Option<String>,
    /// For this exercise, by its name.
    exercise: Option<String>,
    /// After this stage.
    stage: Option<String>,
}

impl Which {
    /// For the store. An empty word says nothing.
    pub fn chosen(self) -> Chosen {
        let said = |word: Option<String>| word.filter(|word| !word.is_empty());
        Chosen {
            learner: said(self.learner),
            cohort: said(self.cohort),
            session: said(self.session),
            exercise: said(self.exercise),
            stage: said(self.stage),
        }
    }
}

/// What is shown of a roster.
#[derive(Debug, Deserialize, utoipa::IntoParams)]
pub struct Named {
    /// Names beside the codes, as far as they are kept.
    #[serde(default)]
    names: bool,
}

/// Learners, cohorts, sessions, and the exercises that have attempts.
#[utoipa::path(get, path = "/api/v1/class", params(Named), responses((status = 200, body = ClassAnswer)))]
pub async fn roster(
    State(app): State<App>,
    Asked(named): Asked<Named>,
) -> Result<Json<ClassAnswer>, ApiError> {
    let store = app.store();
    let (cohorts, attempts) = (cohorts_of(store).await?, store.class_attempts(&Chosen::default()).await?);
    let mut latest: BTreeMap<&str, &str> = BTreeMap::new();
    for attempt in &attempts {
        // They come by day.
        if let Some(learner) = &attempt.learner {
            latest.insert(learner, &attempt.taken);
        }
    }
    let learners = store.learners().await?.into_iter().map(|row| LearnerAnswer {
        cohorts: cohorts.get(&row.code).cloned().unwrap_or_default(),
        latest: latest.get(&*row.code).map(|day| (*day).to_owned()),
        name: row.name.filter(|_| named.names),
        n_attempts: row.n_attempts as u32,
        code: row.code,
    });
    let cohort = |row: kerfwright_store::CohortRow| CohortAnswer {
        code: row.code,
        title: row.title,
        n_learners: row.n_learners as u32,
    };
    let session = |row: kerfwright_store::SessionRow| SessionSummary {
        code: row.code,
        title: row.title,
        cohort: row.cohort,
        instructor: row.instructor,
        held: row.held,
    };
    Ok(Json(ClassAnswer {
        learners: learners.collect(),
        cohorts: store.cohorts().await?.into_iter().map(cohort).collect(),
        sessions: store.sessions().await?.into_iter().map(session).collect(),
        exercises: exercises_of(&app, &attempts).await?,
    }))
}

/// The exercises of attempts, with the stages that have any.
async fn exercises_of(app: &App, attempts: &[ClassAttempt]) -> Result<Vec<ClassExercise>, ApiError> {
    let mut used: BTreeMap<&str, BTreeSet<&str>> = BTreeMap::new();
    for attempt in attempts {
        if let (Some(exercise), Some(stage)) = (&attempt.exercise, &attempt.stage) {
            used.entry(exercise).or_default().insert(stage);
        }
    }
    let (kept, _) = kept_exercises(app.store()).await?;
    let one = |(name, stages): (&str, BTreeSet<&str>)| {
        let exercise = kept.iter().find(|exercise| exercise.name == name)?;
        let own = exercise.stages.iter().filter(|stage| stages.contains(&*stage.id));
        Some(ClassExercise {
            name: name.into(),
            title: exercise.title.clone(),
            stages: own
                .map(|stage| StageSummary { id: stage.id.clone(), title: stage.title.clone() })
                .collect(),
        })
    };
    Ok(used.into_iter().filter_map(one).collect())
}

/// The attempts of a class with what they earned, the latest first; a learner's own alone.
#[utoipa::path(get, path = "/api/v1/class/attempts", params(Which),
    responses((status = 200, body = Vec<ClassAttemptAnswer>)))]
pub async fn attempts(
    State(app): State<App>,
    person: Person,
    Asked(which): Asked<Which>,
) -> Result<Json<Vec<ClassAttemptAnswer>>, ApiError> {
    let mut chosen = which.chosen();
    if let Some(own) = person.only_of() {
        chosen.learner = Some(own.to_owned());
        chosen.cohort = None;
    }
    attempts_of(&app, &chosen).await.map(Json)
}

/// The same for other handlers.
pub async fn attempts_of(app: &App, chosen: &Chosen) -> Result<Vec<ClassAttemptAnswer>, ApiError> {
    let store = app.store();
    let decided = decisions(store).await?;
    let mut grades = BTreeMap::new();
    for row in store.class_grades(chosen).await? {
        let own = decided.get(&row.id).map_or(&[][..], Vec::as_slice);
        let grade = standing(&row, own)?;
        let (pct, outcome) = (grade.standing.pct, grade.standing.outcome);
        grades.insert(row.attempt, GradeSummary { pct, outcome, is_decided: !own.is_empty() });
    }
    let answers = store.class_attempts(chosen).await?.into_iter().rev().map(|row| ClassAttemptAnswer {
        grade: grades.remove(&row.id),
        id: row.id,
        number: row.number,
        learner: row.learner,
        session: row.session,
        exercise: row.exercise,
        stage: row.stage,
        fdi: u8::try_from(row.fdi).unwrap_or(0),
        taken: row.taken,
        state: state_named(&row.state),
        error: row.error_text,
    });
    Ok(answers.collect())
}

/// Grades or readings as files, as `kerf class export` writes them: `grades.csv`, `readings.csv`, `readings.parquet`, and what
/// their columns mean, `grades.dictionary.csv` and `readings.dictionary.csv`. Codes alone.
#[utoipa::path(get, path = "/api/v1/class/tables/{table}", params(("table" = String, Path), Which),
    responses((status = 200, content((String = "text/csv"), (Vec<u8> = "application/vnd.apache.parquet"))),
              (status = 404, body = crate::wire::ErrorAnswer)))]
pub async fn table(
    State(app): State<App>,
    Path(table): Path<String>,
    Asked(which): Asked<Which>,
) -> Result<Response, ApiError> {
    let (what, ending) = table.split_once('.').unwrap_or((&table, ""));
    let (store, chosen) = (app.store(), which.chosen());
    let attempts = store.class_attempts(&chosen).await?;
    let made = match what {
        "grades" => {
            grades_table(&attempts, &store.class_grades(&chosen).await?, &decisions(store).await?, &[])?
        }
        "readings" => readings_table(&attempts, &store.class_readings(&chosen, None).await?),
        _ => return Err(ApiError::missing("table")),
    };
    match ending {
        "csv" => Ok(csv(&table, made.to_csv())),
        "dictionary.csv" => Ok(csv(&table, made.dictionary())),
        "parquet" => {
            let bytes = made.to_parquet().map_err(|_| ApiError::broken())?;
            Ok(file(&table, "application/vnd.apache.parquet", bytes))
        }
        _ => Err(ApiError::missing("table")),
    }
}

/// A file to be saved.
pub fn file(name: &str, kind: &'static str, bytes: Vec<u8>) -> Response {
    // Names come from the exercises; what is no plain letter does not belong into a header.
    let plain =
        |letter: char| if letter.is_ascii_alphanumeric() || "-_.".contains(letter) { letter } else { '-' };
    let name: String = name.chars().map(plain).collect();
    let headers = [
        (header::CONTENT_TYPE, kind.to_owned()),
        (header::CONTENT_DISPOSITION, format!("attachment; filename=\"{name}\"")),
        (header::CACHE_CONTROL, "no-store".to_owned()),
    ];
    (headers, bytes).into_response()
}

/// A table to be saved.
pub fn csv(name: &str, text: String) -> Response {
    file(name, "text/csv; charset=utf-8", text.into_bytes())
}

/// A drawing to be saved.
pub fn svg(name: &str, text: String) -> Response {
    file(name, "image/svg+xml", text.into_bytes())
}

impl From<RecordFault> for ApiError {
    fn from(fault: RecordFault) -> Self {
        match fault {
            RecordFault::Store(error) => error.into(),
            damaged @ RecordFault::Damaged { .. } => Self {
                status: axum::http::StatusCode::INTERNAL_SERVER_ERROR,
                code: "store",
                message: damaged.to_string(),
            },
        }
    }
}
