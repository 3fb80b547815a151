//! Colours of vertices, as far as every vertex has one.

use crate::Finding;
use crate::read::Parsed;

/// The colours read so far, in the order of the vertices.
#[derive(Default)]
pub(crate) struct VertexColours {
    colours: Vec<[u8; 3]>,
    n_missing: usize,
}

impl VertexColours {
    pub fn push(&mut self, colour: Option<[u8; 3]>) {
        self.n_missing += usize::from(colour.is_none());
        self.colours.push(colour.unwrap_or_default());
    }

    pub fn extend(&mut self, after: Self) {
        self.colours.extend(after.colours);
        self.n_missing += after.n_missing;
    }

    /// Adds the colours to the mesh if all are there, and tells if only some are.
    pub fn hand_to(self, parsed: &mut Parsed) {
        if self.n_missing == 0 {
            parsed.colours = Some(self.colours);
        } else if self.n_missing < self.colours.len() {
            parsed.findings.push(Finding::ColoursIncomplete { vertices: self.n_missing });
        }
    }
}

/// A colour from three shares of 1; nothing if one is not a number.
pub(crate) fn from_unit(shares: [f64; 3]) -> Option<[u8; 3]> {
    let is_whole = shares.iter().all(|share| share.is_finite());
    // Rounded and held within a byte: the cast cannot wrap.
    is_whole.then(|| shares.map(|share| (share * 255.0).round().clamp(0.0, 255.0) as u8))
}
