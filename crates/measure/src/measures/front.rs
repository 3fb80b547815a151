//! `reduction.incisal_mm` and `reduction.lingual_fossa_mm`: how much a front tooth was cut under the bite.

use super::{NO_BEFORE, occlusal};
use crate::front::FrontZones;
use crate::preparation::Preparation;
use crate::sheet::Sheet;

/// Closest distance from the prepared incisal edge and lingual fossa to the uncut surface: median, p05, least with
/// its place. Teeth behind the canine have neither, and nothing is said of them.
pub fn take(preparation: &Preparation<'_>, sheet: &mut Sheet) {
    const IDS: [&str; 2] = ["reduction.incisal_mm", "reduction.lingual_fossa_mm"];
    if !preparation.tooth.is_front() {
        return;
    }
    if preparation.change.is_none() {
        IDS.iter().for_each(|&id| sheet.refuse(id, NO_BEFORE));
        return;
    }
    let zones = FrontZones::of(preparation);
    for (id, vertices) in IDS.into_iter().zip([&zones.incisal, &zones.fossa]) {
        occlusal::read_vertices(preparation, sheet, id, vertices, |reading| reading);
    }
}
