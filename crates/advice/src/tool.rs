//! What advice calls an instrument of a kit.

use kerfwright_instrument::{Grit, HeadKind, Instrument};

/// A wheel thinner than this share of its diameter is called a disc.
const DISC_SHARE: f64 = 0.1;

/// The word for a head in tables of texts and rules: that of kits, and `disc` for a thin wheel.
pub fn head_key(instrument: &Instrument) -> &'static str {
    let head = &instrument.head;
    if head.kind() == HeadKind::Wheel && head.length_mm() < DISC_SHARE * head.diameter_mm() {
        return "disc";
    }
    head.kind().key()
}

/// All words for heads.
pub fn head_keys() -> Vec<&'static str> {
    HeadKind::ALL.iter().map(|kind| kind.key()).chain(["disc"]).collect()
}

/// Whether it is one for finishing.
pub fn is_fine(instrument: &Instrument) -> bool {
    instrument.grit.is_some_and(|grit| grit <= Grit::Fine)
}

/// Its size as people say it: that of its code, else its largest diameter, mm.
pub fn size_mm(instrument: &Instrument) -> f64 {
    instrument.iso.map_or(instrument.head.diameter_mm(), |iso| iso.diameter_mm())
}
