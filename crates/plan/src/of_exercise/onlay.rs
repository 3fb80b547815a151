//! The target that an exercise asks for, if it is an onlay.

use kerfwright_exercise::{Exercise, Onlay as Form};
use kerfwright_tooth::Tooth;

use super::{Asked, Filler, Saying, at_fault, place};
use crate::asked::number;
use crate::{ByAspect, Channel, Onlay, PlanError, Targets};

/// After stage `at`: cusps are covered whose reduction is asked by then, isthmus and boxes cut from their stage on.
pub(super) fn at_stage(
    exercise: &Exercise,
    form: &Form,
    at: usize,
    tooth: Tooth,
) -> Result<Asked, PlanError> {
    if tooth.is_front() {
        return Err(PlanError::OnlayOnFront { fdi: tooth.fdi() });
    }
    let mut filler = Filler { exercise, at, silent: Vec::new(), sayings: Vec::new() };
    let mut targets = Targets::shipped(tooth)?;
    filler.top(&mut targets, tooth);
    filler.gap(&mut targets);
    let channel = filler.channel(form, targets.above_gingiva_mm);
    let is_asked = |zone: &str| {
        let id = format!("reduction.occlusal.{zone}_mm");
        exercise.stages.iter().take(at + 1).any(|stage| number(stage, &id).is_some())
    };
    targets.onlay = Some(Onlay {
        covers_functional: is_asked("functional"),
        covers_nonfunctional: is_asked("nonfunctional"),
        channel,
    });
    let Filler { silent, sayings, .. } = filler;
    match targets.checked() {
        Ok(targets) => Ok(Asked { targets, silent, sayings }),
        Err(fault) => Err(at_fault(exercise, at, &sayings, fault)),
    }
}

impl Filler<'_> {
    /// Isthmus and boxes; `None` before the stage in which they are cut.
    fn channel(&mut self, form: &Form, above_gingiva_mm: ByAspect<f64>) -> Option<Channel> {
        let cut_at = place(self.exercise, Some(&form.stage));
        if cut_at > self.at {
            return None;
        }
        for (what, value, unit) in [
            ("isthmus_width_mm", form.isthmus_width_mm, "mm"),
            ("isthmus_depth_mm", form.isthmus_depth_mm, "mm"),
            ("box_width_mm", form.box_width_mm, "mm"),
            ("box_depth_mm", form.box_depth_mm, "mm"),
            ("divergence_deg", form.divergence_deg, "degrees"),
        ] {
            let told = format!("`[onlay]` ({what} {value} {unit})");
            self.sayings.push(Saying { what: format!("onlay.{what}"), at: cut_at, told });
        }
        let what = "onlay.box_above_gingiva_mm";
        let asked = ["mesial", "distal"]
            .map(|side| self.number(what, &format!("finish_line.above_gingiva.{side}_mm")))
            .into_iter()
            .flatten()
            .reduce(f64::max);
        let mut box_above_gingiva_mm = above_gingiva_mm.mesial.max(above_gingiva_mm.distal);
        self.fill(&mut box_above_gingiva_mm, asked, "height of the boxes over the gingiva", " mm");
        Some(Channel {
            isthmus_width_mm: form.isthmus_width_mm,
            isthmus_depth_mm: form.isthmus_depth_mm,
            box_width_mm: form.box_width_mm,
            box_depth_mm: form.box_depth_mm,
            box_above_gingiva_mm,
            divergence_deg: form.divergence_deg,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use kerfwright_exercise::library;

    #[test]
    fn an_onlay_covers_its_cusps_first_and_has_its_channel_from_its_stage_on() {
        let exercise = library::exercise("onlay-cast").unwrap();
        let tooth = Tooth::from_fdi(37).unwrap();
        let first = super::super::at_stage(&exercise, 0, tooth).unwrap().targets;
        let covered = first.onlay.unwrap();
        assert!(covered.covers_functional && covered.covers_nonfunctional && covered.channel.is_none());
        assert!((first.occlusal.functional_mm - 1.2).abs() < 1e-9);
        let last = Targets::of_exercise(&exercise, tooth).unwrap();
        let channel = last.targets.onlay.unwrap().channel.unwrap();
        let form = exercise.onlay.as_ref().unwrap();
        assert_eq!(channel.isthmus_width_mm, form.isthmus_width_mm);
        // Ideal from 0.5 over the gingiva; 1.4 to 1.8 over the functional cusps.
        assert_eq!(channel.box_above_gingiva_mm, 0.5);
        assert!((last.targets.occlusal.functional_mm - 1.6).abs() < 1e-9);
        let front = Targets::of_exercise(&exercise, Tooth::from_fdi(21).unwrap()).unwrap_err().to_string();
        assert!(front.contains("21 is a front tooth"), "{front}");
    }
}
