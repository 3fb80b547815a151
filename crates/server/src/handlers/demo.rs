//! The demo tooth of the Quayside Skills Lab (made up).

use axum::Json;
use axum::extract::State;
use kerfwright_mesh::write_stl_binary;
use kerfwright_phantom::{quayside_demo, quayside_scan};
use kerfwright_view::Role;

use crate::app::App;
use crate::error::ApiError;
use crate::handlers::scans::take_in;
use crate::wire::{DemoAnswer, DemoScan};

/// Makes the demo's scans and takes them in; the same scans each time, made once a start.
#[utoipa::path(post, path = "/api/v1/demo", responses((status = 200, body = DemoAnswer)))]
pub async fn demo(State(app): State<App>) -> Result<Json<DemoAnswer>, ApiError> {
    app.0.demo.get_or_try_init(|| make(&app)).await.cloned().map(Json)
}

async fn make(app: &App) -> Result<DemoAnswer, ApiError> {
    let made = tokio::task::spawn_blocking(|| {
        let scans = quayside_demo().scan(&quayside_scan());
        [(Role::After, scans.after), (Role::Before, scans.before), (Role::Opposing, scans.opposing)]
            .map(|(role, mesh)| (role, write_stl_binary(&mesh)))
    });
    let mut scans = Vec::new();
    for (role, bytes) in made.await? {
        let name = match role {
            Role::After => "quayside-26-after.stl",
            Role::Before => "quayside-26-before.stl",
            Role::Opposing => "quayside-26-opposing.stl",
        };
        let taken = take_in(app, name.into(), bytes.into(), None).await?;
        scans.push(DemoScan { id: taken.id, name: name.into(), role });
    }
    let exercise = app.exercise("quayside-26").await?;
    Ok(DemoAnswer {
        scans,
        tooth: "26".into(),
        stage: exercise.stages.last().map_or(String::new(), |stage| stage.id.clone()),
        exercise: exercise.name,
        learner: "QS-07".into(),
    })
}
