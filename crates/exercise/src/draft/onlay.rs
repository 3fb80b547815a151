//! An onlay's inner form as written.

use toml::de::DeTable;

use crate::reader::{At, Reader, Spot};

/// `[onlay]`.
#[derive(Debug, Clone, Default)]
pub struct OnlayDraft {
    pub spot: Option<Spot>,
    pub stage: Option<At<String>>,
    pub isthmus_width_mm: Option<At<f64>>,
    pub isthmus_depth_mm: Option<At<f64>>,
    pub box_width_mm: Option<At<f64>>,
    pub box_depth_mm: Option<At<f64>>,
    pub divergence_deg: Option<At<f64>>,
    pub source: Option<At<Vec<At<String>>>>,
    pub note: Option<At<String>>,
}

const KEYS: &[&str] = &[
    "stage",
    "isthmus_width_mm",
    "isthmus_depth_mm",
    "box_width_mm",
    "box_depth_mm",
    "divergence_deg",
    "source",
    "note",
];

impl OnlayDraft {
    /// Own values over the base's.
    pub fn over(self, base: Self) -> Self {
        Self {
            spot: self.spot.or(base.spot),
            stage: self.stage.or(base.stage),
            isthmus_width_mm: self.isthmus_width_mm.or(base.isthmus_width_mm),
            isthmus_depth_mm: self.isthmus_depth_mm.or(base.isthmus_depth_mm),
            box_width_mm: self.box_width_mm.or(base.box_width_mm),
            box_depth_mm: self.box_depth_mm.or(base.box_depth_mm),
            divergence_deg: self.divergence_deg.or(base.divergence_deg),
            source: self.source.or(base.source),
            note: self.note.or(base.note),
        }
    }
}

/// Reads the part.
pub fn read(reader: &mut Reader<'_>, spot: Spot, table: &DeTable<'_>) -> OnlayDraft {
    let mut draft = OnlayDraft { spot: Some(spot), ..OnlayDraft::default() };
    for (key, node) in table {
        let name = key.get_ref().as_ref();
        match name {
            "stage" => draft.stage = reader.id(name, node),
            "isthmus_width_mm" => draft.isthmus_width_mm = reader.amount(name, node),
            "isthmus_depth_mm" => draft.isthmus_depth_mm = reader.amount(name, node),
            "box_width_mm" => draft.box_width_mm = reader.amount(name, node),
            "box_depth_mm" => draft.box_depth_mm = reader.amount(name, node),
            "divergence_deg" => draft.divergence_deg = reader.amount(name, node),
            "source" => draft.source = reader.texts(name, node),
            "note" => draft.note = reader.text(name, node),
            _ => reader.unknown_key(key, KEYS, "[onlay]"),
        }
    }
    draft
}
