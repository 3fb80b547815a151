//! The target preparation that an exercise asks for.

mod onlay;

use kerfwright_exercise::{Exercise, Stage};
use kerfwright_tooth::Tooth;

use crate::PlanError;
use crate::asked::{Ranges, SIDES, criterion, number, speaking, taper, taper_ids, words};
use crate::targets::{ByAspect, Finish, SecondPlane, Targets};

/// How far an incisor's edge or a canine's tip is lowered.
pub(crate) const INCISAL: [&str; 2] = ["reduction.points.i_mm", "reduction.points.tip_mm"];

/// Targets from an exercise, and what it does not say.
#[derive(Debug, Clone, PartialEq)]
pub struct Asked {
    /// What is asked.
    pub targets: Targets,
    /// What the shipped targets had to say in its place, in words.
    pub silent: Vec<String>,
    /// Which criterion said what.
    pub(crate) sayings: Vec<Saying>,
}

impl Asked {
    /// Targets that no exercise asked for.
    pub fn of_targets(targets: Targets) -> Self {
        Self { targets, silent: Vec::new(), sayings: Vec::new() }
    }
}

/// A criterion that decided on a number of the target.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Saying {
    /// The number's name among the targets, as `width_mm.facial`.
    pub what: String,
    /// The stage whose criterion it is, by its place.
    pub at: usize,
    /// In words: criterion, stage, number.
    pub told: String,
}

impl Targets {
    /// What an exercise asks after its last stage: the middle of each ideal range, or its end where it has one only. Where the
    /// exercise is silent the shipped targets speak, and `silent` names it.
    ///
    /// # Errors
    /// [`PlanError::NoCrown`] for an exercise without walls and finish line all round that gives no inner form of an onlay, [`PlanError::Target`] for what cannot be
    /// built.
    pub fn of_exercise(exercise: &Exercise, tooth: Tooth) -> Result<Asked, PlanError> {
        at_stage(exercise, exercise.stages.len().saturating_sub(1), tooth)
    }

    /// The same after the stage with an id: its own interim limits where it has some; after the last stage where nothing is said or
    /// no stage has the id.
    ///
    /// # Errors
    /// As for [`Targets::of_exercise`].
    pub fn of_stage(exercise: &Exercise, stage: Option<&str>, tooth: Tooth) -> Result<Asked, PlanError> {
        at_stage(exercise, place(exercise, stage), tooth)
    }
}

/// Where a stage stands among those of its exercise; the last where nothing is said.
pub(crate) fn place(exercise: &Exercise, stage: Option<&str>) -> usize {
    let known = stage.and_then(|id| exercise.stages.iter().position(|stage| stage.id == id));
    known.unwrap_or(exercise.stages.len().saturating_sub(1))
}

/// The same after stage `at`: its own interim limits where it has some.
pub(crate) fn at_stage(exercise: &Exercise, at: usize, tooth: Tooth) -> Result<Asked, PlanError> {
    if let Some(form) = &exercise.onlay {
        return onlay::at_stage(exercise, form, at, tooth);
    }
    let is_crown = exercise
        .stages
        .iter()
        .any(|stage| SIDES.iter().any(|side| taper(stage, side).is_some() && width(stage, side).is_some()));
    if !is_crown {
        let stages: Vec<&str> = exercise.stages.iter().map(|stage| stage.id.as_str()).collect();
        return Err(PlanError::NoCrown { exercise: exercise.name.clone(), stages: stages.join(", ") });
    }
    let mut filler = Filler { exercise, at, silent: Vec::new(), sayings: Vec::new() };
    let mut targets = Targets::shipped(tooth)?;
    filler.line(&mut targets);
    filler.top(&mut targets, tooth);
    filler.edges(&mut targets);
    targets.least_cavosurface_deg = filler.least_cavosurface_deg();
    filler.second_plane(&mut targets, tooth)?;
    let Filler { silent, sayings, .. } = filler;
    match targets.checked() {
        Ok(targets) => Ok(Asked { targets, silent, sayings }),
        Err(fault) => Err(at_fault(exercise, at, &sayings, fault)),
    }
}

