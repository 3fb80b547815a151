//! The inner form of an onlay: is it whole, and can it be cut.

use super::Builder;
use crate::draft::OnlayDraft;
use crate::exercise::{Onlay, Stage, Wanted};
use crate::fault::meant;
use crate::range::Range;
use crate::reader::{At, Spot};

impl Builder<'_> {
    /// The inner form, if the exercise gives one.
    pub(super) fn onlay(&mut self, draft: OnlayDraft, stages: &[Stage]) -> Option<Onlay> {
        let spot = draft.spot.clone()?;
        let isthmus_mm = draft.isthmus_width_mm.clone();
        let box_mm = draft.box_width_mm.clone();
        let stage = self.needed(draft.stage.clone(), &spot, "onlay: stage", "\"boxes\"");
        self.ideal_by_own_criteria(&draft, stages);
        if let Some(given) = draft.stage.filter(|given| !stages.iter().any(|stage| stage.id == given.value)) {
            let known: Vec<&str> = stages.iter().map(|stage| stage.id.as_str()).collect();
            let next = meant(&given.value, &known);
            self.fault(&given.spot, format!("there is no stage `{}`", given.value), next);
        }
        let onlay = Onlay {
            stage: stage.unwrap_or_default(),
            isthmus_width_mm: self.above_zero(draft.isthmus_width_mm, &spot, "isthmus_width_mm", "2.0")?,
            isthmus_depth_mm: self.above_zero(draft.isthmus_depth_mm, &spot, "isthmus_depth_mm", "1.0")?,
            box_width_mm: self.above_zero(draft.box_width_mm, &spot, "box_width_mm", "3.5")?,
            box_depth_mm: self.above_zero(draft.box_depth_mm, &spot, "box_depth_mm", "1.5")?,
            divergence_deg: self.above_zero(draft.divergence_deg, &spot, "divergence_deg", "8")?,
            source: draft.source.as_ref().map(|sources| self.sources(sources)).unwrap_or_default(),
            note: draft.note.map(|note| note.value),
        };
        if draft.source.is_none() {
            self.missing(
                &spot,
                "[onlay] does not say where its numbers come from",
                "write source = \"…\": a heading of docs/sources.md, \"common practice, no source\" or \"school: …\"",
            );
        }
        if let (Some(isthmus), Some(own)) = (isthmus_mm, box_mm)
            && own.value < isthmus.value
        {
            self.fault(
                &own.spot,
                format!("boxes {} mm wide are narrower than the isthmus of {} mm", own.value, isthmus.value),
                "make the boxes as wide as the isthmus at least",
            );
        }
        Some(onlay)
    }

    /// The target may not get a finding from the exercise that it is laid in for.
    fn ideal_by_own_criteria(&mut self, draft: &OnlayDraft, stages: &[Stage]) {
        let of_groove = |stage: &Stage| asked(std::slice::from_ref(stage), "reduction.occlusal.groove_mm");
        let groove_mm = stages.iter().rev().find_map(of_groove).and_then(|(_, ideal)| ideal.middle());
        // The reading counts from the uncut surface, the form from the groove as it was lowered.
        let depth_mm = draft.isthmus_depth_mm.clone().zip(groove_mm);
        let depth_mm = depth_mm.map(|(own, groove)| At { value: own.value + groove, ..own });
        for (key, value, readings) in [
            ("isthmus_width_mm", draft.isthmus_width_mm.clone(), &["isthmus.width_mm"][..]),
            ("isthmus_depth_mm with the depth of the groove", depth_mm, &["isthmus.depth_mm"]),
            ("box_width_mm", draft.box_width_mm.clone(), &["box.mesial.width_mm", "box.distal.width_mm"]),
            ("box_depth_mm", draft.box_depth_mm.clone(), &["box.mesial.depth_mm", "box.distal.depth_mm"]),
            (
                "divergence_deg",
                draft.divergence_deg.clone(),
                &["isthmus.divergence_deg", "box.mesial.divergence_deg", "box.distal.divergence_deg"],
            ),
        ] {
            let Some(value) = value else { continue };
            let off = readings.iter().filter_map(|id| asked(stages, id));
            if let Some((told, ideal)) = off.into_iter().find(|(_, ideal)| !ideal.holds(value.value)) {
                self.fault(
                    &value.spot,
                    format!("{key} is {}, and {told} calls {ideal} ideal", value.value),
                    "change one of the two: a target may not get a finding from its own exercise",
                );
            }
        }
    }

    fn above_zero(&mut self, given: Option<At<f64>>, spot: &Spot, key: &str, example: &str) -> Option<f64> {
        if let Some(zero) = given.as_ref().filter(|given| given.value == 0.0) {
            self.fault(&zero.spot, format!("`{key}` is 0"), format!("give a number above 0, as {example}"));
        }
        self.needed(given, spot, &format!("onlay: {key}"), example)
    }
}

/// What the first stage that asks for a reading's own value calls ideal, with criterion and stage in words.
fn asked(stages: &[Stage], id: &str) -> Option<(String, Range)> {
    let criteria = stages.iter().flat_map(|stage| stage.criteria.iter().map(move |one| (stage, one)));
    criteria.filter(|(_, criterion)| criterion.part.is_none()).find_map(|(stage, criterion)| {
        let asked = criterion.asked().into_iter().find(|asked| asked.reading == id)?;
        let told = format!("`{}` of `{}`", criterion.id, stage.id);
        match asked.wanted {
            Wanted::Number { ideal, .. } => Some((told, *ideal)),
            Wanted::Words { .. } => None,
        }
    })
}
