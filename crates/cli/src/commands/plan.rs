//! `kerf plan`: instruments for an exercise, and its target on the learner's own tooth.

use std::path::Path;
use std::process::ExitCode;

use anyhow::{Context, bail};
use kerfwright_exercise::Exercise;
use kerfwright_instrument::{Kit, strangers};
use kerfwright_plan::tools::{StageTools, tools};
use serde_json::json;

use crate::commands::measure::save;
use crate::commands::{exercise, kit, plan_tooth};
use crate::{args, tools_table};

const CAUTION: &str = "Teaching and decision support: the licensed clinician and local rules decide. Geometry is nominal or as recorded: \
                       measure what decides.";

/// Does what the arguments ask; status 1 if a stage has no suitable instrument.
pub fn run(arguments: &args::Plan) -> anyhow::Result<ExitCode> {
    let exercise = arguments.exercise.as_deref().map(read_exercise).transpose()?;
    if arguments.kit.is_none() && arguments.before.is_none() {
        bail!(
            "nothing to plan with; add --kit NAME to pick instruments, or --before SCAN --tooth N --at X,Y,Z to lay the target into a \
             scan"
        );
    }
    let mut status = ExitCode::SUCCESS;
    let mut found = None;
    if let Some(name) = &arguments.kit {
        let Some(exercise) = &exercise else {
            bail!("--kit is held against an exercise: name one first (kerf exercise list)");
        };
        let (stages, is_covered) = hold(arguments, exercise, name)?;
        status = ExitCode::from(u8::from(!is_covered));
        found = Some(stages);
    }
    if arguments.before.is_some() {
        plan_tooth::run(arguments, exercise.as_ref(), found.as_deref())?;
    }
    Ok(status)
}

/// A scan in the place of the exercise is the likeliest slip.
fn read_exercise(name: &str) -> anyhow::Result<Exercise> {
    const SCANS: [&str; 4] = ["stl", "ply", "obj", "gz"];
    let ending = Path::new(name).extension().map(|ending| ending.to_string_lossy().to_lowercase());
    if ending.is_some_and(|ending| SCANS.contains(&ending.as_str())) {
        bail!("{name}: looks like a scan; give it with --before");
    }
    exercise::load(name)
}

/// Holds the kit against the exercise, prints and writes; also says whether each cut has an instrument.
fn hold(arguments: &args::Plan, exercise: &Exercise, name: &str) -> anyhow::Result<(Vec<StageTools>, bool)> {
    let nominal = kit::load(name).context("--kit")?;
    let (kit, strange) = match &arguments.log {
        Some(path) => {
            let log = kit::read_log(path).context("--log")?;
            let strange = strangers(&nominal, &log).into_iter().map(str::to_owned).collect();
            (kerfwright_instrument::in_hand(&nominal, &log), strange)
        }
        None => (nominal, Vec::new()),
    };
    let stages = tools(exercise, &kit);
    print!("{}", tools_table::render(exercise, &kit, &stages));
    for name in &strange {
        println!("The log names `{name}`, which this kit has not.");
    }
    println!("{CAUTION}");
    if arguments.before.is_some() {
        println!();
    }
    if let Some(path) = &arguments.json {
        save(path, document(exercise, &kit, &stages, &strange)?.as_bytes())?;
    }
    let is_covered = stages.iter().all(StageTools::is_covered);
    Ok((stages, is_covered))
}

fn document(
    exercise: &Exercise,
    kit: &Kit,
    stages: &[StageTools],
    strange: &[String],
) -> anyhow::Result<String> {
    let document = json!({
        "schema": "kerfwright-tools-1",
        "tool": { "name": "kerf", "version": env!("CARGO_PKG_VERSION") },
        "exercise": exercise.name,
        "kit": kit.name,
        "covered": stages.iter().all(StageTools::is_covered),
        "stages": stages,
        "not_in_the_kit": strange,
        "cautions": [CAUTION],
    });
    Ok(serde_json::to_string_pretty(&document)? + "\n")
}