/// The fault of a target with the stage that asks for it, the criteria that decided, and what to do about them.
pub(crate) fn at_fault(exercise: &Exercise, at: usize, sayings: &[Saying], fault: PlanError) -> PlanError {
    let decides = |saying: &&Saying| fault.hangs_on(&saying.what);
    let criteria: Vec<String> = sayings.iter().filter(decides).map(|saying| saying.told.clone()).collect();
    if criteria.is_empty() {
        return fault;
    }
    let stage = &exercise.stages[at];
    PlanError::OfStage {
        exercise: exercise.name.clone(),
        stage: stage.id.clone(),
        title: stage.title.clone(),
        criteria: criteria.join(", "),
        fault: Box::new(fault),
    }
}

fn width(stage: &Stage, side: &str) -> Option<crate::asked::Ranges> {
    number(stage, &format!("finish_line.width.{side}_mm"))
}

/// Takes what is asked, and notes what is not.
struct Filler<'e> {
    exercise: &'e Exercise,
    at: usize,
    silent: Vec<String>,
    sayings: Vec<Saying>,
}

impl<'e> Filler<'e> {
    /// The first that speaks.
    fn said<T>(&self, what: impl Fn(&'e Stage) -> Option<T>) -> Option<T> {
        speaking(self.exercise, self.at).find_map(what)
    }

    /// The middle of what the first stage that speaks of a reading calls ideal, noted under `what`.
    fn number(&mut self, what: &str, id: &str) -> Option<f64> {
        self.number_by(what, &[id], |stage| number(stage, id))
    }

    /// The same where it follows from one of several readings.
    fn number_by(
        &mut self,
        what: &str,
        ids: &[&str],
        ranges: impl Fn(&'e Stage) -> Option<Ranges>,
    ) -> Option<f64> {
        let (stage, value) = self.said(|stage| Some((stage, ranges(stage)?.ideal.middle()?)))?;
        let at = self.exercise.stages.iter().position(|one| one.id == stage.id)?;
        if let Some(criterion) = ids.iter().find_map(|id| criterion(stage, id)) {
            let (id, of, unit) = (&criterion.id, &stage.id, &criterion.unit);
            let told = format!("`{id}` of `{of}` ({what} {} {unit})", (1000.0 * value).round() / 1000.0);
            self.sayings.push(Saying { what: what.into(), at, told });
        }
        Some(value)
    }

    /// Replaces a default, or notes it.
    fn fill(&mut self, value: &mut f64, asked: Option<f64>, words: &str, unit: &str) {
        match asked {
            Some(asked) => *value = asked,
            None => self.silent.push(format!("{words} {value}{unit}")),
        }
    }

    fn line(&mut self, targets: &mut Targets) {
        for (k, side) in SIDES.iter().enumerate() {
            let asked = self
                .number(&format!("above_gingiva_mm.{side}"), &format!("finish_line.above_gingiva.{side}_mm"));
            self.fill(
                at(&mut targets.above_gingiva_mm, k),
                asked,
                &format!("height over the gingiva, {side}"),
                " mm",
            );
            let asked = self.number(&format!("width_mm.{side}"), &format!("finish_line.width.{side}_mm"));
            self.fill(at(&mut targets.width_mm, k), asked, &format!("finish-line width, {side}"), " mm");
            let [own, sum] = taper_ids(side);
            let what = format!("taper_deg.{side}");
            let asked = self.number_by(&what, &[&own, &sum], |stage| taper(stage, side));
            self.fill(at(&mut targets.taper_deg, k), asked, &format!("taper, {side}"), "°");
            let id = format!("finish_line.kind.{side}");
            match self.said(|stage| words(stage, &id)?[0].iter().find_map(|word| built(word))) {
                Some(form) => *at(&mut targets.finish, k) = form,
                None => {
                    self.silent.push(format!("finish line, {side}: {}", told(*at(&mut targets.finish, k))))
                }
            }
        }
    }

    fn top(&mut self, targets: &mut Targets, tooth: Tooth) {
        if tooth.is_front() {
            // Along the axis, as it is built; the closest distance from the prepared edge ends at its own sides.
            let asked = INCISAL.iter().find_map(|id| self.number("front.incisal_mm", id));
            self.fill(&mut targets.front.incisal_mm, asked, "incisal reduction", " mm");
            let asked = self.number("front.lingual_fossa_mm", "reduction.lingual_fossa_mm");
            self.fill(&mut targets.front.lingual_fossa_mm, asked, "reduction of the lingual fossa", " mm");
            return;
        }
        let occlusal = &mut targets.occlusal;
        let asked = self.number("occlusal.functional_mm", "reduction.occlusal.functional_mm");
        self.fill(&mut occlusal.functional_mm, asked, "functional cusps", " mm");
        let asked = self.number("occlusal.nonfunctional_mm", "reduction.occlusal.nonfunctional_mm");
        self.fill(&mut occlusal.nonfunctional_mm, asked, "non-functional cusps", " mm");
        // The shipped targets take as much along the groove as over the non-functional cusps.
        occlusal.groove_mm = occlusal.nonfunctional_mm;
        let asked = self.number("occlusal.groove_mm", "reduction.occlusal.groove_mm");
        self.fill(&mut occlusal.groove_mm, asked, "groove, as the non-functional cusps,", " mm");
        if let Some(bevel_deg) = &mut occlusal.bevel_deg {
            self.silent.push(format!("bevel of the functional cusps {bevel_deg}° to the path"));
        }
    }

    fn edges(&mut self, targets: &mut Targets) {
        let edges = &mut targets.edges;
        let radii = SIDES.map(|side| {
            let id = format!("finish_line.internal_radius.{side}_mm");
            self.number("edges.internal_radius_mm", &id)
        });
        let asked = radii.into_iter().flatten().reduce(f64::max);
        self.fill(&mut edges.internal_radius_mm, asked, "radius between floor and wall", " mm");
        let asked = self.number("edges.occlusal_radius_mm", "edge.least_radius_mm");
        self.fill(&mut edges.occlusal_radius_mm, asked, "radius of the occlusal edges", " mm");
        self.gap(targets);
    }

    fn gap(&mut self, targets: &mut Targets) {
        let gaps = ["mesial", "distal"]
            .map(|side| self.number("edges.least_gap_mm", &format!("finish_line.neighbour.{side}_mm")));
        let asked = gaps.into_iter().flatten().reduce(f64::max);
        self.fill(&mut targets.edges.least_gap_mm, asked, "gap to the neighbours", " mm");
    }

    /// The lower end of what is ideal facially, where shoulders are.
    fn least_cavosurface_deg(&self) -> Option<f64> {
        self.said(|stage| number(stage, "finish_line.cavosurface.facial_deg")?.ideal.from)
    }

    fn second_plane(&mut self, targets: &mut Targets, tooth: Tooth) -> Result<(), PlanError> {
        let planes = self.number("second_plane", "facial.planes");
        let angle_deg = self.number("second_plane.angle_deg", "facial.second_plane_deg");
        if planes.is_none() && angle_deg.is_none() {
            self.silent.push(match targets.second_plane {
                Some(plane) => {
                    format!("second facial plane, {}° more from {} mm on", plane.angle_deg, plane.break_mm)
                }
                None => "facial wall in one plane".into(),
            });
            return Ok(());
        }
        // A plane that a later stage asks for is not cut yet.
        let asks = |stage: &Stage| {
            number(stage, "facial.planes").or_else(|| number(stage, "facial.second_plane_deg"))
        };
        let is_later = self.exercise.stages.iter().take(self.at + 1).all(|stage| asks(stage).is_none());
        if is_later || planes.is_some_and(|planes| planes < 1.5) {
            targets.second_plane = None;
            return Ok(());
        }
        let shipped = shipped_plane()?;
        let mut plane = SecondPlane { angle_deg: angle_deg.unwrap_or(shipped.angle_deg), ..shipped };
        if angle_deg.is_none() {
            self.silent.push(format!("second facial plane leans {}° more", plane.angle_deg));
        }
        // The shipped break is that of front teeth, whose walls are higher.
        if !tooth.is_front() {
            plane.break_mm *= 2.0 / 3.0;
        }
        self.silent.push(format!("second facial plane begins {} mm over the finish line", plane.break_mm));
        targets.second_plane = Some(plane);
        Ok(())
    }
}

/// The second plane of the shipped targets for front teeth.
pub(crate) fn shipped_plane() -> Result<SecondPlane, PlanError> {
    let front = Targets::shipped_front()?;
    Ok(front.second_plane.unwrap_or(SecondPlane { angle_deg: 0.0, break_mm: 0.8 }))
}

fn at<T>(values: &mut ByAspect<T>, side: usize) -> &mut T {
    match side {
        0 => &mut values.mesial,
        1 => &mut values.facial,
        2 => &mut values.distal,
        _ => &mut values.lingual,
    }
}

/// The form that is built for a word; a knife edge has no floor to build.
fn built(word: &str) -> Option<Finish> {
    match word {
        "chamfer" | "deep chamfer" => Some(Finish::Chamfer),
        "shoulder" => Some(Finish::Shoulder),
        "sloped shoulder" => Some(Finish::SlopedShoulder),
        _ => None,
    }
}

fn told(finish: Finish) -> &'static str {
    match finish {
        Finish::Chamfer => "chamfer",
        Finish::Shoulder => "shoulder",
        Finish::SlopedShoulder => "sloped shoulder",
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use kerfwright_exercise::library;

    fn asked(name: &str, fdi: u8) -> Asked {
        Targets::of_exercise(&library::exercise(name).unwrap(), Tooth::from_fdi(fdi).unwrap()).unwrap()
    }

    #[test]
    fn a_target_takes_the_middle_of_what_is_ideal_and_says_where_the_exercise_is_silent() {
        let cast = asked("cast-crown-molar", 37);
        // 1.4 to 1.8, 0.9 to 1.3, 0.4 to 0.7, 3 to 10, gap from 0.6.
        assert!((cast.targets.occlusal.functional_mm - 1.6).abs() < 1e-9);
        assert!((cast.targets.occlusal.nonfunctional_mm - 1.1).abs() < 1e-9);
        assert!((cast.targets.width_mm.lingual - 0.55).abs() < 1e-9);
        assert!((cast.targets.taper_deg.mesial - 6.5).abs() < 1e-9);
        assert_eq!(cast.targets.edges.least_gap_mm, 0.6);
        assert!(cast.silent.iter().any(|words| words.starts_with("groove")), "{:?}", cast.silent);
        assert!(!cast.silent.iter().any(|words| words.contains("width")), "{:?}", cast.silent);
    }

    #[test]
    fn a_facial_shoulder_and_two_planes_come_over() {
        let own = asked("quayside-26", 26);
        assert_eq!(own.targets.finish.facial, Finish::Shoulder);
        assert_eq!(own.targets.finish.lingual, Finish::Chamfer);
        assert!((own.targets.width_mm.facial - 1.2).abs() < 1e-9);
        assert!(own.targets.second_plane.is_some());
        let front = asked("quayside-21", 21);
        assert!((front.targets.front.incisal_mm - 1.8).abs() < 1e-9);
        assert!((front.targets.front.lingual_fossa_mm - 1.1).abs() < 1e-9);
    }

    #[test]
    fn an_early_stage_has_its_own_depth() {
        let exercise = library::exercise("cast-crown-molar").unwrap();
        let early = at_stage(&exercise, 0, Tooth::from_fdi(37).unwrap()).unwrap();
        assert!((early.targets.occlusal.functional_mm - 1.2).abs() < 1e-9);
    }

    #[test]
    fn an_exercise_without_walls_or_inner_form_has_no_target() {
        let mut exercise = library::exercise("onlay-cast").unwrap();
        exercise.onlay = None;
        let error = Targets::of_exercise(&exercise, Tooth::from_fdi(37).unwrap()).unwrap_err().to_string();
        assert!(error.contains("onlay-cast") && error.contains("complete crowns"), "{error}");
    }
}
