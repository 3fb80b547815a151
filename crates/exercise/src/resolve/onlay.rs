//! The inner form of an onlay: is it whole, and can it be cut.

use super::Builder;
use crate::draft::OnlayDraft;
use crate::exercise::{Onlay, Stage};
use crate::fault::meant;
use crate::reader::{At, Spot};

impl Builder<'_> {
    /// The inner form, if the exercise gives one.
    pub(super) fn onlay(&mut self, draft: OnlayDraft, stages: &[Stage]) -> Option<Onlay> {
        let spot = draft.spot.clone()?;
        let isthmus_mm = draft.isthmus_width_mm.clone();
        let box_mm = draft.box_width_mm.clone();
        let stage = self.needed(draft.stage.clone(), &spot, "onlay: stage", "\"boxes\"");
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

    fn above_zero(&mut self, given: Option<At<f64>>, spot: &Spot, key: &str, example: &str) -> Option<f64> {
        if let Some(zero) = given.as_ref().filter(|given| given.value == 0.0) {
            self.fault(&zero.spot, format!("`{key}` is 0"), format!("give a number above 0, as {example}"));
        }
        self.needed(given, spot, &format!("onlay: {key}"), example)
    }
}
