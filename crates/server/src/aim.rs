//! What an attempt is aimed at: the target of its exercise and stage.

use kerfwright_exercise::Exercise;
use kerfwright_plan::stages::Done;
use kerfwright_plan::{PlanError, Targets};
use kerfwright_tooth::Tooth;
use kerfwright_view::Aim;

/// The target of an exercise after one of its stages (the last where nothing is said); without an exercise the shipped one.
///
/// # Errors
/// In words: the exercise has no target that could be laid in.
pub fn aim_of(exercise: Option<&Exercise>, stage: Option<&str>, tooth: Tooth) -> Result<Aim, String> {
    let Some(exercise) = exercise else {
        let targets = Targets::shipped(tooth).map_err(|error| error.to_string())?;
        let notes = vec![
            "No exercise is given: the target is that of a complete crown as shipped, its numbers are a suggestion.".into(),
        ];
        return Ok(Aim { targets, done: Done::All, notes });
    };
    let stage = exercise.stage(stage).or(exercise.stages.last());
    let id = stage.map(|stage| stage.id.as_str());
    let asked = Targets::of_stage(exercise, id, tooth).map_err(|error| told(exercise, error))?;
    let done = Done::after(exercise, id);
    let mut notes = vec![format!(
        "The target of \u{201c}{}\u{201d} after \u{201c}{}\u{201d}: the middle of each ideal range.",
        exercise.title,
        stage.map_or("", |stage| &stage.title)
    )];
    match done {
        Done::Nothing => return Err("By this stage nothing is to be cut: there is no target to hold the scan against.".into()),
        Done::Top => notes.push("By this stage the walls still stand: only the occlusal surface is held against the target.".into()),
        Done::Walls => notes.push("By this stage the occlusal surface still stands: only walls and finish line are held against the target.".into()),
        Done::All => {}
    }
    if !asked.silent.is_empty() {
        notes.push(format!(
            "The exercise is silent on, and the shipped target says: {}.",
            asked.silent.join("; ")
        ));
    }
    Ok(Aim { targets: asked.targets, done, notes })
}

fn told(exercise: &Exercise, error: PlanError) -> String {
    match error {
        PlanError::NoCrown { .. } => format!(
            "\u{201c}{}\u{201d} asks for no walls with a finish line all round: targets are laid in for complete crowns and onlays only.",
            exercise.title
        ),
        other => other.to_string(),
    }
}

#[cfg(test)]
mod tests {
    use kerfwright_exercise::library;

    use super::*;

    fn aim(name: &str, stage: Option<&str>, fdi: u8) -> Result<Aim, String> {
        aim_of(Some(&library::exercise(name).unwrap()), stage, Tooth::from_fdi(fdi).unwrap())
    }

    #[test]
    fn each_exercise_has_its_own_target() {
        let tooth = Tooth::from_fdi(26).unwrap();
        let cast = aim("cast-crown-molar", None, 26).unwrap();
        let ceramic = aim("zirconia-monolithic-molar", None, 26).unwrap();
        assert_ne!(cast.targets, ceramic.targets);
        let exercise = library::exercise("cast-crown-molar").unwrap();
        assert_eq!(cast.targets, Targets::of_exercise(&exercise, tooth).unwrap().targets);
        assert!(cast.notes[0].contains(&exercise.title), "{:?}", cast.notes);
    }

    #[test]
    fn an_early_stage_is_held_where_it_cuts_alone() {
        let exercise = library::exercise("cast-crown-molar").unwrap();
        let first = aim("cast-crown-molar", Some(&exercise.stages[0].id), 26).unwrap();
        assert_eq!(first.done, Done::Top);
        assert_ne!(first.targets, aim("cast-crown-molar", None, 26).unwrap().targets);
    }

    #[test]
    fn an_onlay_has_its_own_target_and_what_is_neither_has_none() {
        let onlay = aim("onlay-cast", None, 26).unwrap();
        assert!(onlay.targets.onlay.is_some_and(|onlay| onlay.channel.is_some()));
        let mut neither = library::exercise("onlay-cast").unwrap();
        neither.onlay = None;
        let reason = aim_of(Some(&neither), None, Tooth::from_fdi(26).unwrap()).unwrap_err();
        assert!(reason.contains("complete crowns and onlays only") && !reason.contains("--"), "{reason}");
    }
}
